"""Bodies of an IFC model turned into strips.

| item | centre line | across |
| --- | --- | --- |
| a curve | itself | not known |
| IfcExtrudedAreaSolid, tapered too | the extrusion of the profile's middle; of a plate its plan's middle | profile |
| IfcRevolvedAreaSolid, tapered too | the arc of the profile's middle | profile |
| IfcFixedReferenceSweptAreaSolid and kin | the directrix from start to end, moved to the profile's middle | profile |
| IfcSurfaceCurveSweptAreaSolid | the same | profile |
| IfcSweptDiskSolid | the directrix from start to end | none, it is round |
| IfcSectionedSolidHorizontal, IfcSectionedSpine | the directrix from the first section to the last | first section |
| IfcMappedItem | through its operator, scaled or mirrored | the same |
| Boolean results, CSG | the first operand | the same |
| IfcBlock, IfcRightCircularCylinder | its longest side; its axis | its next longest; none |
| facets, triangles, B-rep | the long axis or the middle line of a strip-shaped body | its sides |
"""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .curve import flatten_arc
from .ifc_course import Course
from .ifc_curve import Curves, mitred
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_frame import Matrix, axis_matrix, direction_of, map_vectors, operator_matrix, point_of, unit
from .ifc_medial import SLENDER, strip_of_mesh, strip_of_plan
from .ifc_mesh import mesh_of
from .ifc_profile import Section, section_of
from .ifc_strip import Strip, strip_along
from .line import Points

__all__ = ["Bodies"]

_BOTH = np.ones(2, dtype=bool)
_X, _Z = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
_STOCKY = 2.0  # a profile this many times as long as its extrusion is high is the plan of a strip, not its section


