"""Seams and saw settings at single nodes."""

from itertools import combinations
from math import cos, gcd, radians, sin, tau

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from splicewright.schedule.seam import Strip, find_seams, set_saw


def flat(*angles_deg: float) -> list[Strip]:
    """Arms in plan, lying flat."""
    return [
        Strip((cos(radians(a)), sin(radians(a)), 0.0), (-sin(radians(a)), cos(radians(a)), 0.0), "ribbed")
        for a in angles_deg
    ]


def bare(*headings: tuple[float, float, float]) -> list[Strip]:
    """Arms in space whose lay is not known."""
    return [Strip(tuple(np.array(h) / np.linalg.norm(h)), None, "ribbed") for h in headings]


def seams_of(strips, *, through_whole=True):
    return find_seams(strips, bend_limit_deg=15.0, through_whole=through_whole)


WHOLE = {
    # name: (arms in plan, whole piece, mitred seams), worked out by hand from the gaps between neighbours
    "ell": ((0, 90), None, [(0, 1)]),
    "blunt ell": ((0, 150), None, [(0, 1)]),
    "tee": ((0, 90, 180), (0, 2), [(0, 1), (1, 2)]),
    "skew tee": ((0, 60, 180), (0, 2), [(0, 1), (1, 2)]),
    "tee bent away from its stem": ((5, 90, 175), (0, 2), [(0, 1), (1, 2)]),
    "tee bent towards its stem": ((-5, 90, 185), (0, 2), [(0, 1), (1, 2)]),
    "cross": ((0, 90, 180, 270), (0, 2), [(0, 1), (1, 2), (2, 3), (0, 3)]),
    "skew cross": ((0, 40, 180, 220), (0, 2), [(0, 1), (1, 2), (2, 3), (0, 3)]),
    "wye": ((0, 120, 240), None, [(0, 1), (1, 2), (0, 2)]),
    "wye with a gap over 180": ((0, 60, 120), None, [(0, 1), (0, 2), (1, 2)]),
    "four arms with a gap over 180": ((0, 40, 80, 120), None, [(0, 1), (0, 3), (1, 2), (2, 3)]),
    "five arms in a half turn": ((0, 45, 90, 135, 180), (0, 4), [(0, 1), (1, 2), (2, 3), (3, 4)]),
    "five arms all round": ((0, 72, 144, 216, 288), None, [(0, 1), (1, 2), (2, 3), (3, 4), (0, 4)]),
}


@pytest.mark.parametrize("name", WHOLE)
def test_every_gap_between_neighbours_is_one_mitred_seam(name: str):
    r"""
    Sorted round the node, neighbours meet on one seam, behind the node too; the through piece stays whole.

             1                1   2            1
             |                 \ /             |
        2----+----0    tee      +----0  wye    +----0   ell
    """
    angles, whole, mitred = WHOLE[name]

    seams = seams_of(flat(*angles))

    assert (whole, sorted(mitred), ()) == (seams.whole, sorted(seams.mitred), seams.square)


@pytest.mark.parametrize(
    ("name", "mitred", "square"),
    [
        ("ell", 1, 0),
        ("tee", 2, 1),
        ("cross", 4, 0),
        ("wye", 3, 0),
        ("wye with a gap over 180", 3, 0),
        ("five arms in a half turn", 4, 1),
    ],
)
def test_separate_pieces_add_a_square_seam_where_nothing_stands_between_them(name: str, mitred: int, square: int):
    """
    A tee of three pieces has one more, square seam; in a cross the points of the other two lie between.

             |
        ----]+[----
    """
    seams = seams_of(flat(*WHOLE[name][0]), through_whole=False)

    assert (None, mitred, square) == (seams.whole, len(seams.mitred), len(seams.square))


def test_a_through_piece_of_two_profiles_is_cut_square():
    """
    Two profiles in line cannot be one piece: they meet on a square seam.

              |
        bulb-]+[-ribbed
    """
    east, north, west = flat(0, 90, 180)

    seams = seams_of([east, north, west._replace(profile="bulb")])

    assert (None, ((0, 1), (1, 2)), ((0, 2),)) == (seams.whole, seams.mitred, seams.square)


@pytest.mark.parametrize(
    ("headings", "seams"),
    [
        ([(1, 0, 0), (0, 1, 0), (0, 0, 1)], 3),
        ([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, 0, 1)], 5),
        ([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1)], 8),
        ([(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)], 12),
        ([(1, 1, 1), (1, -1, -1), (-1, 1, -1), (-1, -1, 1)], 6),
        ([(2, 0, 1), (0, 2, 1), (-2, 0, 1), (0, -2, 1)], 4),
    ],
    ids=["three edges of a cube", "tee and riser", "cross and riser", "six ways", "caltrop", "tent"],
)
def test_arms_that_span_space_meet_their_neighbours_on_the_sphere(headings, seams: int):
    """Arms in space meet where their cells of the sphere share a border, as the edges of a polyhedron do."""
    found = seams_of(bare(*headings))

    assert seams == len(found.mitred)


