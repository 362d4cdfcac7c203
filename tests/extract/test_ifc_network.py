"""From a model to a network: lay, joint kinds, sections, whereabouts and declared connections, carried through."""

import numpy as np
import pytest

from splicewright.extract.line import JointKind
from splicewright.extract.reader import read
from splicewright.extract.selection import Carrier, Selection

W, T = 0.2, 0.01
EAST, NORTH, UP = np.eye(3)


def strip(model, start, along, across, length, width=W, thickness=T, **named):
    """A strip of rectangular section from a place on, its width in the given direction."""
    placed = model.place(start, along, across)
    return model.body(model.extruded(model.rectangle(width, thickness), length), at=placed, **named)


def told(network):
    """The findings of a network, but for those of its ends, which are free here on purpose."""
    return [finding for finding in network.findings if finding.code != "free-end"]


def only(nodes, kind):
    (node,) = (node for node in nodes if node.kind == kind)
    return node


@pytest.mark.parametrize(
    ("across", "orientation"),
    [((NORTH, EAST), "flat"), ((UP, UP), "vertical")],
)
def test_corner_takes_its_orientation_from_the_model(model, build, across, orientation):
    """
    Two strips at a right angle, both flat or both upright, and no rule tells a joint kind.

        a-----b
              |
              c
    """
    made = model()
    strip(made, (0, 0, 0), EAST, across[0], 3)
    strip(made, (3, 0, 0), -NORTH, across[1], 2)
    network = build(made.read())

    assert orientation == only(network.nodes(), "corner").orientation
    assert [] == told(network)


def test_what_the_model_draws_goes_before_what_a_joint_kind_implies(model, build):
    """A rule calls the strips slab joints, but the model draws them upright: they are upright."""
    made = model()
    strip(made, (0, 0, 0), EAST, UP, 3)
    strip(made, (3, 0, 0), -NORTH, UP, 2)
    carriers = (Carrier(match="Waterstop", profile="wide", joint=JointKind.SLAB),)
    network = build(read(made.save(), Selection(carriers=carriers)))

    assert "vertical" == only(network.nodes(), "corner").orientation


def test_strips_that_share_no_plane_are_a_finding(model, build):
    """
    A flat strip that runs into an upright one makes a corner that no fitting can be.

        a-----b      a-b flat, b-c upright
              |
              c
    """
    made = model()
    strip(made, (0, 0, 0), EAST, NORTH, 3)
    strip(made, (3, 0, 0), -NORTH, UP, 2)

    assert ["lay-mismatch"] == [finding.code for finding in told(build(made.read()))]


def test_strip_that_twists_in_line_does_not_simply_go_on(model, build):
    """A flat strip and an upright one in line are two runs with a node between them, and a finding."""
    made = model()
    strip(made, (0, 0, 0), EAST, NORTH, 3)
    strip(made, (3, 0, 0), EAST, UP, 2)
    network = build(made.read())

    assert {"end": 2, "other": 1} == network.count_kinds()
    assert ["lay-mismatch"] == [finding.code for finding in told(network)]


def test_strip_that_goes_on_is_one_run(model, build):
    """Two flat strips in line, drawn in opposite directions, are one run of 5 m."""
    made = model()
    strip(made, (0, 0, 0), EAST, NORTH, 3)
    strip(made, (5, 0, 0), -EAST, -NORTH, 2)
    (run,) = build(made.read()).runs()

    assert 5.0 == pytest.approx(run.length_m)
    assert (pytest.approx(W), pytest.approx(T)) == (run.width_m, run.thickness_m)
    assert all(abs(np.dot(side, NORTH)) == pytest.approx(1) for side in run.across)


def test_strips_of_different_section_meet_end_to_end(model, build):
    """A strip of 200 mm and one of 150 mm in line are two runs, with a finding that names both."""
    made = model()
    strip(made, (0, 0, 0), EAST, NORTH, 3)
    strip(made, (3, 0, 0), EAST, NORTH, 2, width=0.15)
    network = build(made.read())

    assert [("profile-change", True)] == [
        (f.code, "200 x 10 mm" in f.message and "150 x 10 mm" in f.message) for f in told(network)
    ]


def test_joint_kinds_are_read_off_the_lay(model, build):
    """A level flat strip is in a slab, a level upright one on a wall's base, a climbing one in a wall."""
    made = model()
    strip(made, (0, 0, 0), EAST, NORTH, 3)
    strip(made, (0, 9, 0), EAST, UP, 3)
    strip(made, (0, 18, 0), UP, EAST, 3)
    runs = sorted(build(made.read()).runs(), key=lambda run: run.points_m[0, 1])

    assert ["slab", "wall-base", "wall"] == [run.joint for run in runs]


