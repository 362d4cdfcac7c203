"""Small IFC models, written by the library's own means, for the tests of their readers."""

import math
from pathlib import Path

import ifcopenshell
import ifcopenshell.guid
import pytest

from splicewright.extract.drawing import Drawing
from splicewright.extract.reader import read
from splicewright.extract.selection import Selection

FACTORS = {"ft": 0.3048, "in": 0.0254, "us-ft": 1200 / 3937}
PREFIXES = {"m": None, "mm": "MILLI", "cm": "CENTI", "dm": "DECI", "km": "KILO"}
KINDS = {
    "IfcExtrudedAreaSolidTapered": "AdvancedSweptSolid",
    "IfcFixedReferenceSweptAreaSolid": "AdvancedSweptSolid",
    "IfcSurfaceCurveSweptAreaSolid": "AdvancedSweptSolid",
    "IfcSweptDiskSolid": "AdvancedSweptSolid",
    "IfcSectionedSolidHorizontal": "AdvancedSweptSolid",
    "IfcCsgSolid": "CSG",
    "IfcAdvancedBrep": "AdvancedBrep",
}


class Model:
    """One model in the making; lengths are given in its own unit."""

    def __init__(self, folder: Path, schema: str = "IFC4", unit: str | None = "m", angle: str = "rad"):
        self.path = folder / "model.ifc"
        self.file = ifcopenshell.file(schema=schema)
        self.schema = schema
        units = [self.angle_unit(angle)] if unit is None else [self.length_unit(unit), self.angle_unit(angle)]
        self.context = self.make("IfcGeometricRepresentationContext", None, "Model", 3, 1e-6, self.axes())
        assigned = self.make("IfcUnitAssignment", units)
        contexts = {"RepresentationContexts": [self.context], "UnitsInContext": assigned}
        self.project = self.root("IfcProject", Name="Project", **contexts)

    def make(self, kind, *values, **named):
        return self.file.create_entity(kind, *values, **named)

    def root(self, kind, **named):
        owner = {} if self.schema != "IFC2X3" else {"OwnerHistory": self.owner()}
        return self.make(kind, ifcopenshell.guid.new(), **owner, **named)

    def owner(self):
        known = self.file.by_type("IfcOwnerHistory")
        if known:
            return known[0]
        person = self.make(
            "IfcPersonAndOrganization", self.make("IfcPerson", None, "Person"), self.make("IfcOrganization", Name="O")
        )
        program = self.make("IfcApplication", person.TheOrganization, "1", "Tests", "tests")
        return self.make("IfcOwnerHistory", person, program, ChangeAction="ADDED", CreationDate=0)

    def length_unit(self, unit):
        if unit in PREFIXES:
            return self.make("IfcSIUnit", UnitType="LENGTHUNIT", Prefix=PREFIXES[unit], Name="METRE")
        return self.conversion("LENGTHUNIT", unit.upper(), FACTORS[unit], "METRE", "IfcLengthMeasure")

    def angle_unit(self, unit):
        if unit == "rad":
            return self.make("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")
        return self.conversion("PLANEANGLEUNIT", "DEGREE", math.pi / 180, "RADIAN", "IfcPlaneAngleMeasure")

    def conversion(self, kind, name, factor, base, measure):
        si = self.make("IfcSIUnit", UnitType=kind, Name=base)
        ratio = self.make("IfcMeasureWithUnit", self.make(measure, factor), si)
        powers = self.make("IfcDimensionalExponents", *([1, 0] if base == "METRE" else [0, 0]), 0, 0, 0, 0, 0)
        return self.make("IfcConversionBasedUnit", powers, kind, name, ratio)

    def point(self, *xyz):
        return self.make("IfcCartesianPoint", tuple(map(float, xyz)))

    def direction(self, *xyz):
        return self.make("IfcDirection", tuple(map(float, xyz)))

    def axes(self, origin=(0, 0, 0), z=None, x=None):
        if z is not None or x is not None:  # a model gives both or neither
            z = z if z is not None else (0, 0, 1)
            x = x if x is not None else ((1, 0, 0) if abs(z[0]) < 0.9 else (0, 1, 0))
        ways = [None if way is None else self.direction(*way) for way in (z, x)]
        return self.make("IfcAxis2Placement3D", self.point(*origin), *ways)

    def axes2(self, origin=(0, 0), x=None):
        return self.make("IfcAxis2Placement2D", self.point(*origin), None if x is None else self.direction(*x))

    def place(self, origin=(0, 0, 0), z=None, x=None, under=None):
        return self.make("IfcLocalPlacement", under, self.axes(origin, z, x))

    def polyline(self, *points):
        return self.make("IfcPolyline", [self.point(*point) for point in points])

    def rectangle(self, x, y, origin=(0, 0), way=None):
        return self.make("IfcRectangleProfileDef", "AREA", None, self.axes2(origin, way), float(x), float(y))

    def outline(self, *points):
        return self.make("IfcArbitraryClosedProfileDef", "AREA", None, self.polyline(*points, points[0]))

    def extruded(self, profile, depth, axes=None, way=(0, 0, 1)):
        return self.make("IfcExtrudedAreaSolid", profile, axes or self.axes(), self.direction(*way), float(depth))

    def shape(self, *items, name="Body", kind=None):
        kind = kind or next((KINDS[item.is_a()] for item in items if item.is_a() in KINDS), "SweptSolid")
        return self.make("IfcShapeRepresentation", self.context, name, kind, list(items))

    def element(self, *shapes, name="Waterstop", at=None, kind="IfcBuildingElementProxy", **named):
        shown = self.make("IfcProductDefinitionShape", None, None, list(shapes)) if shapes else None
        placed = {"ObjectPlacement": at or self.place(), "Representation": shown}
        return self.root(kind, Name=name, **(placed | named))

    def axis(self, curve, **named):
        """An element that is drawn by its axis only."""
        return self.element(self.shape(curve, name="Axis", kind="Curve3D"), **named)

    def body(self, item, **named):
        """An element that is drawn by its body only."""
        return self.element(self.shape(item), **named)

    def properties(self, elements, name="Pset", **values):
        measures = {str: "IfcLabel", float: "IfcLengthMeasure", bool: "IfcBoolean"}
        singles = [
            self.make("IfcPropertySingleValue", key, None, self.make(measures[type(value)], value))
            for key, value in values.items()
        ]
        held = self.root("IfcPropertySet", Name=name, HasProperties=singles)
        return self.root("IfcRelDefinesByProperties", RelatedObjects=list(elements), RelatingPropertyDefinition=held)

    def save(self) -> Path:
        self.file.write(str(self.path))
        return self.path

    def read(self, *patterns: str) -> Drawing:
        return read(self.save(), Selection(patterns=patterns))


@pytest.fixture
def model(tmp_path):
    """Start a model: IFC4 in metres and radians, unless said otherwise."""

    def start(schema="IFC4", unit="m", angle="rad"):
        return Model(tmp_path, schema, unit, angle)

    return start
