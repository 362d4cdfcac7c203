"""A house that a package of Debian carries: element types as GEOS nodes them, axes as placed, walls as connected."""

from collections import Counter

import pytest


@pytest.fixture
def house(open_data):
    (path,) = (open_data / "assimp-testmodels").rglob("*.ifc")
    return path


@pytest.mark.outside(
    what="arms of every node and lengths, in plan, of every element type with lines of a house",
    against="GEOS through shapely; the house of Debian's assimp-testmodels",
    result="the same",
)
def test_every_type_is_as_geos_nodes_it(house, compare_types):
    """Types are read one by one, laid flat and noded."""
    told = compare_types(house)

    assert [] == [name for name, word in told.items() if word != "same"]
    assert 4 <= len(told)


@pytest.mark.outside(
    what="where the axes of 13 walls of a house end",
    against="ifcopenshell.util: placement and unit, on the same polylines (Debian's assimp-testmodels)",
    result="within 1e-6 m",
)
def test_axes_stand_where_they_are_placed(house, compare_axes):
    """Without the declared connections, lines are the model's axes."""
    count, off = compare_axes(house)

    assert 13 == count
    assert off < 1e-6


@pytest.mark.outside(
    what="corners and tees of a house's walls",
    against="IfcRelConnectsPathElements, as the house of Debian's assimp-testmodels declares them",
    result="the same: nine corners, seven tees",
)
def test_walls_meet_as_declared(house, compare_connections):
    """Two ends make a corner, an end on a path a tee: all 16 connections."""
    met, differing = compare_connections(house)

    assert [] == differing
    assert Counter(corner=9, tee=7) == met
