"""Clusters: groups of drawing on a flat sheet with white space round them, as proposals for windows of views."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_dilation, label

from .line import JointLine, Points
from .sheet_part import SheetText

__all__ = ["WindowProposal", "propose_windows"]

_CELLS = 400  # along the longer side of the sheet
_GAP_CELLS = 3  # half the white space that parts two views: together 1.5 % of the longer side
_MOST_SAMPLES = 4_000_000
_SCALE = re.compile(r"\b(\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)\b")
_DEVELOPED = re.compile(r"unroll|develop|unfold", re.IGNORECASE)
_ELEVATION = re.compile(r"elevation|wall|view|section", re.IGNORECASE)
_SIDE = re.compile(r"\b(?:in|out)side\b", re.IGNORECASE)
_PLAN = re.compile(r"\bplan\b|layout", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowProposal:
    """A window that a view may have.

    Attributes
    ----------
    title : str
        What is written large in it, without the scale; "" where nothing is.
    kind : str
        ``"plan"``, ``"elevation"`` or ``"developed elevation"`` by the words of the title; "" where none tells.
    scale : str
        Scale in the title, such as ``"1:50"``; "" where none is written.
    seen_from : str
        ``"inside"`` or ``"outside"`` by the words of the title; "" where none tells.
    window : tuple of float
        Lower left corner, width and height [drawing units].
    foot : tuple of float
        Lower left corner of the waterstop in it [drawing units].
    lines : int
        Lines of waterstop in it.
    """

    title: str
    kind: str
    scale: str
    seen_from: str
    window: tuple[float, float, float, float]
    foot: tuple[float, float]
    lines: int


def propose_windows(
    lines: Sequence[JointLine], usual: Sequence[bool], texts: Sequence[SheetText]
) -> tuple[WindowProposal, ...]:
    """Propose windows on a flat sheet.

    1. Only where everything lies in one plane: what has heights stands in space already.
    2. What is drawn less than 1.5 % of the sheet's longer side apart is one cluster.
    3. A frame round other clusters is none, nor is one that holds no line that looks like waterstop.
    4. The title is the tallest text in or near the cluster.

    Parameters
    ----------
    lines : sequence of JointLine
        Every line shown, in drawing units.
    usual : sequence of bool
        Which look like waterstop; where none does, all count.
    texts : sequence of SheetText
        In drawing units.

    Returns
    -------
    tuple of WindowProposal
        From the top left, row by row; empty where there is only one cluster.
    """
    if not lines:
        return ()
    points = np.concatenate([line.points_m for line in lines])
    low, high = points.min(axis=0), points.max(axis=0)
    size = float((high - low)[:2].max())
    if not math.isfinite(size) or size <= 0 or high[2] - low[2] > 1e-9 * size:  # RULE 1
        return ()
    cell = size / _CELLS
    boxes = _boxes(lines, low[:2] - 4 * cell, high[:2] + 4 * cell, cell)  # RULE 2
    counted = [line for line, is_usual in zip(lines, usual, strict=True) if is_usual] or list(lines)
    spots = np.array([line.points_m[:, :2].mean(axis=0) for line in counted])
    held = [_within(spots, box) for box in boxes]
    kept = [i for i, box in enumerate(boxes) if held[i].any() and not _frames(box, boxes)]  # RULE 3
    if len(kept) < 2:
        return ()
    made = [_proposal(boxes[i], [counted[n] for n in np.flatnonzero(held[i])], texts, cell) for i in kept]
    return tuple(sorted(made, key=lambda one: (-round((one.window[1] + one.window[3]) / (0.1 * size)), one.window[0])))


def _boxes(lines: Sequence[JointLine], low: Points, high: Points, cell: float) -> list[NDArray[np.float64]]:
    """Return the boxes (x0, y0, x1, y1) of what is drawn close together."""
    start = np.concatenate([line.points_m[:-1, :2] for line in lines])
    step = np.concatenate([np.diff(line.points_m[:, :2], axis=0) for line in lines])
    count = np.ceil(np.linalg.norm(step, axis=1) / cell * 2).astype(np.intp) + 1
    if count.sum() > _MOST_SAMPLES:
        return []
    segment = np.repeat(np.arange(len(count)), count)
    share = (np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)) / count[segment]
    spots = start[segment] + step[segment] * share[:, None]
    rows, columns = np.ceil((high - low) / cell).astype(np.intp)[::-1] + 1
    drawn = np.zeros((rows, columns), np.bool_)
    x, y = ((spots - low) / cell).astype(np.intp).T
    drawn[y, x] = True
    grown = binary_dilation(drawn, np.ones((3, 3), np.bool_), iterations=_GAP_CELLS)
    groups, number = label(grown, np.ones((3, 3)))
    group = groups[y, x]
    order = np.argsort(group, kind="stable")
    first = np.searchsorted(group[order], np.arange(1, number + 1))
    least, most = (f.reduceat(spots[order], first, axis=0) for f in (np.minimum, np.maximum))
    return list(np.hstack([least, most]))


def _within(spots: Points, box: NDArray[np.float64]) -> NDArray[np.bool_]:
    inside: NDArray[np.bool_] = np.all((spots >= box[:2]) & (spots <= box[2:]), axis=1)
    return inside


def _frames(box: NDArray[np.float64], boxes: Sequence[NDArray[np.float64]]) -> bool:
    """Tell whether a cluster goes round two others or more."""
    inside = [one for one in boxes if one is not box and (one[:2] > box[:2]).all() and (one[2:] < box[2:]).all()]
    return len(inside) > 1


def _proposal(
    box: NDArray[np.float64], lines: Sequence[JointLine], texts: Sequence[SheetText], cell: float
) -> WindowProposal:
    near = box + np.array([-1, -1, 1, 1]) * 8 * cell
    titles = [text for text in texts if _within(text.at_m[None, :2], near)[0] and len(text.text) > 2]
    best = max(titles, key=lambda text: (text.height_m, len(text.text)), default=None)  # RULE 4
    written = best.text if best else ""
    ratio = _SCALE.search(written)
    side = _SIDE.search(written)
    title = _SCALE.sub("", written).strip(" ,;-–()")
    digits = max(0, 3 - math.floor(math.log10(max(float((box[2:] - box[:2]).max()), 1e-9))))
    margin = 2 * cell
    x, y = (box[:2] - margin).round(digits).tolist()
    width, height = (box[2:] - box[:2] + 2 * margin).round(digits).tolist()
    points = np.concatenate([line.points_m[:, :2] for line in lines])
    foot_x, foot_y = points.min(axis=0).round(digits + 1).tolist()
    return WindowProposal(
        title=title,
        kind=_kind(title),
        scale=f"{ratio[1]}:{ratio[2]}" if ratio else "",
        seen_from=side[0].lower() if side else "",
        window=(x, y, width, height),
        foot=(foot_x, foot_y),
        lines=len(lines),
    )


def _kind(title: str) -> str:
    for pattern, kind in ((_DEVELOPED, "developed elevation"), (_PLAN, "plan"), (_ELEVATION, "elevation")):
        if pattern.search(title):
            return kind
    return ""
