"""Excerpts: parts of a line between stations along it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .line import JointLine, Points

__all__ = ["Interval", "excerpt", "merged", "rest_of", "stations_m", "without"]

Interval: TypeAlias = tuple[float, float]
_HAIR_M = 1e-6


def stations_m(points_m: Points) -> NDArray[np.float64]:
    """Return how far along the line each vertex is [m], shape (n,)."""
    steps = np.linalg.norm(np.diff(points_m, axis=0), axis=1)
    return np.concatenate(([0.0], np.cumsum(steps)))


def excerpt(line: JointLine, low_m: float, high_m: float) -> JointLine:
    """Return the part of a line between two stations; its new ends count as drawn.

    Parameters
    ----------
    line : JointLine
    low_m, high_m : float
        Stations along it [m], 0 <= low < high <= length.
    """
    station = stations_m(line.points_m)
    first = int(np.searchsorted(station, low_m + _HAIR_M))
    last = int(np.searchsorted(station, high_m - _HAIR_M))
    inner = np.arange(first, last)
    ends = [np.array([np.interp(at, station, column) for column in line.points_m.T]) for at in (low_m, high_m)]
    points = np.vstack([ends[0][None], line.points_m[inner], ends[1][None]])
    drawn = None
    if line.drawn is not None:
        kept = np.flatnonzero(np.isin(inner, line.drawn)) + 1
        drawn = np.concatenate(([0], kept, [len(points) - 1])).astype(np.intp)
    across = None if line.across is None else line.across[np.concatenate(([first - 1], inner)).clip(0)]
    return replace(line, points_m=points, drawn=drawn, across=across)


def without(line: JointLine, removed: Sequence[Interval]) -> list[JointLine]:
    """Return what is left of a line when parts of it are taken out; scraps under a micrometre vanish."""
    if not removed:
        return [line]
    return [excerpt(line, low, high) for low, high in rest_of((0.0, line.length_m), removed) if high - low > _HAIR_M]


def merged(intervals: Sequence[Interval], gap: float = 0.0) -> list[Interval]:
    """Join intervals that overlap, or lie no further apart than a gap.

    Examples
    --------
    >>> merged([(3.0, 4.0), (0.0, 1.0), (0.5, 2.0)])
    [(0.0, 2.0), (3.0, 4.0)]
    """
    joined: list[Interval] = []
    for low, high in sorted(intervals):
        if joined and low <= joined[-1][1] + gap:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def rest_of(whole: Interval, covered: Sequence[Interval]) -> list[Interval]:
    """Return what intervals leave of a whole one.

    Examples
    --------
    >>> rest_of((0.0, 10.0), [(2.0, 3.0), (9.0, 12.0)])
    [(0.0, 2.0), (3.0, 9.0)]
    """
    left, at = [], whole[0]
    for low, high in merged(covered):
        if low > at:
            left.append((at, min(low, whole[1])))
        at = max(at, high)
    if at < whole[1]:
        left.append((at, whole[1]))
    return [(low, high) for low, high in left if high > low]
