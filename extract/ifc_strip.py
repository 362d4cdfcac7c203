"""Strips: centre line, direction across, width and thickness of one body of a model."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .ifc_course import Course
from .ifc_frame import Matrix, unit
from .line import Points

__all__ = ["Strip", "strip_along", "with_across_of"]

_EYE = np.eye(3)
_KEPT_NOTES = frozenset({"boolean-cut", "meshed"})
_STRAIGHT = 1 - 1e-15
_ALONG = 0.5  # a body's piece lends its direction across to a line that leaves it by less than 60 degrees


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """One strip, in the model's own unit.

    Attributes
    ----------
    points : Points
        Centre line, shape (n, 3), n >= 2.
    drawn : NDArray[np.bool_]
        Whether the model gives the vertex, shape (n,).
    across : Points
        Unit vectors across, one a segment, shape (n - 1, 3); NaN where not known.
    width, thickness : float or None
        Its section; None where not known.
    notes : frozenset of str
        What is to be told of how it was read; the table in `ifc_haul` lists them.
    """

    points: Points
    drawn: NDArray[np.bool_]
    across: Points
    width: float | None = None
    thickness: float | None = None
    notes: frozenset[str] = field(default=frozenset())

    @property
    def length(self) -> float:
        """Length of the centre line."""
        return float(np.linalg.norm(np.diff(self.points, axis=0), axis=1).sum())

    def noted(self, *notes: str) -> "Strip":
        """Return the strip with more to be told of it."""
        return replace(self, notes=self.notes | set(notes))

    def mapped(self, matrix: Matrix) -> "Strip":
        """Return the strip moved, turned, mirrored or scaled."""
        linear = matrix[:3, :3]
        points = self.points @ linear + matrix[3, :3]
        if np.abs(linear @ linear.T - _EYE).max() < 1e-12:  # the usual case: moved and turned, not stretched
            if (self.points[0] == self.points[-1]).all():
                points[-1] = points[0]
            moved = self.across @ linear
            return Strip(
                points=points,
                drawn=self.drawn,
                across=moved,
                width=self.width,
                thickness=self.thickness,
                notes=self.notes,
            )
        if (self.points[0] == self.points[-1]).all():
            points[-1] = points[0]
        even = abs(float(np.linalg.det(linear))) ** (1 / 3)
        across = self.across @ linear
        through = np.cross(unit(np.diff(self.points, axis=0)), self.across) @ linear
        return replace(
            self,
            points=points,
            across=_square(across, np.diff(points, axis=0)),
            width=None if self.width is None else self.width * _stretch(across, even),
            thickness=None if self.thickness is None else self.thickness * _stretch(through, even),
        )


def _stretch(mapped: Points, even: float) -> float:
    """Return by how much a map has stretched vectors that had length 1."""
    size = np.linalg.norm(mapped, axis=1)
    size = size[np.isfinite(size)]
    return float(size.mean()) if len(size) else even


def _square(across: Points, along: Points) -> Points:
    """Return the unit vectors square to the line in the planes of both; NaN where the two are parallel."""
    along = unit(along)
    return unit(across - along * np.einsum("ij,ij->i", across, along)[:, None])


def strip_along(
    course: Course, across: Points | None = None, *, width: float | None = None, thickness: float | None = None
) -> Strip:
    """Return the strip along a course; its unit vectors across are made square to it."""
    along = course.points[1:] - course.points[:-1]
    if across is None:
        sides = np.full(along.shape, np.nan)
    elif len(along) == len(across) == 1 and not float(along[0] @ across[0]):
        sides = across  # the usual case: an extrusion square to its profile
    else:
        sides = _square(np.broadcast_to(across, along.shape), along)
    return Strip(points=course.points, drawn=course.drawn, across=sides, width=width, thickness=thickness)


def with_across_of(line: Strip, bodies: list[Strip]) -> Strip:
    """Return a bare centre line with the lay and the section of the bodies that are swept along it."""
    if len(bodies) == 1 and len(bodies[0].points) == len(line.points) == 2:
        return _with_across_of_one(line, bodies[0])
    starts = np.vstack([body.points[:-1] for body in bodies])
    ends = np.vstack([body.points[1:] for body in bodies])
    sides = np.vstack([body.across for body in bodies])
    middle, along = (line.points[1:] + line.points[:-1]) / 2, unit(np.diff(line.points, axis=0))
    step = ends - starts
    size2 = np.maximum(np.einsum("ij,ij->i", step, step), np.finfo(float).tiny)
    across = np.empty(along.shape)
    for index, point in enumerate(middle):
        share = np.clip(np.einsum("ij,ij->i", point - starts, step) / size2, 0.0, 1.0)
        gap = starts + step * share[:, None] - point
        best = int(np.argmin(np.einsum("ij,ij->i", gap, gap)))
        fits = abs(float(along[index] @ step[best])) >= _ALONG * float(np.sqrt(size2[best]))
        across[index] = sides[best] if fits else np.nan
    notes = frozenset().union(*(body.notes for body in bodies)) & _KEPT_NOTES
    first = max(bodies, key=lambda body: body.length)
    return replace(
        line,
        across=_square(across, along),
        width=first.width,
        thickness=first.thickness,
        notes=line.notes | notes,
    )


def _with_across_of_one(line: Strip, body: Strip) -> Strip:
    """Return a straight line with the lay and the section of one straight body, the usual case."""
    along, side = line.points[1] - line.points[0], body.points[1] - body.points[0]
    straightness = abs(float(along @ side)) / math.sqrt(float(along @ along) * float(side @ side))
    across = body.across if straightness >= _ALONG else np.full((1, 3), np.nan)
    return Strip(
        points=line.points,
        drawn=line.drawn,
        across=across if straightness > _STRAIGHT else _square(across, along[None]),
        width=body.width,
        thickness=body.thickness,
        notes=line.notes | (body.notes & _KEPT_NOTES),
    )
