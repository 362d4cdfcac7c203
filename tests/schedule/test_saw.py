"""The cut list of fittings: pieces, shapes and saw settings."""

from math import cos, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.saw import piece_letter


def star(*angles_deg: float):
    """Draw arms of 5 m from the origin, as one line where two are opposite."""
    return [[(0, 0), (5 * cos(radians(a)), 5 * sin(radians(a)))] for a in angles_deg]


def cut_list(schedule):
    """List piece, shape, part, turn, miter [degrees], long and short point [mm] of every cut."""
    return [
        (
            cut.piece,
            cut.shape,
            cut.part.removesuffix(" half"),
            round(cut.turn_deg, 3),
            round(cut.miter_deg, 3),
            round(cut.long_m * 1000, 1),
            round(cut.short_m * 1000, 1),
        )
        for cut in schedule.cuts
    ]


def point(piece, one, two, *, short):
    """Return the two cuts of a pointed leg of 600 mm: miters against the fence and at the front, short points."""
    turns = (180 - 2 * abs(one), 180 - 2 * abs(two))
    return [
        (piece, "point", "fence", turns[0], one, 600, short[0]),
        (piece, "point", "front", turns[1], two, 600, short[1]),
    ]


# Worked out by hand for strip 228.6 mm wide with legs of 600 mm. Each cut is (180 - turn) / 2 from square; it leaves
# the centreline by 114.3 x tan at the edge: 22.5 degrees 47.3, 25 53.3, 30 66.0, 45 114.3, 60 198.0, 67.5 275.9 mm.
# A notch's tip stands at 600 mm, its mouths before and behind it.
TABLES = {
    # name: arms, pieces, seams, cuts
    "ell": ((0, 90), 2, 1, [(p, "end", "all", 90, 45, 714.3, 485.7) for p in "AB"]),
    "blunt ell": ((0, 130), 2, 1, [(p, "end", "all", 130, 25, 653.3, 546.7) for p in "AB"]),
    "tee": (
        (0, 180, 270),
        2,
        2,
        [
            ("A", "notch", "fence", 90, 45, 600, 485.7),
            ("A", "notch", "fence", 90, -45, 714.3, 600),
            *point("B", 45, -45, short=(485.7, 485.7)),
        ],
    ),
    "skew tee": (
        (0, 60, 180),
        2,
        2,
        [
            ("A", "notch", "fence", 60, 60, 600, 402),
            ("A", "notch", "fence", 120, -30, 666, 600),
            *point("B", 60, -30, short=(402, 534)),
        ],
    ),
    "cross": (
        (0, 90, 180, 270),
        3,
        4,
        [
            ("A", "notch", "fence", 90, 45, 600, 485.7),
            ("A", "notch", "front", 90, 45, 714.3, 600),
            ("A", "notch", "fence", 90, -45, 714.3, 600),
            ("A", "notch", "front", 90, -45, 600, 485.7),
            *point("B", 45, -45, short=(485.7, 485.7)),
            *point("C", 45, -45, short=(485.7, 485.7)),
        ],
    ),
    "skew cross": (
        (0, 60, 180, 240),
        3,
        4,
        [
            ("A", "notch", "fence", 60, 60, 600, 402),
            ("A", "notch", "front", 60, 60, 798, 600),
            ("A", "notch", "fence", 120, -30, 666, 600),
            ("A", "notch", "front", 120, -30, 600, 534),
            *point("B", 60, -30, short=(402, 534)),
            *point("C", 60, -30, short=(402, 534)),
        ],
    ),
    "wye": ((0, 120, 240), 3, 3, [cut for p in "ABC" for cut in point(p, 30, -30, short=(534, 534))]),
    "wye with a gap over 180": (
        (0, 60, 120),
        3,
        3,
        [
            # the outer two meet behind the node: 120 degrees, so 30 from square, 66 mm beyond the node at the edge
            ("A", "point", "fence", 60, 60, 600, 402),
            ("A", "point", "front", 120, 30, 666, 600),
            *point("B", 60, -60, short=(402, 402)),
            ("C", "point", "fence", 60, 60, 600, 402),
            ("C", "point", "front", 120, 30, 666, 600),
        ],
    ),
    "five arms": (
        (0, 45, 90, 135, 180),
        4,
        4,
        [
            ("A", "notch", "fence", 45, 67.5, 600, 324.1),
            ("A", "notch", "fence", 45, -67.5, 875.9, 600),
            *(cut for p in "BCD" for cut in point(p, 67.5, -67.5, short=(324.1, 324.1))),
        ],
    ),
}


@pytest.mark.parametrize("name", TABLES)
def test_pieces_seams_and_cuts_of_every_kind_of_node(schedule_of, name):
    """
    Pieces, seams, shapes, miters and points of flat nodes equal those worked out by hand; nothing is bevelled.

           B             B
           |             |
        A--+--A       A--+--A        a whole through piece is A
                         |
                         C
    """
    angles, pieces, seams, expected = TABLES[name]

    schedule = schedule_of(*star(*angles))

    assert expected == cut_list(schedule)
    assert (pieces, seams) == (len(schedule.pieces), schedule.fittings[0].factory_seams)
    assert {0.0} == {abs(round(cut.bevel_deg, 6)) for cut in schedule.cuts}


