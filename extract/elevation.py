"""Elevations: the wall that a window shows, and lines on the sheet folded back onto it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .excerpt import excerpt, merged, stations_m
from .finding import Finding, Severity
from .line import JointKind, JointLine, Points, vector
from .plan_view import on_plan, plans_of, spot_of
from .sheet_part import SheetParts
from .view import SeenFrom, SheetBook, View
from .wall import Wall, start_at
from .window import Window

__all__ = ["Folded", "fold", "wall_of"]

_BESIDE_M = 0.05  # how far beside a wall its two sides are looked at


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Folded:
    """A line of an elevation in space.

    Attributes
    ----------
    line : JointLine
        In space.
    course_m : Points
        The same vertices along the wall and in height [m], shape (n, 2).
    """

    line: JointLine
    course_m: Points


def wall_of(
    window: Window, windows: Sequence[Window], footprint: BaseGeometry, parts: SheetParts, book: SheetBook
) -> Wall:
    """Find the wall that an elevation shows, from the left end of the window to the right.

    1. Without a direction of view, the wall's first end, or the path's, is at the left.
    2. From outside, the inner side lies to the left of the way from the left end to the right; from inside, to the
       right.
    3. The inner side of a ring is what it encloses; of another wall the side of the picked point, else the side that
       the wall-base lines of the plan enclose.

    Parameters
    ----------
    window : Window
        Of the elevation.
    windows : sequence of Window
        All of the sheet; picked points and paths lie on its plans.
    footprint : BaseGeometry
        What the wall-base lines of the plans enclose.
    parts : SheetParts
    book : SheetBook

    Returns
    -------
    Wall

    Raises
    ------
    RulesError
        A picked point lies on no plan, the wall has no length, the path is not found or is several, or nothing tells
        which side of the wall is inside.
    """
    view = window.view
    wall = _straight(view, windows, parts, book) if view.wall else _along_path(view, windows, parts, book)
    if view.seen_from is not None:  # RULE 1
        inside_left = _inside_left(wall, view, windows, footprint, parts, book)
        if inside_left is not (view.seen_from is SeenFrom.OUTSIDE):  # RULE 2
            wall = wall.reversed()
    if view.start is not None and wall.ring:
        wall = start_at(wall, _spot(view, "start", windows, parts, book))
    return wall


def _spot(view: View, name: str, windows: Sequence[Window], parts: SheetParts, book: SheetBook) -> Points:
    pick = getattr(view, name)
    spot = spot_of(pick, windows, parts.metres)
    if spot is None:
        x, y = pick
        raise book.refusal(f"{view.field}.{name}", f"({x:g}, {y:g}) lies in the window of no plan; pick it on one")
    return spot


def _straight(view: View, windows: Sequence[Window], parts: SheetParts, book: SheetBook) -> Wall:
    field, ends = f"{view.field}.wall", []
    for x, y in view.wall or ():
        spot = spot_of((x, y), windows, parts.metres)
        if spot is None:
            raise book.refusal(field, f"the end ({x:g}, {y:g}) lies in the window of no plan; pick it on one")
        ends.append(spot)
    if float(np.linalg.norm(ends[1] - ends[0])) <= book.tolerance_m:
        raise book.refusal(field, "the wall has no length; pick its two ends")
    return Wall(points_m=np.array(ends), drawn=np.ones(2, np.bool_))


def _along_path(view: View, windows: Sequence[Window], parts: SheetParts, book: SheetBook) -> Wall:
    field, layer = f"{view.field}.path", view.path or ""
    lines = parts.lines.get(layer)
    if lines is None:
        raise book.refusal(field, f"the drawing has no layer {layer!r}; name the layer of the path")
    courses = [
        Wall(points_m=xy, drawn=_drawn(line))
        for line in lines
        for plan in plans_of(windows)
        if plan.holds(line.points_m).all()
        for xy in (on_plan(line.points_m, plan),)
    ]
    walls = [wall for wall in _joined(courses, book.tolerance_m) if wall.length_m > book.tolerance_m]
    if not walls:
        raise book.refusal(field, f"no line on layer {layer!r} lies on a plan; draw the path there")
    if len(walls) > 1 and view.start is None:
        text = f"{len(walls)} lines on layer {layer!r} lie on plans; tell with start = [x, y] which is the path"
        raise book.refusal(field, text)
    if view.start is None:
        return walls[0]
    spot = _spot(view, "start", windows, parts, book)
    return min(walls, key=lambda wall: float(wall.project(spot[None])[1][0]))


def _drawn(line: JointLine) -> "np.ndarray[tuple[int, ...], np.dtype[np.bool_]]":
    drawn = np.ones(len(line.points_m), np.bool_)
    if line.drawn is not None:
        drawn[:] = False
        drawn[line.drawn] = True
    return drawn


def _joined(walls: Sequence[Wall], tolerance_m: float) -> list[Wall]:
    """Join lines that meet end to end, and close those that come back to their start."""
    left, made = list(walls), []
    while left:
        wall = left.pop(0)
        grown = True
        while grown and not wall.ring:
            grown = False
            for other in left:
                joined = _link(wall, other, tolerance_m)
                if joined is not None:
                    left.remove(other)
                    wall, grown = joined, True
                    break
        ends = wall.points_m[[0, -1]]
        if not wall.ring and len(wall.points_m) > 3 and np.linalg.norm(ends[1] - ends[0]) <= tolerance_m:
            wall = Wall(points_m=np.vstack([wall.points_m[:-1], ends[:1]]), drawn=wall.drawn)
        made.append(wall)
    return made


def _link(one: Wall, two: Wall, tolerance_m: float) -> Wall | None:
    if two.ring:
        return None
    for first, second in (
        (one, two),
        (one, two.reversed()),
        (one.reversed(), two),
        (one.reversed(), two.reversed()),
    ):
        if np.linalg.norm(first.points_m[-1] - second.points_m[0]) <= tolerance_m:
            points = np.vstack([first.points_m, second.points_m[1:]])
            joined = Wall(points_m=points, drawn=np.concatenate([first.drawn, second.drawn[1:]]))
            return joined if first.points_m is one.points_m else joined.reversed()
    return None


def _inside_left(
    wall: Wall, view: View, windows: Sequence[Window], footprint: BaseGeometry, parts: SheetParts, book: SheetBook
) -> bool:
    """Tell whether the inner side of a wall lies to its left."""
    if wall.ring:  # RULE 3
        return wall.encloses_left
    if view.inside is not None:
        return wall.left_of(_spot(view, "inside", windows, parts, book))
    middle = np.array([wall.length_m / 2])
    (at,), (along,) = wall.at(middle), wall.direction(middle)
    if np.isnan(along).any():  # the middle is a corner
        middle = (wall.station_m[:1] + wall.station_m[1:2]) / 2
        (at,), (along,) = wall.at(middle), wall.direction(middle)
    aside = np.array([-along[1], along[0]]) * _BESIDE_M
    left, right = (bool(shapely.contains_xy(footprint, *(at + sign * aside))) for sign in (1, -1))
    if left == right:
        where = "both sides of the wall lie" if left else "neither side of the wall lies"
        text = f"missing: {where} within the walls on plan; pick a point on plan on the side that is inside"
        raise book.refusal(f"{view.field}.inside", text)
    return left


def fold(line: JointLine, window: Window, wall: Wall, tolerance_m: float) -> tuple[list[Folded], list[Finding]]:
    """Fold a line of an elevation back onto its wall.

    What runs past the wall's ends by more than the tolerance is cut off and told.

    Parameters
    ----------
    line : JointLine
        On the sheet.
    window : Window
        The elevation it lies in.
    wall : Wall
        What it shows, from the window's left to its right.
    tolerance_m : float
        Distance at which two points are one [m].

    Returns
    -------
    list of Folded
        Parts on the wall.
    list of Finding
        ``beyond-wall``.
    """
    course = window.to_view(line.points_m)
    course[:, 1] += window.view.datum_m
    for end in (0.0, wall.length_m):
        course[np.abs(course[:, 0] - end) <= tolerance_m, 0] = end
    if line.closed:
        course[-1] = course[0]
    flat = replace(line, points_m=np.column_stack([course, np.zeros(len(course))]))
    kept = _on_wall(flat, wall.length_m)
    folded = [_folded(part, wall) for part in kept]
    over_m = flat.length_m - sum(part.length_m for part in kept)
    if over_m <= tolerance_m:
        return folded, []
    return folded, [_beyond(flat, wall, window.view, over_m)]


def _on_wall(flat: JointLine, length_m: float) -> list[JointLine]:
    """Cut a line in wall coordinates at the wall's ends."""
    u = flat.points_m[:, 0]
    if ((u >= 0) & (u <= length_m)).all():
        return [flat]
    station = stations_m(flat.points_m)
    cuts = [station]
    for end in (0.0, length_m):
        crosses = np.flatnonzero((u[:-1] - end) * (u[1:] - end) < 0)
        share = (end - u[crosses]) / (u[crosses + 1] - u[crosses])
        cuts.append(station[crosses] + share * np.diff(station)[crosses])
    stops = np.unique(np.concatenate(cuts))
    middle = np.interp((stops[:-1] + stops[1:]) / 2, station, u)
    inside = np.flatnonzero((middle > 0) & (middle < length_m))
    parts = merged([(float(stops[i]), float(stops[i + 1])) for i in inside], gap=1e-9)
    return [excerpt(flat, low, high) for low, high in parts if high - low > 1e-6]


