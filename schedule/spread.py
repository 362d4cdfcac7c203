"""Spread: the boxes in plan of what is drawn, so that something can be put where nothing is."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from math import isfinite
from typing import TypeAlias

import numpy as np
from ezdxf import bbox
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert

from splicewright.extract.dxf_block import DEEPEST, cells_of, is_reference, matrix_of, shift
from splicewright.extract.dxf_file import DAMAGE

__all__ = ["Box", "Spread"]

Box: TypeAlias = tuple[float, float, float, float]
"""Left, low, right, high."""


@dataclass(slots=True, kw_only=True, eq=False)
class Spread:
    """Measures entities; what a block holds is measured once, however often and deep it is inserted."""

    _blocks: dict[int, Box | None] = field(default_factory=dict)
    _depth: int = 0

    def boxes(self, entities: Iterable[DXFEntity]) -> Iterator[Box]:
        """Yield the box of every entity; what has none, or cannot be measured, is passed over."""
        for entity in entities:
            try:
                box = self._of_insert(entity) if isinstance(entity, Insert) else _of(entity)
            except DAMAGE:
                continue
            if box is not None and all(map(isfinite, box)):
                yield box

    def _of_insert(self, insert: Insert) -> Box | None:
        block = insert.block()
        if block is None or is_reference(block):
            return None
        if id(block) not in self._blocks:
            self._blocks[id(block)] = None  # what a block finds that holds itself
            self._depth += 1
            inner = list(self.boxes(block.entity_space)) if self._depth < DEEPEST else []
            self._depth -= 1
            self._blocks[id(block)] = _joined(inner)
        held = self._blocks[id(block)]
        if held is None:
            return None
        corners = np.array([(x, y, 0.0, 1.0) for x in held[::2] for y in held[1::2]])
        cells, matrix = cells_of(insert), matrix_of(insert)
        ends = [corners @ shift(insert, matrix, cell) for cell in {cells[0], cells[-1]}]
        (left, low), (right, high) = np.vstack(ends)[:, :2].min(axis=0), np.vstack(ends)[:, :2].max(axis=0)
        return float(left), float(low), float(right), float(high)


def _of(entity: DXFEntity) -> Box | None:
    box = bbox.extents((entity,), fast=True)
    return (box.extmin.x, box.extmin.y, box.extmax.x, box.extmax.y) if box.has_data else None


def _joined(boxes: list[Box]) -> Box | None:
    if not boxes:
        return None
    table = np.array(boxes)
    (left, low), (right, high) = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(left), float(low), float(right), float(high)
