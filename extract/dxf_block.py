"""DXF blocks: which layers one uses, how many entities it opens up to, and where an insert puts its copies."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity, DXFTagStorage
from ezdxf.entities.insert import Insert
from ezdxf.layouts.blocklayout import BlockLayout
from ezdxf.math import Vec3

from .curve import Matrix

__all__ = ["ANYTHING", "DEEPEST", "BlockIndex", "cells_of", "is_reference", "layer_of", "matrix_of", "shift"]

ANYTHING = ""
"""Stands for the unknown layers of an external reference among those a block uses."""

DEEPEST = 100
"""Blocks nested deeper than this are a bomb, not a drawing."""


@dataclass(slots=True, kw_only=True, eq=False)
class BlockIndex:
    """What blocks hold, worked out once for each."""

    _layers: dict[int, frozenset[str]] = field(default_factory=dict)
    _sizes: dict[int, int] = field(default_factory=dict)

    def layers_in(self, block: BlockLayout, depth: int = 0) -> frozenset[str]:
        """Return the names of the layers a block uses, those of the blocks it holds included.

        Layer 0 of a held block stands for the layer its insert is on; ``ANYTHING`` among them means that the block
        holds an external reference, or itself.
        """
        key = id(block)
        if key in self._layers:
            return self._layers[key]
        if depth > DEEPEST or is_reference(block):
            return frozenset({ANYTHING})
        self._layers[key] = frozenset({ANYTHING})  # what a block finds that holds itself
        names: set[str] = set()
        for entity in block.entity_space:
            own = layer_of(entity)
            names.add(own)
            nested = entity.block() if isinstance(entity, Insert) else None
            if nested is not None:
                names |= {own if name == "0" else name for name in self.layers_in(nested, depth + 1)}
        self._layers[key] = frozenset(names)
        return self._layers[key]

    def size_of(self, entities: Iterable[DXFEntity], depth: int = 0) -> int:
        """Count the entities, those that inserts among them open up to included; references count as one."""
        total = 0
        for entity in entities:
            nested = entity.block() if isinstance(entity, Insert) else None
            if nested is None or not isinstance(entity, Insert) or depth > DEEPEST:
                total += 1
                continue
            if id(nested) not in self._sizes:
                self._sizes[id(nested)] = 1  # what a block finds that holds itself
                self._sizes[id(nested)] = self.size_of(nested.entity_space, depth + 1)
            total += 1 + len(cells_of(entity)) * self._sizes[id(nested)]
        return total


def is_reference(block: BlockLayout) -> bool:
    """Tell whether a block stands for another drawing."""
    return block.block is not None and bool(block.block.is_xref or block.block.is_xref_overlay)


def layer_of(entity: DXFEntity) -> str:
    """Return the layer as the entity writes it, from the raw tags of types that ezdxf only stores."""
    raw = entity.dxf.__dict__.get("layer")
    if raw is None and isinstance(entity, DXFTagStorage):
        raw = next((tag.value for tags in entity.xtags.subclasses for tag in tags if tag.code == 8), None)
    return str(raw or "0")


def cells_of(insert: Insert) -> range:
    """Return the numbers of the cells of an insert's grid, row by row.

    A column or row count of 0 still means one copy; copies that would fall on each other are one.
    """
    return range(_columns(insert) * (max(1, int(insert.dxf.row_count)) if insert.dxf.row_spacing else 1))


def _columns(insert: Insert) -> int:
    return max(1, int(insert.dxf.column_count)) if insert.dxf.column_spacing else 1


def matrix_of(insert: Insert) -> Matrix:
    """Return the map from a block to where an insert puts its first copy."""
    return np.array(list(insert.matrix44().rows()), dtype=np.float64)


def shift(insert: Insert, matrix: Matrix, cell: int) -> Matrix:
    """Move the map of the first copy to a cell of the grid, which is turned with the insert but never scaled."""
    if cell == 0:
        return matrix
    row, column = divmod(cell, _columns(insert))
    dxf = insert.dxf
    offset = Vec3(column * dxf.column_spacing, row * dxf.row_spacing).rotate_deg(dxf.rotation)
    moved = matrix.copy()
    moved[3, :3] += insert.ocs().to_wcs(offset).xyz
    return moved
