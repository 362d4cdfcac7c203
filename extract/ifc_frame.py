"""Frames: points, directions, placements and operators of an IFC model as arrays.

A map is a matrix for row vectors, shape (4, 4), its last row the shift: ``points @ m[:3, :3] + m[3, :3]``.
"""

import math

import numpy as np
from numpy.typing import NDArray

from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .line import Points

__all__ = [
    "IDENTITY",
    "Matrix",
    "axis_matrix",
    "coordinates_of",
    "direction_of",
    "frame_matrix",
    "map_vectors",
    "operator_matrix",
]
__all__ += ["point_of", "unit"]

Matrix = NDArray[np.float64]

IDENTITY: Matrix = np.eye(4)
IDENTITY.flags.writeable = False
_Z = np.array([0.0, 0.0, 1.0])
_X = np.array([1.0, 0.0, 0.0])


def point_of(point: Entity | None) -> Points:
    """Return a Cartesian point, its height 0 where it is flat, shape (3,).

    Raises
    ------
    IfcFault
        The point is missing, short of a coordinate, or not finite.
    """
    return np.array((*coordinates_of(point), 0.0)[:3])


def coordinates_of(point: Entity | None) -> tuple[float, ...]:
    """Return the two or three coordinates of a point.

    Raises
    ------
    IfcFault
        The point is missing, short of a coordinate, or not finite.
    """
    coordinates: tuple[float, ...] | None = point.get_argument(0) if point is not None else None
    if not coordinates or not 2 <= len(coordinates) <= 3:
        raise IfcFault("damaged", "a point that is missing or incomplete")
    if not all(map(math.isfinite, coordinates)):
        raise IfcFault("not-finite")
    return coordinates


def direction_of(direction: Entity | None, default: Points) -> Points:
    """Return a unit vector, shape (3,); the default where the direction is missing or nothing."""
    ratios = direction.get_argument(0) if direction is not None else None
    if not ratios:
        return default
    x, y, z = (*ratios, 0.0, 0.0)[:3]
    size = math.sqrt(x * x + y * y + z * z)
    return np.array((x / size, y / size, z / size)) if math.isfinite(size) and size > 0 else default


def unit(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return unit vectors; NaN where there is no length."""
    size = np.sqrt(np.einsum("...j,...j->...", vectors, vectors))[..., None]
    scaled: NDArray[np.float64] = vectors / np.where(size > 1e-12, size, np.nan)
    return scaled


def frame_matrix(origin: Points | tuple[float, ...], z: Points, x: Points) -> Matrix:
    """Return the map from a frame: its z as given, its x in the plane of z and the given direction."""
    (zx, zy, zz), (xx, xy, xz) = z.tolist(), x.tolist()
    share = xx * zx + xy * zy + xz * zz
    xx, xy, xz = xx - zx * share, xy - zy * share, xz - zz * share
    size = math.sqrt(xx * xx + xy * xy + xz * xz)
    if size < 1e-9:  # the two are parallel: any direction square to z will do
        return frame_matrix(origin, z, _X if abs(zx) < 0.9 else np.array([0.0, 1.0, 0.0]))
    xx, xy, xz = xx / size, xy / size, xz / size
    ox, oy, oz = origin
    rows = (xx, xy, xz, 0.0, zy * xz - zz * xy, zz * xx - zx * xz, zx * xy - zy * xx, 0.0)
    return np.array((*rows, zx, zy, zz, 0.0, ox, oy, oz, 1.0)).reshape(4, 4)


def axis_matrix(placement: Entity | None) -> Matrix:
    """Return the map from an axis placement of two or three dimensions; None maps nothing.

    Raises
    ------
    IfcFault
        Its location is missing, short of a coordinate, or not finite.
    """
    if placement is None:
        return IDENTITY
    origin = coordinates_of(placement.get_argument(0))
    flat = placement.is_a() == "IfcAxis2Placement2D"
    if len(origin) < 3 and not flat:
        raise IfcFault("damaged", "a point that is missing or incomplete")
    axis, side = (None, placement.get_argument(1)) if flat else (placement.get_argument(1), placement.get_argument(2))
    if axis is None and side is None:
        matrix = np.eye(4)
        matrix[3, : len(origin)] = origin
        return matrix
    return frame_matrix((*origin, 0.0)[:3], direction_of(axis, _Z), direction_of(side, _X))


def operator_matrix(operator: Entity) -> Matrix:
    """Return the map of a transformation operator of two or three dimensions, scaled or not, mirroring or not.

    Raises
    ------
    IfcFault
        Its origin is missing or not finite, or a scale is nothing.
    """
    flat = operator.is_a("IfcCartesianTransformationOperator2D")
    z = _Z if flat else direction_of(operator.Axis3, _Z)
    first = frame_matrix(np.zeros(3), z, direction_of(operator.Axis1, _X))
    second = direction_of(operator.Axis2, first[1, :3])
    matrix = first.copy()
    if float(second @ first[1, :3]) < 0:
        matrix[1, :3] *= -1  # a left-handed operator mirrors
    scale = _scale(operator, "Scale", 1.0)
    matrix[0, :3] *= scale
    matrix[1, :3] *= _scale(operator, "Scale2", scale)
    matrix[2, :3] *= _scale(operator, "Scale3", scale)
    matrix[3, :3] = point_of(operator.LocalOrigin)
    return matrix


def _scale(operator: Entity, name: str, default: float) -> float:
    value = getattr(operator, name, None)
    scale = default if value is None else float(value)
    if not math.isfinite(scale) or scale == 0:
        raise IfcFault("damaged", "a scale of nothing")
    return scale


def map_vectors(vectors: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    """Map vectors, which no shift moves."""
    mapped: NDArray[np.float64] = vectors @ matrix[:3, :3]
    return mapped
