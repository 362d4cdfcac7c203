"""Linework: all lines of a drawing as one set of arrays, near a local origin."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .line import JointLine, Points

__all__ = ["Indices", "Linework"]

Indices = NDArray[np.intp]
_SAME_POINT_M = 1e-9  # below the precision of any drawing: consecutive vertices this close are one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linework:
    """The vertices of all lines, one line after the other.

    Attributes
    ----------
    origin_m : Points
        Local origin in world coordinates [m], shape (3,); subtracting it keeps survey coordinates precise.
    points_m : Points
        Vertices relative to the origin [m], shape (n, 3).
    first : Indices
        Line i holds the vertices ``first[i]:first[i + 1]``, shape (lines + 1,).
    line : Indices
        Line of each vertex, shape (n,).
    station_m : NDArray[np.float64]
        Distance of each vertex along its line plus a start of its line's own, so that stations of different lines
        never meet, shape (n,).
    drawn : NDArray[np.bool_]
        Whether the drafter set the vertex, shape (n,).
    closed : NDArray[np.bool_]
        Whether each line comes back to its start, shape (lines,).
    across : Points or None
        Unit vectors across the strip on the segment that each vertex starts, NaN where not drawn, shape (n, 3);
        None where no line tells.
    """

    origin_m: Points
    points_m: Points
    first: Indices
    line: Indices
    station_m: NDArray[np.float64]
    drawn: NDArray[np.bool_]
    closed: NDArray[np.bool_]
    across: Points | None = None

    @classmethod
    def of(cls, lines: Sequence[JointLine]) -> "Linework":
        """Gather the lines of a drawing; vertices that repeat the one before are dropped."""
        counts = np.fromiter((len(line.points_m) for line in lines), np.intp, len(lines))
        world = np.concatenate([line.points_m for line in lines]) if lines else np.empty((0, 3))
        origin = np.floor(world.min(axis=0)) if len(world) else np.zeros(3)
        line_of = np.repeat(np.arange(len(lines)), counts)
        drawn = _drawn(lines, counts)
        points, line_of, drawn, across = _without_repeats(world - origin, line_of, drawn, _across(lines, counts))
        first = np.searchsorted(line_of, np.arange(len(lines) + 1))
        last = first[1:] - 1
        ends_meet = (points[first[:-1]] == points[last]).all(axis=1) & (last - first[:-1] > 1)
        return cls(
            origin_m=origin,
            points_m=points,
            first=first,
            line=line_of,
            station_m=_stations(points, line_of),
            drawn=drawn,
            closed=ends_meet,
            across=across,
        )

    @property
    def segment_starts(self) -> Indices:
        """Index of the first vertex of every segment; its second vertex is the next one."""
        return np.flatnonzero(self.line[1:] == self.line[:-1])

    @property
    def line_length_m(self) -> NDArray[np.float64]:
        """Length of every line [m], shape (lines,)."""
        return self.station_m[self.first[1:] - 1] - self.station_m[self.first[:-1]]

    def at(self, station_m: NDArray[np.float64]) -> Points:
        """Return the places at stations of lines, by linear interpolation, shape (n, 3)."""
        columns = [np.interp(station_m, self.station_m, column) for column in self.points_m.T]
        return np.stack(columns, axis=1)


def _drawn(lines: Sequence[JointLine], counts: Indices) -> NDArray[np.bool_]:
    drawn = np.ones(int(counts.sum()), dtype=np.bool_)
    offset = np.concatenate(([0], np.cumsum(counts)))
    for i, line in enumerate(lines):
        if line.drawn is not None:
            drawn[offset[i] : offset[i + 1]] = False
            drawn[offset[i] + line.drawn] = True
    return drawn


def _across(lines: Sequence[JointLine], counts: Indices) -> Points | None:
    if all(line.across is None for line in lines):
        return None
    across = np.full((int(counts.sum()), 3), np.nan)
    offset = np.concatenate(([0], np.cumsum(counts)))
    for i, line in enumerate(lines):
        if line.across is not None:
            across[offset[i] : offset[i + 1] - 1] = line.across
    return across


def _without_repeats(
    points: Points, line_of: Indices, drawn: NDArray[np.bool_], across: Points | None
) -> tuple[Points, Indices, NDArray[np.bool_], Points | None]:
    same_line = line_of[1:] == line_of[:-1]
    repeats = same_line & (np.linalg.norm(np.diff(points, axis=0), axis=1) <= _SAME_POINT_M)
    if not repeats.any():
        return points, line_of, drawn, across
    starts = np.flatnonzero(np.append(True, ~repeats))  # of each group of equal vertices
    ends = np.append(starts[1:], len(points)) - 1
    is_last = np.append(line_of[1:] != line_of[:-1], True)
    keep = np.where(is_last[ends], ends, starts)  # a line keeps its last vertex to the bit
    kept_across = None if across is None else across[ends]  # the segment that leaves the group
    return points[keep], line_of[keep], np.logical_or.reduceat(drawn, starts), kept_across


def _stations(points: Points, line_of: Indices) -> NDArray[np.float64]:
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    steps[line_of[1:] != line_of[:-1]] = 1.0
    return np.concatenate(([0.0], np.cumsum(steps)))[: len(points)]
