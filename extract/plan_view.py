"""Plans: lines on the sheet raised to their level, and points picked on a plan found in space."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from .level import levels_of_layer
from .line import JointKind, JointLine, Points
from .view import Pick, SheetBook, ViewKind
from .window import Window

__all__ = ["footprint_of", "on_plan", "plans_of", "raised", "spot_of"]


def plans_of(windows: Iterable[Window]) -> list[Window]:
    """Return the windows that show plans."""
    return [window for window in windows if window.view.kind is ViewKind.PLAN]


def on_plan(points_m: Points, window: Window) -> Points:
    """Map points of the sheet to places on plan [m], shape (k, 2); a closed line stays closed to the bit."""
    xy = window.to_view(points_m)
    if len(points_m) > 1 and (points_m[0] == points_m[-1]).all():
        xy[-1] = xy[0]
    return xy


def raised(line: JointLine, window: Window, book: SheetBook) -> list[JointLine]:
    """Raise a line of a plan to every level it lies on.

    1. The levels whose pattern takes the line's layer.
    2. Else the levels of the view.
    3. Else the height that the line itself is drawn at, which is true whatever the scale.

    Parameters
    ----------
    line : JointLine
        On the sheet.
    window : Window
        The plan it lies in.
    book : SheetBook

    Returns
    -------
    list of JointLine
        In space, one for each level.
    """
    xy = on_plan(line.points_m, window)
    heights = levels_of_layer(book.levels, line.source.layer) or window.view.levels_m  # RULES 1 and 2
    columns = [np.full(len(xy), height) for height in heights] or [line.points_m[:, 2]]  # RULE 3
    return [replace(line, points_m=np.column_stack([xy, z])) for z in columns]


def spot_of(pick: Pick, windows: Sequence[Window], metres: float) -> Points | None:
    """Return where on plan a point picked on the sheet lies [m], shape (2,); None where it lies on no plan."""
    at = np.array([pick]) * metres
    plan = next((window for window in plans_of(windows) if window.holds(at)[0]), None)
    return None if plan is None else plan.to_view(at)[0]


def footprint_of(lines: Sequence[JointLine], tolerance_m: float) -> BaseGeometry:
    """Return the area that the wall-base lines of plans enclose, all lines where none is known to be one."""
    bases = [line for line in lines if line.joint is JointKind.WALL_BASE] or list(lines)
    courses = [shapely.LineString(line.points_m[:, :2]) for line in bases]
    cells = shapely.polygonize([shapely.union_all(courses, grid_size=tolerance_m)])
    return shapely.union_all(cells.geoms)