@settings(max_examples=60, deadline=None)
@given(
    headings=st.lists(st.tuples(*[st.integers(-3, 3)] * 3), min_size=3, max_size=6),
    turn=st.tuples(*[st.floats(-3, 3)] * 3),
)
def test_neighbours_are_those_with_a_direction_that_no_other_arm_lies_nearer_to(headings, turn):
    """Looking along ten thousand directions as near to one arm as to another finds the pairs that share a seam."""
    matrix = turned(turn)
    strips = bare(*dict.fromkeys(tuple(np.array(h) // max(1, gcd(*h))) for h in headings if any(h)))
    strips = [strip._replace(heading=tuple(matrix @ strip.heading)) for strip in strips]
    assume(len(strips) > 2 and np.linalg.matrix_rank([s.heading for s in strips], tol=1e-6) == 3)
    found = find_seams(strips, bend_limit_deg=1.0, through_whole=False)
    rays = np.array([strip.heading for strip in strips])
    for one, two in combinations(range(len(strips)), 2):
        if float(rays[one] @ rays[two]) < -0.99:
            continue
        u, v = rays[one] + rays[two], np.cross(rays[one], rays[two])
        around = np.linspace(0, tau, 10_000)[:, np.newaxis]
        looks = np.cos(around) * u / np.linalg.norm(u) + np.sin(around) * v / np.linalg.norm(v)
        lead = looks @ rays[one] - np.delete(looks @ rays.T, [one, two], axis=1).max(axis=1)

        meets = (one, two) in found.mitred

        assert meets or not (lead > 2e-3).any()
        assert (lead > 0).any() or not meets


@given(
    angles=st.lists(st.integers(0, 23), min_size=3, max_size=6, unique=True),
    turn=st.tuples(*[st.floats(-3, 3)] * 3),
)
def test_seams_do_not_depend_on_how_the_drawing_is_turned(angles: list[int], turn: tuple[float, float, float]):
    """Turning a node in space changes neither its seams nor its through piece."""
    strips = flat(*(15 * angle for angle in angles))
    matrix = turned(turn)

    here = seams_of(strips)
    there = seams_of([Strip(tuple(matrix @ s.heading), tuple(matrix @ s.across), s.profile) for s in strips])

    assert (here.whole, set(here.mitred), here.square) == (there.whole, set(there.mitred), there.square)


def turned(angles: tuple[float, float, float]) -> np.ndarray:
    """Make the matrix of a turn in space."""
    matrix = np.eye(3)
    for axis, angle in enumerate(angles):
        one, two = (axis + 1) % 3, (axis + 2) % 3
        step = np.eye(3)
        step[one, one] = step[two, two] = cos(angle)
        step[one, two], step[two, one] = -sin(angle), sin(angle)
        matrix = matrix @ step
    return matrix


def test_a_vertical_ell_is_bevelled_only():
    """
    Strip folded over an edge: its width lies along the fold, so the saw tilts and does not turn.

        ====+        seen from the side
            |
    """
    level = Strip((-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "a")
    plumb = Strip((0.0, 0.0, -1.0), (0.0, 1.0, 0.0), "a")

    setting = set_saw(level, plumb, twist_limit_deg=15)

    assert (pytest.approx(0), pytest.approx(45)) == (setting.miter_deg, abs(setting.bevel_deg))


def test_positive_miter_puts_the_long_point_on_the_across_side():
    r"""
    The strip runs east and meets one that runs north: its long point is on the south side.

          |  |
        __|  |      seen from above; the cut runs from the inner corner in the north-east
              \____
    """
    east = Strip((1.0, 0.0, 0.0), (0.0, -1.0, 0.0), "a")
    north = Strip((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), "a")

    assert pytest.approx(45) == set_saw(east, north, twist_limit_deg=15).miter_deg
    assert pytest.approx(-45) == set_saw(east._replace(across=(0.0, 1.0, 0.0)), north, twist_limit_deg=15).miter_deg


def test_the_saw_is_not_set_where_a_lay_is_not_known():
    """Without a lay there is no saw setting to give."""
    one, other = bare((1, 0, 0), (0, 1, 0))

    assert set_saw(one, other, twist_limit_deg=15) is None


def test_the_saw_is_not_set_for_strips_that_share_no_plane():
    """A flat strip that runs into an upright one has no cut that would fit it."""
    slab = Strip((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "a")
    wall_base = Strip((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), "a")

    assert set_saw(slab, wall_base, twist_limit_deg=15) is None


@given(corner=st.floats(20, 165), lean=st.floats(0, 90))
def test_the_two_cuts_of_a_seam_are_mirror_images(corner: float, lean: float):
    """Both pieces of an ell are cut at the same angles, whatever the corner and the lay."""
    half, tilt = radians(corner) / 2, radians(lean)
    arms = [
        Strip((s * sin(half), cos(half), 0.0), (-s * cos(half) * sin(tilt), sin(half) * sin(tilt), cos(tilt)), "a")
        for s in (1, -1)
    ]

    one = set_saw(arms[0], arms[1], twist_limit_deg=15)
    other = set_saw(arms[1], arms[0], twist_limit_deg=15)

    assert [pytest.approx(abs(angle)) for angle in one] == [abs(angle) for angle in other]
