"""Knapsack: the group of runs that is worth most beyond what its chain of rolls costs, however long the chain.

A state is the room that is left in the last roll of a chain. Runs are offered one kind after the other; where a run
needs more room, rolls are added at their price. Lengths are measured in cells. Where cells are coarser than ticks, the
rounding is either all in favour of the group, so that its worth is a bound, or all against it, so that it fits.
"""

from collections.abc import Mapping, Sequence
from math import gcd, inf
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .stock import CuttingJob

__all__ = ["Knapsack"]

_Floats: TypeAlias = NDArray[np.float64]
_Ints: TypeAlias = NDArray[np.int64]
_Step: TypeAlias = tuple[int, int, _Ints]
"""Kind of run, how many of it, and for each state the one it came from with them, or -1."""

_FINE_CELLS = 40_000
_COARSE_CELLS = 3_000
_REACH = 40
"""With several stock lengths, copies in one group are bounded by this many rolls; `sound_share` sees to more."""


class Knapsack:
    """Finds groups.

    Parameters
    ----------
    job : CuttingJob
        Only stock without limit is used.
    safe : bool
        Whether groups must fit; otherwise their worth is a bound.
    """

    def __init__(self, job: CuttingJob, *, safe: bool) -> None:
        self._job = job
        cell = self._cell = _cell_of(job)
        up, down = (_ceil, _floor) if safe else (_floor, _ceil)
        self._sizes = [max(1, up(demand.length, cell)) for demand in job.demands]
        self._rooms = [down(job.stocks[i].length, cell) for i in job.buyable]
        self._steps = [down(job.stocks[i].length - job.loss, cell) for i in job.buyable]
        self._loss = down(job.loss, cell)
        self._weights = [job.weights[i] for i in job.buyable]
        self._step_weights = [weight + job.splice_weight for weight in self._weights]
        self._states = max(self._rooms) + 1
        self._pieces = self.pieces({i: demand.quantity for i, demand in enumerate(job.demands)})

    def by_length(self) -> _Floats:
        """Return worths in proportion to length that no group can beat."""
        rate = min(weight / room for weight, room in zip(self._weights, self._rooms, strict=True))
        return np.array([rate * size for size in self._sizes])

    def alone(self, kind: int) -> tuple[int, float]:
        """Return how many runs of one kind share one roll or chain, and what that weighs."""
        fitting = [(r, w) for r, w in zip(self._rooms, self._weights, strict=True) if r >= self._sizes[kind]]
        if fitting:
            room, weight = min(fitting, key=lambda roll: roll[1] / roll[0])
            return room // self._sizes[kind], weight
        rolls = zip(self._steps, self._step_weights, strict=True)
        step, weight = min(rolls, key=lambda roll: roll[1] / roll[0])
        number = max(1, -((self._loss - self._sizes[kind]) // step))
        return 1, number * weight - self._job.splice_weight

    def sound_share(self, worths: _Floats, gain: float) -> float:
        """Return the share of worths at which no group of any length is worth more than it costs.

        Parameters
        ----------
        worths : array
            Worth of one run of each kind.
        gain : float
            What the best group is worth beyond its cost.
        """
        least = min(self._weights)
        share = 1.0 / (1.0 + max(0.0, gain) / least) if least > 0 else 0.0
        densest = max(float(worth) / size for worth, size in zip(worths * share, self._sizes, strict=True))
        if not self._job.splices or len(self._steps) == 1 or densest <= 0:
            return share
        beyond = _REACH + 1
        allowed = (
            (beyond * weight - self._job.splice_weight) / (beyond * step + self._loss)
            for step, weight in zip(self._steps, self._step_weights, strict=True)
        )
        return share * min(1.0, min(allowed) / densest)

    def pieces(self, counts: Mapping[int, int]) -> list[tuple[int, int]]:
        """Split the copies of every kind into numbers whose sums make every number of copies.

        Parameters
        ----------
        counts : Mapping of int to int
            Copies of each kind.
        """
        result = []
        for kind, count in counts.items():
            most, number = self._most_copies(kind, count), 1
            while most > 0:
                number = min(number, most)
                result.append((kind, number))
                most, number = most - number, number * 2
        return result

    def _most_copies(self, kind: int, count: int) -> int:
        if not self._job.splices:
            return min(count, max(self._rooms) // self._sizes[kind])
        return count if len(self._steps) == 1 else min(count, _REACH * min(self._steps) // self._sizes[kind] + 1)

    def best(
        self,
        worths: Sequence[float] | _Floats,
        *,
        pieces: Sequence[tuple[int, int]] | None = None,
        first: int | None = None,
    ) -> tuple[float, tuple[int, ...]]:
        """Find the best group.

        Parameters
        ----------
        worths : sequence of float
            Worth of one run of each kind.
        pieces : sequence of (int, int), optional
            Kinds and numbers to choose from; without it all runs of the job.
        first : int, optional
            A kind of which one run must be in the group, beside the pieces.

        Returns
        -------
        float
            What it is worth beyond its cost.
        tuple of int
            How many runs of each kind it holds.
        """
        values = np.full(self._states, -inf)
        for room, weight in zip(self._rooms, self._weights, strict=True):
            values[room] = max(values[room], -weight)
        steps: list[_Step] = []
        if first is not None:
            reached, came_from = self._with(values, first, 1, float(worths[first]))
            values = reached
            steps.append((first, 1, came_from))
        for kind, number in self._pieces if pieces is None else pieces:
            if worths[kind] > 0:
                reached, came_from = self._with(values, kind, number, float(worths[kind]) * number)
                better = reached > values + 1e-12
                values = np.where(better, reached, values)
                steps.append((kind, number, np.where(better, came_from, -1)))
        return self._trace(values, steps)

    def _trace(self, values: _Floats, steps: Sequence[_Step]) -> tuple[float, tuple[int, ...]]:
        at = int(np.argmax(values))
        gain, counts = float(values[at]), [0] * len(self._sizes)
        for kind, number, came_from in reversed(steps):
            if came_from[at] >= 0:
                counts[kind] += number
                at = int(came_from[at])
        return gain, tuple(counts)

    def _with(self, values: _Floats, kind: int, number: int, worth: float) -> tuple[_Floats, _Ints]:
        """Take some runs into every group; return the worth of the states reached and where each comes from."""
        count, size, bulk = self._states, self._sizes[kind] * number, 0
        if self._job.splices and len(self._steps) == 1 and size > 2 * count:
            bulk = size // self._steps[0] - 1  # with rolls of one length so many are needed from any state
            size -= bulk * self._steps[0]
        wide = np.full(count + size, -inf)
        wide[:count] = values
        source = np.arange(count + size)
        if self._job.splices:
            for step, weight in zip(self._steps, self._step_weights, strict=True):
                for start in range(step, count + size, step):
                    stop = min(start + step, count + size)
                    moved = wide[start - step : stop - step] - weight
                    better = moved > wide[start:stop]
                    wide[start:stop] = np.where(better, moved, wide[start:stop])
                    source[start:stop] = np.where(better, source[start - step : stop - step], source[start:stop])
        return wide[size : size + count] + (worth - bulk * self._step_weights[0]), source[size : size + count]


def _cell_of(job: CuttingJob) -> int:
    """Choose the cell: one that all lengths are whole numbers of where it is not too small, else a coarse one."""
    common = gcd(*(demand.length for demand in job.demands), *(job.stocks[i].length for i in job.buyable), job.loss)
    if job.longest // common <= _FINE_CELLS:
        return common
    return max(1, job.longest // _COARSE_CELLS)


def _floor(length: int, cell: int) -> int:
    return length // cell


def _ceil(length: int, cell: int) -> int:
    return -(-length // cell)
