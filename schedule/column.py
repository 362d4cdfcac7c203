"""Column: the bound that also sees how badly some lengths share a roll, by column generation.

The runs are to be covered by groups; a group may use any chain of rolls. The linear program over all groups has a
value that no plan can stay under. Its columns are found one by one, each by a knapsack over the room that is left in
the last roll of a chain, however long the chain. Lengths are measured in cells; where cells are coarser than ticks,
runs are rounded down and rolls up, so that the bound stays one.

Where there are many different lengths, what a run is worth is sought at some of them only, first few, then more, and
taken along a straight line between: that is a bound as well, hardly weaker, and found far sooner.

References
----------
P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting-stock problem, Operations Research 9
(1961), for the columns; the bound from unfinished duals is that of A. A. Farley, A note on bounding a class of linear
programming problems, Operations Research 38 (1990). Both from memory.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .knapsack import Knapsack
from .stock import CuttingJob

__all__ = ["ColumnBound", "bound_by_columns"]

_Floats: TypeAlias = NDArray[np.float64]

_SMALL = 1e-9
_HOLD = 0.7
"""How far tried duals keep to the best ones so far, which makes them swing less."""
_LEAST_HOLD = 0.05
_MOST_PIVOTS = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnBound:
    """What the column generation found.

    Attributes
    ----------
    weight : float
        No plan weighs less; 0 where nothing was proven.
    columns : tuple of tuple of int
        Contents of the groups found: for each demand how many of its runs.
    duals : tuple of float
        What one run of each demand is worth: no group is worth more than it weighs.
    """

    weight: float
    columns: tuple[tuple[int, ...], ...]
    duals: tuple[float, ...]


def bound_by_columns(
    job: CuttingJob,
    known: Mapping[tuple[int, ...], float],
    *,
    rounds: int,
    knots: Sequence[int],
    stop: Callable[[], bool] = lambda: False,
) -> ColumnBound:
    """Bound the weight of all plans of a job, and find groups that good plans are made of.

    Parameters
    ----------
    job : CuttingJob
        Without offcuts in stock.
    known : Mapping of tuple of int to float
        Contents of groups to begin with, and their weights.
    rounds : int
        Number of knapsacks after which to stop; the bound holds all the same.
    knots : sequence of int
        Numbers of lengths, each >= 2, at which worths are sought, one after the other; as many as the job has or more
        for all.
    stop : callable
        Tells whether to stop at once.

    Returns
    -------
    ColumnBound
    """
    found, master = None, _Master(job, known, knots[0])
    for number in knots:
        if found is not None:
            master = _Master(job, master.known(), number)
        found = master.solve(rounds, None if found is None else found.duals, stop)
    return found if found is not None else master.solve(0, None, stop)


class _Master:
    """The linear program over groups, solved by the revised simplex method."""

    def __init__(self, job: CuttingJob, known: Mapping[tuple[int, ...], float], knots: int) -> None:
        self._job, self._knapsack = job, Knapsack(job, safe=False)
        self._quantity: _Floats = np.array([demand.quantity for demand in job.demands], dtype=np.float64)
        at, self._shares = _shares([demand.length for demand in job.demands], knots, self._knapsack.steps_of_worth())
        self._demand: _Floats = self._quantity @ self._shares
        count = len(self._quantity)
        alone = [(i, *self._knapsack.alone(i)) for i in at]
        basis = {tuple(n * (i == j) for j in range(count)): weight for i, n, weight in alone}
        self._pool: list[tuple[int, ...]] = [*basis, *(content for content in known if content not in basis)]
        self._contents: _Floats = np.array(self._pool, dtype=np.float64) @ self._shares
        self._prices: _Floats = np.array([basis[c] if c in basis else known[c] for c in self._pool])
        self._basis = list(range(len(at)))
        self._inverse: _Floats = np.diag(1.0 / np.diag(self._contents[: len(at)]))
        self._pivots = 0
        self._best, self._centre = 0.0, np.zeros(count)

    def known(self) -> dict[tuple[int, ...], float]:
        """Return the groups known so far, with their weights."""
        return dict(zip(self._pool, self._prices.tolist(), strict=True))

    def solve(self, rounds: int, guess: Sequence[float] | None, stop: Callable[[], bool]) -> ColumnBound:
        self._improve(self._knapsack.by_length())
        if guess is not None:
            self._improve(np.array(guess))
        hold = _HOLD
        for _ in range(rounds):
            if stop():
                break
            duals = self._shares @ self._settle()
            tried = np.maximum(hold * self._centre + (1 - hold) * duals, 0.0)
            weight, content = self._improve(tried)
            gain = float(np.array(content, dtype=np.float64) @ duals) - weight
            if gain > _SMALL * max(1.0, weight):
                self._append(content, weight)
            elif hold:
                hold = hold / 2 if hold > _LEAST_HOLD else 0.0
            else:
                break
        return ColumnBound(weight=self._best, columns=tuple(self._pool), duals=tuple(self._centre.tolist()))

    def _improve(self, worths: _Floats) -> tuple[float, tuple[int, ...]]:
        """Take worths for the best so far if they prove more; return the group worth most by them, its weight first."""
        gain, content = self._knapsack.best(worths)
        share = self._knapsack.sound_share(worths, gain)
        if share * float(worths @ self._quantity) > self._best:
            self._best, self._centre = share * float(worths @ self._quantity), share * worths
        return float(np.array(content, dtype=np.float64) @ worths) - gain, content

    def _settle(self) -> _Floats:
        """Find the best shares of the groups known so far; return the worth of one run of each demand."""
        count = len(self._demand)
        while True:
            prices = np.array([self._prices[i] if i >= 0 else 0.0 for i in self._basis])
            duals = _product(self._inverse.T, prices)
            gains = _product(self._contents, duals) - self._prices
            entering, slack = int(np.argmax(gains)), int(np.argmin(duals))
            if gains[entering] > max(_SMALL * max(1.0, float(self._prices[entering])), -float(duals[slack])):
                column, number = self._contents[entering], entering
            elif duals[slack] < -_SMALL:
                column, number = -np.eye(count)[slack], -1 - slack
            else:
                return duals
            if not self._pivot(column, number):
                return np.maximum(duals, 0.0)

    def _pivot(self, column: _Floats, number: int) -> bool:
        """Bring a column into the basis; tell whether that was possible."""
        self._pivots += 1
        leaving = _ratio_test(self._inverse, column, self._demand)
        if leaving is None or self._pivots > _MOST_PIVOTS:
            return False
        self._basis[leaving] = number
        if self._pivots % 200:
            self._inverse = _pivoted(self._inverse, column, leaving)
        else:
            columns = [self._contents[i] if i >= 0 else -np.eye(len(self._demand))[-1 - i] for i in self._basis]
            try:
                self._inverse = np.linalg.inv(np.array(columns).T)
            except np.linalg.LinAlgError:  # rounding has spoilt the basis: what is proven so far holds
                return False
        return True

    def _append(self, content: tuple[int, ...], weight: float) -> None:
        self._pool.append(content)
        self._contents = np.vstack([self._contents, np.array(content, dtype=np.float64) @ self._shares])
        self._prices = np.append(self._prices, weight)


def _shares(lengths: Sequence[int], knots: int, leaps: Sequence[int]) -> tuple[list[int], _Floats]:
    """Choose some of the lengths; return them, and for every length its shares of the two chosen around it.

    On both sides of every leap, where worths change at once, a length is chosen.
    """
    count = len(lengths)
    if knots >= count:
        return list(range(count)), np.eye(count)
    order = np.argsort(lengths, kind="stable")
    sizes = np.array(lengths, dtype=np.float64)
    beside = np.searchsorted(sizes[order], leaps[: knots // 2], side="right")
    places = [*np.linspace(0, count - 1, knots).astype(int), *beside - 1, *beside]
    chosen = order[np.unique(np.clip(places, 0, count - 1))]
    shares = [np.interp(sizes, sizes[chosen], row) for row in np.eye(len(chosen))]
    return chosen.tolist(), np.array(shares).T


def _product(matrix: _Floats, vector: _Floats) -> _Floats:
    """Multiply on one processor: for matrices this small, the threads of `@` wait for each other most of the time."""
    return np.asarray(np.einsum("ij,j->i", matrix, vector), dtype=np.float64)


def _ratio_test(inverse: _Floats, entering: _Floats, demand: _Floats) -> int | None:
    direction, levels = _product(inverse, entering), _product(inverse, demand)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratios = np.where(direction > 1e-10, levels / direction, inf)
    leaving = int(np.argmin(ratios))
    return leaving if ratios[leaving] < inf else None


def _pivoted(inverse: _Floats, entering: _Floats, leaving: int) -> _Floats:
    """Exchange one column of a basis in its inverse."""
    direction = _product(inverse, entering)
    row = inverse[leaving] / direction[leaving]
    result = inverse - np.outer(direction, row)
    result[leaving] = row
    return np.asarray(result, dtype=np.float64)
