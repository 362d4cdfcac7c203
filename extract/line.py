"""Joint lines: one drawn line of waterstop each, as it stands in the drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .finding import Source
from .whereabouts import Whereabouts

__all__ = ["JointKind", "JointLine", "Points", "Vector", "total_length_m", "vector"]

Points: TypeAlias = NDArray[np.float64]
"""Coordinates [m], shape (n, 3)."""

Vector: TypeAlias = tuple[float, float, float]


class JointKind(StrEnum):
    """What is poured on either side of the joint; it fixes how the strip lies."""

    SLAB = "slab"
    WALL_BASE = "wall-base"
    WALL = "wall"
    BASE_SEAL = "base-seal"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointLine:
    """One drawn line of waterstop.

    Attributes
    ----------
    source : Source
        The entity it was drawn as.
    points_m : Points
        Vertices [m], shape (n, 3), n >= 2, in world coordinates. A closed line repeats its first vertex, exactly,
        as its last.
    drawn : NDArray[np.intp] or None
        Sorted indices into `points_m` of the vertices that the drafter set (ends included); the others were made
        by flattening a curve. None means that every vertex was drawn.
    profile : str or None
        Name of the waterstop profile that the selection gives it.
    joint : JointKind or None
        Kind of joint that the selection gives it.
    across : Points or None
        Unit vectors across the strip as the model draws it, one a segment, shape (n - 1, 3), either of the two
        senses; NaN where it does not tell. None means that it tells nothing.
    width_m, thickness_m : float or None
        Width and thickness of the strip as the model draws it [m], > 0; None where it does not tell.
    whereabouts : Whereabouts or None
        Storey, structure and stage; None where the drawing tells none.
    """

    source: Source
    points_m: Points
    drawn: NDArray[np.intp] | None = None
    profile: str | None = None
    joint: JointKind | None = None
    across: Points | None = None
    width_m: float | None = None
    thickness_m: float | None = None
    whereabouts: Whereabouts | None = None

    @property
    def closed(self) -> bool:
        """Whether the line comes back to where it starts."""
        return len(self.points_m) > 2 and bool((self.points_m[0] == self.points_m[-1]).all())

    @property
    def length_m(self) -> float:
        """Length along the line [m]."""
        return float(np.linalg.norm(np.diff(self.points_m, axis=0), axis=1).sum())


def total_length_m(lines: Sequence[JointLine]) -> float:
    """Return the length of many lines together [m], without a look at each."""
    if not lines:
        return 0.0
    steps = np.linalg.norm(np.diff(np.concatenate([line.points_m for line in lines]), axis=0), axis=1)
    steps[np.cumsum([len(line.points_m) for line in lines[:-1]], dtype=np.intp) - 1] = 0.0  # from line to line
    return float(steps.sum())


def vector(point: Points) -> Vector:
    """Return one point of shape (3,) as plain numbers."""
    x, y, z = point.tolist()
    return (x, y, z)
