"""Models that source packages on PyPI carry: element types as GEOS nodes them, axes as placed, walls as connected."""

from collections import Counter

import pytest

DUPLEX = ("exterior-shell==2.2.0", "Ifc2x3_Duplex_Architecture.ifc")
SMALL = ("pyvista-cad==0.0.5", "small_building.ifc")


@pytest.fixture
def model(fetched):
    """A model by its package and name."""

    def find(package, name):
        (path,) = fetched(package).rglob(name)
        return path

    return find


@pytest.mark.outside(
    what="arms of every node and lengths, in plan, of every element type with lines of two models",
    against="GEOS through shapely; models of the source packages of exterior-shell and pyvista-cad on PyPI",
    result="the same",
)
@pytest.mark.parametrize(("source", "types"), [(DUPLEX, 30), (SMALL, 1)])
def test_every_type_is_as_geos_nodes_it(model, compare_types, source, types):
    """Types are read one by one, laid flat and noded."""
    told = compare_types(model(*source))

    assert [] == [name for name, word in told.items() if word != "same"]
    assert types == len(told)


@pytest.mark.outside(
    what="where the axes of 57 walls of a model end",
    against="ifcopenshell.util: placement and unit, on the same polylines (model of exterior-shell on PyPI)",
    result="within 1e-6 m",
)
def test_axes_stand_where_they_are_placed(model, compare_axes):
    """Without the declared connections, lines are the model's axes."""
    count, off = compare_axes(model(*DUPLEX))

    assert 57 == count
    assert off < 1e-6


@pytest.mark.outside(
    what="corners and tees of a model's walls",
    against="IfcRelConnectsPathElements, as the model of exterior-shell on PyPI declares them",
    result="the same, where axes cross on one level and an end is told one place",
)
def test_walls_meet_as_declared(model, compare_connections):
    """Two ends make a corner, an end on a path a tee: 62 of 82 connections, the others not being possible."""
    met, differing = compare_connections(model(*DUPLEX))

    assert [] == differing
    assert Counter(corner=32, tee=30) == met
