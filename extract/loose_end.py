"""Loose ends: free ends of the waterstop, and whether each is a drafting slip."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, box

from .finding import Finding, Severity, place_text
from .line import JointKind, Points, vector
from .linework import Indices
from .run import Run

__all__ = ["loose_ends"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tip:
    """A free end of a run."""

    run: Run
    at_start: bool
    at_m: Points

    @property
    def climbs_to(self) -> bool:
        """Whether the run climbs and this is its upper end."""
        course = self.run.points_m if self.at_start else self.run.points_m[::-1]
        rise = course[0] - course[1]
        return bool(rise[2] > np.hypot(rise[0], rise[1]))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Miss:
    """The nearest place on another part of the waterstop that an end does not reach."""

    gap_m: float
    run: Run
    at_m: Points


def loose_ends(
    runs: tuple[Run, ...], degree: dict[str, int], *, tolerance_m: float, reach_m: float, rise_m: float
) -> tuple[Finding, ...]:
    """Judge every free end.

    1. A run shorter than the reach, from a node of three or more arms to a free end, is a stub: someone drew a line
       too far.
    2. An end within the reach of another part of the waterstop is a near miss.
    3. A slab joint that ends free under or over a wall-base joint, within the reach in plan and the rise in height,
       lacks its rise.
    4. The upper end of a climbing run is the top of a wall.
    5. Every other free end needs a reason.

    Parameters
    ----------
    runs : tuple of Run
        All runs of one drawing.
    degree : dict of str to int
        Number of arms of every node, by mark.
    tolerance_m, reach_m : float
        Ends further than the tolerance and closer than the reach from another line are near misses [m].
    rise_m : float
        Largest height between a slab joint and the wall-base joint it should rise to [m].

    Returns
    -------
    tuple of Finding
        ``short-stub``, ``near-miss``, ``missing-rise`` and ``free-end``.
    """
    tips = [
        _Tip(run=run, at_start=at_start, at_m=run.points_m[0 if at_start else -1])
        for run in runs
        for at_start in (True, False)
        if degree[run.start if at_start else run.end] == 1
    ]
    if not tips:
        return ()
    grid = _Segments(runs, tolerance_m)
    misses = grid.nearest(tips, reach_m)
    findings: list[Finding] = []
    met: set[tuple[object, ...]] = set()
    for tip, miss in zip(tips, misses, strict=True):
        far = tip.run.end if tip.at_start else tip.run.start
        if tip.run.length_m <= reach_m and degree[far] > 2:
            findings.append(_stub(tip))
        elif miss is not None:
            pair = tuple(sorted((vector(tip.at_m), vector(miss.at_m))))  # two ends that miss each other are one slip
            if pair not in met:
                findings.append(_near_miss(tip, miss))
            met.add(pair)
        elif (below := grid.missing_rise(tip, reach_m, rise_m)) is not None:
            findings.append(_missing_rise(tip, below))
        elif not tip.climbs_to:
            findings.append(_free(tip))
    return tuple(findings)


class _Segments:
    """All segments of all runs, to be asked for neighbours."""

    def __init__(self, runs: tuple[Run, ...], tolerance_m: float) -> None:
        self.tolerance_m = tolerance_m
        self.runs = runs
        points = np.concatenate([run.points_m for run in runs])
        owner = np.repeat(np.arange(len(runs)), [len(run.points_m) for run in runs])
        starts = np.flatnonzero(owner[1:] == owner[:-1])
        self.start, self.along, self.owner = points[starts], points[starts + 1] - points[starts], owner[starts]
        self.length = np.linalg.norm(self.along, axis=1)
        station = np.concatenate(([0.0], np.cumsum(self.length)))[:-1]
        first = np.searchsorted(self.owner, np.arange(len(runs)))
        self.station = station - station[first][self.owner]
        low, high = np.minimum(points[starts], points[starts + 1]), np.maximum(points[starts], points[starts + 1])
        self.tree = STRtree(box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))

    def nearest(self, tips: list[_Tip], reach_m: float) -> list[_Miss | None]:
        """Return for each end the nearest part within the reach to which the way along the waterstop is much longer."""
        tip, segment = self._near(tips, reach_m)
        at = np.array([t.at_m for t in tips])[tip]
        foot, along = self._foot(at, segment)
        gap = np.linalg.norm(foot - at, axis=1)
        found: list[_Miss | None] = [None] * len(tips)
        for i in np.lexsort((segment, gap, tip)).tolist():
            t, g = int(tip[i]), float(gap[i])
            if found[t] is not None or g > reach_m:
                continue
            if self._way(tips[t], int(segment[i]), float(along[i])) > 3 * max(g, self.tolerance_m):
                found[t] = _Miss(gap_m=g, run=self.runs[self.owner[segment[i]]], at_m=foot[i])
        return found

    def missing_rise(self, tip: _Tip, reach_m: float, rise_m: float) -> _Miss | None:
        """Return the wall-base joint over or under the end of a slab joint."""
        if tip.run.joint is not JointKind.SLAB:
            return None
        for segment in self._near([tip], reach_m)[1].tolist():
            run = self.runs[self.owner[segment]]
            foot = self._foot(tip.at_m[None, :] * (1, 1, 0), np.array([segment]), level=True)[0][0]
            aside = float(np.hypot(*(foot - tip.at_m)[:2]))
            height = abs(float(foot[2] - tip.at_m[2]))
            if run.joint is JointKind.WALL_BASE and aside <= reach_m and self.tolerance_m < height <= rise_m:
                return _Miss(gap_m=height, run=run, at_m=foot)
        return None

    def _near(self, tips: list[_Tip], reach_m: float) -> tuple[Indices, Indices]:
        x, y, _ = np.array([tip.at_m for tip in tips]).T
        tip, segment = self.tree.query(box(x - reach_m, y - reach_m, x + reach_m, y + reach_m))
        return tip, segment

    def _foot(self, at: Points, segment: Indices, *, level: bool = False) -> tuple[Points, NDArray[np.float64]]:
        """Return the places on segments nearest to points (in plan if `level`), and how far along each they are."""
        along = self.along[segment]
        flat = along * (1, 1, 0) if level else along
        offset = (at - self.start[segment]) * ((1, 1, 0) if level else 1)
        size2 = np.maximum(np.einsum("ij,ij->i", flat, flat), np.finfo(float).tiny)
        t = np.clip(np.einsum("ij,ij->i", offset, flat) / size2, 0.0, 1.0)
        return self.start[segment] + along * t[:, None], t * self.length[segment]

    def _way(self, tip: _Tip, segment: int, along: float) -> float:
        """Return how far it is along the waterstop from an end to a place on the same or the next run [m]."""
        run, station = self.runs[self.owner[segment]], self.station[segment] + along
        if run is tip.run:
            return float(station if tip.at_start else run.length_m - station)
        far = tip.run.end if tip.at_start else tip.run.start
        ways = [
            station if far == run.start else np.inf,
            run.length_m - station if far == run.end else np.inf,
        ]
        return float(tip.run.length_m + min(ways))


def _stub(tip: _Tip) -> Finding:
    return _finding(
        "short-stub",
        tip,
        f"runs only {tip.run.length_m * 1000:.0f} mm past its last node to {place_text(vector(tip.at_m))}; "
        "trim it or say why it ends there.",
    )


def _near_miss(tip: _Tip, miss: _Miss) -> Finding:
    source = miss.run.sources[0]
    return _finding(
        "near-miss",
        tip,
        f"ends {_millimetres(miss.gap_m)} from {source.entity} on layer {source.layer!r} "
        f"at {place_text(vector(tip.at_m))}; close the gap or say why it is open.",
        miss.run,
    )


def _millimetres(gap_m: float) -> str:
    """Write a gap so that one just over the tolerance does not read like it."""
    return f"{gap_m * 1000:.1f} mm" if gap_m < 0.01 else f"{gap_m * 1000:.0f} mm"


def _missing_rise(tip: _Tip, miss: _Miss) -> Finding:
    return _finding(
        "missing-rise",
        tip,
        f"is a slab joint that ends free at {place_text(vector(tip.at_m))} with a wall-base joint "
        f"{miss.gap_m * 1000:.0f} mm over or under it; draw it on to the wall's mid-plane and up a rise of "
        f"{miss.gap_m * 1000:.0f} mm.",
        miss.run,
    )


def _free(tip: _Tip) -> Finding:
    return _finding(
        "free-end",
        tip,
        f"ends free at {place_text(vector(tip.at_m))}; draw it on to what it meets, or say why it ends "
        "(tie-in, end of contract).",
    )


def _finding(code: str, tip: _Tip, rest: str, other: Run | None = None) -> Finding:
    source = tip.run.sources[0 if tip.at_start else -1]
    return Finding(
        code=code,
        severity=Severity.WARNING,
        message=f"{source} {rest}",
        at_m=vector(tip.at_m),
        sources=tuple(dict.fromkeys((source, *(other.sources[:1] if other else ())))),
    )