@dataclass(slots=True, kw_only=True, eq=False)
class Bodies:
    """The bodies of one model.

    Attributes
    ----------
    curves : Curves
        Reads the curves they follow.
    upright_plan : bool
        Whether a profile that is longer than wide is a plan, however high it is extruded, as it is of a wall.
    """

    curves: Curves
    upright_plan: bool = False
    open_now: set[int] = field(default_factory=set)
    readers: dict[str, "Reader | None"] = field(default_factory=dict)
    maps: dict[tuple[int, bool], tuple[Strip, ...]] = field(default_factory=dict)

    def strips(self, items: Iterable[Entity] | None) -> tuple[Strip, ...]:
        """Return the strips of a representation's items.

        Raises
        ------
        IfcFault
            There are none, or one of them cannot be read.
        """
        strips = tuple(strip for item in items or () for strip in self.strips_of(item))
        if not strips:
            raise IfcFault("no-representation")
        return strips

    def strips_of(self, item: Entity | None) -> tuple[Strip, ...]:
        """Return the strips of one item.

        Raises
        ------
        IfcFault
            It is missing, made of itself, damaged, no strip, or of a kind that cannot be read.
        """
        if item is None:
            raise IfcFault("damaged", "an item that is missing")
        if item.id() in self.open_now:
            raise IfcFault("recursive-mapping")
        self.open_now.add(item.id())
        try:
            return self._read(item)
        finally:
            self.open_now.discard(item.id())

    def _read(self, item: Entity) -> tuple[Strip, ...]:
        kind = item.is_a()
        if kind not in self.readers:
            self.readers[kind] = next((_READERS[name] for name in _READERS if item.is_a(name)), None)
        reader = self.readers[kind]
        if reader is not None:
            return reader(self, item)
        if item.is_a("IfcPoint") or item.is_a("IfcAnnotationFillArea") or item.is_a("IfcTextLiteral"):
            raise IfcFault("no-centre-line", item.is_a())
        points, faces, meshed = mesh_of(item, self.curves.kernel)
        return (strip_of_mesh(points, faces).noted(*(("meshed",) if meshed else ("long-axis",))),)

    def _curve(self, item: Entity) -> tuple[Strip, ...]:
        return (strip_along(self.curves.course(item)),)

    def _curve_set(self, item: Entity) -> tuple[Strip, ...]:
        return self.strips(item.Elements)

    def _extruded(self, solid: Entity) -> tuple[Strip, ...]:
        section = section_of(solid.get_argument(0), self.curves)
        depth = float(solid.get_argument(3))
        rise = direction_of(solid.get_argument(2), _Z) * depth
        if not math.isfinite(depth):
            raise IfcFault("not-finite")
        if depth <= 0 or abs(rise[2]) <= 1e-9 * depth:
            raise IfcFault("zero-length")
        strip = self._plate(section, rise)
        if strip is None:
            points = np.array([section.centre, self._end_centre(solid, section) + rise])
            strip = _swept(points, _BOTH, section, section.width_axis[None])
        position = solid.get_argument(1)
        return (strip if position is None else strip.mapped(axis_matrix(position)),)

    def _end_centre(self, solid: Entity, section: Section) -> Points:
        end = solid.EndSweptArea if solid.is_a("IfcExtrudedAreaSolidTapered") else None
        return section.centre if end is None else section_of(end, self.curves).centre

    def _plate(self, section: Section, rise: Points) -> Strip | None:
        """Return the strip whose plan the profile is, None where the profile is its section."""
        high = abs(float(rise[2]))
        stocky = 0.0 if self.upright_plan else _STOCKY if high > section.thickness else 1.0
        if section.width <= stocky * high:
            return None
        strip = strip_of_plan(section.outline, rise)
        if strip is None and high < section.thickness:
            raise IfcFault("no-centre-line", "a plate that is no strip of even width")
        return None if strip is None else strip.noted("plan-taken")

    def _revolved(self, solid: Entity) -> tuple[Strip, ...]:
        section = section_of(solid.SweptArea, self.curves)
        pivot, axis = point_of(solid.Axis.Location), direction_of(solid.Axis.Axis, _Z)
        angle = float(solid.Angle) * self.curves.radians
        foot = pivot + axis * float((section.centre - pivot) @ axis)
        first = section.centre - foot
        if not math.isfinite(angle):
            raise IfcFault("not-finite")
        if abs(angle) < 1e-9 or np.linalg.norm(first) < 1e-9 * section.width:
            raise IfcFault("zero-length")
        angle = math.copysign(min(abs(angle), math.tau), angle)
        points = flatten_arc(foot, first, np.cross(axis, first), 0.0, angle)
        middle = (np.arange(len(points) - 1) + 0.5) * (angle / (len(points) - 1))
        side = section.width_axis
        along = axis * float(side @ axis)
        across = along + np.outer(np.cos(middle), side - along) + np.outer(np.sin(middle), np.cross(axis, side))
        ends = np.zeros(len(points), dtype=bool)
        ends[[0, -1]] = True
        course = Course(points=points, at=np.linspace(0.0, 1.0, len(points)), drawn=ends)
        strip = strip_along(course, across, width=section.width, thickness=section.thickness)
        return (strip.mapped(axis_matrix(solid.Position)),)

    def _directrix(self, solid: Entity) -> Course:
        course = self.curves.course(solid.Directrix)
        start, end = getattr(solid, "StartParam", None), getattr(solid, "EndParam", None)
        measures = [value for value in (start, end) if value is not None and hasattr(value, "is_a")]
        numbers = [None if value is None else float(getattr(value, "wrappedValue", value)) for value in (start, end)]
        if numbers == [None, None]:
            return course
        if any(value.is_a("IfcLengthMeasure") for value in measures):
            return course.cut_by_length(numbers[0], numbers[1])
        return course.cut(numbers[0], numbers[1])

    def _fixed_reference(self, solid: Entity) -> tuple[Strip, ...]:
        course = self._directrix(solid)
        along = unit(np.diff(course.points, axis=0))
        reference = np.broadcast_to(direction_of(solid.FixedReference, _X), along.shape)
        return self._along(solid, course, reference, along)

    def _surface_curve(self, solid: Entity) -> tuple[Strip, ...]:
        course = self._directrix(solid)
        along = unit(np.diff(course.points, axis=0))
        return self._along(solid, course, _normals(solid.ReferenceSurface, course, along), along)

    def _along(self, solid: Entity, course: Course, reference: Points, along: Points) -> tuple[Strip, ...]:
        section = section_of(solid.SweptArea, self.curves)
        x = unit(reference - along * np.einsum("ij,ij->i", reference, along)[:, None])
        strip = _framed(course, section, x, np.cross(along, x))
        return (strip.mapped(axis_matrix(solid.Position)),)

    def _disk(self, solid: Entity) -> tuple[Strip, ...]:
        size = 2 * float(solid.Radius)
        return (strip_along(self._directrix(solid), width=size, thickness=size),)

    def _sectioned(self, solid: Entity) -> tuple[Strip, ...]:
        """Follow the directrix from the first section to the last; the profile's y points up."""
        places = solid.CrossSectionPositions
        wheres = [getattr(place, "Location", place) for place in (places[0], places[-1])]
        reach = [where.DistanceAlong for where in wheres]
        numbers = [float(getattr(value, "wrappedValue", value)) for value in reach]
        course = self.curves.course(solid.Directrix)
        by_parameter = hasattr(reach[0], "is_a") and reach[0].is_a("IfcParameterValue")
        course = course.cut(*numbers) if by_parameter else course.cut_by_length(*numbers)
        along = unit(np.diff(course.points, axis=0))
        left = unit(np.cross(_Z, along))
        section = section_of(solid.CrossSections[0], self.curves)
        lateral, vertical = (
            float(getattr(wheres[0], name, None) or 0.0) for name in ("OffsetLateral", "OffsetVertical")
        )
        section = replace(section, centre=section.centre + np.array([-lateral, vertical, 0.0]))
        strip = _framed(course, section, -left, np.cross(along, left))
        position = getattr(solid, "Position", None)
        return (strip.mapped(axis_matrix(position)),)

    def _spine(self, solid: Entity) -> tuple[Strip, ...]:
        course = self.curves.course(solid.SpineCurve)
        section = section_of(solid.CrossSections[0], self.curves)
        frames = np.stack([axis_matrix(place) for place in solid.CrossSectionPositions])
        middle = (course.points[1:] + course.points[:-1]) / 2
        nearest = np.linalg.norm(middle[:, None] - frames[None, :, 3, :3], axis=2).argmin(axis=1)
        return (_framed(course, section, frames[nearest, 0, :3], frames[nearest, 1, :3]),)

    def _mapped(self, item: Entity) -> tuple[Strip, ...]:
        source, operator = item.MappingSource, item.MappingTarget
        if source is None or operator is None or source.MappedRepresentation is None:
            raise IfcFault("damaged", "a mapped item that maps nothing")
        key = (source.id(), self.upright_plan)
        known = self.maps.get(key)
        if known is None:
            origin = axis_matrix(source.MappingOrigin)
            known = tuple(strip.mapped(origin) for strip in self.strips(source.MappedRepresentation.Items))
            self.maps[key] = known
        matrix = operator_matrix(operator)
        return tuple(strip.mapped(matrix) for strip in known)

    def _boolean(self, item: Entity) -> tuple[Strip, ...]:
        return tuple(strip.noted("boolean-cut") for strip in self.strips_of(item.FirstOperand))

    def _csg(self, item: Entity) -> tuple[Strip, ...]:
        return self.strips_of(item.TreeRootExpression)

    def _block(self, item: Entity) -> tuple[Strip, ...]:
        size = np.array([item.XLength, item.YLength, item.ZLength], dtype=np.float64)
        thin, wide, long = np.argsort(size, kind="stable")
        if size[long] < SLENDER * size[wide]:
            raise IfcFault("no-centre-line", item.is_a())
        points = np.stack([size / 2, size / 2])
        points[:, long] = (0.0, size[long])
        course = Course(points=points, at=np.array([0.0, 1.0]), drawn=np.ones(2, dtype=bool))
        across = np.eye(3)[wide] if size[wide] > 1.01 * size[thin] else None
        strip = strip_along(course, across, width=float(size[wide]), thickness=float(size[thin]))
        return (strip.mapped(axis_matrix(item.Position)).noted("long-axis"),)

    def _cylinder(self, item: Entity) -> tuple[Strip, ...]:
        size = 2 * float(item.Radius)
        points = np.array([(0.0, 0.0, 0.0), (0.0, 0.0, float(item.Height))])
        course = Course(points=points, at=np.array([0.0, 1.0]), drawn=_BOTH)
        return (strip_along(course, width=size, thickness=size).mapped(axis_matrix(item.Position)),)


