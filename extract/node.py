"""Nodes: the places where the waterstop ends, turns, meets or crosses."""

from dataclasses import dataclass
from enum import StrEnum

from .finding import Source
from .line import Vector

__all__ = ["Arm", "Node", "NodeKind", "Orientation"]


class NodeKind(StrEnum):
    """What happens at a node; `classify` holds the rules."""

    END = "end"
    CORNER = "corner"
    TEE = "tee"
    WYE = "wye"
    CROSS = "cross"
    CLOSURE = "closure"
    OTHER = "other"


class Orientation(StrEnum):
    """How the strip turns at a node, relative to how it lies."""

    FLAT = "flat"
    VERTICAL = "vertical"
    COMPOUND = "compound"
    UNKNOWN = "unknown"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Arm:
    """One strip leaving a node.

    Attributes
    ----------
    run : str
        Mark of the run.
    at_start : bool
        Whether this is the run's start (True) or its end (False).
    heading : Vector
        Unit vector along the strip, pointing away from the node.
    across : Vector or None
        Unit vector across the strip's width at the node, either of the two senses; None where not known.
    """

    run: str
    at_start: bool
    heading: Vector
    across: Vector | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """A place where the waterstop ends, turns, meets or crosses.

    Attributes
    ----------
    mark : str
        Unique in the job, ``"N1"``, ``"N2"``… in the order of sorted coordinates.
    kind : NodeKind
        What happens here.
    orientation : Orientation
        How the strip turns here.
    at_m : Vector
        Place [m], world coordinates of the drawing.
    turn_deg : float
        Corner: angle between the directions before and after, 0 to 180. Tee: angle between the stem and the
        through piece, 0 to 90. Cross: angle between the two through pieces, 0 to 90. Otherwise the largest
        turn between any arm and the one most nearly opposite to it; 0 for ends and closures.
    arms : tuple of Arm
        Strips leaving here, sorted by heading in plan, counter-clockwise from east, then by slope.
    profiles : tuple of str
        Names of the profiles that meet here, sorted; "" stands for a line without one.
    sources : tuple of Source
        The drawn entities that meet here.
    """

    mark: str
    kind: NodeKind
    orientation: Orientation
    at_m: Vector
    turn_deg: float
    arms: tuple[Arm, ...]
    profiles: tuple[str, ...]
    sources: tuple[Source, ...]
