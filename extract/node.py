"""Nodes: the places where the waterstop ends, turns, meets or crosses."""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from .finding import Source
from .line import Vector
from .whereabouts import Whereabouts

__all__ = ["Arm", "Node", "NodeKind", "Orientation", "classify", "narrowest_deg", "turns_deg"]


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
    whereabouts : tuple of Whereabouts
        Where the strips that meet here stand and when they are poured, each once, sorted; empty where nothing tells.
    """

    mark: str
    kind: NodeKind
    orientation: Orientation
    at_m: Vector
    turn_deg: float
    arms: tuple[Arm, ...]
    profiles: tuple[str, ...]
    sources: tuple[Source, ...]
    whereabouts: tuple[Whereabouts, ...] = ()


def classify(headings: NDArray[np.float64], limit_deg: float) -> tuple[list[NodeKind], NDArray[np.float64]]:
    """Tell the kind and the turn of nodes that all have the same number of arms.

    1. One arm: an end.
    2. Two arms that turn by more than the limit: a corner. Two that do not: other, since one strip that simply goes
       on is no node; something changes here, its profile or its lay.
    3. Three arms, two of them in line within the limit: a tee, the stem at any angle.
    4. Three arms, no two in line: a wye.
    5. Four arms in two in-line pairs: a cross, at any angle.
    6. Everything else: other.

    A ring's closure is told from its topology, not from its arms.

    Parameters
    ----------
    headings : NDArray[np.float64]
        Unit vectors pointing away from the node, shape (nodes, arms, 3).
    limit_deg : float
        Largest turn that is a bend [degrees].

    Returns
    -------
    kinds : list of NodeKind
    turn_deg : NDArray[np.float64]
        Turns as `Node.turn_deg` defines them, shape (nodes,).

    Examples
    --------
    >>> square = np.array([[[1.0, 0, 0], [0, 1.0, 0]]])
    >>> kinds, turn_deg = classify(square, 15.1)
    >>> kinds[0].value, turn_deg.round(6).tolist()
    ('corner', [90.0])
    """
    count, arms = headings.shape[:2]
    turn = turns_deg(headings)
    straightest = turn.min(axis=2) if arms > 1 else np.zeros((count, arms))
    if arms == 1:  # RULE 1
        return [NodeKind.END] * count, np.zeros(count)
    if arms == 2:  # RULE 2
        is_corner = turn[:, 0, 1] > limit_deg
        return [NodeKind.CORNER if corner else NodeKind.OTHER for corner in is_corner], turn[:, 0, 1]
    if arms == 3:  # RULES 3 and 4
        is_tee = straightest.min(axis=1) <= limit_deg
        kinds = [NodeKind.TEE if tee else NodeKind.WYE for tee in is_tee]
        return kinds, np.where(is_tee, _stem_deg(turn), straightest.max(axis=1))
    if arms == 4:  # RULE 5
        is_cross, crossing = _cross(turn, limit_deg)
        kinds = [NodeKind.CROSS if cross else NodeKind.OTHER for cross in is_cross]
        return kinds, np.where(is_cross, crossing, straightest.max(axis=1))
    return [NodeKind.OTHER] * count, straightest.max(axis=1)  # RULE 6


def turns_deg(headings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the turn from every arm into every other [degrees]; 0 is straight on, an arm into itself is infinite.

    Parameters
    ----------
    headings : NDArray[np.float64]
        Unit vectors pointing away from the node, shape (nodes, arms, 3).

    Returns
    -------
    NDArray[np.float64]
        Shape (nodes, arms, arms).
    """
    a, b = headings[:, :, None, :], headings[:, None, :, :]
    difference = np.linalg.norm(a - b, axis=3)
    total = np.linalg.norm(a + b, axis=3)
    turn: NDArray[np.float64] = np.degrees(2 * np.arctan2(total, difference))
    diagonal = np.arange(headings.shape[1])
    turn[:, diagonal, diagonal] = np.inf
    return turn


def narrowest_deg(headings: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the smallest angle between any two arms of each node [degrees]; 180 for nodes of one arm.

    Parameters
    ----------
    headings : NDArray[np.float64]
        Unit vectors pointing away from the node, shape (nodes, arms, 3).

    Returns
    -------
    NDArray[np.float64]
        Shape (nodes,).

    Examples
    --------
    >>> narrowest_deg(np.array([[[1.0, 0, 0], [0, 1.0, 0], [-1.0, 0, 0]]])).round(6).tolist()
    [90.0]
    """
    turn = turns_deg(headings)
    narrowest: NDArray[np.float64] = 180.0 - np.where(np.isinf(turn), 0.0, turn).max(axis=(1, 2))
    return narrowest


_PAIRINGS = (((0, 1), (2, 3)), ((0, 2), (1, 3)), ((0, 3), (1, 2)))


def _stem_deg(turn: NDArray[np.float64]) -> NDArray[np.float64]:
    """Angle between the stem and the through piece of three arms, 0 to 90 [degrees]."""
    stem = np.array([2, 1, 0])[np.argmin(turn[:, [0, 0, 1], [1, 2, 2]], axis=1)]
    rest = np.array([[1, 2], [0, 2], [0, 1]])[stem]
    here = np.arange(len(turn))
    angle: NDArray[np.float64] = np.minimum(turn[here, stem, rest[:, 0]], turn[here, stem, rest[:, 1]])
    return angle


def _cross(turn: NDArray[np.float64], limit_deg: float) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Tell which nodes of four arms are two in-line pairs, and the angle between the pairs [degrees]."""
    worst = np.stack([np.maximum(turn[:, i, j], turn[:, k, m]) for (i, j), (k, m) in _PAIRINGS], axis=1)
    best = np.argmin(worst, axis=1)
    angle = np.empty(len(turn))
    for number, ((i, _), (k, m)) in enumerate(_PAIRINGS):
        here = best == number
        angle[here] = np.minimum(turn[here, i, k], turn[here, i, m])
    return worst.min(axis=1) <= limit_deg, angle
