"""Drawing: what every reader returns."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from .finding import Finding
from .line import JointLine, total_length_m
from .sheet import Sheet
from .unit import LengthUnit

__all__ = ["Drawing", "DrawingKind"]


class DrawingKind(StrEnum):
    """File format of a drawing."""

    DXF = "dxf"
    IFC = "ifc"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """The waterstop lines of one drawing, and what was odd about it.

    Attributes
    ----------
    file : str
        Name of the file, without its folder.
    sha256 : str
        Digest of the file's bytes, lower-case hexadecimal.
    kind : DrawingKind
        File format.
    unit : LengthUnit
        Unit the coordinates were written in; everything here is already in metres.
    lines : tuple of JointLine
        The selected lines, in file order.
    skipped : Mapping of str to int
        Selected entities that were not read as lines, counted by reason. Entities read plus entities skipped
        equal `selected`.
    selected : int
        Number of selected entities met, read or not, each block insert counted as the entities it holds.
    findings : tuple of Finding
        What the reader noticed.
    sheet : Sheet or None
        The views of a flat drawing, which tell where on the sheet a place in space is shown; None where the drawing
        itself stands in space.
    map_m : NDArray[np.float64] or None
        Map for row vectors from a model's own coordinates to those of the lines, both in metres, shape (4, 4):
        ``points @ m[:3, :3] + m[3, :3]``; None where they are the same.
    """

    file: str
    sha256: str
    kind: DrawingKind
    unit: LengthUnit
    lines: tuple[JointLine, ...]
    skipped: Mapping[str, int]
    selected: int
    findings: tuple[Finding, ...] = ()
    sheet: Sheet | None = None
    map_m: NDArray[np.float64] | None = None

    @property
    def length_m(self) -> float:
        """Length of all lines as drawn [m], doubled ones counted as often as they are drawn."""
        return total_length_m(self.lines)
