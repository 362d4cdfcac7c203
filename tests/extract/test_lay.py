"""How the strip lies along runs and turns at nodes."""

import math

import pytest


def places(network):
    return {
        tuple(round(value, 3) for value in node.at_m): (node.kind.value, node.orientation.value)
        for node in network.nodes()
    }


def severities(network):
    return sorted(f"{f.severity.value}: {f.code}" for f in network.findings if f.code != "free-end")


def test_slab_joint_turning_in_plan_is_flat(build, drawing_of):
    """A slab joint lies flat; its corner in plan is a flat ell."""
    network = build(drawing_of([(0, 0), (5, 0), (5, 5)], joint="slab"))

    assert ("corner", "flat") == places(network)[5, 0, 0]


def test_wall_base_joint_turning_with_the_wall_is_vertical(build, drawing_of):
    """A wall-base joint stands upright; its corner in plan folds it about its width."""
    network = build(drawing_of([(0, 0), (5, 0), (5, 5)], joint="wall-base"))

    assert ("corner", "vertical") == places(network)[5, 0, 0]


def test_slab_joint_rises_through_the_kicker_to_the_wall_base(build, drawing_of, line):
    """
    The rise of a slab joint meets the wall-base joint in the wall's own plane: vertical ell, then flat tee or cross.

        elevation across the wall     plan
              |  wall joint            ||
        ======+======  base joint      ++--------  slab joint
              |  rise                  ||
              +- - - slab joint        ||
    """
    base = line([(0, -5, 0.3), (0, 5, 0.3)], 1, joint="wall-base")
    slab = line([(8, 0, 0), (0, 0, 0), (0, 0, 0.3)], 2, joint="slab")
    wall = line([(0, 0, 0.3), (0, 0, 4)], 3, joint="wall")

    assert ("tee", "flat") == places(build(drawing_of(base, slab)))[0, 0, 0.3]
    found = places(build(drawing_of(base, slab, wall)))

    assert ("cross", "flat") == found[0, 0, 0.3]
    assert ("corner", "vertical") == found[0, 0, 0]


def test_wall_joint_standing_on_the_base_joint_is_a_flat_tee(build, drawing_of, line):
    """Both strips lie in the wall's mid-plane."""
    base = line([(-5, 0, 0), (5, 0, 0)], 1, joint="wall-base")
    network = build(drawing_of(base, line([(0, 0, 0), (0, 0, 4)], 2, joint="wall")))

    assert ("tee", "flat") == places(network)[0, 0, 0]
    assert [] == severities(network)


def test_dividing_wall_meets_the_outer_wall_in_a_vertical_tee(build, drawing_of, line):
    """Two upright strips that meet in plan share the direction across: a vertical tee."""
    outer = line([(-5, 0, 0), (5, 0, 0)], 1, joint="wall-base")
    network = build(drawing_of(outer, line([(0, 0, 0), (0, 6, 0)], 2, joint="wall-base")))

    assert ("tee", "vertical") == places(network)[0, 0, 0]


def test_flat_strip_meeting_an_upright_one_is_reported_and_never_guessed(build, drawing_of, line):
    """A slab joint drawn straight into a wall-base joint shares no plane with it: an error that names the rise."""
    base = line([(-5, 0, 0), (5, 0, 0)], 1, joint="wall-base")
    network = build(drawing_of(base, line([(0, 6, 0), (0, 0, 0)], 2, joint="slab")))
    (mismatch,) = (finding for finding in network.findings if finding.code == "lay-mismatch")

    assert ("tee", "compound") == places(network)[0, 0, 0]
    assert "error" == mismatch.severity.value
    assert "rise" in mismatch.message


def test_joint_of_no_known_kind_leaves_the_lay_open(build, drawing_of):
    """Without a joint kind a level line may be slab or wall base: unknown, one finding a layer."""
    network = build(drawing_of([(0, 0), (5, 0), (5, 5)], [(0, 9), (5, 9), (5, 5)]))

    assert {"unknown"} == {o for kind, o in places(network).values() if kind == "corner"}
    assert ["warning: lay-unknown"] == severities(network)


def test_wall_joint_in_the_corner_of_two_walls_stays_open(build, drawing_of, line):
    """
    A climbing joint at the corner of the base joint could lie in either wall.

        +----
        |
    """
    base = line([(5, 0, 0), (0, 0, 0), (0, 5, 0)], 1, joint="wall-base")
    network = build(drawing_of(base, line([(0, 0, 0), (0, 0, 4)], 2, joint="wall")))

    assert ("wye", "unknown") == places(network)[0, 0, 0]


def test_lay_is_carried_up_through_the_lifts(build, drawing_of, line):
    """The second lift of a wall joint takes its lay from the first, which takes it from the base joint."""
    base = line([(-5, 0, 0), (5, 0, 0)], 1, joint="wall-base")
    lift = line([(-5, 0, 2), (5, 0, 2)], 2, joint="wall")
    up = line([(0, 0, 0), (0, 0, 2), (0, 0, 4)], 3, joint="wall")
    found = places(build(drawing_of(base, lift, up)))

    assert ("tee", "flat") == found[0, 0, 0]
    assert ("cross", "flat") == found[0, 0, 2]


def test_across_of_a_climbing_run_points_along_the_wall(build, drawing_of, line):
    """The wall runs at 30 degrees in plan, and so does the width of the joint in it."""
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    base = line([(-5 * c, -5 * s, 0), (5 * c, 5 * s, 0)], 1, joint="wall-base")
    network = build(drawing_of(base, line([(0, 0, 0), (0, 0, 4)], 2, joint="wall")))
    (wall,) = (run for run in network.runs() if run.joint == "wall")

    assert pytest.approx((c, s, 0)) == tuple(abs(value) for value in wall.across[0])


def test_profile_that_changes_in_line_is_a_transition(build, drawing_of, line):
    """Two profiles end to end are no corner; the place is reported."""
    network = build(
        drawing_of(
            line([(0, 0), (5, 0)], 1, joint="slab", profile="wide"),
            line([(5, 0), (9, 0)], 2, joint="slab", profile="narrow"),
        )
    )

    assert {"end": 2, "other": 1} == network.count_kinds()
    assert ["warning: profile-change"] == severities(network)


def test_slab_joint_that_goes_on_as_wall_base_joint_is_reported(build, drawing_of, line):
    """A strip cannot turn from flat to upright in line: an error."""
    network = build(drawing_of(line([(0, 0), (5, 0)], 1, joint="slab"), line([(5, 0), (9, 0)], 2, joint="wall-base")))

    assert {"end": 2, "other": 1} == network.count_kinds()
    assert ["error: lay-mismatch"] == severities(network)
