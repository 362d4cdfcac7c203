"""Level joints that cross in plan with little height between were likely meant to meet."""

import numpy as np
import pytest


def near_crossings(network):
    return [finding for finding in network.findings if finding.code == "near-crossing"]


@pytest.fixture
def slab(line):
    """Make a slab joint from a course and a number."""
    return lambda course, number: line(course, number, joint="slab")


@pytest.mark.parametrize(("height_m", "expected"), [(0.0049, 0), (0.0051, 1), (0.149, 1), (0.151, 0), (4.0, 0)])
@pytest.mark.parametrize("turned", [False, True])
def test_slab_joints_that_cross_with_little_height_between(build, drawing_of, slab, height_m, expected, turned):
    """
    Two slab joints that cross in plan do not meet beyond the tolerance, and up to the reach are told; a roof is not.

            d
            |              seen from the side:   ----+----  b
        a---+---b                                    |  height
            |                                     ---+---   c, d
            c
    """
    lines = [slab([(0, 0, height_m), (10, 0, height_m)], 1), slab([(5, -5, 0), (5, 5, 0)], 2)]
    network = build(drawing_of(*(reversed(lines) if turned else lines)))

    assert expected == len(near_crossings(network))


def test_finding_names_both_places_the_height_and_the_remedy(build, drawing_of, slab):
    """
    The sentence names both entities, the height between them, both places and what to do.

        ------+------   LINE 1, z = 1.05
        ------+------   LINE 2, z = 1
    """
    network = build(drawing_of(slab([(0, 2, 1.05), (10, 2, 1.05)], 1), slab([(5, -5, 1), (5, 5, 1)], 2)))
    (finding,) = near_crossings(network)

    assert "warning" == finding.severity
    assert pytest.approx((5, 2, 1.05)) == finding.at_m
    assert ["LINE 1", "LINE 2"] == [source.entity for source in finding.sources]
    assert (
        "test.dxf, layer 'slab', LINE 1 crosses 50 mm over test.dxf, layer 'slab', LINE 2, at (5.000, 2.000, 1.050) m "
        "over (5.000, 2.000, 1.000) m, so they do not meet; draw both at one height there, or a rise between them, or "
        "say why they pass."
    ) == finding.message


def test_sloping_joint_is_told_where_it_crosses_only(build, drawing_of, slab):
    """
    A joint in a ramp crosses two level ones, one far below it and one 100 mm below it.

              .-'      ramp, 1 in 10
          .-'
        o---------o    level, z = 0
    """
    ramp = slab([(0, 0, 0), (20, 0, 2)], 1)
    network = build(drawing_of(ramp, slab([(1, -3, 0), (1, 3, 0)], 2), slab([(15, -3, 0), (15, 3, 0)], 3)))

    assert [pytest.approx((1, 0, 0.1))] == [finding.at_m for finding in near_crossings(network)]


def test_place_over_a_node_is_told_once(build, drawing_of, slab):
    """
    A line 50 mm over a tee crosses three runs at once, and is one slip.

              |
        ------o======   ====== is 50 mm over the tee, and goes on to the left
              |
    """
    tee = [slab([(5, -5, 0), (5, 5, 0)], 1), slab([(5, 0, 0), (9, 0, 0)], 2)]
    over = slab([(0, -2, 0.05), (10, 2, 0.05)], 3)

    assert 1 == len(near_crossings(build(drawing_of(*tee, over))))


@pytest.mark.parametrize("way", [1, -1], ids=["up", "down"])
def test_step_in_a_slab_is_as_it_should_be(build, drawing_of, slab, way):
    """
    A joint that rises over a step of 120 mm crosses one at its foot, and is joined to it there, whichever way it rises.

              +------        seen from the side
              | step
        ------o              o: a joint along the step, in the lower slab
    """
    stepped = slab([(-5 * way, 0, 0), (0, 0, 0), (0, 0, 0.12), (5 * way, 0, 0.12)], 1)
    along = slab([(0, -4, 0), (0, 4, 0)], 2)

    assert [] == near_crossings(build(drawing_of(stepped, along)))


@pytest.mark.parametrize(("kind", "expected"), [("base-seal", 0), ("wall-base", 0), ("slab", 1)])
def test_only_joints_of_one_kind_are_compared(build, drawing_of, line, slab, kind, expected):
    """
    A base seal lies below a slab joint by design, and a wall-base joint over one; two slab joints are a slip.

        ------+------   slab joint
        ------o------   base seal, 120 mm below
    """
    network = build(drawing_of(slab([(0, 0, 0.12), (10, 0, 0.12)], 1), line([(5, -5, 0), (5, 5, 0)], 2, joint=kind)))

    assert expected == len(near_crossings(network))


def test_joints_of_unknown_kind_are_compared(build, drawing_of):
    """Where no layer has a joint kind, lines that cross with 50 mm between are told all the same."""
    network = build(drawing_of([(0, 0, 0.05), (10, 0, 0.05)], [(5, -5, 0), (5, 5, 0)]))

    assert 1 == len(near_crossings(network))


def test_joints_that_run_one_over_the_other_do_not_cross(build, drawing_of, slab):
    """
    Two joints on the same line on plan, 100 mm apart in height, are two rows by design.

        =============   seen from above
    """
    network = build(drawing_of(slab([(0, 0, 0), (10, 0, 0)], 1), slab([(0, 0, 0.1), (10, 0, 0.1)], 2)))

    assert [] == near_crossings(network)


def test_free_end_over_a_line_is_its_near_miss(build, drawing_of, slab):
    """
    A line that ends free 60 mm over another, or 40 mm past it, is told once, as a near miss of its end.

        ------.         60 mm
        ------+------
    """
    network = build(drawing_of(slab([(0, 0, 0.06), (5.04, 0, 0.06)], 1), slab([(5, -5, 0), (5, 5, 0)], 2)))
    told = [finding.code for finding in network.findings if finding.code.startswith("near")]

    assert ["near-miss"] == told


def test_wall_joint_that_passes_a_level_one_is_no_crossing_on_plan(build, drawing_of, line):
    """A plumb line is a point on plan and crosses nothing there, whatever its height."""
    network = build(drawing_of(line([(5, 0, 0), (5, 0, 4)], 1, joint="wall"), [(0, 0, 4.05), (10, 0, 4.05)]))

    assert [] == near_crossings(network)


def test_ring_over_a_lattice_is_told_at_each_crossing(build, drawing_of, line, slab, arc):
    """
    A ring of radius 3 m, 30 mm over a cross of two joints, crosses them four times.

           .-|-.
        --(--+--)--
           '-|-'
    """
    ring = line(arc((0, 0, 0.03), 3, 0, 360), 3, joint="slab", curved=True)
    cross = [slab([(-5, 0.1, 0), (5, 0.1, 0)], 1), slab([(0.2, -5, 0), (0.2, 5, 0)], 2)]
    found = near_crossings(build(drawing_of(ring, *cross)))

    assert 4 == len(found)
    assert pytest.approx(3.0, abs=1e-3) == np.hypot(*np.array([finding.at_m[:2] for finding in found]).T).mean()
