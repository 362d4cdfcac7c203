"""Curves of an IFC model turned into courses.

| curve | read as |
| --- | --- |
| IfcPolyline | its points |
| IfcIndexedPolyCurve | lines, and arcs through three points |
| IfcLine | only trimmed; unbounded else |
| IfcCircle, IfcEllipse | the whole, or trimmed |
| IfcTrimmedCurve | by parameter or point, as its master representation prefers, in either sense |
| IfcCompositeCurve | its segments, turned round where they fit only so |
| IfcBSplineCurve…, IfcBezierCurve, rational or not | flattened by de Boor's recurrence |
| IfcOffsetCurve2D | its basis, moved sideways |
| IfcSurfaceCurve, IfcEdge… | the curve in space behind it, else the straight line between its vertices |
| IfcGradientCurve, IfcSegmentedReferenceCurve, composite of IfcCurveSegment | evaluated by ifcopenshell |
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .curve import Shape, flatten_arc, flatten_spline
from .ifc_course import Course, join_courses
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_frame import axis_matrix, coordinates_of, direction_of, point_of
from .ifc_kernel import Kernel
from .line import Points

__all__ = ["Curves"]

_X = np.array([1.0, 0.0, 0.0])
_PAIR = np.array([0.0, 1.0])
_BOTH = np.ones(2, dtype=bool)


@dataclass(slots=True, kw_only=True, eq=False)
class Curves:
    """The curves of one model.

    Attributes
    ----------
    radians : float
        One unit of plane angle [radians].
    kernel : Kernel
        Evaluates what cannot be read directly.
    """

    radians: float
    kernel: Kernel
    open_now: set[int] = field(default_factory=set)
    readers: dict[str, "Reader"] = field(default_factory=dict)

    def course(self, curve: Entity | None) -> Course:
        """Flatten a curve.

        Raises
        ------
        IfcFault
            It is missing, unbounded, damaged, not finite, of no length, or of a kind that cannot be read.
        """
        if curve is None:
            raise IfcFault("damaged", "a curve that is missing")
        if curve.id() in self.open_now:
            raise IfcFault("damaged", "a curve made of itself")
        self.open_now.add(curve.id())
        try:
            return _checked(self._read(curve))
        finally:
            self.open_now.discard(curve.id())

    def line_ends(self, line: Entity) -> Points:
        """Return the point of an unbounded line and the point one parameter further, shape (2, 3)."""
        start = point_of(line.Pnt)
        step = direction_of(line.Dir.Orientation, _X) * float(line.Dir.Magnitude)
        return np.stack([start, start + step])

    def _read(self, curve: Entity) -> Course:
        kind = curve.is_a()
        reader = self.readers.get(kind)
        if reader is None:
            reader = next((_READERS[name] for name in _READERS if curve.is_a(name)), None)
            if reader is None:
                raise IfcFault("unread-curve", kind)
            self.readers[kind] = reader
        return reader(self, curve)

    def _polyline(self, curve: Entity) -> Course:
        rows = [coordinates_of(point) for point in curve.get_argument(0) or ()]
        if len({len(row) for row in rows}) > 1:
            raise IfcFault("damaged", "a polyline whose points are not all of two or all of three coordinates")
        return _straight(np.array([(*row, 0.0)[:3] for row in rows]).reshape(-1, 3))

    def _indexed(self, curve: Entity) -> Course:
        listed = curve.Points.CoordList
        points = np.array([(*row, 0.0)[:3] for row in listed], dtype=np.float64).reshape(-1, 3)
        if not curve.Segments:
            return _straight(points)
        parts: list[Course] = []
        for segment in curve.Segments:
            index = np.array(segment.wrappedValue, dtype=np.intp) - 1
            if index.min() < 0 or index.max() >= len(points):
                raise IfcFault("damaged", "a poly curve that asks for points it does not have")
            chosen = points[index]
            parts.append(_three_point_arc(chosen) if segment.is_a("IfcArcIndex") else _straight(chosen))
        return join_courses(parts)

    def _line(self, curve: Entity) -> Course:
        raise IfcFault("unread-curve", f"an unbounded {curve.is_a()}")

    def _conic(self, curve: Entity) -> Course:
        return self._arc(curve, 0.0, math.tau)

    def _arc(self, curve: Entity, start: float, sweep: float) -> Course:
        centre, first, second = _half_axes(curve)
        points = flatten_arc(centre, first, second, start, sweep)
        away = points - centre
        angle = np.arctan2(away @ second / (second @ second), away @ first / (first @ first))
        turned = np.abs(np.unwrap(angle) - angle[0])
        turned[-1] = abs(sweep)
        at = (start + np.copysign(turned, sweep)) / self.radians
        ends = np.zeros(len(points), dtype=bool)
        ends[[0, -1]] = True
        if sweep < 0:  # a parameter must rise along a course
            at = 2 * at[0] - at
        return Course(points=points, at=at, drawn=ends)

    def _trimmed(self, curve: Entity) -> Course:
        basis, forward = curve.BasisCurve, bool(curve.SenseAgreement)
        if basis is None:
            raise IfcFault("damaged", "a trimmed curve of nothing")
        start, end = (self._trim(basis, trim, curve.MasterRepresentation) for trim in (curve.Trim1, curve.Trim2))
        if basis.is_a("IfcConic"):
            start, end = start * self.radians, end * self.radians
            return self._arc(basis, start, _sweep(start, end, forward=forward))
        if basis.is_a("IfcLine"):
            pair = self.line_ends(basis)
            ends = pair[0] + np.outer([start, end], pair[1] - pair[0])
            return Course(points=ends, at=np.array(sorted((start, end))), drawn=np.ones(2, dtype=bool))
        if basis.is_a("IfcBSplineCurve"):
            course = self._spline(basis, (min(start, end), max(start, end)))
            return course.reversed() if start > end else course
        whole = self.course(basis)
        if whole.closed and (start > end) is forward:
            wrapped = join_courses([whole.cut(max(start, end), None), whole.cut(None, min(start, end))])
            return wrapped if forward else wrapped.reversed()
        return whole.cut(start, end)

    def _trim(self, basis: Entity, trim: tuple[Entity, ...], master: str | None) -> float:
        """Return the parameter at which a basis curve is trimmed."""
        point = next((item for item in trim or () if item.is_a("IfcCartesianPoint")), None)
        value = next((item for item in trim or () if not item.is_a("IfcCartesianPoint")), None)
        if value is not None and (point is None or master == "PARAMETER"):
            return float(value.wrappedValue)
        if point is None:
            raise IfcFault("damaged", "a trimmed curve without trims")
        return self._parameter(basis, point_of(point))

    def _parameter(self, basis: Entity, point: Points) -> float:
        if basis.is_a("IfcConic"):
            centre, first, second = _half_axes(basis)
            away = point - centre
            return math.atan2(away @ second / (second @ second), away @ first / (first @ first)) / self.radians
        if basis.is_a("IfcLine"):
            pair = self.line_ends(basis)
            step = pair[1] - pair[0]
            return float((point - pair[0]) @ step / (step @ step))
        return self.course(basis).nearest(point)

    def _composite(self, curve: Entity) -> Course:
        segments = curve.Segments or ()
        if any(segment.is_a("IfcCurveSegment") for segment in segments):
            return self.kernel.course(curve)
        parts = []
        for segment in segments:
            part = self.course(segment.ParentCurve)
            part = part if segment.SameSense else part.reversed()
            span = getattr(segment, "ParamLength", None)
            parts.append(_reparametrised(part, float(span)) if span else part)
        return join_courses(parts)

    def _whole_spline(self, curve: Entity) -> Course:
        return self._spline(curve, None)

    def _spline(self, curve: Entity, span: tuple[float, float] | None) -> Course:
        degree = int(curve.Degree)
        control = np.array([point_of(point) for point in curve.ControlPointsList or ()]).reshape(-1, 3)
        knots = _knots(curve, degree, len(control))
        weights = getattr(curve, "WeightsData", None)
        rational = np.array(weights, dtype=np.float64) if weights else None
        if span is not None and len(knots) > degree:
            low, high = knots[degree], knots[-degree - 1]
            span = (min(max(span[0], low), high), min(max(span[1], low), high))
            span = span if span[0] < span[1] else None
        return _of_shape(flatten_spline(control, knots, rational, degree, span))

    def _offset(self, curve: Entity) -> Course:
        """Move a flat curve to its left, its corners with it."""
        base = self.course(curve.BasisCurve)
        step = np.diff(base.points, axis=0)
        left = np.stack([-step[:, 1], step[:, 0], np.zeros(len(step))], axis=1)
        left /= np.linalg.norm(left, axis=1)[:, None]
        points = base.points + mitred(left, closed=base.closed) * float(curve.Distance)
        return Course(points=points, at=base.at, drawn=base.drawn)

    def _surface_curve(self, curve: Entity) -> Course:
        return self.course(curve.Curve3D)

    def _edge(self, edge: Entity) -> Course:
        if edge.is_a("IfcOrientedEdge"):
            course = self.course(edge.EdgeElement)
            return course if edge.Orientation else course.reversed()
        ends = np.stack([point_of(vertex.VertexGeometry) for vertex in (edge.EdgeStart, edge.EdgeEnd)])
        geometry = edge.EdgeGeometry if edge.is_a("IfcEdgeCurve") else None
        if geometry is None or geometry.is_a("IfcLine"):
            return _straight(ends)
        course = self.course(geometry)
        return course if edge.SameSense else course.reversed()


def mitred(sideways: Points, *, closed: bool) -> Points:
    """Return how far each vertex moves when every segment moves by a unit vector square to it, shape (n + 1, 3)."""
    before = np.vstack([sideways[-1:] if closed else sideways[:1], sideways])
    after = np.vstack([sideways, sideways[:1] if closed else sideways[-1:]])
    share = np.maximum(1 + np.einsum("ij,ij->i", before, after), 0.1)
    moved: Points = (before + after) / share[:, None]
    return moved


def _checked(course: Course) -> Course:
    if not (np.isfinite(course.points).all() and np.isfinite(course.at).all()):
        raise IfcFault("not-finite")
    if len(course.points) < 2:
        raise IfcFault("zero-length")
    return course


def _straight(points: Points) -> Course:
    """Make a course of given vertices; one that repeats the one before is dropped, its number kept."""
    if not np.isfinite(points).all():
        raise IfcFault("not-finite")
    if len(points) == 2 and (points[0] != points[1]).any():  # the usual case
        return Course(points=points, at=_PAIR, drawn=_BOTH)
    at = np.arange(len(points), dtype=np.float64)
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = (points[1:] != points[:-1]).any(axis=1)
    if keep.sum() < 2:
        raise IfcFault("zero-length")
    return Course(points=points[keep], at=at[keep], drawn=np.ones(int(keep.sum()), dtype=bool))


def _of_shape(shape: Shape) -> Course:
    drawn = np.zeros(len(shape.points), dtype=bool)
    drawn[slice(None) if shape.drawn is None else shape.drawn] = True
    at = shape.at if shape.at is not None else np.arange(len(shape.points), dtype=np.float64)
    return Course(points=shape.points, at=at, drawn=drawn)


def _reparametrised(course: Course, span: float) -> Course:
    at = (course.at - course.at[0]) * (span / (course.at[-1] - course.at[0]))
    return Course(points=course.points, at=at, drawn=course.drawn)


def _three_point_arc(points: Points) -> Course:
    """Return the arc through three points, the straight way where they lie in line."""
    start, middle, end = points[:3]
    u, v = middle - start, end - start
    normal = np.cross(u, v)
    size = float(np.linalg.norm(normal))
    if size <= 1e-9 * float(np.linalg.norm(u) * np.linalg.norm(v)):
        return _straight(points[:3])
    normal = normal / size
    centre = start + (np.cross(normal * size, u) * (v @ v) + np.cross(v, normal * size) * (u @ u)) / (2 * size * size)
    first = start - centre
    second = np.cross(normal, first)
    sweep = math.atan2((end - centre) @ second, (end - centre) @ first) % math.tau
    flat = flatten_arc(centre, first, second, 0.0, sweep)
    flat[0], flat[-1] = start, end
    ends = np.zeros(len(flat), dtype=bool)
    ends[[0, -1]] = True
    return Course(points=flat, at=np.linspace(0.0, 1.0, len(flat)), drawn=ends)


def _half_axes(conic: Entity) -> tuple[Points, Points, Points]:
    """Return centre and half-axes of a circle or ellipse."""
    if conic.Position is None:
        raise IfcFault("damaged", f"{conic.is_a()} without a position")
    frame = axis_matrix(conic.Position)
    circle = conic.is_a("IfcCircle")
    sizes = (conic.Radius, conic.Radius) if circle else (conic.SemiAxis1, conic.SemiAxis2)
    if not all(size and math.isfinite(size) and size > 0 for size in sizes):
        raise IfcFault("damaged", f"{conic.is_a()} without a radius")
    return frame[3, :3], frame[0, :3] * sizes[0], frame[1, :3] * sizes[1]


def _sweep(start: float, end: float, *, forward: bool) -> float:
    """Return how far an arc turns from start to end, more than nothing and at most once round [radians]."""
    turn = (end - start if forward else start - end) % math.tau
    turn = math.tau if turn < 1e-9 or turn > math.tau - 1e-9 else turn
    return turn if forward else -turn


def _knots(curve: Entity, degree: int, count: int) -> NDArray[np.float64]:
    """Return the knots written out; a Bézier curve's are those that make it one or more Bézier pieces."""
    if curve.is_a("IfcBSplineCurveWithKnots"):
        return np.repeat(np.array(curve.Knots, dtype=np.float64), np.array(curve.KnotMultiplicities, dtype=np.intp))
    pieces = (count - 1) // degree if degree else 0
    if not pieces or (count - 1) % degree:
        raise IfcFault("unread-curve", f"{curve.is_a()} without knots")
    times = [degree + 1, *[degree] * (pieces - 1), degree + 1]
    return np.repeat(np.arange(pieces + 1, dtype=np.float64), times)


Reader = Callable[[Curves, Entity], Course]
_READERS: dict[str, Reader] = {
    "IfcPolyline": Curves._polyline,
    "IfcIndexedPolyCurve": Curves._indexed,
    "IfcTrimmedCurve": Curves._trimmed,
    "IfcCompositeCurve": Curves._composite,
    "IfcConic": Curves._conic,
    "IfcLine": Curves._line,
    "IfcBSplineCurve": Curves._whole_spline,
    "IfcOffsetCurve2D": Curves._offset,
    "IfcSurfaceCurve": Curves._surface_curve,
    "IfcEdge": Curves._edge,
}
