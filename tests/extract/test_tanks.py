"""Random tanks, written as DXF and as IFC: whichever file a tank comes in, its network is the same."""

import math
from collections import Counter
from dataclasses import dataclass

import ezdxf
import ifcopenshell
import ifcopenshell.guid
import ifcopenshell.validate
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.extract.line import JointKind
from splicewright.extract.reader import read
from splicewright.extract.selection import Carrier, Selection

METRES = {"m": 1.0, "mm": 0.001, "in": 0.0254, "ft": 0.3048}
SLAB_M, KICKER_M, SUMP_M = -0.3, 0.15, -2.0
SIZES_M = {"width": 0.2286, "thickness": 0.0095}
X, Y, Z = np.eye(3)
NAMES = {joint: f"WATERSTOP {joint.upper()}" for joint in ("slab", "wall-base", "wall")}


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One strip: a course, or a level ring of a radius round its one point; `across` is kept all along."""

    joint: str
    course: np.ndarray
    across: np.ndarray
    radius: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Tank:
    """A rectangular tank of one or two cells; steps of half a metre keep its joints apart."""

    long: int
    wide: int
    high: int
    divider: int | None
    slab_x: frozenset[int]
    slab_y: frozenset[int]
    joints: frozenset[tuple[str, int]]
    sump: bool

    def strips(self):
        a, b, top = self.long / 2, self.wide / 2, self.high / 2 + KICKER_M
        corners = [(0, 0), (a, 0), (a, b), (0, b), (0, 0)]
        yield Strip(joint="wall-base", course=level(corners, KICKER_M), across=Z)
        if self.divider:
            d = self.divider / 2
            yield Strip(joint="wall-base", course=level([(d, 0), (d, b)], KICKER_M), across=Z)
        for x in sorted(self.slab_x):
            yield Strip(joint="slab", course=dipped((x / 2, 0), (x / 2, b)), across=X)
        for y in sorted(self.slab_y):
            yield Strip(joint="slab", course=dipped((0, y / 2), (a, y / 2)), across=Y)
        for side, step in sorted(self.joints):
            place = {"S": (step / 2, 0), "N": (step / 2, b), "W": (0, step / 2), "E": (a, step / 2)}[side]
            course = np.array([(*place, KICKER_M), (*place, top)])
            yield Strip(joint="wall", course=course, across=X if side in "SN" else Y)
        if self.sump:
            yield Strip(joint="wall-base", course=np.array([(a / 2, b / 2, SUMP_M)]), across=Z, radius=0.7)


def level(places, z):
    return np.array([(*place, z) for place in places], float)


def dipped(start, end):
    """A slab joint with its rise at both walls."""
    return np.array([(*start, KICKER_M), (*start, SLAB_M), (*end, SLAB_M), (*end, KICKER_M)], float)


@st.composite
def tanks(draw):
    long, wide = draw(st.integers(8, 40)), draw(st.integers(8, 40))
    along, over = st.integers(2, long - 2), st.integers(2, wide - 2)
    side = st.one_of(st.tuples(st.sampled_from("SN"), along), st.tuples(st.sampled_from("WE"), over))
    slab_x, joints = draw(st.frozensets(along, max_size=3)), draw(st.frozensets(side, max_size=6))
    free = sorted(set(range(2, long - 1)) - slab_x - {step for wall, step in joints if wall in "SN"})
    return Tank(
        long=long,
        wide=wide,
        high=draw(st.integers(4, 12)),
        divider=draw(st.none() | st.sampled_from(free)) if free else None,
        slab_x=slab_x,
        slab_y=draw(st.frozensets(over, max_size=2)),
        joints=joints,
        sump=draw(st.booleans()),
    )


@dataclass(frozen=True, kw_only=True)
class Site:
    """Where a tank stands: turned in plan, then moved [m]."""

    turn_deg: float
    move: tuple[float, float, float]

    @property
    def axes(self):
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return np.array([[c, s, 0], [-s, c, 0], [0, 0, 1]])

    def __call__(self, course):
        return course @ self.axes + self.move


sites = st.builds(
    Site, turn_deg=st.integers(0, 359), move=st.sampled_from([(0.0, 0.0, 0.0), (-31.5, 12.25, 3.0), (5e5, 4e6, 120.0)])
)


# --- as DXF


def write_dxf(path, strips, site, unit):
    doc = ezdxf.new("R2018", units={"m": 6, "mm": 4, "in": 1, "ft": 2}[unit])
    msp, scale = doc.modelspace(), 1 / METRES[unit]
    for strip in strips:
        at, layer = site(strip.course) * scale, {"layer": NAMES[strip.joint]}
        if strip.radius:
            msp.add_circle(at[0], strip.radius * scale, dxfattribs=layer)
        elif len(at) == 2:
            msp.add_line(*at, dxfattribs=layer)
        else:
            msp.add_polyline3d(at, dxfattribs=layer)
    doc.saveas(path)


# --- as IFC


class Ifc:
    """A model under construction: the site's placement carries the tank's place and turn."""

    def __init__(self, schema, unit, site):
        self.file, self.scale, self.schema = ifcopenshell.file(schema=schema), 1 / METRES[unit], schema
        self.owner = self._owner() if schema == "IFC2X3" else None
        self.context = self.make("IfcGeometricRepresentationContext", None, "Model", 3, 1e-6, self.axes((0, 0, 0)))
        project = self.root("IfcProject", Name="Tanks", RepresentationContexts=[self.context])
        project.UnitsInContext = self.make("IfcUnitAssignment", self._units(unit))
        turned = self.axes(site.move, Z, site.axes[0])
        placed = self.make("IfcLocalPlacement", None, turned)
        ground = self.root("IfcSite", ObjectPlacement=placed, CompositionType="ELEMENT")
        hall = self.make("IfcLocalPlacement", placed, self.axes((0, 0, SUMP_M)))
        self.storey = self.root("IfcBuilding", ObjectPlacement=hall, CompositionType="ELEMENT")
        self.root("IfcRelAggregates", RelatingObject=project, RelatedObjects=[ground])
        self.root("IfcRelAggregates", RelatingObject=ground, RelatedObjects=[self.storey])
        self.elements = {name: [] for name in NAMES.values()}

    def make(self, name, *values, **named):
        return self.file.create_entity(name, *values, **named)

    def root(self, name, **values):
        return self.make(name, GlobalId=ifcopenshell.guid.new(), OwnerHistory=self.owner, **values)

    def _owner(self):
        maker = self.make("IfcOrganization", None, "Nobody")
        user = self.make("IfcPersonAndOrganization", self.make("IfcPerson", None, "Nobody"), maker)
        program = self.make("IfcApplication", maker, "1", "Test", "test")
        values = {"OwningUser": user, "OwningApplication": program, "ChangeAction": "NOCHANGE", "CreationDate": 0}
        return self.make("IfcOwnerHistory", **values)

    def _units(self, unit):
        prefix = "MILLI" if unit == "mm" else None
        metre = self.make("IfcSIUnit", UnitType="LENGTHUNIT", Prefix=prefix, Name="METRE")
        radian = self.make("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")
        if unit in {"m", "mm"}:
            return [metre, radian]
        exponents = self.make("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
        factor = self.make("IfcMeasureWithUnit", self.make("IfcLengthMeasure", METRES[unit]), metre)
        name = {"in": "INCH", "ft": "FOOT"}[unit]
        return [self.make("IfcConversionBasedUnit", exponents, "LENGTHUNIT", name, factor), radian]

    def point(self, at):
        return self.make("IfcCartesianPoint", [float(value) * self.scale for value in at])

    def direction(self, along):
        return self.make("IfcDirection", [float(value) for value in along])

    def axes(self, at, z=Z, x=X):
        return self.make("IfcAxis2Placement3D", self.point(at), self.direction(z), self.direction(x))

    def polyline(self, places):
        points = [self.point(place) for place in places[:-1]]
        points.append(points[0] if np.array_equal(places[0], places[-1]) else self.point(places[-1]))
        return self.make("IfcPolyline", points)

    def section(self):
        width, thickness = SIZES_M["width"] * self.scale, SIZES_M["thickness"] * self.scale
        flat = self.make("IfcAxis2Placement2D", self.point((0, 0)))
        return self.make("IfcRectangleProfileDef", "AREA", None, flat, width, thickness)

    def swept(self, directrix, at, across, parts):
        name, here = "IfcSurfaceCurveSweptAreaSolid", self.axes((0, 0, 0))
        x = next(v for v in (X, Y) if abs(v @ across) < 0.5)
        plane = self.make("IfcPlane", self.axes(at, across, x))
        ends = [0.0, float(parts)]
        if self.schema.startswith("IFC4X3"):
            ends = [self.make("IfcParameterValue", end) for end in ends]
        return self.make(name, self.section(), here, directrix, *ends, plane)

    def fixed(self, directrix, across):
        name = "IfcFixedReferenceSweptAreaSolid"
        here = self.axes((0, 0, 0))
        values = {"Position": here, "Directrix": directrix, "FixedReference": self.direction(across)}
        return self.make(name, SweptArea=self.section(), **values)

    def add(self, strip, how):
        name, course = NAMES[strip.joint], strip.course - (0, 0, SUMP_M)
        kind, item, at = (self.ring if strip.radius else self.course)(strip, course, how)
        view = "Axis" if kind.startswith("Curve") else "Body"
        shown = self.make("IfcShapeRepresentation", self.context, view, kind, [item])
        values = {"ObjectPlacement": self.make("IfcLocalPlacement", self.storey.ObjectPlacement, at)}
        values["Representation"] = self.make("IfcProductDefinitionShape", None, None, [shown])
        self.elements[name].append(self.root("IfcBuildingElementProxy", Name="Strip", **values))

    def course(self, strip, course, how):
        """An axis, a sweep on a surface or with a fixed direction, or, for a straight strip, an extrusion."""
        here, straight, along = self.axes((0, 0, 0)), len(course) == 2, course[1] - course[0]
        size = float(np.linalg.norm(along))
        if how == 1 and straight:
            solid = self.make("IfcExtrudedAreaSolid", self.section(), here, self.direction(Z), size * self.scale)
            return "SweptSolid", solid, self.axes(course[0], along / size, strip.across)
        if how == 2 and straight:
            flat = self.polyline(((0, 0), (size, 0)))
            return "Curve2D", flat, self.axes(course[0], strip.across, along / size)
        if how == 1:
            return (
                "AdvancedSweptSolid",
                self.swept(self.polyline(course), course[0], strip.across, len(course) - 1),
                here,
            )
        if how == 2 and self.schema != "IFC2X3":
            return "AdvancedSweptSolid", self.fixed(self.polyline(course), strip.across), here
        return "Curve3D", self.polyline(course), here

    def ring(self, strip, course, how):
        """A circle, or the section revolved once round."""
        if how == 0:
            circle = self.make("IfcCircle", self.axes((0, 0, 0)), strip.radius * self.scale)
            return "Curve3D", circle, self.axes(course[0])
        start = self.axes((strip.radius, 0, 0), -Y, Z)  # the section's width is upright
        pivot = self.make("IfcAxis1Placement", self.point((0, strip.radius, 0)), self.direction(X))
        solid = self.make("IfcRevolvedAreaSolid", self.section(), start, pivot, 2 * math.pi)
        return "SweptSolid", solid, self.axes(course[0])

    def close(self, path):
        everything = [element for elements in self.elements.values() for element in elements]
        place = {"RelatingStructure": self.storey, "RelatedElements": everything}
        self.root("IfcRelContainedInSpatialStructure", **place)
        for name, elements in self.elements.items():
            if elements:
                values = {"Name": name, "PredefinedType": "USERDEFINED", "ElementType": "Strip"}
                kind = self.root("IfcBuildingElementProxyType", **values)
                self.root("IfcRelDefinesByType", RelatingType=kind, RelatedObjects=elements)
        self.file.write(str(path))


def write_ifc(path, strips, site, unit, schema, ways):
    model = Ifc(schema, unit, site)
    for strip, how in zip(strips, ways, strict=False):
        model.add(strip, how)
    model.close(path)


# --- the comparison


def nodes_of(network, site):
    """Kinds, orientations and turns by place on the tank to 0.1 mm; of a closure only that it is there."""
    back = [((np.array(node.at_m) - site.move) @ site.axes.T, node) for node in network.nodes()]
    return {
        (tuple((at.round(4) + 0.0).tolist()) if node.kind != "closure" else "anywhere"): (
            node.kind.value,
            node.orientation.value,
            round(node.turn_deg, 2),
        )
        for at, node in back
    }


def choice(strips):
    """Select what the strips of a tank are named by, and nothing that it has not."""
    joints = dict.fromkeys(strip.joint for strip in strips)
    return Selection(carriers=tuple(Carrier(match=NAMES[joint], joint=JointKind(joint)) for joint in joints))


def runs_of(network):
    return Counter((run.joint.value, round(run.length_m, 3)) for run in network.runs())


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("tanks")


@given(tanks(), sites, st.sampled_from(sorted(METRES)))
@settings(max_examples=25, deadline=None)
def test_drawn_tank_is_the_tank(build, drawing_of, line, arc, folder, tank, site, unit):
    """A tank drawn as DXF, in any unit, turned and moved, gives the network of its own lines."""
    strips = list(tank.strips())
    write_dxf(folder / "tank.dxf", strips, site, unit)
    courses = [arc(s.course[0], s.radius, 0, 360) if s.radius else s.course for s in strips]
    lines = [
        line(site(course), joint=s.joint, curved=bool(s.radius)) for course, s in zip(courses, strips, strict=True)
    ]
    wanted, found = build(drawing_of(*lines)), build(read(folder / "tank.dxf", choice(strips)))

    assert nodes_of(wanted, site) == nodes_of(found, site)
    assert pytest.approx(wanted.length_m, abs=0.001) == found.length_m
    assert Counter(f.code for f in wanted.findings) == Counter(f.code for f in found.findings)


schemas = st.sampled_from(["IFC2X3", "IFC4", "IFC4X3_ADD2"])
ways = st.lists(st.integers(0, 2), min_size=20, max_size=20)


@given(tanks(), sites, st.sampled_from(sorted(METRES)), schemas, ways)
@settings(max_examples=10, deadline=None)
def test_models_are_valid(folder, tank, site, unit, schema, how):
    """The library's own check finds nothing wrong with the models this test writes."""
    found = ifcopenshell.validate.json_logger()
    write_ifc(folder / "tank.ifc", tank.strips(), site, unit, schema, how)
    ifcopenshell.validate.validate(str(folder / "tank.ifc"), found)

    assert [] == found.statements


