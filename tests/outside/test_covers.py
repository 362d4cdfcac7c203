"""The fewest places that reach everything, against a solver and published optima."""

from itertools import combinations

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from splicewright.schedule.cover import Table, cover_all


def lines_of_space(dimension):
    """Yield the triples of a Steiner triple system: the lines of an affine space over three elements."""
    points = np.array(np.meshgrid(*[range(3)] * dimension)).reshape(dimension, -1).T
    for one, two in combinations(range(len(points)), 2):
        third = (-points[one] - points[two]) % 3
        yield frozenset((one, two, int(np.flatnonzero((points == third).all(axis=1))[0])))


@pytest.mark.outside(
    what="fewest places that reach every demand, on a hard instance: one place is on twelve or four triples",
    against=(
        "README of the Steiner triple covering instances: stn9 needs 5 and stn27 needs 18, proven by D. Fulkerson, "
        "G. Nemhauser and L. Trotter, 1974"
    ),
    result="5 and 18, the first proven",
)
@pytest.mark.parametrize(("dimension", "fewest", "proven"), [(2, 5, True), (3, 18, False)])
def test_covers_of_steiner_triples(dimension, fewest, proven):
    """Points are places, triples are demands."""
    triples = sorted(set(lines_of_space(dimension)), key=sorted)
    reach = np.array([[point in triple for triple in triples] for point in range(3**dimension)])
    cover = cover_all(Table.of(reach))

    assert fewest == len(cover.chosen)
    assert reach[list(cover.chosen)].any(axis=0).all()
    assert cover.least <= fewest
    assert not proven or fewest == cover.least


@pytest.mark.outside(
    what="fewest places that reach every demand, of random tables of 25 places and 40 demands",
    against="scipy.optimize.milp (HiGHS)",
    result="equal, and proven",
)
@pytest.mark.parametrize("seed", range(4))
def test_covers_of_random_tables(seed):
    """No table needs more places than the optimum."""
    random = np.random.default_rng(seed)
    reach = random.random((25, 40)) < 0.15
    reach[random.integers(0, 25, 40), np.arange(40)] = True
    found = milp(
        np.ones(25),
        integrality=np.ones(25),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(reach.T.astype(float), 1),
    )
    cover = cover_all(Table.of(reach))

    assert round(found.fun) == len(cover.chosen) == cover.least
