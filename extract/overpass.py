"""Overpasses: level joints that cross in plan with so little height between that they were likely meant to meet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, box

from .finding import Finding, Severity, place_text
from .line import Points, vector
from .linework import Indices
from .run import Run
from .snapping import snap

__all__ = ["overpasses"]

_ALONGSIDE = np.sin(np.radians(1.0)) ** 2  # lines that run one over the other do not cross


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Crossings:
    """Places where runs cross in plan, a row a place.

    Attributes
    ----------
    run : Indices
        Upper and lower run, shape (n, 2).
    station_m : NDArray[np.float64]
        How far along each of the two [m], shape (n, 2).
    at_m : NDArray[np.float64]
        Places on each of the two [m], shape (n, 2, 3).
    """

    run: Indices
    station_m: NDArray[np.float64]
    at_m: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.run)

    def take(self, which: Indices) -> "_Crossings":
        """Return some of the places."""
        return _Crossings(run=self.run[which], station_m=self.station_m[which], at_m=self.at_m[which])

    @property
    def gap_m(self) -> NDArray[np.float64]:
        """Height between the two [m]."""
        gap: NDArray[np.float64] = self.at_m[:, 0, 2] - self.at_m[:, 1, 2]
        return gap


def overpasses(
    runs: Sequence[Run], degree: Mapping[str, int], *, tolerance_m: float, reach_m: float
) -> tuple[Finding, ...]:
    """Report level runs that cross in plan further apart in height than the tolerance, but within the reach.

    1. Both carry the same kind of joint, or nobody knows that of one: a base seal lies below a slab joint by design.
    2. Runs that the waterstop itself joins nearby, as a step in a slab does, are as they should be.
    3. Where a free end is within the reach of the other run, that end's near miss tells it.

    Parameters
    ----------
    runs : sequence of Run
        All runs of one drawing.
    degree : mapping of str to int
        Number of arms of every node, by mark.
    tolerance_m, reach_m : float
        Heights between that are told [m].

    Returns
    -------
    tuple of Finding
        ``near-crossing``, one a place.
    """
    found = _crossings(runs, tolerance_m, reach_m)
    if not len(found):
        return ()
    ways = _Ways(runs)
    kept = [i for i in range(len(found)) if _is_slip(found, i, runs, degree, ways, tolerance_m, reach_m)]
    found = found.take(np.array(kept, np.intp))
    _, places = snap(found.at_m[:, 0], np.zeros(len(found), np.intp), tolerance_m)
    return tuple(_finding(found, i, runs) for i in sorted(places.tolist()))


def _crossings(runs: Sequence[Run], tolerance_m: float, reach_m: float) -> _Crossings:
    none = _Crossings(run=np.empty((0, 2), np.intp), station_m=np.empty((0, 2)), at_m=np.empty((0, 2, 3)))
    if not runs:
        return none
    points = np.concatenate([run.points_m for run in runs])
    if np.ptp(points[:, 2]) <= tolerance_m:
        return none
    owner = np.repeat(np.arange(len(runs)), [len(run.points_m) for run in runs])
    step = np.diff(points, axis=0)
    size = np.linalg.norm(step, axis=1)
    station = np.concatenate(([0.0], np.cumsum(size)))
    station -= station[np.searchsorted(owner, owner)]
    level = np.abs(step[:, 2]) <= np.hypot(step[:, 0], step[:, 1])
    starts = np.flatnonzero((owner[1:] == owner[:-1]) & level & (size > 0))
    one, two = _near(points, starts, tolerance_m, reach_m)
    s, t = _cross(points, step, one, two, tolerance_m)
    segments, shares = np.stack((one, two), axis=1), np.stack((s, t), axis=1)
    at = points[segments] + step[segments] * shares[..., None]
    upper = np.argsort(-at[:, :, 2], axis=1)
    row = np.arange(len(one))[:, None]
    segments, shares, at = segments[row, upper], shares[row, upper], at[row, upper]
    found = _Crossings(run=owner[segments], station_m=station[segments] + shares * size[segments], at_m=at)
    gap = found.gap_m
    return found.take(np.flatnonzero((gap > tolerance_m) & (gap <= reach_m)))  # NaN where they do not cross


def _near(points: Points, starts: Indices, tolerance_m: float, reach_m: float) -> tuple[Indices, Indices]:
    """Return pairs of segments whose boxes meet in plan and are within the reach in height, the lower first."""
    low, high = np.minimum(points[starts], points[starts + 1]), np.maximum(points[starts], points[starts + 1])
    edge = tolerance_m / 2
    boxes = box(low[:, 0] - edge, low[:, 1] - edge, high[:, 0] + edge, high[:, 1] + edge)
    one, two = STRtree(boxes).query(boxes)
    apart = np.maximum(low[one, 2] - high[two, 2], low[two, 2] - high[one, 2])
    spread = np.maximum(high[one, 2], high[two, 2]) - np.minimum(low[one, 2], low[two, 2])
    wanted = (one < two) & (apart <= reach_m) & (spread > tolerance_m)
    return starts[one[wanted]], starts[two[wanted]]


def _cross(
    points: Points, step: Points, one: Indices, two: Indices, tolerance_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far along each of two segments they cross in plan, 0 to 1; NaN where they do not."""
    u, v, w = step[one, :2], step[two, :2], points[two, :2] - points[one, :2]
    uu, vv = (np.einsum("ij,ij->i", side, side) for side in (u, v))
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    oblique = area**2 > _ALONGSIDE * uu * vv
    area = np.where(oblique, area, 1.0)
    s, t = ((w[:, 0] * side[:, 1] - w[:, 1] * side[:, 0]) / area for side in (v, u))
    for share, square in ((s, uu), (t, vv)):
        slack = tolerance_m / np.sqrt(square)
        oblique &= (share >= -slack) & (share <= 1 + slack)
    return np.where(oblique, np.clip(s, 0.0, 1.0), np.nan), np.where(oblique, np.clip(t, 0.0, 1.0), np.nan)


