"""The fewest places that reach everything."""

from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule import cover
from splicewright.schedule.cover import Table, cover_all

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
    found = cover_all(Table.of(reach))

    assert reach[list(found.chosen)].any(axis=0).all()
    assert fewest(reach) == len(found.chosen) == found.least


def test_the_greedy_choice_is_mended_where_it_is_not_the_best():
    """
    Taking the place that reaches most first needs three places where two do.

        demand   1 2 3 4 5 6
        a        x x x . . .
        b        . . . x x x
        c        . x x x x .     the greediest
    """
    reach = np.array([[1, 1, 1, 0, 0, 0], [0, 0, 0, 1, 1, 1], [0, 1, 1, 1, 1, 0]], dtype=bool)

    found = cover_all(Table.of(reach))

    assert ((0, 1), 2) == (found.chosen, found.least)


def test_nothing_to_reach_needs_no_place():
    """A table without demands gives an empty choice."""
    found = cover_all(Table.of(np.zeros((3, 0), dtype=bool)))

    assert ((), 0) == (found.chosen, found.least)


@given(reach=tables)
def test_a_table_is_the_same_listed_and_turned(reach):
    """Lists of demands by place, turned to places by demand and back, make up the table they came from."""
    table = Table.of(reach)

    assert (table.dense() == reach).all()
    assert (table.turned().dense() == reach.T).all()
    assert (table.turned().turned().dense() == reach).all()


def row(count, *, far):
    """Return demands in a row at every metre, as many places, each reaching so many metres to both sides."""
    at = np.arange(count)
    return np.abs(at[:, np.newaxis] - at) <= far


def test_a_sweep_is_taken_where_it_does_better():
    """
    Nine hundred demands in a row, each place reaches twenty to both sides: 41 at a time, 21.95 times, so 22 places.

    The first of the places that reach 41 leaves a rest of 21 behind its back that no later one takes with it; sweeping
    from one side wastes nothing, and the weights prove that 22 is the least.
    """
    table = Table.of(row(900, far=20))
    order = list(range(900))

    assert 22 == len(cover_all(table, [order]).chosen)
    assert 22 == cover_all(table, [order]).least


@settings(deadline=None, max_examples=60)
@given(reach=tables, data=st.data())
def test_sweeps_never_make_it_worse(reach, data):
    """Whatever the order of a sweep, the choice reaches everything and is as small as any can be."""
    order = data.draw(st.permutations(range(reach.shape[1])))
    found = cover_all(Table.of(reach), [order])

    assert reach[list(found.chosen)].any(axis=0).all()
    assert fewest(reach) == len(found.chosen)


@settings(deadline=None, max_examples=30)
@given(st.integers(40, 90), st.integers(2, 6), st.integers(0, 2**32 - 1))
def test_the_bound_holds_where_nothing_is_solved_exactly(count, far, seed):
    """The number said to be the least is never more than a sweep needs, whatever places are left out at random."""
    kept = np.random.default_rng(seed).random(count) < 0.7
    reach = row(count, far=far)[kept | (np.arange(count) % far == 0)]
    table = Table.of(reach)
    by_demand = table.turned()
    needed = cover_all(table, [list(range(count))])

    assert cover._weighed(table, by_demand) <= len(needed.chosen)
    assert needed.least <= len(needed.chosen)
