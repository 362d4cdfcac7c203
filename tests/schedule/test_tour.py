"""Short ways from splice to splice."""

from itertools import permutations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.tour import short_tour

coordinate = st.integers(0, 50).map(float)
places = st.lists(st.tuples(coordinate, coordinate), min_size=1, max_size=7, unique=True).map(
    lambda points: np.array([(*point, 0.0) for point in points])
)


def length(points, order):
    return float(np.linalg.norm(np.diff(points[list(order)], axis=0), axis=1).sum())


@settings(deadline=None)
@given(points=places)
def test_a_tour_goes_everywhere_once_and_not_far_beyond_the_shortest(points):
    """Of up to seven places every one is visited once, on a way at most a third longer than the best of all orders."""
    order = short_tour(points).tolist()
    best = min(length(points, chosen) for chosen in permutations(range(len(points))))

    assert sorted(order) == list(range(len(points)))
    assert length(points, order) <= best * 4 / 3 + 1e-9


@settings(deadline=None)
@given(points=places, seed=st.integers(0, 99))
def test_the_order_of_the_input_does_not_matter(points, seed):
    """The same places, shuffled, are visited in the same order."""
    shuffle = np.random.default_rng(seed).permutation(len(points))
    shuffled = points[shuffle]

    assert points[short_tour(points)].tolist() == shuffled[short_tour(shuffled)].tolist()


def test_a_line_is_walked_from_end_to_end():
    """Places on a line, out of order, are visited along it from its western end."""
    points = np.array([(x, 2.0, 0.0) for x in (5, 1, 4, 2, 3)], float)

    assert [1, 3, 4, 2, 0] == short_tour(points).tolist()


def test_no_part_of_the_way_is_shorter_when_turned_round():
    """Forty random places: 2-opt has nothing left to turn."""
    points = np.random.default_rng(5).random((40, 3)) * 100
    order = short_tour(points).tolist()
    best = length(points, order)

    for i in range(40):
        for j in range(i + 2, 41):
            assert best <= length(points, order[:i] + order[i:j][::-1] + order[j:]) + 1e-4


def test_a_thousand_places_are_each_visited_once_on_a_short_way():
    """A lattice of 40 x 25 with steps of 1 has a shortest way of 999; the tour found stays within a tenth of it."""
    points = np.array([(x, y, 0.0) for x in range(40) for y in range(25)])
    order = short_tour(points).tolist()

    assert sorted(order) == list(range(1000))
    assert length(points, order) <= 999 * 1.1