def _is_slip(
    found: _Crossings,
    i: int,
    runs: Sequence[Run],
    degree: Mapping[str, int],
    ways: "_Ways",
    tolerance_m: float,
    reach_m: float,
) -> bool:
    pair, stations = [runs[number] for number in found.run[i]], found.station_m[i].tolist()
    gap_m = float(found.gap_m[i])
    if None not in {run.joint for run in pair} and pair[0].joint is not pair[1].joint:  # RULE 1
        return False
    for run, station in zip(pair, stations, strict=True):  # RULE 3
        for node, way in ((run.start, station), (run.end, run.length_m - station)):
            if degree[node] == 1 and np.hypot(way, gap_m) <= reach_m:
                return False
    limit_m = 3 * gap_m + tolerance_m
    return ways.between(pair[0], stations[0], pair[1], stations[1], limit_m) > limit_m  # RULE 2


class _Ways:
    """Ways along the waterstop from one place to another."""

    def __init__(self, runs: Sequence[Run]) -> None:
        self.next: dict[str, list[tuple[str, float]]] = {}
        for run in runs:
            self.next.setdefault(run.start, []).append((run.end, run.length_m))
            self.next.setdefault(run.end, []).append((run.start, run.length_m))

    def between(self, one: Run, one_m: float, two: Run, two_m: float, limit_m: float) -> float:
        """Return the shortest way between places on two runs [m]; infinite where it is longer than a limit."""
        best = abs(one_m - two_m) if one is two else np.inf
        goal = {two.start: two_m}
        goal[two.end] = min(two.length_m - two_m, goal.get(two.end, np.inf))
        heap = sorted([(one_m, one.start), (one.length_m - one_m, one.end)])
        known: set[str] = set()
        while heap and heap[0][0] <= limit_m:
            way, node = heappop(heap)
            if node in known:
                continue
            known.add(node)
            best = min(best, way + goal.get(node, np.inf))
            for further, length in self.next[node]:
                heappush(heap, (way + length, further))
        return float(best)


def _finding(found: _Crossings, i: int, runs: Sequence[Run]) -> Finding:
    upper, lower = (runs[number] for number in found.run[i])
    over, under = (vector(place) for place in found.at_m[i])
    millimetres = found.gap_m[i] * 1000
    gap = f"{millimetres:.1f} mm" if millimetres < 10 else f"{millimetres:.0f} mm"
    return Finding(
        code="near-crossing",
        severity=Severity.WARNING,
        message=f"{_name(upper)} crosses {gap} over {_name(lower)}, at {place_text(over)} over {place_text(under)}, "
        "so they do not meet; draw both at one height there, or a rise between them, or say why they pass.",
        at_m=over,
        sources=tuple(dict.fromkeys((upper.sources[0], lower.sources[0]))),
    )


def _name(run: Run) -> str:
    """Name a run by its entity, by its mark too where it follows several."""
    more = len(run.sources) - 1
    return f"{run.sources[0]}" if not more else f"run {run.mark} ({run.sources[0]} and {more} more)"
