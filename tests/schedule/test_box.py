"""Box: sides along the arms of nodes, limits, places along legs."""

from math import cos, pi, sin

import pytest
from scipy.spatial.transform import Rotation

from splicewright.schedule.box import Extent, Limits, Sides, frames_of, leg_places, side_places


def test_a_box_follows_the_arms():
    """Places along two arms at 30 and 120 degrees lie in a box of 3 by 2, whatever its turn."""
    one, two = (cos(pi / 6), sin(pi / 6), 0.0), (-sin(pi / 6), cos(pi / 6), 0.0)
    places = [(0, 0, 0), tuple(3 * v for v in one), tuple(2 * v for v in two)]

    assert (3, 2, 0) == pytest.approx(Extent.of(places, frames_of([(one, two)])).best(), abs=1e-4)


@pytest.mark.parametrize("turn", [(0.3, 0, 0), (0, 1, 0.4), (1, 2, 3)])
def test_a_box_is_the_same_for_a_piece_turned_in_space(turn):
    """Arms turned anyhow in space give the same box."""
    arms = [(1.0, 0.0, 0.0), (0.6, 0.8, 0.0), (0.0, 0.0, 1.0)]
    there = [tuple(Rotation.from_rotvec(turn).apply(arm)) for arm in arms]
    boxes = [Extent.of([(0, 0, 0), *found], frames_of([found])).best() for found in (arms, there)]

    assert tuple(boxes[0]) == pytest.approx(tuple(boxes[1]), abs=1e-4)


def test_extents_add_up():
    """The extent of two sets of places is that of all of them."""
    frames = frames_of([((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))])
    one, two = [(0, 0, 0), (1, 2, 0)], [(5, 1, 0), (3, 0, 1)]

    assert (Extent.of(one, frames) | Extent.of(two, frames)).best() == Extent.of(one + two, frames).best()


@pytest.mark.parametrize(
    ("sides", "mass", "excess"),
    [
        (Sides(4.0, 2.0, 1.0), 10.0, ""),
        (Sides(4.1, 2.0, 1.0), 10.0, "4.10 m long"),
        (Sides(4.0, 2.5, 1.0), 10.0, "2.50 m wide"),
        (Sides(4.0, 2.0, 1.3), 10.0, "1.30 m high"),
        (Sides(4.0, 2.0, 1.0), 50.0, "50.0 kg"),
    ],
)
def test_what_exceeds_the_limits_is_named(rules, sides, mass, excess):
    """The rules of the tests allow 4 m, 8 ft, 4 ft and 110 lb; the first side that exceeds them is named."""
    limits = Limits.of(rules)

    assert limits.excess(sides, mass).startswith(excess)
    assert (not excess) == limits.hold(sides, mass)


def test_no_side_may_exceed_the_one_before_it(rules_of):
    """Where the longest side is 1 m the other two are no longer, whatever their own limits."""
    limits = Limits.of(rules_of("", {"fittings.largest": "1 m", "fittings.leg": "300 mm"}))

    assert (1.0, 1.0, 1.0) == tuple(limits.sides)


def test_a_leg_follows_its_run():
    """A leg of 4 m from the end of a bent run goes round the bend."""
    run = [(0, 0, 0), (3, 0, 0), (3, 3, 0)]

    assert [(3, 3, 0), (3, 0, 0), (2, 0, 0)] == leg_places(run, 4.0, at_start=False)
    assert [(0, 0, 0), (2, 0, 0)] == leg_places(run, 2.0, at_start=True)


def test_edges_stand_half_a_width_beside_the_centreline():
    """Strip 0.2 m wide has its edges 0.1 m to either side; without a lay only the centreline counts."""
    assert [(1, 0.1, 0), (1, -0.1, 0)] == side_places([(1.0, 0.0, 0.0)], (0.0, 1.0, 0.0), 0.2)
    assert [(1, 0, 0)] == side_places([(1.0, 0.0, 0.0)], None, 0.2)
