"""Where elements of a model stand: placements, grids, maps, and the units they are given in."""

import math

import numpy as np
import pytest

from splicewright.extract.errors import MissingUnitError, NothingSelectedError
from splicewright.extract.reader import read
from splicewright.extract.selection import Selection
from splicewright.extract.unit import LengthUnit


def stick(model, at, **named):
    """An element that is a line of 2 units along its own x."""
    return model.axis(model.polyline((0, 0, 0), (2, 0, 0)), at=at, **named)


def points_of(model):
    (line,) = model.read().lines
    return line.points_m


def test_nested_placements_turn_and_shift_in_turn(model):
    """
    The storey stands at height 3 and turned to the north; the element at its (1, 0, 0), again turned by 90 degrees.

    So the element starts at (0, 1, 3), and its x points to the west.
    """
    made = model()
    storey = made.place((0, 0, 3), None, (0, 1, 0))
    stick(made, made.place((1, 0, 0), None, (0, 1, 0), under=storey))

    assert pytest.approx(np.array([[0, 1, 3], [-2, 1, 3]]), abs=1e-12) == points_of(made)


def test_placement_may_stand_on_edge(model):
    """With its z to the east and its x upwards, an element's x is world z."""
    made = model()
    stick(made, made.place((5, 0, 0), (1, 0, 0), (0, 0, 1)))

    assert pytest.approx(np.array([[5, 0, 0], [5, 0, 2]]), abs=1e-12) == points_of(made)


def test_reference_direction_that_leans_is_made_square(model):
    """An x direction that is not square to z is taken in the plane of both."""
    made = model()
    stick(made, made.place((0, 0, 0), (0, 0, 1), (1, 0, 1)))

    assert pytest.approx(np.array([[0, 0, 0], [2, 0, 0]]), abs=1e-12) == points_of(made)


def grid_axis(model, tag, *points):
    return model.make("IfcGridAxis", tag, model.polyline(*points), True)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_grid_placement_stands_where_axes_cross(model, schema):
    """
    Axes x = 4 and y = 3 of a grid at (10, 0, 0), moved by 1 and 0.5 to their left: (4 - 1, 3 + 0.5) of the grid.

    Axis A runs north, so its left is west; axis 1 runs east, so its left is north. The element's x follows axis A.
    """
    made = model(schema)
    a, one = grid_axis(made, "A", (4, 0), (4, 9)), grid_axis(made, "1", (0, 3), (9, 3))
    grid = {"UAxes": [a], "VAxes": [one], "ObjectPlacement": made.place((10, 0, 0))}
    made.root("IfcGrid", Name="Grid", **grid)
    crossing = made.make("IfcVirtualGridIntersection", [a, one], (1.0, 0.5, 2.0))
    stick(made, made.make("IfcGridPlacement", PlacementLocation=crossing))

    assert pytest.approx(np.array([[13, 3.5, 2], [13, 5.5, 2]]), abs=1e-12) == points_of(made)


def test_unbounded_grid_axes_cross(model):
    """Grid axes may be lines without ends."""
    made = model()
    lines = [
        made.make("IfcLine", made.point(*at), made.make("IfcVector", made.direction(*way), 1.0))
        for at, way in (((4, -9), (0, 1)), ((-9, 3), (1, 0)))
    ]
    axes = [made.make("IfcGridAxis", tag, line, True) for tag, line in zip("A1", lines, strict=True)]
    made.root("IfcGrid", Name="Grid", UAxes=axes[:1], VAxes=axes[1:], ObjectPlacement=made.place())
    crossing = made.make("IfcVirtualGridIntersection", axes, (0.0, 0.0))
    stick(made, made.make("IfcGridPlacement", PlacementLocation=crossing))

    assert pytest.approx(np.array([4, 3, 0])) == points_of(made)[0]


def test_linear_placement_stands_along_its_curve(model):
    """At 5 along a polyline of 4 and 3, 0.5 to its left: (4 + 0.5, -1), looking south."""
    made = model("IFC4X3_ADD2")
    curve = made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0))
    where = made.make("IfcPointByDistanceExpression", made.make("IfcLengthMeasure", 5.0), 0.5, None, None, curve)
    placement = made.make("IfcLinearPlacement", None, made.make("IfcAxis2PlacementLinear", where))
    stick(made, placement)

    assert pytest.approx(np.array([[4.5, -1, 0], [4.5, -3, 0]]), abs=1e-12) == points_of(made)


def test_element_without_a_placement_is_told(model):
    """An element that is placed nowhere is read at the model's origin, with a finding that names it."""
    made = model()
    element = stick(made, None)
    element.ObjectPlacement = None
    drawing = made.read()
    (finding,) = drawing.findings

    assert 2.0 == drawing.length_m
    assert ("no-placement", True) == (finding.code, element.GlobalId in finding.message)


def test_placement_relative_to_itself_is_a_finding(model):
    """Placements in a circle end in a finding, not in recursion; what else there is is read."""
    made = model()
    one = made.place()
    two = made.place(under=one)
    one.PlacementRelTo = two
    stick(made, two)
    stick(made, made.place())
    drawing = made.read()

    assert ({"cyclic-placement": 1}, 2) == (drawing.skipped, drawing.selected)