def _folded(flat: JointLine, wall: Wall) -> Folded:
    """Put a line in wall coordinates into space, with a vertex at each of the wall's."""
    course, drawn = _with_bends(flat, wall)
    direction = wall.direction((course[:-1, 0] + course[1:, 0]) / 2)
    du, dz = np.diff(course, axis=0).T
    size = np.maximum(np.hypot(du, dz), 1e-12)
    across = np.column_stack([direction * (-dz / size)[:, None], du / size])
    points = np.column_stack([wall.at(course[:, 0]), course[:, 1]])
    if flat.closed:
        points[-1] = points[0]
    joint = flat.joint or _joint(du, dz)
    return Folded(line=replace(flat, points_m=points, drawn=drawn, joint=joint, across=across), course_m=course)


def _with_bends(flat: JointLine, wall: Wall) -> "tuple[Points, np.ndarray[tuple[int, ...], np.dtype[np.intp]]]":
    """Insert the wall's vertices that a line passes."""
    course, station = flat.points_m[:, :2], wall.station_m
    own, rows, marks = _drawn(flat), [course[:1]], [_drawn(flat)[:1]]
    for i in range(len(course) - 1):
        (u, z), (v, w) = course[i].tolist(), course[i + 1].tolist()
        low, high = np.searchsorted(station, (min(u, v) + 1e-6, max(u, v) - 1e-6))
        inner = np.arange(low, max(low, high))
        inner = inner if u < v else inner[::-1]
        if len(inner):
            share = (station[inner] - u) / (v - u)
            rows.append(np.column_stack([station[inner], z + share * (w - z)]))
            marks.append(wall.drawn[inner])
        rows.append(course[i + 1 : i + 2])
        marks.append(own[i + 1 : i + 2])
    return np.vstack(rows), np.flatnonzero(np.concatenate(marks)).astype(np.intp)


def _joint(du: Points, dz: Points) -> JointKind | None:
    """Tell the joint kind that an elevation shows: a plumb line is a wall joint, a level one is on a wall's base."""
    if (np.abs(du) <= 0.05 * np.abs(dz)).all():
        return JointKind.WALL
    return JointKind.WALL_BASE if (np.abs(dz) <= 0.05 * np.abs(du)).all() else None


def _beyond(flat: JointLine, wall: Wall, view: View, over_m: float) -> Finding:
    left = flat.points_m[np.argmin(flat.points_m[:, 0])]
    right = flat.points_m[np.argmax(flat.points_m[:, 0])]
    end = right if right[0] > wall.length_m else left
    u = np.clip(end[:1], 0, wall.length_m)
    return Finding(
        code="beyond-wall",
        severity=Severity.WARNING,
        message=f"{flat.source} runs {over_m * 1000:.0f} mm past the end of the wall in view {view.name!r}, which is "
        f"{wall.length_m:.3f} m long on plan; that part was left out. Mend the view's wall, path, scale or datum, or "
        "the line.",
        at_m=vector(np.array([*wall.at(u)[0], end[1]])),
        sources=(flat.source,),
    )
