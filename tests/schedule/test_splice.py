"""Splices: where they are, who makes them, why, and in which order."""

import pytest


def field(schedule):
    """List the field splices as kind and place."""
    return [(s.kind.value, pytest.approx(s.at_m, abs=1e-6)) for s in schedule.splices if s.made.value == "field"]


def test_each_leg_that_meets_strip_from_the_roll_is_one_splice(schedule_of):
    """
    An ell has two field splices, 600 mm from its corner, and one factory seam at it.

        ------+
              |
    """
    schedule = schedule_of([(0, 0), (5, 0), (5, -5)])

    assert [("leg", (4.4, 0, 0)), ("leg", (5, -0.6, 0))] == field(schedule)
    assert [("S3", "factory", "seam", (5.0, 0.0, 0.0), "F1", None)] == [
        (s.mark, s.made.value, s.kind.value, s.at_m, s.fitting, s.day) for s in schedule.splices[2:]
    ]


def test_legs_that_meet_are_one_splice_in_the_middle(schedule_of):
    """
    Two tees 1.4 m apart: too long for one assembly, too short for a piece between.

        |        |
        +--------+
        |        |
    """
    schedule = schedule_of([(0, -9), (0, 9)], [(0, 0), (1.4, 0)], [(1.4, -9), (1.4, 9)])
    (meeting,) = [s for s in schedule.splices if s.kind.value == "leg to leg"]

    assert (pytest.approx((0.7, 0, 0)), "F1") == (meeting.at_m, meeting.fitting)
    assert "legs of F1 and F1 meet: no room for a piece between" == meeting.reason


def test_splices_between_pieces_stand_where_the_installed_pieces_end(schedule_of):
    """
    A run of 25 m between free ends, from rolls of 10 m with a melt of 10 mm a weld.

        =====10-----|-----10=====|==5==

    The first piece ends 5 mm short of 10 m, since half of the weld's melt comes from it; the second reaches 9.99 m on.
    """
    schedule = schedule_of([(0, 0), (25, 0)])

    assert [("piece", (9.995, 0, 0)), ("piece", (19.985, 0, 0))] == field(schedule)


def test_splices_between_pieces_count_from_the_leg(schedule_of):
    """
    A stem of 15 m on a tee: leg 0.6 m, then a roll of 10 m less the leg's weld of 10 mm and half of the next.

           |
           | 10.585
           |
           + 0.6
           |
        ---+---    the run starts at the tee
    """
    schedule = schedule_of([(-3, 0), (3, 0)], [(0, 0), (0, 15)])

    assert [("leg", (0, 0.6, 0)), ("piece", (0, 10.585, 0))] == [
        s for s in field(schedule) if (0, 0.6, 0) == s[1] or s[0] == "piece"
    ]


def test_a_splice_on_a_curve_lies_on_the_curve(schedule_of, arc):
    """A ring of 3 m radius from 10 m rolls: the splice between its two pieces lies 10 m along the circle."""
    schedule = schedule_of(arc((0, 0), 3, 0, 360))
    (piece,) = [s for s in schedule.splices if s.kind.value == "piece"]

    assert pytest.approx(3.0, abs=1e-4) == (piece.at_m[0] ** 2 + piece.at_m[1] ** 2) ** 0.5


def test_a_ring_is_closed_by_one_splice(schedule_of, arc):
    """A small ring is one piece and one closure, made where the ring starts."""
    schedule = schedule_of(arc((0, 0), 1, 0, 360))

    assert [("closure", "closes the ring", 30.0)] == [(s.kind.value, s.reason, s.minutes) for s in schedule.splices]


def test_a_change_of_profile_is_one_splice_in_the_wider_profile(schedule_of, line):
    """
    9 in ribbed strip meets 12 in strip with a bulb in line: 45 min, half of which grows by 12 / 9.

        ribbed -----X----- bulb
    """
    schedule = schedule_of(line([(0, 0), (5, 0)], 1), line([(5, 0), (9, 0)], 2, profile="bulb"))

    assert [("transition", "bulb", "bulb meets ribbed", pytest.approx(45 * (0.5 + 0.5 * 12 / 9)))] == [
        (s.kind.value, s.profile, s.reason, s.minutes) for s in schedule.splices
    ]


def test_field_splices_are_made_level_by_level_from_west_to_east(schedule_of):
    """Splices of a lower level come first wherever they are; within a level the westernmost comes first."""
    schedule = schedule_of([(0, 0, 3), (12, 0, 3)], [(40, 0, 0), (52, 0, 0)], [(20, 0, 0), (32, 0, 0)])

    assert [(29.995, 0), (49.995, 0), (9.995, 3)] == [(round(s.at_m[0], 3), s.at_m[2]) for s in schedule.splices]
    assert ["S1", "S2", "S3"] == [s.mark for s in schedule.splices]


def test_a_site_shop_makes_the_seams_of_a_level_before_its_butts(schedule_of):
    """Under the policy "site shop" seams are field splices with minutes, fittings stay, and the factory makes none."""
    schedule = schedule_of([(0, 0), (5, 0), (5, -5)], options={"fittings.policy": "site shop"})

    assert ["seam", "leg", "leg"] == [s.kind.value for s in schedule.splices]
    assert ("field", "F1", 45.0, "seam of the corner in F1, made in the site shop") == (
        schedule.splices[0].made.value,
        schedule.splices[0].fitting,
        schedule.splices[0].minutes,
        schedule.splices[0].reason,
    )
    assert 1 == len(schedule.fittings)


def test_in_the_field_seams_are_welded_in_place_without_fittings(schedule_of):
    """
    Under the policy "field" a tee is two mitred seams and a square one at its node; there are no legs to weld.

        ---]+[---
            |
    """
    schedule = schedule_of([(0, 0), (8, 0)], [(4, 0), (4, -4)], options={"fittings.policy": "field"})

    assert [("field", "seam", None, 45.0), ("field", "seam", None, 45.0), ("field", "seam", None, 30.0)] == [
        (s.made.value, s.kind.value, s.fitting, s.minutes) for s in schedule.splices
    ]
    assert () == schedule.fittings


def test_every_splice_has_a_reason(schedule_of, arc):
    """No splice of a mixed job stands without its reason."""
    schedule = schedule_of(arc((0, 0), 5, 0, 360), [(-20, 0), (20, 0)], [(30, 0), (31, 0), (31, 40)])

    assert [] == [s.mark for s in schedule.splices if not s.reason]
