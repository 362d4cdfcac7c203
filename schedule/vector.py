"""Vector: arithmetic on single vectors of three floats, where an array would cost more than it saves."""

from math import atan2, degrees, sqrt

from splicewright.extract.line import Vector

__all__ = ["angle_deg", "cross", "dot", "minus", "plus", "times", "unit"]


def dot(a: Vector, b: Vector) -> float:
    """Return the scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    """Return the vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def plus(a: Vector, b: Vector) -> Vector:
    """Return the sum."""
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def minus(a: Vector, b: Vector) -> Vector:
    """Return the difference."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def times(a: Vector, factor: float) -> Vector:
    """Return the vector made longer by a factor."""
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def unit(a: Vector) -> Vector | None:
    """Return the vector made 1 long, or None where it is too short to have a direction."""
    size = sqrt(dot(a, a))
    return times(a, 1 / size) if size > 1e-9 else None


def angle_deg(a: Vector, b: Vector) -> float:
    """Return the angle between two vectors [degrees], 0 to 180.

    Examples
    --------
    >>> angle_deg((1.0, 0.0, 0.0), (0.0, 2.0, 0.0))
    90.0
    """
    normal = cross(a, b)
    return degrees(atan2(sqrt(dot(normal, normal)), dot(a, b)))
