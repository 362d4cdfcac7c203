"""Risers: marks on a plan that stand for a joint climbing its wall."""

from collections.abc import Sequence

import numpy as np
import shapely

from .finding import Finding, Severity, place_text
from .line import JointKind, JointLine, Points, vector
from .plan_view import on_plan
from .sheet_part import SheetMark
from .unit import parse_length
from .view import RiserRule, SheetBook
from .wall import Wall
from .window import Window

__all__ = ["WallBases", "climb"]


class WallBases:
    """The wall-base lines of all plans, to be asked for the one nearest to a mark."""

    def __init__(self, lines: Sequence[JointLine]) -> None:
        courses = [_wall(line) for line in lines if line.joint is JointKind.WALL_BASE]
        self._walls = courses
        self._tree = shapely.STRtree([shapely.LineString(wall.points_m) for wall in courses])

    def nearest(self, xy_m: Points, reach_m: float) -> tuple[Points, Points | None, float] | None:
        """Return the place on the nearest line, the direction there and its distance; None beyond the reach.

        The direction is None at a corner, and where lines of several directions are equally near.
        """
        point = shapely.Point(xy_m)
        near = self._tree.query(point, predicate="dwithin", distance=reach_m).tolist()
        if not near:
            return None
        feet = [
            (float(off[0]), wall, u) for wall in (self._walls[i] for i in near) for u, off in [wall.project(xy_m[None])]
        ]
        least = min(off for off, _, _ in feet)
        ways = [wall.direction(u)[0] for off, wall, u in feet if off <= least + 1e-3]
        same = not np.isnan(ways).any() and all(abs(float(way @ ways[0])) > 0.999 for way in ways)
        off, wall, u = min(feet, key=lambda foot: foot[0])
        return wall.at(u)[0], (ways[0] if same else None), off

    def crossing(self, tick_m: Points) -> Points | None:
        """Return where a tick crosses a line, shape (2,); None where it crosses none or several."""
        tick = shapely.LineString(tick_m)
        met = [shapely.LineString(self._walls[i].points_m).intersection(tick) for i in self._tree.query(tick).tolist()]
        points = [np.array(place.coords[0]) for place in met if place.geom_type == "Point"]
        return points[0] if len(points) == 1 else None


def _wall(line: JointLine) -> Wall:
    xy = line.points_m[:, :2]
    keep = np.append(True, (np.diff(xy, axis=0) != 0).any(axis=1))
    return Wall(points_m=xy[keep], drawn=np.ones(int(keep.sum()), np.bool_))


def climb(
    mark: SheetMark, window: Window, rule: RiserRule, bases: WallBases, book: SheetBook, metres: float
) -> tuple[list[JointLine], list[Finding]]:
    """Turn a mark into the joints that climb there.

    1. It stands where a tick crosses a wall-base line, else at its middle, drawn onto the nearest wall-base line
       within the distance up to which views match.
    2. Its foot is the rule's, else the plan's own levels, one joint for each.
    3. Its height is the block attribute's, else the rule's, else it ends at the rule's level.
    4. Its width lies along that wall-base line; beyond reach of all it stands as marked and its lay stays open.

    Parameters
    ----------
    mark : SheetMark
    window : Window
        The plan it stands on.
    rule : RiserRule
    bases : WallBases
    book : SheetBook
    metres : float
        Length of a drawing unit [m]; attributes without a unit are written in it, at true size.

    Returns
    -------
    list of JointLine
    list of Finding
        ``riser-astray`` and ``riser-unread``.
    """
    course = on_plan(mark.points_m, window)
    middle = course.mean(axis=0)
    crossed = bases.crossing(course) if len(course) > 1 else None
    at = middle if crossed is None else crossed  # RULE 1
    spans, findings = _spans(mark, window, rule, metres)
    near = bases.nearest(at, book.match_m)
    if near is None:
        findings.append(_astray(mark, window, (at[0], at[1], spans[0][0] if spans else 0.0)))
        place, along = at, None
    else:
        place, along = near[:2]
    across = None if along is None else np.array([[*along, 0.0]])  # RULE 4
    lines = [
        JointLine(
            source=mark.source,
            points_m=np.array([[*place, low], [*place, high]]),
            profile=rule.profile or mark.profile,
            joint=JointKind.WALL,
            across=across,
        )
        for low, high in spans
    ]
    return lines, findings


def _spans(
    mark: SheetMark, window: Window, rule: RiserRule, metres: float
) -> tuple[list[tuple[float, float]], list[Finding]]:
    """Return from which height to which the joint climbs, and what is wrong with the mark."""
    feet = (rule.from_m,) if rule.from_m is not None else window.view.levels_m  # RULE 2
    written = mark.attributes.get(rule.attribute.upper(), "").strip() if rule.attribute else ""
    height = rule.height_m
    if written:  # RULE 3
        height = _height(written, metres)
        if height is None:
            return [], [_unread(mark, f"its attribute {rule.attribute} says {written!r}, which is no height")]
    tops = [foot + height if height is not None else rule.to_m for foot in feet]
    spans = [(foot, top) for foot, top in zip(feet, tops, strict=True) if top is not None and top > foot]
    if not spans:
        return [], [_unread(mark, "nothing tells a top above its foot")]
    return spans, []


def _height(written: str, metres: float) -> float | None:
    try:
        height = float(written) * metres
    except ValueError:
        try:
            height = parse_length(written)
        except ValueError:
            return None
    return height if 0 < height < 1e6 else None


def _astray(mark: SheetMark, window: Window, at: tuple[float, float, float]) -> Finding:
    at_m = vector(np.array(at, float))
    return Finding(
        code="riser-astray",
        severity=Severity.WARNING,
        message=f"{mark.source} marks a riser in view {window.view.name!r} at {place_text(at_m)}, which lies on no "
        "wall-base line; its strip's lay stays open. Move it onto its wall.",
        at_m=at_m,
        sources=(mark.source,),
    )


def _unread(mark: SheetMark, why: str) -> Finding:
    return Finding(
        code="riser-unread",
        severity=Severity.WARNING,
        message=f"{mark.source} marks a riser, but {why}; it was left out. Give its height.",
        sources=(mark.source,),
    )
