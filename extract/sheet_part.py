"""Parts of a sheet that are no joint lines but tell how to read it: lines by layer, viewports, texts, marks."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .finding import Source
from .line import JointLine, Points

__all__ = ["SheetMark", "SheetParts", "SheetText", "SheetViewport"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetMark:
    """A symbol on a plan that may stand for a joint climbing the wall.

    Attributes
    ----------
    source : Source
        The entity.
    points_m : Points
        One point for a symbol, two for the ends of a tick, on the sheet [m], shape (1 or 2, 3).
    block : str or None
        Name of the block, None for other entities.
    profile : str or None
        Profile that the selection gives its layer.
    attributes : Mapping of str to str
        Attributes of the block, tags in upper case.
    """

    source: Source
    points_m: Points
    block: str | None = None
    profile: str | None = None
    attributes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetText:
    """A text on the sheet.

    Attributes
    ----------
    text : str
        What it says.
    at_m : Points
        Where it stands on the sheet [m], shape (3,).
    height_m : float
        Height of its letters on the sheet [m].
    """

    text: str
    at_m: Points
    height_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetViewport:
    """What a viewport of a layout shows of model space.

    Attributes
    ----------
    corners_m : Points
        Corners of what it shows, from its lower left one counter-clockwise [m], shape (4, 2).
    turn_deg : float
        How far what is level in the viewport is turned in model space, counter-clockwise.
    """

    corners_m: Points
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetParts:
    """What views and risers need of a drawing.

    Attributes
    ----------
    metres : float
        Length of a drawing unit [m].
    lines : Mapping of str to tuple of JointLine
        Lines on each layer that a view names, hidden or not, by the name the view uses; no entry where the drawing
        has no such layer.
    viewports : Mapping of str to tuple of SheetViewport
        Viewports of each layout that a view names, by the name the view uses; no entry where there is no such layout.
    texts : tuple of SheetText
        Texts in model space.
    """

    metres: float
    lines: Mapping[str, tuple[JointLine, ...]]
    viewports: Mapping[str, tuple[SheetViewport, ...]]
    texts: tuple[SheetText, ...] = ()