def test_placement_without_a_location_is_a_finding(model):
    """A placement that lacks its location cannot be read."""
    made = model()
    place = made.place()
    place.RelativePlacement.Location = None
    stick(made, place)

    with pytest.raises(NothingSelectedError, match=r"1 IfcBuildingElementProxy \(damaged\)"):
        made.read()


def test_map_conversion_moves_and_turns_and_never_scales(model):
    """
    East 1000, north 2000, height 50 m, the model's x to the north: the line of 2 m stays 2 m long, and the drawing
    tells the map by which the model's own coordinates are found again.

    The model is in millimetres, the map in metres, as its scale of 0.001 says; a scale does not change true lengths.
    """
    made = model(unit="mm")
    metre = made.make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    crs = made.make("IfcProjectedCRS", Name="Site grid", MapUnit=metre)
    made.make("IfcMapConversion", made.context, crs, 1000.0, 2000.0, 50.0, 0.0, 1.0, 0.001)
    made.axis(made.polyline((0, 0, 0), (2000, 0, 0)))
    drawing = made.read()
    points = drawing.lines[0].points_m
    back = np.linalg.inv(drawing.map_m)

    assert pytest.approx(np.array([[1000, 2000, 50], [1000, 2002, 50]])) == points
    assert pytest.approx(np.array([[0, 0, 0], [2, 0, 0]]), abs=1e-9) == points @ back[:3, :3] + back[3, :3]


def test_coordinate_system_of_the_context_counts(model):
    """The context's own coordinate system shifts the whole model."""
    made = model()
    made.context.WorldCoordinateSystem = made.axes((100, 0, 0))
    stick(made, made.place())

    assert pytest.approx(np.array([[100, 0, 0], [102, 0, 0]])) == points_of(made)


@pytest.mark.parametrize(
    ("unit", "metres", "name"),
    [
        ("m", 1.0, LengthUnit.METRE),
        ("mm", 0.001, LengthUnit.MILLIMETRE),
        ("cm", 0.01, LengthUnit.CENTIMETRE),
        ("dm", 0.1, LengthUnit.DECIMETRE),
        ("km", 1000.0, LengthUnit.KILOMETRE),
        ("in", 0.0254, LengthUnit.INCH),
        ("ft", 0.3048, LengthUnit.FOOT),
        ("us-ft", 1200 / 3937, LengthUnit.US_SURVEY_FOOT),
    ],
)
def test_units_are_those_of_the_project(model, unit, metres, name):
    """SI prefixes and conversions count; the drawing names the unit."""
    made = model(unit=unit)
    stick(made, made.place())
    drawing = made.read()

    assert (name, pytest.approx(2 * metres)) == (drawing.unit, drawing.length_m)


def test_given_unit_goes_before_the_stated_one(model):
    """A unit that the user gives overrides the model's."""
    made = model(unit="mm")
    stick(made, made.place())

    assert 2.0 == read(made.save(), Selection(), unit=LengthUnit.METRE).length_m


def test_missing_unit_is_asked_for(model):
    """A model without a length unit is refused in a sentence that asks for one, and read when it is given."""
    made = model(unit=None)
    stick(made, made.place())

    with pytest.raises(MissingUnitError, match=r"^model\.ifc states no length unit .* --drawing-unit$"):
        made.read()
    assert pytest.approx(2 * 0.3048) == read(made.path, Selection(), unit=LengthUnit.FOOT).length_m


@pytest.mark.parametrize(("name", "metres"), [("US SURVEY FOOT", 1200 / 3937), ("Foot", 0.3048), ("inch", 0.0254)])
def test_malformed_unit_is_known_by_its_name(model, name, metres):
    """A conversion-based unit whose factor is missing is taken for what its name says."""
    made = model(unit="ft")
    unit = made.file.by_type("IfcConversionBasedUnit")[0]
    unit.Name, unit.ConversionFactor = name, None
    stick(made, made.place())

    assert pytest.approx(2 * metres) == made.read().length_m


def test_unit_that_cannot_be_made_out_is_asked_for(model):
    """A malformed unit whose name says nothing is as good as none."""
    made = model(unit="ft")
    unit = made.file.by_type("IfcConversionBasedUnit")[0]
    unit.Name, unit.ConversionFactor = "ELL", None
    stick(made, made.place())

    with pytest.raises(MissingUnitError, match="states no length unit"):
        made.read()


def test_unit_without_a_name_here_is_a_note(model):
    """A unit of 0.5 m is converted to metres, and a note says so."""
    made = model(unit="ft")
    made.file.by_type("IfcConversionBasedUnit")[0].ConversionFactor.ValueComponent = made.make("IfcLengthMeasure", 0.5)
    stick(made, made.place())
    drawing = made.read()

    assert 1.0 == drawing.length_m
    assert ["unit-unusual"] == [finding.code for finding in drawing.findings]


def test_angles_of_placements_are_exact(model):
    """A placement turned by 30 degrees ends the line of 2 at (sqrt 3, 1)."""
    made = model()
    stick(made, made.place((0, 0, 0), None, (math.sqrt(3), 1, 0)))

    assert pytest.approx(np.array([math.sqrt(3), 1, 0])) == points_of(made)[1]
