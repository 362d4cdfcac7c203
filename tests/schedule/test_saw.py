"""The cut list of fittings: pieces, shapes and saw settings."""

from math import cos, radians, sin

import pytest

from splicewright.schedule.saw import _letter


def star(*angles_deg: float):
    """Draw arms of 5 m from the origin, as one line where two are opposite."""
    return [[(0, 0), (5 * cos(radians(a)), 5 * sin(radians(a)))] for a in angles_deg]


def cut_list(schedule):
    """List piece, shape, turn and miter of every cut."""
    return [
        (cut.piece, cut.shape, round(cut.turn_deg, 3), None if cut.miter_deg is None else round(cut.miter_deg, 3))
        for cut in schedule.cuts
    ]


TABLES = {
    # worked out by hand: each cut is (180 - turn) / 2 from square
    "ell": ((0, 90), [("A", "end", 90, 45), ("B", "end", 90, 45)]),
    "blunt ell": ((0, 130), [("A", "end", 130, 25), ("B", "end", 130, 25)]),
    "tee": (
        (0, 180, 270),
        [("A", "notch", 90, 45), ("A", "notch", 90, 45), ("B", "point", 90, 45), ("B", "point", 90, -45)],
    ),
    "skew tee": (
        (0, 60, 180),
        [("A", "notch", 60, 60), ("A", "notch", 120, 30), ("B", "point", 60, 60), ("B", "point", 120, -30)],
    ),
    "cross": (
        (0, 90, 180, 270),
        [("A", "notch", 90, 45), ("A", "notch", 90, -45)] * 2
        + [("B", "point", 90, 45), ("B", "point", 90, -45)]
        + [("C", "point", 90, 45), ("C", "point", 90, -45)],
    ),
    "wye": (
        (0, 120, 240),
        [(piece, "point", 120, angle) for piece in "ABC" for angle in (30, -30)],
    ),
    "wye with a gap over 180": (
        (0, 60, 120),
        [("A", "end", 60, 60), ("B", "point", 60, 60), ("B", "point", 60, -60), ("C", "end", 60, 60)],
    ),
    "five arms": (
        (0, 45, 90, 135, 180),
        [("A", "notch", 45, 67.5)] * 2 + [(piece, "point", 45, angle) for piece in "BCD" for angle in (67.5, -67.5)],
    ),
}


@pytest.mark.parametrize("name", TABLES)
def test_cuts_of_every_kind_of_node(schedule_of, name):
    """
    Pieces, shapes and miters of flat nodes equal those worked out by hand; nothing is bevelled.

           B             B
           |             |
        A--+--A       A--+--A        a whole through piece is A
                         |
                         C
    """
    angles, expected = TABLES[name]

    schedule = schedule_of(*star(*angles))

    assert expected == cut_list(schedule)
    assert {0.0} == {abs(round(cut.bevel_deg, 6)) for cut in schedule.cuts}


def test_marks_name_the_fitting_and_quantities_count_its_copies(schedule_of):
    """Two like ells are cut from one list, each cut twice."""
    schedule = schedule_of([(0, 0), (5, 0), (5, 5)], [(50, 0), (55, 0), (55, 5)])

    assert [("F1-1", "F1", 2), ("F1-2", "F1", 2)] == [(cut.mark, cut.fitting, cut.quantity) for cut in schedule.cuts]


def test_without_a_lay_there_are_cuts_but_no_settings(schedule_of):
    """A sloping ell of no stated joint kind is cut, but nobody can say at which angles."""
    schedule = schedule_of([(0, 0, 0), (5, 0, 2), (5, 5, 5)], joint=None)

    assert [None, None] == [cut.miter_deg for cut in schedule.cuts]


def test_separate_pieces_make_a_tee_of_three_pointed_ends(schedule_of):
    """
    Without a whole piece each half of the through piece has one mitred and one square cut.

        --B-]+[-A--
             C
    """
    schedule = schedule_of(*star(0, 180, 270), options={"fittings.through_whole": False})

    assert (["A", "B", "C", "C"], {"point"}) == ([c.piece for c in schedule.cuts], {c.shape for c in schedule.cuts})


def test_cuts_made_in_place_stand_under_their_node(schedule_of):
    """Where everything is welded in place there is no fitting to name: the node is named."""
    schedule = schedule_of([(0, 0), (5, 0), (5, 5)], options={"fittings.policy": "field"})

    assert [("N2-1", "N2"), ("N2-2", "N2")] == [(cut.mark, cut.fitting) for cut in schedule.cuts]


def test_strip_with_a_face_is_always_set_face_up(schedule_of):
    """
    The two pieces of a flat ell that may not be turned over are cut at opposite angles.

        |
        +--     seen along the strip from the node, one has its long point on the right, the other on the left
    """
    ell = [(5, 0), (0, 0), (0, 5)]

    assert [-45, 45] == sorted(round(cut.miter_deg) for cut in schedule_of(ell, profile="seal").cuts)
    assert [45, 45] == [round(cut.miter_deg) for cut in schedule_of(ell, profile="ribbed").cuts]


def test_letters_go_on_after_z():
    """The 27th piece is AA."""
    assert ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"] == [_letter(i) for i in (0, 25, 26, 51, 52, 701, 702)]
