"""What holds for every network, however its lines are drawn."""

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import KDTree

GRID_M = 0.5
FINE_M = 1e-6  # crossings of lines on the grid are further apart than this, so that nothing snaps but what is one place
place = st.tuples(st.integers(0, 8), st.integers(0, 8), st.integers(0, 1))
course = st.lists(place, min_size=2, max_size=5)
drawings = st.lists(course, min_size=1, max_size=12)
ARMS = {"end": 1, "corner": 2, "closure": 2, "tee": 3, "wye": 3, "cross": 4}


def on_grid(courses):
    return [np.array(course, float) * GRID_M for course in courses if len(set(course)) > 1]


def same_nodes(one, two, unmove=lambda points: points):
    """Tell whether two networks have the same kinds in the same places; a closure may be anywhere on its ring."""
    kinds = [Counter(node.kind for node in network.nodes()) for network in (one, two)]
    places = [[node for node in network.nodes() if node.kind != "closure"] for network in (one, two)]
    if kinds[0] != kinds[1] or not places[0]:
        return kinds[0] == kinds[1]
    there = unmove(np.array([node.at_m for node in places[1]]))
    distance, nearest = KDTree(there).query([node.at_m for node in places[0]])
    return distance.max() < 1e-5 and all(
        node.kind == places[1][other].kind for node, other in zip(places[0], nearest, strict=True)
    )


@given(drawings)
@settings(max_examples=150, deadline=None)
def test_handshake(build, drawing_of, courses):
    """Every run has two ends: the arms of all nodes are twice the runs."""
    network = build(drawing_of(*on_grid(courses)))

    assert 2 * network.graph.number_of_edges() == sum(len(node.arms) for node in network.nodes())
    assert all(ARMS[node.kind] == len(node.arms) for node in network.nodes() if node.kind in ARMS)
    assert {node.mark: len(node.arms) for node in network.nodes()} == dict(network.graph.degree())


@pytest.mark.outside(
    what="length of all runs of drawings on a grid, with doubled, touching and overlapping lines",
    against="GEOS through shapely: length of the union; drawings made up by Hypothesis",
    result="within 1e-6 m, 150 drawings a run",
)
@given(drawings)
@settings(max_examples=150, deadline=None)
def test_noding_keeps_the_length_of_the_union(build, drawing_of, courses):
    """In a plane the runs add up to the length of GEOS's union of the lines, doubled stretches once."""
    flat = [course * (1, 1, 0) for course in on_grid(courses)]
    flat = [course for course in flat if np.ptp(course, axis=0).any()]
    network = build(drawing_of(*flat), tolerance_m=FINE_M)

    assert pytest.approx(shapely.union_all([shapely.LineString(c) for c in flat]).length, abs=1e-6) == network.length_m


@given(drawings, st.randoms(use_true_random=False))
@settings(max_examples=100, deadline=None)
def test_order_and_direction_of_lines_do_not_matter(build, drawing_of, courses, random):
    """Lines drawn in another order, some from the other end, give the same nodes."""
    lines = on_grid(courses)
    again = [course[::-1] if random.random() < 0.5 else course for course in random.sample(lines, len(lines))]

    assert same_nodes(build(drawing_of(*lines), tolerance_m=FINE_M), build(drawing_of(*again), tolerance_m=FINE_M))


@given(drawings, st.floats(0, 360), st.sampled_from([(0, 0), (431_020.5, 5_412_345.25)]))
@settings(max_examples=100, deadline=None)
def test_moving_and_turning_the_drawing_does_not_matter(build, drawing_of, courses, angle_deg, shift):
    """A drawing turned in plan and moved to survey coordinates gives the same nodes, moved."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    turn, move = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]), np.array([*shift, 0.0])
    lines = on_grid(courses)
    moved = [course @ turn.T + move for course in lines]

    assert same_nodes(
        build(drawing_of(*lines), tolerance_m=FINE_M),
        build(drawing_of(*moved), tolerance_m=FINE_M),
        lambda points: (points - move) @ turn,
    )


@given(drawings)
@settings(max_examples=100, deadline=None)
def test_building_again_from_the_runs_changes_nothing(build, drawing_of, line, courses):
    """The runs, drawn as lines, give the same network: noding is idempotent."""
    once = build(drawing_of(*on_grid(courses)), tolerance_m=FINE_M)
    again = build(drawing_of(*(line(run.points_m) for run in once.runs())), tolerance_m=FINE_M)

    assert same_nodes(once, again)
    assert pytest.approx(once.length_m) == again.length_m


@given(drawings, st.integers(0, 2**32 - 1))
@settings(max_examples=100, deadline=None)
def test_jitter_far_below_the_tolerance_does_not_matter(build, drawing_of, courses, seed):
    """Ends moved by up to a quarter of the tolerance snap back to the same nodes."""
    lines = [course * (1, 1, 0) for course in on_grid([c[:2] for c in courses])]
    lines = [course for course in lines if np.ptp(course, axis=0).any()]
    noise = np.random.default_rng(seed)
    moved = [course + noise.uniform(-0.0006, 0.0006, course.shape) for course in lines]
    kinds = Counter(node.kind for node in build(drawing_of(*lines)).nodes())

    assert kinds == Counter(node.kind for node in build(drawing_of(*moved)).nodes())


@given(drawings)
@settings(max_examples=50, deadline=None)
def test_same_drawing_same_marks(build, drawing_of, courses):
    """Marks, places and courses come out the same, to the last bit."""
    drawing = drawing_of(*on_grid(courses))
    one, two = build(drawing), build(replace(drawing))

    assert list(one.nodes()) == list(two.nodes())
    assert [run.points_m.tolist() for run in one.runs()] == [run.points_m.tolist() for run in two.runs()]


@given(drawings)
@settings(max_examples=50, deadline=None)
def test_runs_reach_from_node_to_node(build, drawing_of, courses):
    """Every run starts and ends exactly at its nodes and is as long as its course."""
    network = build(drawing_of(*on_grid(courses)))
    for run in network.runs():
        assert network.node(run.start).at_m == tuple(run.points_m[0])
        assert network.node(run.end).at_m == tuple(run.points_m[-1])
        assert pytest.approx(np.linalg.norm(np.diff(run.points_m, axis=0), axis=1).sum()) == run.length_m
