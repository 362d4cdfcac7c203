"""The survey of a model: what it holds, element type by element type."""

import pytest

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.errors import UnreadableDrawingError
from splicewright.extract.selection import Selection
from splicewright.extract.survey import survey
from splicewright.extract.unit import LengthUnit


def layer(found, name):
    return next(layer for layer in found.layers if layer.name == name)


@pytest.fixture
def made(model):
    """
    A model in feet.

        Waterstop wide   3 strips of one type, axes of 10; one more of which nothing is drawn
        IfcWall          an axis of 20 with a body, and a slab-like one that is no strip
        WS 1, WS 2       two proxies on the layer "Water stop 1" and "Water stop 2"
    """
    made = model(unit="ft")
    strips = [made.axis(made.polyline((0, i, 0), (10, i, 0)), name="Part") for i in range(3)]
    strips.append(made.element(name="Part"))
    kind = made.root("IfcBuildingElementProxyType", Name="Waterstop wide", PredefinedType="NOTDEFINED")
    made.root("IfcRelDefinesByType", RelatedObjects=strips, RelatingType=kind)
    axis = made.shape(made.polyline((0, 0), (20, 0)), name="Axis", kind="Curve2D")
    made.element(axis, made.shape(made.extruded(made.rectangle(20, 1), 9)), kind="IfcWall", name="W")
    made.body(made.extruded(made.rectangle(20, 18), 1), kind="IfcWall", name="W")
    for number in (1, 2):
        proxy = made.axis(made.polyline((0, 0, 0), (number, 0, 0)), name="WS")
        made.make("IfcPresentationLayerAssignment", f"Water stop {number}", None, [proxy.Representation[2][0]], None)
    return made


def test_types_are_listed_with_counts_and_lengths(made):
    """Every element type tells its lines, their length in the model's unit and in metres, and what is no line."""
    found = survey(made.save())
    wide = layer(found, "Waterstop wide")

    assert (DrawingKind.IFC, LengthUnit.FOOT) == (found.kind, found.unit)
    assert ["IfcWall", "Water stop*", "Waterstop wide"] == [layer.name for layer in found.layers]
    assert (3, 30.0, pytest.approx(30 * 0.3048)) == (wide.lines, wide.length, wide.length_m)
    assert {"IfcBuildingElementProxy (no-representation)": 1} == wide.others
    assert {"IfcWall (no-centre-line)": 1} == layer(found, "IfcWall").others


def test_types_tell_classes_and_representations(made):
    """A type tells the classes of its elements, and how many carry each kind of representation."""
    found = survey(made.save())

    assert {"IfcBuildingElementProxy": 4} == layer(found, "Waterstop wide").classes
    assert {"Axis Curve3D": 3} == layer(found, "Waterstop wide").representations
    assert {"Axis Curve2D": 1, "Body SweptSolid": 2} == layer(found, "IfcWall").representations


def test_survey_points_at_likely_waterstop(made):
    """What looks like waterstop by any name is marked; one found by another name tells the pattern that finds it."""
    found = survey(made.save())

    assert [False, True, True] == [layer.usual for layer in found.layers]
    assert "Water stop*" == layer(found, "Water stop*").match
    assert 2 == len(made.read(layer(found, "Water stop*").match).lines)
    assert Selection().selects([layer(found, "Waterstop wide").name])


def test_survey_works_without_a_unit(model):
    """A model without a unit is surveyed in its own, with a finding that asks for one."""
    made = model(unit=None)
    made.axis(made.polyline((0, 0, 0), (7, 0, 0)))
    found = survey(made.save())

    assert (None, 7.0, None) == (found.unit, found.layers[0].length, found.layers[0].length_m)
    assert ["unit-missing"] == [finding.code for finding in found.findings]
    assert pytest.approx(7 * 0.0254) == survey(made.path, unit=LengthUnit.INCH).layers[0].length_m


def test_survey_of_a_damaged_model_is_one_sentence(model):
    """What cannot be read cannot be surveyed."""
    made = model()
    made.save().write_bytes(made.save().read_bytes()[:300])

    with pytest.raises(UnreadableDrawingError, match=r"^model\.ifc "):
        survey(made.path)
