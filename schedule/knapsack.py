"""Knapsack: the group of runs that is worth most beyond what its chain of rolls costs, however long the chain.

A state is the room that is left in the last roll of a chain. Runs are offered one kind after the other; where a run
needs more room, rolls are added at their price. Lengths are measured in cells. Where cells are coarser than ticks, the
rounding is either all in favour of the group, so that its worth is a bound, or all against it, so that it fits.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from math import gcd, inf
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .stock import CuttingJob

__all__ = ["Knapsack"]

_Floats: TypeAlias = NDArray[np.float64]
_Move: TypeAlias = tuple[int, int, int, float]
"""States reached, from and up to; how much more room there was before; weight of the rolls added."""
_Addition: TypeAlias = tuple[int, float, int]
"""Rolls added together: what they are good for, their weight, and the shortest of them."""

_FINE_CELLS = 40_000
_COARSE_CELLS = 3_000
_MOST_ENTRIES = 1_000_000
"""States times kinds of runs beyond which the cells are coarse, to spare memory."""
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
        self._known_moves: dict[int, list[_Move]] = {}
        self._additions: list[_Addition] = []
        self._lengths: list[int] = []
        self._reached = 0
        self._pieces = self.pieces({i: demand.quantity for i, demand in enumerate(job.demands)})

    def by_length(self) -> _Floats:
        """Return worths in proportion to length that no group can beat."""
        rate = min(weight / room for weight, room in zip(self._weights, self._rooms, strict=True))
        return np.array([rate * size for size in self._sizes])

    def steps_of_worth(self) -> list[int]:
        """Lengths beyond which a run needs a longer roll, or one more [ticks], from short to long."""
        longest = max(demand.length for demand in self._job.demands)
        stocks = [self._job.stocks[i].length for i in self._job.buyable]
        leaps = set(stocks)
        if self._job.splices:
            leaps |= {n * (length - self._job.loss) + self._job.loss for length in stocks for n in range(2, 9)}
        return sorted(leap for leap in leaps if leap < longest)

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
        taken = [(kind, number) for kind, number in (self._pieces if pieces is None else pieces) if worths[kind] > 0]
        table = np.empty((len(taken) + 1, self._states))
        if first is not None:
            table[0] = -inf
            self._take(values, table[0], first, 1, float(worths[first]))
        else:
            table[0] = values
        for at, (kind, number) in enumerate(taken):
            table[at + 1] = table[at]
            self._take(table[at], table[at + 1], kind, number, float(worths[kind]) * number)
        gain, counts = self._trace(table, taken, worths)
        if first is not None:
            counts[first] += 1
        return gain, tuple(counts)

    def _trace(
        self, table: _Floats, taken: Sequence[tuple[int, int]], worths: Sequence[float] | _Floats
    ) -> tuple[float, list[int]]:
        """Find out which pieces the best group is made of, from the last to the first."""
        at, counts = int(np.argmax(table[-1])), [0] * len(self._sizes)
        gain = float(table[-1, at])
        for row in range(len(taken), 0, -1):
            if table[row, at] > table[row - 1, at]:
                kind, number = taken[row - 1]
                counts[kind] += number
                at = self._source(table[row - 1], at, kind, number, (float(worths[kind]) * number, table[row, at]))
        return gain, counts

    def _take(self, before: _Floats, after: _Floats, kind: int, number: int, worth: float) -> None:
        """Note what groups are worth with some more runs, where that is more than is noted."""
        size, weight = self._lightened(self._sizes[kind] * number)
        for low, high, shift, cost in self._moves(size):
            into = after[low:high]
            np.maximum(into, before[low + shift : high + shift] + (worth - weight - cost), out=into)

    def _source(self, before: _Floats, at: int, kind: int, number: int, noted: tuple[float, float]) -> int:
        """Return the state from which some runs led to one."""
        size, weight = self._lightened(self._sizes[kind] * number)
        worth, reached = noted
        moves = self._moves(size)
        return next(
            at + m for low, high, m, c in moves if low <= at < high and before[at + m] + (worth - weight - c) == reached
        )

    def _lightened(self, size: int) -> tuple[int, float]:
        """Take off the rolls that very long runs need from any state, with rolls of one length; and their weight."""
        if not self._job.splices or len(self._steps) > 1 or size <= 2 * self._states:
            return size, 0.0
        bulk = size // self._steps[0] - 1
        return size - bulk * self._steps[0], bulk * self._step_weights[0]

    def _moves(self, size: int) -> list[_Move]:
        """List the ways to take in runs of some size: nothing added, or rolls, none of which could be left out."""
        if size not in self._known_moves:
            moves = [(0, self._states - size, size, 0.0)] if size < self._states else []
            if self._job.splices:
                for length, weight, shortest in self._additions_for(size):
                    low, high = max(0, length - size), min(shortest, self._states + length - size)
                    if low < high:
                        moves.append((low, high, size - length, weight))
            self._known_moves[size] = moves
        return self._known_moves[size]

    def _additions_for(self, size: int) -> list[_Addition]:
        """List the rolls that may be added to make room for a size, those for shorter sizes left out."""
        if self._reached < size + self._states:
            self._reached = 2 * (size + self._states)
            self._additions = _undominated(self._steps, self._step_weights, self._reached)
            self._lengths = [length for length, _, _ in self._additions]
        low, high = bisect_left(self._lengths, size - self._states), bisect_right(self._lengths, size + self._states)
        return self._additions[low:high]


def _undominated(steps: Sequence[int], weights: Sequence[float], reach: int) -> list[_Addition]:
    """List the rolls that may be added together: those that are longer than all that cost no more."""
    least = np.full(reach + 1, inf)
    least[0] = 0.0
    shortest = np.full(reach + 1, reach + 1)
    for step, weight in sorted(zip(steps, weights, strict=True), reverse=True):
        for start in range(step, reach + 1, step):
            stop = min(start + step, reach + 1)
            cost = least[start - step : stop - step] + weight
            better = cost < least[start:stop]
            least[start:stop][better] = cost[better]
            shortest[start:stop][better] = step
    beyond = np.append(np.minimum.accumulate(least[::-1])[::-1][1:], inf)
    kept = np.flatnonzero((least < beyond) & np.isfinite(least))[1:]
    return [(int(at), float(least[at]), int(shortest[at])) for at in kept]


def _cell_of(job: CuttingJob) -> int:
    """Choose the cell: one that all lengths are whole numbers of where it is not too small, else a coarse one."""
    common = gcd(*(demand.length for demand in job.demands), *(job.stocks[i].length for i in job.buyable), job.loss)
    pieces = sum(demand.quantity.bit_length() for demand in job.demands)
    if job.longest // common <= min(_FINE_CELLS, max(_COARSE_CELLS, _MOST_ENTRIES // pieces)):
        return common
    return max(1, job.longest // _COARSE_CELLS)


def _floor(length: int, cell: int) -> int:
    return length // cell


def _ceil(length: int, cell: int) -> int:
    return -(-length // cell)
