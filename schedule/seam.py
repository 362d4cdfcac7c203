"""Seams and saw settings: how two strips are cut to meet on the plane that bisects them."""

from dataclasses import dataclass

__all__ = ["Cut"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One mitred saw cut on one piece of a fitting type.

    Attributes
    ----------
    mark : str
        ``"<fitting mark>-<number>"``, the same for every identical fitting.
    fitting : str
        Mark of the fitting type.
    piece : str
        Letter of the piece within the fitting, ``"A"``, ``"B"``…
    shape : str
        ``"end"`` (the whole end is one cut), ``"point"`` (one of the two cuts of a pointed end) or ``"notch"`` (one of
        the two cuts of a V notch in a through piece).
    turn_deg : float
        Angle between the two strips that meet on the seam [degrees], 0 to 180, measured between their headings.
    miter_deg, bevel_deg : float or None
        Saw settings from square, -90 to 90; positive miter turns the cut's long point toward *across*, positive bevel
        toward *through*. None where the drawing does not say how the strip lies.
    quantity : int
        Number of such cuts in all fittings of the type, >= 1.
    """

    mark: str
    fitting: str
    piece: str
    shape: str
    turn_deg: float
    miter_deg: float | None
    bevel_deg: float | None
    quantity: int
