"""Splices: every weld of the barrier, shop or site, with its place and reason."""

from dataclasses import dataclass
from enum import StrEnum

from splicewright.extract.line import Vector

__all__ = ["Made", "Splice", "SpliceKind"]


class Made(StrEnum):
    """Who makes a splice."""

    FACTORY = "factory"
    FIELD = "field"


class SpliceKind(StrEnum):
    """How a splice is cut and why it is there."""

    SEAM = "seam"
    """Mitred seam of a fitting or, where everything is made on site, of a node."""
    LEG = "leg"
    """Butt between a fitting's leg and a piece from the roll."""
    LEG_TO_LEG = "leg to leg"
    """Butt where the legs of two fittings meet."""
    PIECE = "piece"
    """Butt between two pieces inside a run."""
    CLOSURE = "closure"
    """Butt that closes a ring."""
    TRANSITION = "transition"
    """In-line meeting of two profiles or lays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice:
    """One weld.

    Attributes
    ----------
    mark : str
        ``"S1"``, ``"S2"``…; field splices first, in the order they are made, then factory splices by fitting.
    made : Made
        In the shop or on site.
    kind : SpliceKind
        How it is cut and why it is there.
    at_m : Vector
        Place [m].
    profile : str
        Profile (the wider where two meet).
    run : str or None
        Run it lies in, None for seams.
    node : str or None
        Node it lies at, for seams, closures and transitions.
    fitting : str or None
        Fitting type it belongs to or whose leg it joins.
    reason : str
        One short phrase: why there is a splice here.
    minutes : float or None
        Time on site [min]; None for factory splices.
    crew, day : int or None
        Crew and its working day, from 1; None for factory splices.
    """

    mark: str
    made: Made
    kind: SpliceKind
    at_m: Vector
    profile: str
    run: str | None
    node: str | None
    fitting: str | None
    reason: str
    minutes: float | None = None
    crew: int | None = None
    day: int | None = None
