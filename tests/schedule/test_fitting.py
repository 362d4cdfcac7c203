"""Fittings: which nodes become one, what they hold, and which are alike."""

from math import cos, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.shape import millimetres


def cross_at(x: float, y: float, *, turn_deg: float = 0.0, arm_m: float = 3.0, skew_deg: float = 90.0):
    """Draw two lines that cross."""
    return [
        [(x + s * arm_m * cos(radians(a)), y + s * arm_m * sin(radians(a))) for s in (-1, 1)]
        for a in (turn_deg, turn_deg + skew_deg)
    ]


def tee_at(x: float, y: float, *, stem_deg: float, turn_deg: float = 0.0):
    """Draw a line and a stem on it."""
    along, stem = radians(turn_deg), radians(turn_deg + stem_deg)
    return [
        [(x + s * 3 * cos(along), y + s * 3 * sin(along)) for s in (-1, 1)],
        [(x, y), (x + 3 * cos(stem), y + 3 * sin(stem))],
    ]


def summary(schedule):
    """List quantity and contents of every fitting type."""
    return [(fitting.quantity, fitting.contents) for fitting in schedule.fittings]


def test_one_fitting_a_node_with_the_leg_of_the_rules(schedule_of):
    """
    An ell and a tee far apart are two fittings with legs of 600 mm.

        +------------+-------
        |            |
    """
    schedule = schedule_of([(0, -9), (0, 0), (20, 0)], [(9, 0), (9, -9)])

    assert [("F1", "corner", "flat", (0.6, 0.6), 1), ("F2", "tee", "flat", (0.6, 0.6, 0.6), 2)] == [
        (f.mark, f.kind, f.orientation, f.legs_m, f.factory_seams) for f in schedule.fittings
    ]
    assert pytest.approx([1.2, 1.8]) == [f.strip_m for f in schedule.fittings]
    assert [(("N2",),), (("N4",),)] == [f.nodes for f in schedule.fittings]


def test_mass_is_strip_times_mass_per_length(schedule_of):
    """A cross with four legs of 0.6 m of 2 kg/m weighs 4.8 kg."""
    (fitting,) = schedule_of(*cross_at(0, 0)).fittings

    assert pytest.approx(4.8) == fitting.mass_kg


def test_nodes_joined_by_a_short_run_are_one_assembly(schedule_of):
    """
    An ell and a tee 0.8 m apart, less than two legs, are one piece with three legs and 2.6 m of strip.

        +--0.8--+------
        |       |
    """
    (fitting,) = schedule_of([(0, -9), (0, 0), (9, 0)], [(0.8, 0), (0.8, -9)]).fittings

    assert ("assembly", "corner + tee", "flat", (0.6, 0.6, 0.6), 3) == (
        fitting.kind,
        fitting.contents,
        fitting.orientation,
        fitting.legs_m,
        fitting.factory_seams,
    )
    assert pytest.approx(2.6) == fitting.strip_m
    assert 0.0 == fitting.turn_deg


def test_a_riser_makes_one_assembly_of_mixed_orientation(schedule_of, line):
    """
    A slab joint turns up at the wall (vertical ell) and meets the wall-base strip 0.3 m higher (flat tee).

           -----+-----  wall-base strip, seen from the slab
                |
                +       slab strip comes towards the viewer
    """
    schedule = schedule_of(
        line([(0, -9, 0), (0, 0, 0)], 1, joint="slab"),
        line([(0, 0, 0), (0, 0, 0.3)], 2, joint="wall"),
        line([(-9, 0, 0.3), (9, 0, 0.3)], 3, joint="wall-base"),
    )

    assert [("assembly", "corner + tee", "mixed")] == [(f.kind, f.contents, f.orientation) for f in schedule.fittings]


def test_a_short_ring_on_a_tee_stays_with_its_fitting(schedule_of, arc):
    """
    A collar of 0.15 m radius with a stem is one fitting; its ring of strip is closed by a third, square seam.

        (  )----
    """
    schedule = schedule_of(arc((0, 0), 0.15, 0, 360), [(0.15, 0), (9, 0)])

    assert [(1, "tee + ring")] == summary(schedule)
    assert 3 == schedule.fittings[0].factory_seams


@pytest.mark.parametrize("turn_deg", [0, 33, 90, 180])
def test_turned_copies_are_one_type(schedule_of, turn_deg):
    """Two crosses, one of them turned in plan, are one type with quantity two."""
    assert [(2, "cross")] == summary(schedule_of(*cross_at(0, 0), *cross_at(50, 0, turn_deg=turn_deg)))


