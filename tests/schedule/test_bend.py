"""Bends tighter than the strip can follow."""

from math import cos, hypot, radians, sin

import numpy as np
import pytest

from splicewright.schedule.bend import find_bends

RADII = """
[profiles.stiff]
width = "9 in"
thickness = "3/8 in"
rolls = [{ length = "50 ft" }]
least_bend_radius_flat = "2 m"
least_bend_radius_vertical = "300 mm"
"""


def tight(schedule):
    """List the tight-bend findings."""
    return [finding for finding in schedule.findings if finding.code == "tight-bend"]


@pytest.mark.parametrize("radius_m", [0.5, 2.0, 10.0])
@pytest.mark.parametrize("chord_deg", [0.25, 1.0, 5.0])
def test_a_flattened_arc_gives_its_own_radius(arc, radius_m, chord_deg):
    """However fine an arc is flattened, its bends have its radius (within the chord's own error)."""
    points = arc((3, 4), radius_m, 10, 200, chord_deg)

    bends = list(find_bends(points.tolist(), None, limit_deg=15.0, largest_m=20.0))

    assert [pytest.approx(radius_m, rel=2e-3)] * len(bends) == [bend.radius_m for bend in bends]
    assert bends


def test_a_straight_line_and_a_small_turn_are_no_bends():
    """A line that turns by 14 degrees, less than the limit of 15, takes no radius."""
    kink = [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0), (5 + 5 * cos(radians(14)), 5 * sin(radians(14)), 0.0)]

    assert [] == list(find_bends(kink, None, limit_deg=15.0, largest_m=20.0))


def test_two_small_turns_close_together_are_one_tight_bend():
    r"""
    Two turns of 10 degrees 50 mm apart are a bend of 100 mm over 20 degrees: a radius of 0.286 m.

        -----._
               \     not to scale
    """
    points, heading, at = [(0.0, 0.0, 0.0)], 0.0, np.zeros(3)
    for length in (5.0, 0.05, 5.0):
        at = at + length * np.array([cos(radians(heading)), sin(radians(heading)), 0.0])
        points.append(tuple(at))
        heading += 10.0
    (bend,) = find_bends(points, None, limit_deg=15.0, largest_m=20.0)

    assert pytest.approx(0.1 / radians(20)) == bend.radius_m
    assert pytest.approx((5, 0, 0)) == bend.at_m


@pytest.mark.parametrize(
    ("joint", "radius_m", "found"),
    [("slab", 1.9, 1), ("slab", 2.1, 0), ("wall-base", 1.9, 0), ("wall-base", 0.25, 1), ("wall-base", 0.35, 0)],
)
def test_flat_and_vertical_bends_have_their_own_least_radius(schedule_of, arc, joint, radius_m, found):
    """
    A ring in plan bends flat strip within its plane (least 2 m) and upright strip over its width (least 0.3 m).

        (  )   seen from above
    """
    schedule = schedule_of(arc((0, 0), radius_m, 0, 360), joint=joint, profile="stiff", more=RADII)

    assert found == len(tight(schedule))


def test_a_tight_bend_names_run_radius_and_profile(schedule_of, arc):
    """The finding tells where, how tight and what is allowed."""
    (finding,) = tight(schedule_of(arc((0, 0), 1, 0, 360), profile="stiff", more=RADII))

    assert "Run R1 bends within its plane with a radius of 1.00 m, less than the 2.00 m" in finding.message
    assert pytest.approx(1.0, abs=1e-3) == hypot(*finding.at_m)


def test_without_a_stated_radius_no_bend_is_judged(schedule_of, arc):
    """A profile that says nothing of bending is not held to anything."""
    assert [] == tight(schedule_of(arc((0, 0), 0.1, 0, 360)))
