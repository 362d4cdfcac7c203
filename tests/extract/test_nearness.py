"""Which points coincide, are near one another, hang together; SciPy is the second opinion."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from splicewright.extract.errors import CrowdedError
from splicewright.extract.nearness import find_groups, find_spots, near_pairs

GRID_M = st.integers(-12, 12).map(lambda step: step / 4)
crowds = arrays(float, st.tuples(st.integers(0, 30), st.just(3)), elements=GRID_M | st.floats(-3, 3))


@given(crowds, st.sampled_from([0.25, 0.5, 1.0, 0.1, 20.0]), st.sampled_from([0.0, 4e6]))
def test_near_pairs_are_those_of_a_search_tree(points, distance, far):
    """Pairs, those exactly at the distance too, are those that SciPy's k-d tree finds, also at survey coordinates."""
    points = points + far
    expected = cKDTree(points).query_pairs(distance) if len(points) else set()

    assert sorted(expected) == [tuple(pair) for pair in near_pairs(points, distance).tolist()]


@given(crowds)
def test_spots_are_the_distinct_points(points):
    """As many spots as distinct points; every point has the coordinates of its spot."""
    spot, spot_of = find_spots(points)

    assert len({tuple(point) for point in (points + 0.0).tolist()}) == len(spot)
    assert points.tolist() == points[spot][spot_of].tolist()


@given(st.lists(st.tuples(st.integers(0, 19), st.integers(0, 19)), max_size=30))
def test_groups_are_connected_components(pairs):
    """Points share a number exactly where SciPy finds them connected, and numbers follow first points."""
    ends = np.array(pairs, int).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(20, 20))
    expected = connected_components(graph, directed=False)[1]

    assert expected.tolist() == find_groups(ends, 20).tolist()


def test_groups_are_found_whatever_the_order_of_the_pairs():
    """Five points in a chain whose pairs are numbered crosswise are one group, two others are another."""
    assert [0, 0, 0, 0, 0, 1, 1] == find_groups(np.array([[4, 2], [0, 3], [3, 4], [1, 2], [6, 5]]), 7).tolist()


def test_long_chain_is_one_group():
    """A chain of a hundred thousand points in any order is one group."""
    order = np.random.default_rng(2).permutation(100_000)

    assert 0 == find_groups(np.column_stack([order[1:], order[:-1]]), len(order)).max()


def test_crowd_is_refused_before_its_pairs_are_made():
    """Twenty thousand points within the distance of one another would be two hundred million pairs."""
    points = np.random.default_rng(1).uniform(0, 0.001, (20_000, 3))

    with pytest.raises(CrowdedError):
        near_pairs(points, 0.005)