def test_a_vertical_tee_is_cut_through_half_its_thickness(schedule_of):
    """
    Seen on edge: a stem of upright strip meets the through piece; all cuts are bevels of 45 degrees.

        ------+------
              |
    """
    schedule = schedule_of([(-5, 0), (5, 0)], [(0, 0), (0, -5)], joint="wall-base")

    assert [("A", "inside", "upper half"), ("A", "inside", "upper half"), ("B", "right", "upper half")] == [
        (cut.piece, cut.end, cut.part) for cut in schedule.cuts[:3]
    ]
    assert [(0, 45), (0, -45), (0, 45), (0, -45)] == [
        (round(cut.miter_deg), round(cut.bevel_deg)) for cut in schedule.cuts
    ]
    # 3/8 in / 2 x tan 45: 4.7625 mm
    assert [600, 604.7625] == pytest.approx([schedule.cuts[1].short_m * 1000, schedule.cuts[1].long_m * 1000])


def test_a_piece_between_two_nodes_has_cuts_at_both_ends(schedule_of):
    """
    Two ells 0.8 m apart: the piece between them is 0.8 m and half a width longer at each end to its long points.

        +-----+
        |     |
    """
    schedule = schedule_of([(0, -9), (0, 0), (0.8, 0), (0.8, -9)])
    between = max(schedule.pieces, key=lambda piece: piece.long_m)

    assert (0.8, 0.8 + 0.2286, "mitred", "mitred") == pytest.approx(
        (between.length_m, between.long_m, between.left, between.right)
    )


def test_pieces_of_a_fitting_make_up_its_strip(schedule_of):
    """The centreline lengths of all pieces are the strip of the fitting; long points make it more."""
    schedule = schedule_of([(0, -9), (0, 0), (9, 0)], [(0.8, 0), (0.8, -9)])

    assert pytest.approx(schedule.fittings[0].strip_m) == sum(piece.length_m for piece in schedule.pieces)
    assert schedule.works[0].strip_used_m == pytest.approx(sum(piece.long_m for piece in schedule.pieces))


def test_each_cut_names_the_piece_it_is_welded_to(schedule_of):
    """On every seam of a cross two cuts name each other's piece."""
    cuts = schedule_of(*star(0, 90, 180, 270)).cuts

    assert sorted((cut.piece, cut.meets) for cut in cuts) == sorted((cut.meets, cut.piece) for cut in cuts)


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


@settings(max_examples=25, deadline=None)
@given(
    angles=st.lists(st.integers(0, 71), min_size=2, max_size=5, unique=True),
    turn_deg=st.floats(0, 360),
    profile=st.sampled_from(["ribbed", "seal"]),
)
def test_turning_a_drawing_changes_no_cut(schedule_of, angles, turn_deg, profile):
    """Nodes of any arms, turned in plan: the same cuts, long and short points, whichever arm comes first."""
    arms = [5.0 * angle for angle in angles]

    def cuts(extra_deg):
        made = schedule_of(*star(*(arm + extra_deg for arm in arms)), profile=profile)
        return sorted((cut.shape, cut.end, *rounded(cut)) for cut in made.cuts)

    here, there = cuts(0.0), cuts(turn_deg)

    assert [entry[:2] for entry in here] == [entry[:2] for entry in there]
    assert [value for entry in here for value in entry[2:]] == pytest.approx(
        [value for entry in there for value in entry[2:]], abs=2e-3
    )


def rounded(cut):
    """Settings to a thousandth of a degree and points to a tenth of a millimetre."""
    return (*(round(v, 3) + 0.0 for v in (cut.miter_deg, cut.bevel_deg)), round(cut.long_m, 4), round(cut.short_m, 4))


@pytest.mark.parametrize("arms", [(0, 70), (0, 60, 180), (10, 75, 190, 290), (0, 100, 215)])
def test_the_mirror_image_of_strip_with_a_face_is_cut_at_mirrored_settings(schedule_of, arms):
    """Seen in a mirror every miter changes its side, and is as long as before."""
    here = schedule_of(*star(*arms), profile="seal").cuts
    there = schedule_of(*star(*(180 - arm for arm in arms)), profile="seal").cuts

    def settings(cuts, sense):
        return sorted((round(sense * cut.miter_deg, 3), round(cut.long_m - cut.short_m, 4)) for cut in cuts)

    assert settings(here, 1) == settings(there, -1)


@pytest.mark.parametrize("arms", [(0, 70), (0, 60, 180), (10, 75, 190, 290), (0, 100, 215)])
def test_the_mirror_image_of_strip_that_may_be_turned_over_is_the_same_piece(schedule_of, arms):
    """A mirrored node of symmetric strip is the node turned over, so nothing changes on the saw."""
    here, there = (schedule_of(*star(*angles)).cuts for angles in (arms, [180 - arm for arm in arms]))

    assert sorted(map(rounded, here)) == sorted(map(rounded, there))


def test_letters_go_on_after_z():
    """The 27th piece is AA."""
    assert ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"] == [piece_letter(i) for i in (0, 25, 26, 51, 52, 701, 702)]