@given(tanks(), sites, st.sampled_from(sorted(METRES)), st.sampled_from(sorted(METRES)), schemas, ways)
@settings(max_examples=40, deadline=None)
def test_modelled_tank_is_the_drawn_tank(build, folder, tank, site, drawn_in, modelled_in, schema, how):
    """A tank as DXF and as IFC, each in any unit, the model in any version and with any bodies, is one network."""
    strips = list(tank.strips())
    write_dxf(folder / "tank.dxf", strips, site, drawn_in)
    write_ifc(folder / "tank.ifc", strips, site, modelled_in, schema, how)
    drawn, modelled = (build(read(folder / name, choice(strips))) for name in ("tank.dxf", "tank.ifc"))

    assert nodes_of(drawn, site) == nodes_of(modelled, site)
    assert runs_of(drawn) == runs_of(modelled)
    assert pytest.approx(drawn.length_m, abs=0.001) == modelled.length_m
    assert Counter(f.code for f in drawn.findings) == Counter(f.code for f in modelled.findings)


@pytest.mark.parametrize("schema", ["IFC2X3", "IFC4", "IFC4X3_ADD2"])
@pytest.mark.parametrize(("how", "lay"), [(0, "unknown"), (1, "vertical")])
def test_sections_tell_what_lines_cannot(build, folder, schema, how, lay):
    """
    Where a slab joint turns up under two walls at once, its lines do not tell how it lies; its section does.

        ====+====   wall-base, seen from above
            ‖       dividing wall, right over the slab joint
    """
    tank = Tank(
        long=8, wide=8, high=4, divider=4, slab_x=frozenset({4}), slab_y=frozenset(), joints=frozenset(), sump=False
    )
    strips = list(tank.strips())
    write_ifc(folder / "tank.ifc", strips, Site(turn_deg=0, move=(0.0, 0.0, 0.0)), "m", schema, [how] * len(strips))
    network = build(read(folder / "tank.ifc", choice(strips)))

    assert [lay, lay] == [node.orientation for node in network.nodes() if node.at_m[2] < 0]
