"""Windows: the part of a sheet that a view takes, and how its points map into the view and back."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from .line import JointLine, Points
from .sheet_part import SheetParts
from .view import SheetBook, View, ViewKind

__all__ = ["Window", "windows_of"]

_EDGE = 1e-9  # part of its size by which a window is grown, so that what lies on its edge lies in it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Window:
    """A view's part of the sheet.

    Attributes
    ----------
    view : View
        What the rules say.
    outline_m : Points
        Corners on the sheet [m], shape (k, 2), k >= 3.
    anchor_m : Points
        The point on the sheet that is (0, 0) in the view [m], shape (2,).
    turn_deg : float
        How far the view is turned on the sheet, counter-clockwise.
    area : shapely.Polygon
        The outline as an area, grown by a hair [m].
    """

    view: View
    outline_m: Points
    anchor_m: Points
    turn_deg: float
    area: shapely.Polygon = field(init=False, repr=False)

    def __post_init__(self) -> None:
        edge_m = _EDGE * float(np.ptp(self.outline_m, axis=0).max())
        area = shapely.Polygon(self.outline_m).buffer(edge_m, join_style="mitre")
        shapely.prepare(area)
        object.__setattr__(self, "area", area)  # worked out once, since every line and mark is asked for

    def holds(self, sheet_m: Points) -> NDArray[np.bool_]:
        """Tell which points of the sheet lie in the window, its edge included, shape (k,)."""
        inside: NDArray[np.bool_] = shapely.contains_xy(self.area, sheet_m[:, 0], sheet_m[:, 1])
        return inside

    def to_view(self, sheet_m: Points) -> Points:
        """Map points of the sheet into the view, at true size [m], shape (k, 2)."""
        mapped: Points = (sheet_m[:, :2] - self.anchor_m) @ self._axes.T * self.view.scale
        return mapped

    def to_sheet(self, view_m: Points) -> Points:
        """Map points of the view back onto the sheet [m], shape (k, 2)."""
        mapped: Points = view_m @ self._axes / self.view.scale + self.anchor_m
        return mapped

    @property
    def _axes(self) -> Points:
        if self.turn_deg % 90 == 0:  # to the bit
            cosine, sine = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][round(self.turn_deg / 90) % 4]
        else:
            cosine, sine = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return np.array([[cosine, sine], [-sine, cosine]])


def windows_of(views: Sequence[View], parts: SheetParts, book: SheetBook) -> tuple[Window, ...]:
    """Find the window of every view on the sheet.

    Parameters
    ----------
    views : sequence of View
    parts : SheetParts
    book : SheetBook
        Names the rules file in errors.

    Returns
    -------
    tuple of Window
        One for each view.

    Raises
    ------
    RulesError
        A window's layer or layout is not there, or holds no closed polyline or viewport, or several that nothing
        tells apart.
    """
    return tuple(_window(view, parts, book) for view in views)


def _window(view: View, parts: SheetParts, book: SheetBook) -> Window:
    turn_deg = view.turn_deg or 0.0
    if view.window is not None:
        x, y, width, height = view.window
        c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        across, up = np.array([c, s]) * width, np.array([-s, c]) * height
        low = np.array([x, y])
        outline = np.array([low, low + across, low + across + up, low + up]) * parts.metres
    elif view.outline is not None:
        outline = _outline(view, view.outline, parts, book)
    else:
        outline, shown_deg = _viewport(view, view.viewport or "", parts, book)
        turn_deg = shown_deg if view.turn_deg is None else turn_deg
    anchor = view.origin if view.kind is ViewKind.PLAN else view.datum
    return Window(
        view=view, outline_m=outline, anchor_m=np.array(anchor or (0.0, 0.0)) * parts.metres, turn_deg=turn_deg
    )


def _outline(view: View, layer: str, parts: SheetParts, book: SheetBook) -> Points:
    """Find the closed polyline on a layer; of several the one that holds the view's name as a text."""
    field = f"{view.field}.outline"
    lines = parts.lines.get(layer)
    if lines is None:
        raise book.refusal(field, f"the drawing has no layer {layer!r}; name the layer of the window's polyline")
    closed = [line for line in lines if line.closed and shapely.Polygon(line.points_m[:, :2]).area > 0]
    if not closed:
        what = f"the polyline {lines[0].source.entity} is open; close it" if lines else "it holds no polyline; draw one"
        raise book.refusal(field, f"no closed polyline lies on layer {layer!r}: {what}")
    if len(closed) > 1:
        closed = [line for line in closed if _names(line, view, parts)]
        if len(closed) != 1:
            found = "none of them holds" if not closed else "several of them hold"
            text = f"several closed polylines lie on layer {layer!r}, and {found} the text {view.name!r}"
            raise book.refusal(field, f"{text}; write the view's name into its window")
    outline: Points = closed[0].points_m[:-1, :2]
    return outline


def _names(line: JointLine, view: View, parts: SheetParts) -> bool:
    named = [text.at_m for text in parts.texts if text.text.strip().casefold() == view.name.casefold()]
    area = shapely.Polygon(line.points_m[:, :2])
    return any(bool(area.contains(shapely.Point(at[:2]))) for at in named)


def _viewport(view: View, layout: str, parts: SheetParts, book: SheetBook) -> tuple[Points, float]:
    field, found = f"{view.field}.viewport", parts.viewports.get(layout)
    if found is None:
        raise book.refusal(field, f"the drawing has no layout {layout!r}; name one of its layouts")
    if len(found) != 1:
        count = "no viewport" if not found else f"{len(found)} viewports"
        raise book.refusal(field, f"layout {layout!r} holds {count}; give the window as a rectangle or a polyline")
    return found[0].corners_m, found[0].turn_deg