def test_a_flat_tee_in_a_slab_and_one_in_a_wall_are_one_type(schedule_of, line):
    """The shop makes a flat tee; whether it is laid down or stood up is the site's business."""
    schedule = schedule_of(
        *(line(course, i, joint="slab") for i, course in enumerate(tee_at(0, 0, stem_deg=90), start=1)),
        line([(47, 0, 0), (53, 0, 0)], 3, joint="wall-base"),
        line([(50, 0, 0), (50, 0, 3)], 4, joint="wall"),
    )

    assert [(2, "tee")] == summary(schedule)


def test_flat_and_vertical_ells_are_two_types(schedule_of, line):
    """A turn within the strip's plane and one over its width are different pieces."""
    ell = [(0, 0), (3, 0), (3, 3)]
    schedule = schedule_of(line(ell, 1, joint="slab"), line([(x + 50, y) for x, y in ell], 2, joint="wall-base"))

    assert [(1, "flat"), (1, "vertical")] == [(f.quantity, f.orientation) for f in schedule.fittings]


@pytest.mark.parametrize(("profile", "types"), [("ribbed", 1), ("seal", 2)])
def test_mirrored_tees_are_one_type_only_if_the_strip_may_be_turned_over(schedule_of, profile, types):
    r"""
    A tee with its stem at 60 degrees and its mirror image at 120.

          /       \
        -+--     --+-
    """
    schedule = schedule_of(*tee_at(0, 0, stem_deg=60), *tee_at(50, 0, stem_deg=120), profile=profile)

    assert types == len(schedule.fittings)


@pytest.mark.parametrize(("profile", "types"), [("ribbed", 1), ("seal", 2)])
def test_mirrored_assemblies_are_one_type_only_if_the_strip_may_be_turned_over(schedule_of, profile, types):
    """
    An ell and a tee 0.8 m apart, and the same with the ell on the other side.

        +---+----     ----+---+
        |   |             |   |
    """
    left = [[(0, -9), (0, 0), (9, 0)], [(0.8, 0), (0.8, -9)]]
    right = [[(50 - x, y) for x, y in course] for course in left]
    schedule = schedule_of(*left, *right, profile=profile)

    assert (types, {"corner + tee"}) == (len(schedule.fittings), {f.contents for f in schedule.fittings})


def test_legs_of_other_lengths_make_another_type(schedule_of):
    """
    Two tees; the stem of one is 0.7 m long, too short for a piece, so its leg takes it all.

        ---+---   ---+---
           |         |
           |
    """
    schedule = schedule_of([(0, 0), (6, 0)], [(3, 0), (3, -6)], [(50, 0), (56, 0)], [(53, 0), (53, -0.7)])

    assert [(0.6, 0.6, 0.6), pytest.approx((0.7, 0.6, 0.6))] == [f.legs_m for f in schedule.fittings]


def test_a_fitting_too_large_to_deliver_is_reported(schedule_of):
    """
    A cross in the wall with legs of 3 m is 6 m long: more than the 4 m of the rules.

           |
        ---+---
           |
    """
    schedule = schedule_of(*cross_at(0, 0, arm_m=9), options={"fittings.leg": "3 m"})
    (finding,) = [f for f in schedule.findings if f.code == "large-assembly"]

    assert ("warning", (0.0, 0.0, 0.0)) == (finding.severity.value, pytest.approx(finding.at_m))
    assert "F1 (1 to make) is 6.00 m long, more than the 4.00 m" in finding.message


def test_a_fitting_that_can_be_delivered_is_not_reported(schedule_of):
    """A single cross is 1.2 m long."""
    assert [] == [f for f in schedule_of(*cross_at(0, 0)).findings if f.code == "large-assembly"]


@settings(max_examples=25, deadline=None)
@given(turn_deg=st.floats(0, 360), shuffle=st.randoms(), reverse=st.lists(st.booleans(), min_size=9, max_size=9))
def test_types_do_not_depend_on_how_the_job_is_drawn(schedule_of, turn_deg, shuffle, reverse):
    """Turning the drawing, reordering and reversing its lines leave types, quantities and legs as they are."""
    courses = [
        *cross_at(0, 0, skew_deg=50),
        *tee_at(30, 0, stem_deg=60),
        *tee_at(60, 0, stem_deg=120, turn_deg=200),
        [(90, -9), (90, 0), (99, 0)],
        [(90.8, 0), (90.8, -9)],
        [(120, 0), (126, 0), (123, 5), (120, 0)],
    ]
    turn = radians(turn_deg)
    moved = [
        [(x * cos(turn) - y * sin(turn), x * sin(turn) + y * cos(turn)) for x, y in (c[::-1] if back else c)]
        for c, back in zip(courses, reverse, strict=True)
    ]
    shuffle.shuffle(moved)

    assert described(schedule_of(*courses)) == described(schedule_of(*moved))


def described(schedule):
    """Tell types, quantities and legs, whatever their marks."""
    return sorted(
        (f.contents, f.quantity, f.orientation, [millimetres(leg) for leg in f.legs_m]) for f in schedule.fittings
    )
