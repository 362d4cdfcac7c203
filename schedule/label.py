"""Labels: short texts set beside their places on a drawing so that no two cover each other.

Every label tries places round its own, the nearest first; the first that is free is taken. One that had to move away
gets a leader. The same labels in the same order always come to lie alike.
"""

import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from math import floor, hypot

import numpy as np

from splicewright.extract.line import Points

__all__ = ["Board", "Label", "Spot", "text_width"]

_LETTER = 0.85
"""Width of a letter over its height, with its gap; plain fonts are no wider."""
_LINE = 1.6
"""Distance of lines over the height of letters."""
_RINGS = 60
_TRIES = 250
"""Places tried for a label, on average over all of a board; where so much is taken, labels may come to overlap."""
_MOST_CELLS = 3_000_000
"""Strip longer than this many cells is not kept clear of: it costs more than it gives."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A few lines of text that belong to a place.

    Attributes
    ----------
    at : tuple of float
        The place in plan.
    lines : tuple of str
        The lines, from top to bottom; at least one.
    gap : float
        Distance kept from the place, over the height of letters.
    """

    at: tuple[float, float]
    lines: tuple[str, ...]
    gap: float = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a label has come to lie.

    Attributes
    ----------
    starts : tuple of (float, float)
        End of the base line of each line: the left one, or the right one of labels to the left of their place.
    from_right : bool
        Whether it is the right one.
    leader : tuple of float or None
        End of the leader from the place, None where the label stands close by.
    """

    starts: tuple[tuple[float, float], ...]
    from_right: bool
    leader: tuple[float, float] | None


def text_width(text: str) -> float:
    """Return the width of a text over the height of its letters.

    Examples
    --------
    >>> round(text_width("S12"), 2), round(text_width("接"), 2)
    (2.55, 1.53)
    """
    wide = sum(unicodedata.east_asian_width(sign) in "WF" for sign in text)
    return _LETTER * (len(text) + 0.8 * wide)


@dataclass(slots=True, kw_only=True, eq=False)
class Board:
    """What of the plan is taken, in cells half as high as letters.

    Attributes
    ----------
    height : float
        Height of letters, > 0, in any unit; all coordinates are in the same.
    """

    height: float
    _texts: set[tuple[int, int]] = field(default_factory=set)
    _strips: set[tuple[int, int]] = field(default_factory=set)
    _tries: int = 100 * _TRIES

    def keep_line(self, points: Points) -> None:
        """Keep labels off a line where there is room beside it; only x and y count."""
        cell = self.height / 2
        steps = np.diff(points[:, :2], axis=0)
        counts = np.ceil(np.abs(steps).max(axis=1) / cell).astype(np.int64) + 1
        if len(self._strips) + int(counts.sum()) > _MOST_CELLS:
            return
        for start, step, count in zip(points[:-1, :2], steps, counts.tolist(), strict=True):
            cells = np.floor((start + np.linspace(0.0, 1.0, count)[:, None] * step) / cell).astype(np.int64)
            self._strips.update(zip(*cells.T.tolist(), strict=True))

    def keep_text(self, low: tuple[float, float], high: tuple[float, float]) -> None:
        """Keep labels off a box, such as one that a text of the drawing fills."""
        cells = self._cells(*low, *high)
        if len(cells) < _MOST_CELLS // 100:
            self._texts.update(cells)

    def set_label(self, label: Label) -> Spot:
        """Find the place of a label, and take it."""
        width = max(text_width(line) for line in label.lines) * self.height
        depth = (len(label.lines) - 1 + 1 / _LINE) * _LINE * self.height
        left, low = self._find(label, width, depth)
        self._texts.update(self._cells(left, low, left + width, low + depth))
        step = _LINE * self.height
        from_right = left + width <= label.at[0]
        x = left + width if from_right else left
        starts = tuple((x, low + depth - self.height - i * step) for i in range(len(label.lines)))
        return Spot(starts=starts, from_right=from_right, leader=self._leader(label, left, low, width, depth))

    def _find(self, label: Label, width: float, depth: float) -> tuple[float, float]:
        spare: tuple[float, float] | None = None
        self._tries += _TRIES
        for left, low in _places(label, self.height, width, depth):
            self._tries -= 1
            if self._tries < 0:
                break
            cells = self._cells(left, low, left + width, low + depth)
            if not self._texts.isdisjoint(cells):
                continue
            if self._strips.isdisjoint(cells):
                return left, low
            if spare is None:
                spare = left, low
            elif hypot(left - label.at[0], low - label.at[1]) > 8 * self.height + width:
                return spare  # a text over a strip close by reads better than one far away
        return spare or (label.at[0], label.at[1])

    def _cells(self, left: float, low: float, right: float, high: float) -> list[tuple[int, int]]:
        cell = self.height / 2
        columns = range(floor(left / cell), floor(right / cell) + 1)
        rows = range(floor(low / cell), floor(high / cell) + 1)
        if len(columns) * len(rows) > _MOST_CELLS:
            return []
        return [(i, j) for i in columns for j in rows]

    def _leader(self, label: Label, left: float, low: float, width: float, depth: float) -> tuple[float, float] | None:
        x, y = label.at
        end = (min(max(x, left), left + width), min(max(y, low), low + depth))
        return end if hypot(end[0] - x, end[1] - y) > (label.gap + 1.3) * self.height else None


def _places(label: Label, height: float, width: float, depth: float) -> Iterator[tuple[float, float]]:
    """Yield lower left corners round a place, ring by ring; slantwise first, since strips mostly run straight."""
    x, y = label.at
    gap, step = label.gap * height, 1.3 * height
    for ring in range(_RINGS):
        d = gap + ring * step
        right, left, above, below = x + d, x - d - width, y + d, y - d - depth
        yield from ((right, above), (left, above), (right, below), (left, below))
        yield from ((x - width / 2, above), (x - width / 2, below), (right, y - depth / 2), (left, y - depth / 2))
        for offset in _offsets(d, depth):
            yield from (
                (right, y + offset),
                (left, y + offset),
                (right, y - depth - offset),
                (left, y - depth - offset),
            )


def _offsets(d: float, depth: float) -> Sequence[float]:
    """Return distances up from the place to further labels at its side, each a label's depth from the next."""
    count = int(d / (1.3 * depth))
    return [1.3 * depth * i for i in range(1, count)]
