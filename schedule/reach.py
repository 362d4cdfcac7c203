"""Reach: the cheapest chain of rolls that is long enough for a group of runs."""

from functools import lru_cache
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .stock import CuttingJob

__all__ = ["Reach"]

_Ints: TypeAlias = NDArray[np.int64]
_Floats: TypeAlias = NDArray[np.float64]
_Chain: TypeAlias = tuple[int, float, tuple[int, ...]]
"""What a chain is worth, its weight, and how many of each stock length are in it."""

_FARTHEST = 8
"""Chains up to this many longest rolls are all looked at; longer ones are lengthened by the cheapest roll."""


class Reach:
    """Looks up the cheapest chain for a length.

    Parameters
    ----------
    job : CuttingJob
        Stock, splice price and loss; only stock without limit is used.
    """

    def __init__(self, job: CuttingJob) -> None:
        self._job = job
        self._best = min(job.buyable, key=self._rate)
        chains = _undominated(self._all_chains() if job.splices else self._single_rolls())
        self._worth: _Ints = np.array([worth for worth, _, _ in chains], dtype=np.int64)
        self._weight: _Floats = np.array([*(weight for _, weight, _ in chains), np.inf])
        self._counts = [counts for _, _, counts in chains]
        self.chain = lru_cache(maxsize=100_000)(self._chain)

    def weight(self, length: int) -> float:
        """Weight of the cheapest chain for a length [ticks], its splices among it; infinite where there is none."""
        return float(self.weights(np.array([length]))[0])

    def weights(self, lengths: _Ints) -> _Floats:
        """Weights of the cheapest chains for many lengths [ticks]."""
        needed, step = lengths - self._job.loss, self._worth_of(self._best)
        bulk = np.maximum(0, -((int(self._worth[-1]) - needed) // step)) if self._job.splices else 0 * needed
        at = np.searchsorted(self._worth, needed - bulk * step)
        return np.asarray(self._weight[at] + bulk * self._step(self._best), dtype=np.float64)

    def worth(self, rolls: tuple[int, ...]) -> int:
        """Length that a chain of rolls is good for [ticks]."""
        return sum(self._worth_of(stock) for stock in rolls) + self._job.loss

    def _chain(self, length: int) -> tuple[int, ...]:
        """Positions of the rolls of the cheapest chain for a length [ticks]; none where there is no such chain."""
        bulk, at = self._look_up(length)
        if at == len(self._counts):
            return ()
        rolls = [stock for stock, count in zip(self._job.buyable, self._counts[at], strict=True) for _ in range(count)]
        return (*[self._best] * bulk, *rolls)

    def _look_up(self, length: int) -> tuple[int, int]:
        """Return how many of the cheapest rolls lead the chain, and which of the listed chains follows them."""
        needed, step = length - self._job.loss, self._worth_of(self._best)
        bulk = max(0, -((int(self._worth[-1]) - needed) // step)) if self._job.splices else 0
        return bulk, int(np.searchsorted(self._worth, needed - bulk * step))

    def _worth_of(self, stock: int) -> int:
        return self._job.stocks[stock].length - self._job.loss

    def _step(self, stock: int) -> float:
        return self._job.weights[stock] + self._job.splice_weight

    def _rate(self, stock: int) -> float:
        return self._step(stock) / self._worth_of(stock)

    def _single_rolls(self) -> list[_Chain]:
        job = self._job
        return [
            (self._worth_of(stock), job.weights[stock], tuple(int(other == stock) for other in job.buyable))
            for stock in job.buyable
        ]

    def _all_chains(self) -> list[_Chain]:
        """List the chains up to the farthest, each stock length added to those of the lengths before."""
        job, farthest = self._job, _FARTHEST * self._job.longest
        start: _Chain = (0, -job.splice_weight, (0,) * len(job.buyable))
        chains: list[_Chain] = []
        for place, stock in enumerate(job.buyable):
            longer: list[_Chain] = []
            for worth, weight, counts in [start, *chains]:
                for n in range(1, max(1, (farthest - worth) // self._worth_of(stock)) + 1):
                    more = (*counts[:place], n, *counts[place + 1 :])
                    longer.append((worth + n * self._worth_of(stock), weight + n * self._step(stock), more))
            chains = _undominated(chains + longer)
        return chains


def _undominated(chains: list[_Chain]) -> list[_Chain]:
    """Keep the chains that no chain at least as long beats, from short to long."""
    kept: list[_Chain] = []
    for chain in sorted(chains, key=lambda chain: (-chain[0], chain[1])):
        if not kept or chain[1] < kept[-1][1]:
            kept.append(chain)
    return kept[::-1]
