"""Doubles: pieces of waterstop that have been drawn more than once."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .finding import Finding, Severity
from .line import JointLine, Points, Vector, vector
from .linework import Indices
from .piece import Pieces

__all__ = ["merge_doubles"]


def merge_doubles(pieces: Pieces, lines: Sequence[JointLine], tolerance_m: float) -> tuple[Pieces, tuple[Finding, ...]]:
    """Keep one of the pieces that take the same course between the same places.

    The one kept is the first that carries a profile, in the order of layer and entity.

    Parameters
    ----------
    pieces : Pieces
        All pieces.
    lines : sequence of JointLine
        The lines they were cut from.
    tolerance_m : float
        Courses that stay within this of each other are the same [m].

    Returns
    -------
    pieces : Pieces
        Without the doubles.
    findings : tuple of Finding
        ``doubled-line``, one for each pair of lines, with the doubled length.
    """
    twin_of = np.arange(len(pieces))
    line = pieces.line.tolist()
    for group in _same_ends(pieces):
        ranked = sorted(group, key=lambda piece: _precedence(lines[line[piece]]))
        for i, piece in enumerate(ranked):
            kept = (other for other in ranked[:i] if twin_of[other] == other)
            twin_of[piece] = next((other for other in kept if _same_course(pieces, piece, other, tolerance_m)), piece)
    keep = twin_of == np.arange(len(pieces))
    return pieces.take(keep), tuple(_findings(pieces, lines, twin_of))


def _precedence(line: JointLine) -> tuple[bool, bool, str, str]:
    return (line.profile is None, line.joint is None, line.source.layer, line.source.entity)


def _same_ends(pieces: Pieces) -> Iterator[list[int]]:
    low, high = np.minimum(pieces.start, pieces.end), np.maximum(pieces.start, pieces.end)
    order = np.lexsort((high, low))
    same = (low[order][1:] == low[order][:-1]) & (high[order][1:] == high[order][:-1])
    bounds = np.flatnonzero(np.concatenate(([True], ~same, [True])))
    for a, b in pairwise(bounds.tolist()) if same.any() else ():
        if b - a > 1:
            yield order[a:b].tolist()


def _same_course(pieces: Pieces, a: int, b: int, tolerance_m: float) -> bool:
    p, q = pieces.points_m(a), pieces.points_m(b)
    if len(p) == len(q) == 2:
        return True
    return _within(p, q, tolerance_m) and _within(q, p, tolerance_m)


def _within(points: Points, course: Points, tolerance_m: float) -> bool:
    """Tell whether all points, and the middles between them, lie within the tolerance of a course."""
    points = np.concatenate((points, (points[1:] + points[:-1]) / 2))
    start, along = course[:-1], np.diff(course, axis=0)
    length2 = np.maximum(np.einsum("ij,ij->i", along, along), np.finfo(float).tiny)
    for part in np.array_split(points, len(points) * len(course) // 1_000_000 + 1):
        offset = part[:, None, :] - start
        t: NDArray[np.float64] = np.clip(np.einsum("ijk,jk->ij", offset, along) / length2, 0.0, 1.0)
        gap = offset - along * t[..., None]
        if (np.einsum("ijk,ijk->ij", gap, gap).min(axis=1) > tolerance_m**2).any():
            return False
    return True


def _findings(pieces: Pieces, lines: Sequence[JointLine], twin_of: Indices) -> Iterator[Finding]:
    doubled: dict[tuple[int, int], list[int]] = {}
    for piece in np.flatnonzero(twin_of != np.arange(len(pieces))).tolist():
        pair = (int(pieces.line[twin_of[piece]]), int(pieces.line[piece]))
        doubled.setdefault(pair, []).append(piece)
    for (kept, dropped), which in doubled.items():
        length = float(pieces.length_m[which].sum())
        yield _finding(lines[kept], lines[dropped], length, _middle(pieces, which[0]))


def _finding(kept: JointLine, dropped: JointLine, length_m: float, at_m: Vector) -> Finding:
    conflict = "" if kept.profile == dropped.profile else f" They differ in profile; {kept.profile} was taken."
    return Finding(
        code="doubled-line",
        severity=Severity.WARNING,
        message=f"{dropped.source} lies on {kept.source} for {length_m:.3f} m; that length was counted once; "
        f"draw it only once.{conflict}",
        at_m=at_m,
        sources=(dropped.source, kept.source),
    )


def _middle(pieces: Pieces, piece: int) -> Vector:
    course = pieces.points_m(piece)
    return vector((course[(len(course) - 1) // 2] + course[len(course) // 2]) / 2 + pieces.work.origin_m)
