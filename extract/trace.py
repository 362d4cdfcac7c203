"""Traces: the level and plumb parts that lines leave on a wall, whichever view they were drawn in."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .excerpt import Interval, merged, stations_m
from .line import JointKind, JointLine, Points, vector
from .wall import Wall

__all__ = ["Shown", "Trace", "levels_along", "may_run_along", "plumb_at", "traces_of"]

_SLOPE = 0.05
"""Rise over run, or the other way round, up to which a drawn line is taken for level or plumb."""


@dataclass(slots=True, kw_only=True, eq=False)
class Shown:
    """A line in space and what becomes of it.

    Attributes
    ----------
    line : JointLine
        In space.
    view : str
        Name of the view it was drawn in.
    course_m : Points or None
        Its vertices along its wall and in height [m], shape (n, 2); None for lines of plans and risers.
    removed : list of Interval
        Parts of it that another view shows and that counts before it, as stations along it [m].
    """

    line: JointLine
    view: str
    course_m: Points | None = None
    removed: list[Interval] = field(default_factory=list)


@dataclass(slots=True, kw_only=True, eq=False)
class Trace:
    """One level or plumb part of a line on a wall.

    Attributes
    ----------
    shown : Shown
        Whose part it is.
    plumb : bool
        Whether it climbs; otherwise it runs level.
    low, high : float
        From where to where it reaches, along the wall where level, in height where plumb [m].
    fixed : float
        Its height where level, its place along the wall where plumb [m].
    off_m : float
        How far beside the wall it lies [m].
    start_m : float
        Station on its line where it begins [m], and `rising` whether `low` is there.
    covered : list of Interval
        What of it other views show as well.
    met : list of Trace
        What shows it there.
    """

    shown: Shown
    plumb: bool
    low: float
    high: float
    fixed: float
    off_m: float = 0.0
    start_m: float = 0.0
    rising: bool = True
    covered: list[Interval] = field(default_factory=list)
    met: list["Trace"] = field(default_factory=list)

    def station(self, low: float, high: float) -> Interval:
        """Return the stations of a part of it [m]."""
        if self.rising:
            return self.start_m + low - self.low, self.start_m + high - self.low
        return self.start_m + self.high - high, self.start_m + self.high - low

    def place(self, wall: Wall, at: float) -> tuple[float, float, float]:
        """Return where in space a place on it is, on the wall."""
        u, z = (self.fixed, at) if self.plumb else (at, self.fixed)
        return vector(np.array([*wall.at(np.array([u]))[0], z]))


def traces_of(shown: Shown) -> Iterator[Trace]:
    """Yield the level and plumb parts of a line of an elevation; what slopes or curves leaves none."""
    course = shown.course_m
    if course is None:
        return
    du, dz = np.diff(course, axis=0).T
    level, plumb = np.abs(dz) <= _SLOPE * np.abs(du), np.abs(du) <= _SLOPE * np.abs(dz)
    way = np.where(level, 1, 0) * np.sign(du) + np.where(plumb, 2, 0) * np.sign(dz)
    station = stations_m(shown.line.points_m)
    breaks = np.flatnonzero(np.diff(way) != 0) + 1
    for first, last in zip([0, *breaks.tolist()], [*breaks.tolist(), len(way)], strict=True):
        if way[first] == 0 or not _drawn(shown.line, first, last):
            continue
        climbs = abs(way[first]) == 2
        along, other = course[[first, last], int(climbs)], course[first : last + 1, int(not climbs)]
        yield Trace(
            shown=shown,
            plumb=bool(climbs),
            low=float(along.min()),
            high=float(along.max()),
            fixed=float(other.mean()),
            start_m=float(station[first]),
            rising=bool(way[first] > 0),
        )


def _drawn(line: JointLine, first: int, last: int) -> bool:
    """Tell whether a part of a line was drawn by itself, and is no chord of a curve."""
    return line.drawn is None or bool(np.isin((first, last), line.drawn).all())


def plumb_at(lines: Sequence[Shown], wall: Wall, reach_m: float) -> list[Trace]:
    """Return the plumb parts of lines in space that stand on a wall, or no further beside it than the reach."""
    if not lines:
        return []
    points = np.concatenate([shown.line.points_m for shown in lines])
    owner = np.repeat(np.arange(len(lines)), [len(shown.line.points_m) for shown in lines])
    step = np.diff(points, axis=0)
    climbs = np.flatnonzero(
        (owner[1:] == owner[:-1]) & (np.hypot(step[:, 0], step[:, 1]) <= _SLOPE * np.abs(step[:, 2]))
    )
    along, off = wall.project((points[climbs, :2] + points[climbs + 1, :2]) / 2)
    first = np.searchsorted(owner, owner[climbs])
    return [
        _plumb(lines[owner[i]], i - start, u, d)
        for i, start, u, d in zip(climbs.tolist(), first.tolist(), along.tolist(), off.tolist(), strict=True)
        if d <= reach_m
    ]


def _plumb(shown: Shown, segment: int, along_m: float, off_m: float) -> Trace:
    z = shown.line.points_m[segment : segment + 2, 2]
    return Trace(
        shown=shown,
        plumb=True,
        low=float(z.min()),
        high=float(z.max()),
        fixed=along_m,
        off_m=off_m,
        start_m=float(stations_m(shown.line.points_m[: segment + 1])[-1]),
        rising=bool(z[1] > z[0]),
    )


def levels_along(lines: Sequence[Shown], wall: Wall, reach_m: float) -> list[Trace]:
    """Return the parts of level lines in space that run along a wall, no further beside it than the reach."""
    strip = shapely.LineString(wall.points_m).buffer(reach_m, cap_style="flat")
    courses = shapely.linestrings(
        np.concatenate([shown.line.points_m[:, :2] for shown in lines]) if lines else np.empty((0, 2)),
        indices=np.repeat(np.arange(len(lines)), [len(shown.line.points_m) for shown in lines]),
    )
    near = np.flatnonzero(shapely.intersects(courses, strip)).tolist() if lines else []
    return [trace for i in near for trace in _levels(lines[i], courses[i].intersection(strip), wall)]


def may_run_along(line: JointLine) -> bool:
    """Tell whether a line is level and no joint of a slab."""
    in_wall = line.joint in {JointKind.WALL_BASE, JointKind.WALL, None}
    return in_wall and float(np.ptp(line.points_m[:, 2])) <= _SLOPE * line.length_m


def _levels(shown: Shown, near: BaseGeometry, wall: Wall) -> Iterator[Trace]:
    found: list[Interval] = []
    off_m = 0.0
    for part in shapely.get_parts(near):
        if part.geom_type == "LineString":
            intervals, beside = _along(shapely.get_coordinates(part), wall)
            found += intervals
            off_m = max([off_m, *beside])
    height = float(shown.line.points_m[:, 2].mean())
    for low, high in merged(found, gap=1e-6):
        yield Trace(shown=shown, plumb=False, low=low, high=high, fixed=height, off_m=off_m)


def _along(xy: Points, wall: Wall) -> tuple[list[Interval], list[float]]:
    """Return the stretches of a wall that a course runs along, and how far beside it."""
    u, d = wall.project(xy)
    size, length = np.linalg.norm(np.diff(xy, axis=0), axis=1), wall.length_m
    intervals, beside = [], []
    for i in range(len(u) - 1):
        low, high = sorted((float(u[i]), float(u[i + 1])))
        wraps = wall.ring and high - low > length / 2
        run = length - (high - low) if wraps else high - low
        if run > 0.9 * size[i]:
            intervals += [(0.0, low), (high, length)] if wraps else [(low, high)]
            beside.append(float(max(d[i], d[i + 1])))
    return intervals, beside
