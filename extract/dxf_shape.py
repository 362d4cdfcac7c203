"""DXF shapes: one entity of a line-like type turned into vertices.

| entity | system | read as |
| --- | --- | --- |
| LINE | world | its two ends |
| LWPOLYLINE, 2D POLYLINE | object (extrusion, elevation) | vertices, bulges as arcs |
| 3D POLYLINE | world | vertices |
| curve-fit POLYLINE | object | all vertices with their bulges; those the fit added are not drawn |
| spline-fit POLYLINE | object or world | the vertices on the curve, as CAD shows it; the frame is left out |
| ARC, CIRCLE | object | arc |
| ELLIPSE | world | elliptic arc |
| SPLINE, HELIX | world | B-spline; from fit points where it has no control points |
| MLINE | world | the middle between its outermost elements, whatever its justification |
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
from ezdxf.entities.arc import Arc
from ezdxf.entities.circle import Circle
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.ellipse import Ellipse
from ezdxf.entities.helix import Helix
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.mline import MLine
from ezdxf.entities.polyline import Polyline
from ezdxf.entities.spline import Spline
from ezdxf.math import OCS, Vec3, arc_angle_span_deg, arc_angle_span_rad

from .curve import Matrix, Shape, flatten_arc, flatten_polyline, flatten_spline, map_points
from .line import Points

__all__ = ["is_line", "shape_of"]

_ADDED_BY_FIT = 1
_ON_SPLINE = 8
_FRAME = 16


def is_line(entity: DXFEntity) -> bool:
    """Tell whether an entity is of a type that is read as a line."""
    if isinstance(entity, Polyline):
        return bool(entity.is_2d_polyline or entity.is_3d_polyline)
    return type(entity) in _READERS


def shape_of(entity: DXFEntity, matrix: Matrix | None) -> Shape:
    """Flatten a line-like entity.

    Parameters
    ----------
    entity : DXFEntity
        An entity for which `is_line` holds.
    matrix : Matrix or None
        Map from the block it stands in to the world; None in model space.

    Returns
    -------
    Shape
        In drawing units.

    Raises
    ------
    ValueError, ArithmeticError, AttributeError, LookupError, TypeError
        The entity is damaged.
    """
    return _READERS[type(entity)](entity, matrix)


def _line(entity: Line, matrix: Matrix | None) -> Shape:
    stated = entity.dxf.__dict__  # ezdxf would put the origin where an end is missing
    ends = np.array([stated["start"].xyz, stated["end"].xyz])
    return Shape(points=map_points(ends, matrix))


def _lwpolyline(entity: LWPolyline, matrix: Matrix | None) -> Shape:
    rows = np.asarray(entity.lwpoints.values, dtype=np.float64)
    vertices = np.column_stack([rows[:, :2], np.full(len(rows), float(entity.dxf.elevation))])
    return flatten_polyline(vertices, rows[:, 4], _object_matrix(entity, matrix), closed=bool(entity.closed))


def _polyline(entity: Polyline, matrix: Matrix | None) -> Shape:
    flat = entity.is_2d_polyline
    flags = np.array([vertex.dxf.flags for vertex in entity.vertices], dtype=np.intp)
    on_curve = flags & _FRAME == 0
    vertices = np.array([vertex.dxf.location.xyz for vertex in entity.vertices], dtype=np.float64).reshape(-1, 3)
    bulges = np.array([vertex.dxf.bulge if flat else 0.0 for vertex in entity.vertices], dtype=np.float64)
    if flat and entity.dxf.elevation.z:
        vertices[:, 2] = entity.dxf.elevation.z
    whole = _object_matrix(entity, matrix) if flat else matrix
    made = flags[on_curve] & (_ADDED_BY_FIT | _ON_SPLINE) != 0
    return flatten_polyline(vertices[on_curve], bulges[on_curve], whole, closed=bool(entity.is_closed), made=made)


def _arc(entity: Arc, matrix: Matrix | None) -> Shape:
    start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    return _round(entity, matrix, math.radians(start), math.radians(arc_angle_span_deg(start, end)))


def _circle(entity: Circle, matrix: Matrix | None) -> Shape:
    return _round(entity, matrix, 0.0, math.tau)


def _round(entity: Circle, matrix: Matrix | None, start: float, sweep: float) -> Shape:
    radius = abs(float(entity.dxf.radius))
    whole = _object_matrix(entity, matrix)
    linear = np.eye(3) if whole is None else whole[:3, :3]
    centre = map_points(np.array([entity.dxf.center.xyz]), whole)[0]
    return _of_arc(flatten_arc(centre, radius * linear[0], radius * linear[1], start, sweep))


def _ellipse(entity: Ellipse, matrix: Matrix | None) -> Shape:
    major = entity.dxf.major_axis
    minor = entity.dxf.extrusion.normalize().cross(major) * entity.dxf.ratio
    start = float(entity.dxf.start_param)
    sweep = arc_angle_span_rad(start, float(entity.dxf.end_param))
    linear = np.eye(3) if matrix is None else matrix[:3, :3]
    centre = map_points(np.array([entity.dxf.center.xyz]), matrix)[0]
    return _of_arc(flatten_arc(centre, np.array(major.xyz) @ linear, np.array(minor.xyz) @ linear, start, sweep))


def _of_arc(points: Points) -> Shape:
    return Shape(points=points, drawn=np.array([0, len(points) - 1], dtype=np.intp))


def _spline(entity: Spline, matrix: Matrix | None) -> Shape:
    control = np.asarray(entity.control_points, dtype=np.float64).reshape(-1, 3)
    knots, weights, degree = list(entity.knots), list(entity.weights), int(entity.dxf.degree)
    if not (len(control) and knots):
        curve = entity.construction_tool()
        control = np.array([point.xyz for point in curve.control_points])
        knots, weights, degree = list(curve.knots()), list(curve.weights()), curve.degree
    elif not entity.dxf.hasattr("degree"):
        degree = len(knots) - len(control) - 1  # ezdxf would fill in 3
    rational = np.asarray(weights, dtype=np.float64) if weights else None
    return flatten_spline(map_points(control, matrix), np.asarray(knots, dtype=np.float64), rational, degree)


def _mline(entity: MLine, matrix: Matrix | None) -> Shape:
    centre = [vertex.location + vertex.miter_direction * _middle(vertex.line_params) for vertex in entity.vertices]
    points = np.array([point.xyz for point in centre], dtype=np.float64).reshape(-1, 3)
    return flatten_polyline(points, np.zeros(len(points)), matrix, closed=bool(entity.is_closed))


def _middle(line_params: list[Sequence[float]]) -> float:
    """Return how far the middle of the outermost elements lies from the picked point, along the miter."""
    offsets = [params[0] for params in line_params if len(params)]
    return (min(offsets) + max(offsets)) / 2 if offsets else 0.0


def _object_matrix(entity: DXFEntity, matrix: Matrix | None) -> Matrix | None:
    """Return the map from an entity's object coordinate system."""
    extrusion: Vec3 | None = entity.dxf.get("extrusion")
    system = OCS(extrusion) if extrusion is not None else None
    if system is None or not system.transform:
        return matrix
    own = np.eye(4)
    own[:3, :3] = [system.ux.xyz, system.uy.xyz, system.uz.xyz]
    return own if matrix is None else own @ matrix


_READERS: dict[type[DXFEntity], Callable[..., Shape]] = {
    Line: _line,
    LWPolyline: _lwpolyline,
    Polyline: _polyline,
    Arc: _arc,
    Circle: _circle,
    Ellipse: _ellipse,
    Spline: _spline,
    Helix: _spline,
    MLine: _mline,
}
