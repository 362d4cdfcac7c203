"""Positions: how splices lie to those who weld them: on the floor, in a wall, overhead."""

from fnmatch import fnmatchcase

import numpy as np

from splicewright.extract.line import JointKind
from splicewright.extract.run import Run

from .rules import Position, Rules

__all__ = ["Positions"]

_STEEP = 0.1
"""A strip without a joint kind that climbs more than this share of its length is one in a wall."""

_BY_JOINT = {
    JointKind.SLAB: Position.FLOOR,
    JointKind.BASE_SEAL: Position.FLOOR,
    JointKind.WALL_BASE: Position.WALL,
    JointKind.WALL: Position.WALL,
}


class Positions:
    """Tells for every run how its splices lie.

    1. On the lines that `crew.overhead` names: overhead.
    2. On a slab joint or base seal: on the floor; on a wall-base or wall joint: in a wall.
    3. Where the joint kind is not known: in a wall where the run climbs by more than a tenth of its length, else on
       the floor.

    Parameters
    ----------
    rules : Rules
        Names of the lines overhead.
    """

    def __init__(self, rules: Rules) -> None:
        self._patterns = [pattern.casefold() for pattern in rules.crew.overhead]
        self._overhead: dict[str, bool] = {}

    def of(self, run: Run) -> Position:
        """Return how the splices of a run lie."""
        if self._patterns and any(self._hangs(source.layer) for source in run.sources):  # RULE 1
            return Position.OVERHEAD
        if run.joint is not None:  # RULE 2
            return _BY_JOINT[run.joint]
        climb_m = float(np.ptp(run.points_m[:, 2]))  # RULE 3
        return Position.WALL if climb_m > _STEEP * run.length_m else Position.FLOOR

    def _hangs(self, layer: str) -> bool:
        known = self._overhead.get(layer)
        if known is None:
            name = layer.casefold()
            known = self._overhead[layer] = any(fnmatchcase(name, pattern) for pattern in self._patterns)
        return known
