"""The fewest places that reach everything."""

from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.cover import cover_all

tables = st.integers(1, 7).flatmap(
    lambda demands: st.lists(st.lists(st.booleans(), min_size=demands, max_size=demands), min_size=1, max_size=7).map(
        lambda rows: np.array([*rows, *np.eye(demands, dtype=bool)])
    )
)


def fewest(reach):
    """Try every set of places, small ones first."""
    for count in range(1, len(reach) + 1):
        if any(reach[list(chosen)].any(axis=0).all() for chosen in combinations(range(len(reach)), count)):
            return count
    return 0


@settings(deadline=None, max_examples=80)
@given(reach=tables)
def test_the_fewest_places_are_those_of_an_exhaustive_search(reach):
    """On small tables the choice reaches everything, is as small as any can be, and is proven."""
    cover = cover_all(reach)

    assert reach[list(cover.chosen)].any(axis=0).all()
    assert fewest(reach) == len(cover.chosen) == cover.least


def test_the_greedy_choice_is_mended_where_it_is_not_the_best():
    """
    Taking the place that reaches most first needs three places where two do.

        demand   1 2 3 4 5 6
        a        x x x . . .
        b        . . . x x x
        c        . x x x x .     the greediest
    """
    reach = np.array([[1, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 1], [0, 1, 1, 1, 1, 0]], dtype=bool)

    assert ((0, 1), 2) == (cover_all(reach).chosen, cover_all(reach).least)


def test_nothing_to_reach_needs_no_place():
    """A table without demands gives an empty choice."""
    assert ((), 0) == (cover_all(np.zeros((3, 0), dtype=bool)).chosen, cover_all(np.zeros((3, 0), dtype=bool)).least)
