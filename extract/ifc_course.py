"""Courses: flattened curves of an IFC model that still know their own parameter, so that they can be trimmed."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .ifc_fault import IfcFault
from .ifc_frame import Matrix
from .line import Points

__all__ = ["Course", "join_courses"]

_TOUCH = 1e-6
"""Ends closer than this part of a curve's size are one place."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """A flattened curve.

    Attributes
    ----------
    points : Points
        Vertices, shape (n, 3), n >= 2, in the model's own unit.
    at : NDArray[np.float64]
        The curve's own parameter at each vertex, rising, shape (n,).
    drawn : NDArray[np.bool_]
        Whether the model gives the vertex; the others were made by flattening, shape (n,).
    metric : bool
        Whether the parameter is the distance along the curve.
    """

    points: Points
    at: NDArray[np.float64]
    drawn: NDArray[np.bool_]
    metric: bool = False

    @property
    def closed(self) -> bool:
        """Whether the curve comes back to where it starts."""
        return len(self.points) > 2 and bool((self.points[0] == self.points[-1]).all())

    @property
    def distance(self) -> NDArray[np.float64]:
        """Distance along the curve at each vertex, shape (n,)."""
        if self.metric:
            return self.at
        steps = np.linalg.norm(np.diff(self.points, axis=0), axis=1)
        return np.concatenate(([0.0], np.cumsum(steps)))

    def reversed(self) -> "Course":
        """Return the same curve run through from its end."""
        return replace(
            self, points=self.points[::-1], at=(self.at[-1] + self.at[0] - self.at)[::-1], drawn=self.drawn[::-1]
        )

    def mapped(self, matrix: Matrix) -> "Course":
        """Return the curve moved by an affine map."""
        points = self.points @ matrix[:3, :3] + matrix[3, :3]
        if self.closed:
            points[-1] = points[0]
        return replace(self, points=points)

    def cut(self, start: float | None, end: float | None) -> "Course":
        """Return the part between two parameters, None standing for an end; backwards where they fall.

        Raises
        ------
        IfcFault
            Nothing lies between them.
        """
        low, high = float(self.at[0]), float(self.at[-1])
        first = low if start is None else min(max(start, low), high)
        last = high if end is None else min(max(end, low), high)
        if first > last:
            return self.cut(last, first).reversed()
        if last - first <= 1e-9 * max(high - low, 1e-300):
            raise IfcFault("zero-length")
        slack = 1e-9 * (high - low)
        inner = (self.at > first + slack) & (self.at < last - slack)
        ends = [self._point(first), self._point(last)]
        return replace(
            self,
            points=np.vstack([ends[:1], self.points[inner], ends[1:]]),
            at=np.concatenate(([first], self.at[inner], [last])),
            drawn=np.concatenate(([True], self.drawn[inner], [True])),
        )

    def cut_by_length(self, start: float | None, end: float | None) -> "Course":
        """Return the part between two distances along the curve; None stands for an end."""
        measured = replace(self, at=self.distance, metric=True)
        return measured.cut(start, end)

    def at_distance(self, distance: float) -> tuple[Points, Points]:
        """Return the place and the unit direction at a distance along the curve."""
        along = self.distance
        index = int(np.clip(np.searchsorted(along, distance, side="right") - 1, 0, len(along) - 2))
        step = self.points[index + 1] - self.points[index]
        length = along[index + 1] - along[index]
        point: Points = self.points[index] + step * ((distance - along[index]) / length)
        direction: Points = step / np.linalg.norm(step)
        return point, direction

    def nearest(self, point: Points) -> float:
        """Return the parameter of the place on the curve that is nearest to a point."""
        step = np.diff(self.points, axis=0)
        size2 = np.maximum(np.einsum("ij,ij->i", step, step), np.finfo(float).tiny)
        share = np.clip(np.einsum("ij,ij->i", point - self.points[:-1], step) / size2, 0.0, 1.0)
        gap = self.points[:-1] + step * share[:, None] - point
        best = int(np.argmin(np.einsum("ij,ij->i", gap, gap)))
        return float(self.at[best] + (self.at[best + 1] - self.at[best]) * share[best])

    def _point(self, at: float) -> Points:
        index = int(np.clip(np.searchsorted(self.at, at, side="right") - 1, 0, len(self.at) - 2))
        share = (at - self.at[index]) / (self.at[index + 1] - self.at[index])
        if share in (0.0, 1.0):
            vertex: Points = self.points[index + int(share)]
            return vertex
        point: Points = self.points[index] + (self.points[index + 1] - self.points[index]) * share
        return point


def join_courses(courses: Sequence[Course]) -> Course:
    """Join courses end to end, turning round those that fit only so.

    Raises
    ------
    IfcFault
        There are none, or one does not start where the one before ends.
    """
    if not courses:
        raise IfcFault("damaged", "a curve without segments")
    size = max(float(np.ptp(course.points, axis=0).max()) for course in courses)
    touch = max(_TOUCH * size, 1e-9)
    turned = _turned(courses, touch)
    points, at, drawn = [turned[0].points], [turned[0].at - turned[0].at[0]], [turned[0].drawn.copy()]
    for course in turned[1:]:
        if np.linalg.norm(course.points[0] - points[-1][-1]) > 1e3 * touch:
            raise IfcFault("damaged", "a composite curve whose segments do not meet")
        drawn[-1][-1] |= course.drawn[0]
        points.append(course.points[1:])
        at.append(course.at[1:] - course.at[0] + at[-1][-1])
        drawn.append(course.drawn[1:].copy())
    whole = np.vstack(points)
    if len(whole) > 3 and np.linalg.norm(whole[0] - whole[-1]) <= touch:
        whole[-1] = whole[0]
    return Course(points=whole, at=np.concatenate(at), drawn=np.concatenate(drawn))


def _turned(courses: Sequence[Course], touch: float) -> list[Course]:
    """Turn round each segment whose end, but not its start, meets the one before."""
    first = courses[0]
    if len(courses) > 1:
        ends = courses[1].points[[0, -1]]
        if _apart(first.points[-1], ends) > touch >= _apart(first.points[0], ends):
            first = first.reversed()
    turned = [first]
    for course in courses[1:]:
        here = turned[-1].points[-1]
        fits = np.linalg.norm(course.points[0] - here) <= touch
        turned.append(course.reversed() if not fits and _apart(here, course.points[-1:]) <= touch else course)
    return turned


def _apart(point: Points, others: Points) -> float:
    return float(np.linalg.norm(others - point, axis=1).min())
