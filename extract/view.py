"""Views: what the rules say about each window on a flat sheet, and its place in space."""

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from .errors import RulesError
from .level import Level
from .selection import Selection

__all__ = ["Pick", "RiserRule", "SeenFrom", "SheetBook", "View", "ViewKind"]

Pick: TypeAlias = tuple[float, float]
"""A point picked on the sheet [drawing units]."""


class ViewKind(StrEnum):
    """What a window shows."""

    PLAN = "plan"
    ELEVATION = "elevation"
    DEVELOPED = "developed elevation"


class SeenFrom(StrEnum):
    """Where the viewer of an elevation stands."""

    INSIDE = "inside"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One view on a sheet, as the rules state it.

    Attributes
    ----------
    field : str
        Path of its table in the rules, ``"views[2]"``.
    name : str
        Its name.
    kind : ViewKind
        What it shows.
    scale : float
        Length in space over length on the sheet, > 0: 50 for 1:50.
    drawing : str
        Pattern of the files it belongs to.
    window : tuple of float or None
        Lower left corner, width and height of a rectangle [drawing units].
    outline : str or None
        Layer of the closed polyline that is the window.
    viewport : str or None
        Layout whose viewport is the window.
    turn_deg : float or None
        How far the view is turned on the sheet, counter-clockwise; None for the viewport's own turn, else 0.
    origin : Pick or None
        Plan: the point that stands for x = 0, y = 0 in space; None for the sheet's own origin.
    levels_m : tuple of float
        Plan: heights of lines whose layer tells none [m]; empty for the height they are drawn at.
    wall : tuple of Pick or None
        Elevation: the wall's two ends, picked on a plan.
    path : str or None
        Developed elevation: layer of the line on a plan along which it is unrolled.
    start : Pick or None
        Developed elevation: the point on plan, near the path, where the window's left edge starts on a ring; also
        tells which of several lines on the layer is meant.
    seen_from : SeenFrom or None
        Where the viewer stands; None where the wall's first end, or the path's, is at the left.
    inside : Pick or None
        A point on plan on the inner side of the wall, for walls whose plan does not tell.
    datum : Pick or None
        Elevation: the point on the sheet where the left end of the wall meets the datum line.
    datum_m : float
        Elevation: height of the datum line [m].
    """

    field: str
    name: str
    kind: ViewKind
    scale: float
    drawing: str = "*"
    window: tuple[float, float, float, float] | None = None
    outline: str | None = None
    viewport: str | None = None
    turn_deg: float | None = None
    origin: Pick | None = None
    levels_m: tuple[float, ...] = ()
    wall: tuple[Pick, Pick] | None = None
    path: str | None = None
    start: Pick | None = None
    seen_from: SeenFrom | None = None
    inside: Pick | None = None
    datum: Pick | None = None
    datum_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class RiserRule:
    """Which marks on a plan stand for a joint that climbs, and how far.

    Attributes
    ----------
    field : str
        Path of its table in the rules, ``"risers[1]"``.
    match : str
        Pattern of the layers of the marks.
    block : str or None
        Pattern of the names of blocks; None takes points, circles, ticks and every block.
    from_m : float or None
        Height of the foot [m]; None for the level of the plan.
    to_m, height_m : float or None
        Height of the top, or height above the foot [m].
    attribute : str or None
        Tag of the block attribute that states the height above the foot, before the other two.
    profile : str or None
        Profile of the strip; None for the one of the layer.
    """

    field: str
    match: str
    block: str | None = None
    from_m: float | None = None
    to_m: float | None = None
    height_m: float | None = None
    attribute: str | None = None
    profile: str | None = None

    def takes(self, layer: str, block: str | None) -> bool:
        """Tell whether a mark on a layer, a block of that name or none, is such a riser."""
        if not Selection(patterns=(self.match,)).selects([layer]):
            return False
        return self.block is None or (block is not None and Selection(patterns=(self.block,)).selects([block]))


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetBook:
    """All that the rules say about flat sheets.

    Attributes
    ----------
    file : str
        Name of the rules file.
    views : tuple of View
        At least one for each flat drawing.
    risers : tuple of RiserRule
        The first that takes a mark counts.
    levels : tuple of Level
        Heights by layer.
    tolerance_m : float
        Distance at which two points are one [m], > 0.
    match_m : float
        Distance up to which what two views show is one joint [m].
    tick_m : float
        Lines on plan up to this length, in space, are marks [m].
    """

    file: str
    views: tuple[View, ...]
    risers: tuple[RiserRule, ...] = ()
    levels: tuple[Level, ...] = ()
    tolerance_m: float
    match_m: float
    tick_m: float

    def views_of(self, file: str) -> tuple[View, ...]:
        """Return the views that a drawing holds."""
        return tuple(view for view in self.views if Selection(patterns=(view.drawing,)).selects([file]))

    def riser_of(self, layer: str, block: str | None) -> RiserRule | None:
        """Return the rule that takes a mark, or None."""
        return next((rule for rule in self.risers if rule.takes(layer, block)), None)

    def refusal(self, field: str, text: str) -> RulesError:
        """Make the error of a field that does not fit the drawing."""
        return RulesError(f"{self.file}: {field}: {text}")
