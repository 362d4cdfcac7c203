"""Free ends: near misses, stubs, missing rises, and ends that need a reason."""

from collections import Counter

import pytest


def codes(network):
    return Counter(finding.code for finding in network.findings if finding.code != "lay-unknown")


def test_end_that_misses_a_line_is_a_near_miss(build, drawing_of):
    """
    A stem that stops 60 mm short of a line is reported with its place and gap, and joined to nothing.

        a-----------b
              :
              c
    """
    network = build(drawing_of([(0, 0), (10, 0)], [(5, -4), (5, -0.06)]))
    (miss,) = (finding for finding in network.findings if finding.code == "near-miss")

    assert {"end": 4} == network.count_kinds()
    assert "60 mm" in miss.message
    assert pytest.approx((5, -0.06, 0)) == miss.at_m
    assert {"near-miss": 1, "free-end": 3} == codes(network)


def test_two_ends_that_miss_each_other_are_one_slip(build, drawing_of):
    """
    Two ends 20 mm apart give one finding.

        a-----  -----b
    """
    network = build(drawing_of([(0, 0), (5, 0)], [(5.02, 0), (10, 0)]))

    assert {"near-miss": 1, "free-end": 2} == codes(network)


@pytest.mark.parametrize(("gap_m", "expected"), [(0.149, 1), (0.151, 0)])
def test_reach_bounds_the_near_miss(build, drawing_of, gap_m, expected):
    """A gap of more than the reach is taken as meant."""
    network = build(drawing_of([(0, 0), (10, 0)], [(5, -4), (5, -gap_m)]))

    assert expected == codes(network)["near-miss"]


def test_ring_that_does_not_close_misses_its_own_start(build, drawing_of):
    """
    The two ends of one polyline, 50 mm apart, are a near miss of the line with itself.

        +------+
        |      |
        +-  ---+
    """
    network = build(drawing_of([(1, 0), (0, 0), (0, 3), (3, 3), (3, 0), (1.05, 0)]))

    assert 1 == codes(network)["near-miss"]


def test_short_leg_after_a_corner_is_no_near_miss(build, drawing_of):
    """
    An end 100 mm up from a corner is not a miss of the line it has just turned from.

              |
        a-----+
    """
    network = build(drawing_of([(0, 0), (5, 0), (5, 0.1)]))

    assert 0 == codes(network)["near-miss"]


def test_line_that_runs_past_another_leaves_a_stub(build, drawing_of):
    """
    A stem that runs 40 mm past a line makes a cross with a stub.

              '
        a-----+-----b
              |
    """
    network = build(drawing_of([(0, 0), (10, 0)], [(5, -4), (5, 0.04)]))

    assert {"cross": 1, "end": 4} == network.count_kinds()
    assert {"short-stub": 1, "free-end": 3} == codes(network)


def test_slab_joint_under_a_wall_base_joint_lacks_its_rise(build, drawing_of, line):
    """
    A slab joint that ends 300 mm under the wall-base joint is told the rise that would mend it.

        ======o======  wall base, z = 0.3
              |
              c        slab joint, z = 0
    """
    base = line([(0, 0, 0.3), (10, 0, 0.3)], 1, joint="wall-base")
    slab = line([(5, -4, 0), (5, 0, 0)], 2, joint="slab")
    network = build(drawing_of(base, slab))
    (rise,) = (finding for finding in network.findings if finding.code == "missing-rise")

    assert "rise of 300 mm" in rise.message


def test_top_of_a_wall_joint_needs_no_reason(build, drawing_of, line):
    """The upper end of a climbing run is the top of the wall; its lower end is not."""
    network = build(drawing_of(line([(0, 0, 0), (0, 0, 4)], joint="wall")))
    (free,) = (finding for finding in network.findings if finding.code == "free-end")

    assert pytest.approx((0, 0, 0)) == free.at_m
