"""Connections: lines whose ends a model declares to meet, carried on to the place where they do.

Programs draw the axes of joined walls and members to their faces, so that they stop short of each other, or run past,
by about half a thickness. Where the model says which end meets which element, and how, the ends are moved along their
own lines to the crossing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from .finding import Finding, Severity
from .ifc_entity import Entity, Model
from .ifc_file import DAMAGE
from .line import JointLine, Points

__all__ = ["connected"]

_MET_M = 1e-6
"""Ends this close to their crossing are there already [m]."""
_END_OF = {"ATSTART": 0, "ATEND": -1}


def connected(
    model: Model, lines: Sequence[JointLine], numbers: Sequence[int]
) -> tuple[list[JointLine], tuple[Finding, ...]]:
    """Carry the ends that a model declares to meet on to where they do.

    An end moves along its own last stretch, by no more than both thicknesses together reach at their angle, and only
    where the two lines cross in one plane.

    Parameters
    ----------
    model : Model
        The model.
    lines : sequence of JointLine
        The lines that were read.
    numbers : sequence of int
        Number of the element that each was read from; an element of several lines is left alone.

    Returns
    -------
    lines : list of JointLine
    findings : tuple of Finding
        ``connection-closed``, one for each element type of which ends were moved.
    """
    moved = list(lines)
    place: dict[int, int] = {}
    for index, number in enumerate(numbers):
        place[number] = -1 if number in place else index
    gaps: list[tuple[JointLine, float]] = []
    for one, two, ends in _declared(model):
        pair = (place.get(one, -1), place.get(two, -1))
        if min(pair) >= 0 and pair[0] != pair[1]:
            gaps += _close(moved, pair, ends)
    return moved, tuple(_findings(gaps))


def _declared(model: Model) -> Iterator[tuple[int, int, tuple[str, str]]]:
    """Yield the numbers of two elements and where on each they meet."""
    try:
        relations: Sequence[Entity] = model.by_type("IfcRelConnectsPathElements")
    except DAMAGE:
        return
    for relation in sorted(relations, key=lambda relation: relation.id()):
        try:
            ends = (relation.RelatingConnectionType, relation.RelatedConnectionType)
            yield relation.RelatingElement.id(), relation.RelatedElement.id(), ends
        except DAMAGE:
            continue


def _close(lines: list[JointLine], pair: tuple[int, int], ends: tuple[str, str]) -> Iterator[tuple[JointLine, float]]:
    """Move the ends of two lines to their crossing; yield each line that was moved, and how far [m]."""
    if not set(ends) & set(_END_OF):
        return
    one, two = (_stretch(lines[i], end, lines[j]) for i, j, end in _both(pair, ends))
    crossing = _crossing(one, two)
    if crossing is None:
        return
    u, v = one[1] - one[0], two[1] - two[0]
    sine = float(np.linalg.norm(np.cross(u, v)) / (np.linalg.norm(u) * np.linalg.norm(v)))
    reach_m = sum(lines[index].thickness_m or 0.0 for index in pair) / sine
    for index, end in zip(pair, ends, strict=True):
        at = _END_OF.get(end)
        if at is None:
            continue
        line = lines[index]
        gap_m = float(np.linalg.norm(line.points_m[at] - crossing))
        if line.closed or not _MET_M < gap_m <= reach_m or not _leaves_a_line(line, at, crossing):
            continue
        points = line.points_m.copy()
        points[at] = crossing
        lines[index] = replace(line, points_m=points)
        yield line, gap_m


def _both(pair: tuple[int, int], ends: tuple[str, str]) -> Iterator[tuple[int, int, str]]:
    yield pair[0], pair[1], ends[0]
    yield pair[1], pair[0], ends[1]


def _stretch(line: JointLine, end: str, other: JointLine) -> Points:
    """Return the two points of the stretch that meets: the last one, or on the way the one nearest to the other."""
    points = line.points_m
    if end in _END_OF:
        return points[:2] if _END_OF[end] == 0 else points[-2:]
    step = np.diff(points, axis=0)
    tips = other.points_m[[0, -1]]
    share = np.clip(
        np.einsum("tsj,sj->ts", tips[:, None] - points[:-1], step) / np.einsum("ij,ij->i", step, step), 0.0, 1.0
    )
    gap = np.linalg.norm(points[:-1] + step * share[..., None] - tips[:, None], axis=2).min(axis=0)
    best = int(np.argmin(gap))
    return points[best : best + 2]


def _crossing(one: Points, two: Points) -> Points | None:
    """Return where two stretches, drawn on, cross in one plane; None where they do not."""
    u, v, w = one[1] - one[0], two[1] - two[0], two[0] - one[0]
    normal = np.cross(u, v)
    square = float(normal @ normal)
    if square <= 1e-6 * float(u @ u) * float(v @ v):
        return None
    if abs(float(w @ normal)) > 1e-3 * float(np.sqrt(square)):  # more than a millimetre past each other
        return None
    crossing: Points = one[0] + u * (float(np.cross(w, v) @ normal) / square)
    return crossing


def _leaves_a_line(line: JointLine, at: int, crossing: Points) -> bool:
    """Tell whether the stretch keeps its direction when its end moves."""
    inner = line.points_m[1 if at == 0 else -2]
    return float((line.points_m[at] - inner) @ (crossing - inner)) > 0


def _findings(gaps: Sequence[tuple[JointLine, float]]) -> Iterator[Finding]:
    by_type: dict[str, list[tuple[JointLine, float]]] = {}
    for line, gap_m in gaps:
        by_type.setdefault(line.source.layer, []).append((line, gap_m))
    for label, moved in sorted(by_type.items()):
        sources = dict.fromkeys(line.source for line, _ in moved)
        furthest = max(gap_m for _, gap_m in moved) * 1000
        yield Finding(
            code="connection-closed",
            severity=Severity.NOTE,
            message=f"type {label!r}: {len(moved)} ends up to {furthest:.1f} mm from where the model says they meet "
            "another element, carried on to there",
            sources=tuple(sources)[:3],
        )
