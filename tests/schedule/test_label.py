"""Labels: near their places, clear of each other, with a leader where they had to move."""

from itertools import combinations

import numpy as np

from splicewright.schedule.label import Board, Label, text_width


def box(spot, text):
    x = spot.starts[0][0] - (text_width(text) if spot.from_right else 0.0)
    return x, spot.starts[0][1], x + text_width(text), spot.starts[0][1] + 1.0


def test_the_first_label_stands_right_above_its_place():
    """A lone label begins a gap to the right of its place and a gap above it, without a leader."""
    spot = Board(height=1.0).set_label(Label(at=(10.0, 20.0), lines=("S1",), gap=0.5))

    assert ((10.5, 20.5),) == spot.starts
    assert not spot.from_right
    assert spot.leader is None


def test_labels_of_one_place_do_not_overlap():
    """Fifty labels of one place all find room, no two overlapping."""
    board = Board(height=1.0)
    texts = [f"S{number}" for number in range(50)]
    boxes = [box(board.set_label(Label(at=(0.0, 0.0), lines=(text,))), text) for text in texts]
    clashes = [
        (a, b)
        for a, b in combinations(boxes, 2)
        if min(a[2], b[2]) > max(a[0], b[0]) and min(a[3], b[3]) > max(a[1], b[1])
    ]

    assert [] == clashes


def test_far_labels_have_leaders():
    """Of fifty labels of one place the last one stands away and has a leader that ends at it."""
    board = Board(height=1.0)
    spots = [board.set_label(Label(at=(0.0, 0.0), lines=(f"S{number}",))) for number in range(50)]

    assert spots[0].leader is None
    assert spots[-1].leader is not None


def test_labels_keep_off_lines():
    """
    A label leaves the line through its place, and the one that rises beside it, where there is room.

            | /
        ----+----   a line across, one upwards to the right
            |
    """
    board = Board(height=1.0)
    board.keep_line(np.array([[-50.0, 0.0], [50.0, 0.0]]))
    board.keep_line(np.array([[0.0, 0.0], [50.0, 20.0]]))
    spot = board.set_label(Label(at=(0.0, 0.0), lines=("N1",)))

    assert spot.from_right
    assert spot.starts[0][0] < 0


def test_labels_keep_off_texts():
    """A box that a text of the drawing fills stays free of labels."""
    board = Board(height=1.0)
    board.keep_text((0.0, 0.0), (20.0, 20.0))
    left, low, right, high = box(board.set_label(Label(at=(0.0, 0.0), lines=("N1",))), "N1")

    assert right <= 0 or high <= 0 or left >= 20 or low >= 20


def test_a_board_knows_no_far_places():
    """Half a million metres east labels find the same place beside theirs as at the origin."""
    near = Board(height=0.25).set_label(Label(at=(0.0, 0.0), lines=("S1",)))
    far = Board(height=0.25).set_label(Label(at=(500_000.0, 4_000_000.0), lines=("S1",)))

    assert near.starts[0] == tuple(
        round(a - b, 6) for a, b in zip(far.starts[0], (500_000.0, 4_000_000.0), strict=True)
    )