def test_wall_joint_on_a_wall_base_joint_is_a_flat_tee(model, build):
    """
    Both strips in the wall's plane: a flat tee, known from the sections alone.

            d
            |         a-c upright, b-d with its width along the wall
        a---b---c
    """
    made = model()
    strip(made, (0, 0, 0), EAST, UP, 4)
    strip(made, (2, 0, 0), UP, EAST, 3)

    assert "flat" == only(build(made.read()).nodes(), "tee").orientation


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize(
    ("value", "joint"),
    [
        ("Wall base joint", "wall-base"),
        ("kicker", "wall-base"),
        ("SLAB", "slab"),
        ("wall", "wall"),
        ("expansion", None),
    ],
)
def test_joint_kind_from_a_property(model, schema, value, joint):
    """A property whose name holds "joint" tells the kind, where its value is one."""
    made = model(schema)
    made.properties([made.axis(made.polyline((0, 0, 0), (1, 0, 0)))], JointType=value)
    (line,) = made.read().lines

    assert joint == line.joint


def test_rule_goes_before_a_property(model):
    """What the rules say of a joint goes before the model's property."""
    made = model()
    made.properties([made.axis(made.polyline((0, 0, 0), (1, 0, 0)))], Joint="slab")
    carriers = (Carrier(match="Waterstop", joint=JointKind.WALL),)
    (line,) = read(made.save(), Selection(carriers=carriers)).lines

    assert "wall" == line.joint


@pytest.mark.parametrize(("value", "side"), [("flat", NORTH), ("Upright", UP)])
def test_lay_and_section_from_properties(model, value, side):
    """A bare axis takes lay, width and thickness from properties, lengths in the model's unit."""
    made = model(unit="mm")
    axis = made.axis(made.polyline((0, 0, 0), (1000, 0, 0)))
    made.properties([axis], Orientation=value, Width=230.0, Thickness=9.5)
    (line,) = made.read().lines

    assert [1.0] == pytest.approx(np.abs(line.across @ side))
    assert (0.230, 0.0095) == pytest.approx((line.width_m, line.thickness_m))


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_type_gives_what_its_elements_do_not_say(model, schema):
    """Properties of the type object count where the element has none."""
    made = model(schema)
    element = made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    single = made.make("IfcPropertySingleValue", "Joint", None, made.make("IfcLabel", "slab"))
    held = made.root("IfcPropertySet", Name="Pset", HasProperties=[single])
    kind = made.root("IfcBuildingElementProxyType", Name="Strip", PredefinedType="NOTDEFINED", HasPropertySets=[held])
    made.root("IfcRelDefinesByType", RelatedObjects=[element], RelatingType=kind)
    (line,) = made.read().lines

    assert "slab" == line.joint


def contained(model, elements, storey="Base", building="Tank"):
    house = model.root("IfcBuilding", Name=building)
    floor = model.root("IfcBuildingStorey", Name=storey)
    model.root("IfcRelAggregates", RelatingObject=model.project, RelatedObjects=[house])
    model.root("IfcRelAggregates", RelatingObject=house, RelatedObjects=[floor])
    model.root("IfcRelContainedInSpatialStructure", RelatedElements=elements, RelatingStructure=floor)


def assigned_group(model, element):
    group = model.root("IfcGroup", Name="Pour 3")
    model.root("IfcRelAssignsToGroup", RelatedObjects=[element], RelatingGroup=group)


def assigned_zone(model, element):
    zone = model.root("IfcZone", Name="Pour 3")
    model.root("IfcRelAssignsToGroup", RelatedObjects=[element], RelatingGroup=zone)


def assigned_task(model, element):
    named = {"TaskId": "T3"} if model.schema == "IFC2X3" else {}
    task = model.root("IfcTask", Name="Pour 3", IsMilestone=False, **named)
    model.root("IfcRelAssignsToProcess", RelatedObjects=[element], RelatingProcess=task)


def product_of_task(model, element):
    named = {"TaskId": "T3"} if model.schema == "IFC2X3" else {}
    task = model.root("IfcTask", Name="Pour 3", IsMilestone=False, **named)
    model.root("IfcRelAssignsToProduct", RelatedObjects=[task], RelatingProduct=element)


