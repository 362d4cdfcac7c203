"""By which names the elements of a model are found, and what they carry."""

import pytest

from splicewright.extract.errors import NothingSelectedError
from splicewright.extract.line import JointKind
from splicewright.extract.reader import read
from splicewright.extract.selection import Carrier, Selection

SCHEMAS = ["IFC2X3", "IFC4", "IFC4X3_ADD2"]


def line(model):
    return model.polyline((0, 0, 0), (1, 0, 0))


def typed(model, elements, name):
    kind = model.root("IfcBuildingElementProxyType", Name=name, PredefinedType="NOTDEFINED", ElementType="Sealing")
    model.root("IfcRelDefinesByType", RelatedObjects=elements, RelatingType=kind)


def layered(model, element, name):
    shown = element.Representation.Representations[0]
    model.make("IfcPresentationLayerAssignment", name, None, [shown], None)


def layered_item(model, element, name):
    item = element.Representation.Representations[0].Items[0]
    model.make("IfcPresentationLayerAssignment", name, None, [item], None)


def classified(model, element, name):
    if model.schema == "IFC2X3":
        reference = model.make("IfcClassificationReference", None, name, "Joint sealing")
    else:
        reference = model.make("IfcClassificationReference", None, name, "Joint sealing", None, None, None)
    model.root("IfcRelAssociatesClassification", RelatedObjects=[element], RelatingClassification=reference)


def grouped(model, element, name):
    group = model.root("IfcGroup", Name=name)
    model.root("IfcRelAssignsToGroup", RelatedObjects=[element], RelatingGroup=group)


NAMING = {
    "name": lambda _, e, text: setattr(e, "Name", text),
    "object type": lambda _, e, text: setattr(e, "ObjectType", text),
    "type": lambda m, e, text: typed(m, [e], text),
    "layer": layered,
    "layer of an item": layered_item,
    "classification": classified,
    "group": grouped,
}


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize("naming", NAMING)
def test_every_name_finds_its_element(model, schema, naming):
    """An element is found by any of its names, and by the usual names where the user gives none."""
    made = model(schema)
    wanted, other = made.axis(line(made), name="Part"), made.axis(line(made), name="Part")
    NAMING[naming](made, wanted, "Waterstop 9 in")

    for patterns in ((), ("*water?top 9*",)):
        (found,) = made.read(*patterns).lines
        assert f"IfcBuildingElementProxy {wanted.GlobalId}" == found.source.entity
    assert other.GlobalId not in found.source.entity


@pytest.mark.parametrize(
    ("pattern", "count"), [("IfcWall", 2), ("IfcWall*", 2), ("IfcWallStandardCase", 1), ("ifcbeam", 1)]
)
def test_class_finds_its_elements(model, pattern, count):
    """A class finds its own and those derived from it, but not all that share an abstract ancestor."""
    made = model()
    for kind in ("IfcWall", "IfcWallStandardCase", "IfcBeam", "IfcBuildingElementProxy"):
        made.axis(line(made), kind=kind)

    assert count == len(made.read(pattern).lines)


def test_predefined_type_finds_its_elements(model):
    """IFC4X3 has an expansion joint device; it is found by that."""
    made = model("IFC4X3_ADD2")
    made.axis(line(made), kind="IfcDiscreteAccessory", name="Part", PredefinedType="EXPANSION_JOINT_DEVICE")
    made.axis(line(made), kind="IfcDiscreteAccessory", name="Part", PredefinedType="FILLER")

    assert 1 == len(made.read("expansion_joint*").lines)


@pytest.mark.parametrize("schema", SCHEMAS)
def test_property_values_are_names_only_where_asked_for(model, schema):
    """A pattern finds property values, an element's own or its type's; without patterns a remark selects nothing."""
    made = model(schema)
    wanted = made.axis(line(made), name="Part")
    made.axis(line(made), name="Part")
    made.properties([wanted], Remark="waterstop in the joint")

    assert 1 == len(made.read("*waterstop*", "nothing").lines)
    with pytest.raises(NothingSelectedError):
        made.read()


def test_parts_of_an_assembly_are_selected_with_it(model):
    """An assembly that is only the sum of its parts selects them; a part that is named itself counts once."""
    made = model()
    parts = [made.axis(line(made), name="Part"), made.axis(line(made), name="Waterstop part")]
    whole = made.element(name="Waterstop ring", kind="IfcElementAssembly")
    made.root("IfcRelAggregates", RelatingObject=whole, RelatedObjects=parts)
    drawing = made.read()

    assert (2, 2, {}) == (len(drawing.lines), drawing.selected, drawing.skipped)


def test_spaces_and_openings_are_never_waterstop(model):
    """Spaces and openings are no things built, whatever they are called."""
    made = model()
    made.axis(line(made), kind="IfcOpeningElement", name="Waterstop")
    made.axis(line(made), kind="IfcSpace", name="Waterstop")
    made.axis(line(made))

    assert 1 == made.read().selected


def test_lines_come_in_the_order_of_the_file(model):
    """Lines are in the order of their numbers, however they are found."""
    made = model()
    elements = [made.axis(line(made), name=f"Waterstop {i}") for i in (3, 1, 2)]

    assert [e.GlobalId for e in elements] == [found.source.entity.split()[1] for found in made.read().lines]


def test_source_names_the_element_type(model):
    """A line is listed under its type's name, else its ObjectType, else its class."""
    made = model()
    of_type = made.axis(line(made), ObjectType="Strip")
    typed(made, [of_type], "Waterstop, wide")
    made.axis(line(made), ObjectType="Strip")
    made.axis(line(made))

    assert ["Waterstop, wide", "Strip", "IfcBuildingElementProxy"] == [x.source.layer for x in made.read().lines]


def test_carriers_go_by_any_name(model):
    """The first carrier that matches any name, a property value too, tells profile and joint."""
    made = model()
    made.properties([made.axis(line(made), name="A")], Mark="WS-9")
    made.axis(line(made), name="B")
    carriers = (
        Carrier(match="ws-9", profile="wide", joint=JointKind.SLAB),
        Carrier(match="B", profile="narrow", joint=JointKind.WALL),
    )
    drawing = read(made.save(), Selection(carriers=carriers))

    assert [("wide", "slab"), ("narrow", "wall")] == [(x.profile, x.joint) for x in drawing.lines]


def test_unmatched_pattern_is_told(model):
    """A pattern that matches no element is likely a slip of the pen."""
    made = model()
    made.axis(line(made))
    drawing = made.read("*waterstop*", "WS-*")

    assert [("unmatched-pattern", True)] == [(f.code, "'WS-*'" in f.message) for f in drawing.findings]


def test_nothing_selected_lists_the_element_types(model):
    """Where nothing matches, the sentence lists what is drawn, most frequent first."""
    made = model()
    for kind in ("IfcWall", "IfcWall", "IfcBeam"):
        made.axis(line(made), kind=kind, name="Part")

    with pytest.raises(NothingSelectedError, match=r"among the element types: 'IfcWall' \(2\), 'IfcBeam' \(1\)$"):
        made.read()