def _swept(points: Points, drawn: NDArray[np.bool_], section: Section, across: Points) -> Strip:
    course = Course(points=points, at=np.arange(len(points), dtype=np.float64), drawn=drawn)
    return strip_along(course, across, width=section.width, thickness=section.thickness)


def _framed(course: Course, section: Section, x: Points, y: Points) -> Strip:
    """Sweep a section along a course, given the directions of its x and y on every segment."""
    across = x * section.width_axis[0] + y * section.width_axis[1]
    points, offset = course.points, x * section.centre[0] + y * section.centre[1]
    away = float(np.hypot(section.centre[0], section.centre[1]))
    if away > 1e-9 * section.width and np.isfinite(offset).all():
        points = points + mitred(offset / away, closed=course.closed) * away
    return _swept(points, course.drawn, section, across)


def _normals(surface: Entity, course: Course, along: Points) -> Points:
    """Return the normals of a reference surface under every segment; NaN where they are not known."""
    if surface.is_a("IfcPlane"):
        return np.broadcast_to(axis_matrix(surface.Position)[2, :3], along.shape)
    if surface.is_a("IfcSurfaceOfLinearExtrusion"):
        direction = direction_of(surface.ExtrudedDirection, _Z)
        return unit(np.cross(along, map_vectors(direction, axis_matrix(surface.Position))))
    if surface.is_a("IfcCylindricalSurface"):
        frame: Matrix = axis_matrix(surface.Position)
        away = (course.points[1:] + course.points[:-1]) / 2 - frame[3, :3]
        return unit(away - np.outer(away @ frame[2, :3], frame[2, :3]))
    return np.full(along.shape, np.nan)


Reader = Callable[[Bodies, Entity], tuple[Strip, ...]]
_READERS: dict[str, Reader] = {
    "IfcExtrudedAreaSolid": Bodies._extruded,
    "IfcMappedItem": Bodies._mapped,
    "IfcCurve": Bodies._curve,
    "IfcEdge": Bodies._curve,
    "IfcGeometricSet": Bodies._curve_set,
    "IfcBooleanResult": Bodies._boolean,
    "IfcFixedReferenceSweptAreaSolid": Bodies._fixed_reference,
    "IfcSurfaceCurveSweptAreaSolid": Bodies._surface_curve,
    "IfcSweptDiskSolid": Bodies._disk,
    "IfcRevolvedAreaSolid": Bodies._revolved,
    "IfcSectionedSolid": Bodies._sectioned,
    "IfcSectionedSpine": Bodies._spine,
    "IfcCsgSolid": Bodies._csg,
    "IfcBlock": Bodies._block,
    "IfcRightCircularCylinder": Bodies._cylinder,
}