def in_property(model, element):
    model.properties([element], Phase="New", PourNumber="Pour 3")


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize("assign", [assigned_group, assigned_zone, assigned_task, product_of_task, in_property])
def test_whereabouts_reach_lines_runs_and_nodes(model, build, schema, assign):
    """Storey, structure and pour come from containment and from group, zone, task or property, and go all the way."""
    made = model(schema)
    element = made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    contained(made, [element])
    assign(made, element)
    drawing = made.read()
    network = build(drawing)
    found = {place for thing in (*network.runs(), *network.nodes()) for place in thing.whereabouts}

    assert {drawing.lines[0].whereabouts} == found
    assert "Tank, Base, Pour 3" == str(found.pop())


def test_node_knows_all_pours_that_meet_in_it(model, build):
    """A run over two pours names both in order; the corner names the pour of each arm."""
    made = model()
    for pour, course in (("1", ((0, 0, 0), (2, 0, 0))), ("2", ((2, 0, 0), (4, 0, 0))), ("3", ((4, 0, 0), (4, 3, 0)))):
        made.properties([made.axis(made.polyline(*course))], Pour=pour)
    network = build(made.read())
    long_run = max(network.runs(), key=lambda run: run.length_m)
    corner = only(network.nodes(), "corner")

    assert ["1", "2"] == [place.stage for place in long_run.whereabouts]
    assert ["2", "3"] == [place.stage for place in corner.whereabouts]


def test_strip_of_unknown_pour_lends_none(model, build):
    """
    A run of three strips, the middle one alone with a pour: its ends stand in no known pour, the run in one.

        a---(b===c)---d
    """
    made = model()
    pieces = [made.axis(made.polyline((x, 0, 0), (x + 1, 0, 0))) for x in range(3)]
    made.properties(pieces[1:2], Pour="7")
    network = build(made.read())
    (run,) = network.runs()

    assert ["7"] == [place.stage for place in run.whereabouts]
    assert [(), ()] == [node.whereabouts for node in network.nodes()]


def wall(model, start, along, length, gap=0.0):
    """A wall 0.3 thick whose axis stops short of its ends by a gap."""
    axis = model.shape(model.polyline((gap, 0), (length - gap, 0)), name="Axis", kind="Curve2D")
    body = model.shape(model.extruded(model.rectangle(length, 0.3, (length / 2, 0)), 3))
    return model.element(axis, body, kind="IfcWall", name="Wall", at=model.place(start, None, along))


def joins(model, one, one_end, two, two_end):
    model.root(
        "IfcRelConnectsPathElements",
        RelatingElement=one,
        RelatedElement=two,
        RelatingPriorities=[],
        RelatedPriorities=[],
        RelatingConnectionType=one_end,
        RelatedConnectionType=two_end,
    )


@pytest.mark.parametrize("gap", [0.0, 0.15])
@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
def test_declared_connections_are_the_corners_and_tees(model, build, schema, gap):
    """
    Four walls round and one across, their axes drawn to the middle or to the faces: 4 corners, 2 tees, no ends.

        +---------+---------+
        |         |         |     6 x 4; the wall across meets the long ones on their way
        +---------+---------+
    """
    made = model(schema)
    south, east = wall(made, (0, 0, 0), (1, 0, 0), 6, gap), wall(made, (6, 0, 0), (0, 1, 0), 4, gap)
    north, west = wall(made, (6, 4, 0), (-1, 0, 0), 6, gap), wall(made, (0, 4, 0), (0, -1, 0), 4, gap)
    across = wall(made, (3, 0, 0), (0, 1, 0), 4, gap)
    for one, two in ((south, east), (east, north), (north, west), (west, south)):
        joins(made, one, "ATEND", two, "ATSTART")
    joins(made, across, "ATSTART", south, "ATPATH")
    joins(made, north, "ATPATH", across, "ATEND")
    drawing = made.read("IfcWall")
    network = build(drawing)

    assert {"corner": 4, "tee": 2} == network.count_kinds()
    assert 24.0 == pytest.approx(network.length_m)
    assert (["connection-closed"] if gap else []) == [finding.code for finding in drawing.findings]


def test_connection_too_far_apart_stays_open(model, build):
    """An end farther from the crossing than both walls are thick stays where it is drawn."""
    made = model()
    one, two = wall(made, (0, 0, 0), (1, 0, 0), 6), wall(made, (7, 0, 0), (0, 1, 0), 4)
    joins(made, one, "ATEND", two, "ATSTART")

    assert {"end": 4} == build(made.read("IfcWall")).count_kinds()
