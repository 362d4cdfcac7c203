"""Covers: the fewest places from which all others are reached, with proof or gap."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heapreplace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["Cover", "Table", "cover_all"]

_MOST_EXACT = 40_000
"""Pairs of place and demand up to which the exact answer is sought, after alike ones are merged."""
_MOST_MERGED = 1_000_000
_MOST_NODES = 500
"""Branches after which the search for it ends; a count, not a time, so that every machine ends at the same one."""
_ROUNDS = 20
"""Rounds in which the weights of the demands grow; more of them raise the bound by less than one in a hundred."""

_Ints = NDArray[np.intp]


class Table(NamedTuple):
    """Which places reach which demands, as lists.

    Attributes
    ----------
    start : NDArray of intp, shape (places + 1,)
        Where the list of each place begins in `demand`, and where the last one ends.
    demand : NDArray of intp
        The demands that each place reaches.
    demands : int
        Number of demands.
    """

    start: _Ints
    demand: _Ints
    demands: int

    @classmethod
    def of(cls, reach: NDArray[np.bool_]) -> "Table":
        """List a table of places by demands."""
        place, demand = np.nonzero(reach)
        return cls(np.searchsorted(place, np.arange(len(reach) + 1)), demand, reach.shape[1])

    @property
    def places(self) -> int:
        """Number of places."""
        return len(self.start) - 1

    def lists(self) -> "_Lists":
        """Return the demands of each place."""
        return _Lists(self)

    def turned(self) -> "Table":
        """Return the places that reach each demand."""
        order = np.argsort(self.demand, kind="stable")
        place = np.repeat(np.arange(self.places), np.diff(self.start))
        return Table(np.searchsorted(self.demand[order], np.arange(self.demands + 1)), place[order], self.places)

    def dense(self) -> NDArray[np.bool_]:
        """Return the table of places by demands."""
        reach = np.zeros((self.places, self.demands), dtype=bool)
        reach[np.repeat(np.arange(self.places), np.diff(self.start)), self.demand] = True
        return reach


class _Lists:
    """The demands of each place, cut out only when asked for: most are never looked at."""

    def __init__(self, table: Table) -> None:
        self._start, self._demand = table.start.tolist(), table.demand

    def __getitem__(self, place: int) -> _Ints:
        return self._demand[self._start[place] : self._start[place + 1]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Places that together reach everything.

    Attributes
    ----------
    chosen : tuple of int
        Positions of the places.
    least : int
        Number of places that no choice can go below; equal to the number chosen where the answer is proven.
    """

    chosen: tuple[int, ...]
    least: int


def cover_all(table: Table, sweeps: Iterable[Sequence[int]] = ()) -> Cover:
    """Choose the fewest places that reach every demand.

    First the place that reaches most of what is left, again and again; then, sweep by sweep, for the first demand that
    is left the place that reaches most with it. The smallest choice counts. Demands of which no two share a place
    prove how few can do, and so do weights on the demands that come to one at most for every place. Where that does
    not settle it and the job is small, an integer programme does.

    Parameters
    ----------
    table : Table
        What each place reaches; every demand is reached by some place.
    sweeps : iterable of sequence of int
        Orders of the demands, each holding all of them; those that run over the ground from side to side do well.

    Returns
    -------
    Cover

    References
    ----------
    V. Chvátal, A greedy heuristic for the set-covering problem, Mathematics of Operations Research 4, 1979 (from
    memory).

    Examples
    --------
    >>> cover_all(Table.of(np.array([[True, True, False], [False, True, True], [True, False, False]])))
    Cover(chosen=(0, 1), least=2)
    """
    if not table.demands:
        return Cover(chosen=(), least=0)
    by_demand = table.turned()
    lists, places = table.lists(), by_demand.lists()
    chosen, least = _greedy(table, lists), _packed(by_demand, lists, places)
    if least < len(chosen):
        least = max(least, _weighed(table, by_demand))
    for order in sweeps:
        if least < len(chosen):
            chosen = min(chosen, _swept(order, lists, places), key=len)
    size = table.places * table.demands
    if least < len(chosen) and size <= _MOST_MERGED:
        chosen, bound = _settled(table.dense(), chosen)
        least = max(least, bound)
    return Cover(chosen=chosen, least=min(least, len(chosen)))


def _greedy(table: Table, lists: _Lists) -> tuple[int, ...]:
    """Take the place that reaches most of what is left, again and again; then drop those that turn out needless."""
    left, open_ = np.ones(table.demands, dtype=bool), table.demands
    ranked = [(-reached, place) for place, reached in enumerate(np.diff(table.start).tolist())]
    heapify(ranked)
    chosen: list[int] = []
    while open_:  # what a place still reaches only shrinks, so the first whose count has not is the best
        gain, place = ranked[0]
        now = int(np.count_nonzero(left[lists[place]]))
        if now == -gain:
            heappop(ranked)
            chosen.append(place)
            left[lists[place]] = False
            open_ -= now
        else:
            heapreplace(ranked, (-now, place))
    return _needed(chosen, lists, table.demands)


def _swept(order: Sequence[int], lists: _Lists, places: _Lists) -> tuple[int, ...]:
    """Take for the first demand left the place that reaches most of what is left; then drop the needless ones."""
    left = np.ones(len(order), dtype=bool)
    chosen: list[int] = []
    for demand in order:
        if left[demand]:
            best = max(places[demand].tolist(), key=lambda place: (np.count_nonzero(left[lists[place]]), -place))
            chosen.append(best)
            left[lists[best]] = False
    return _needed(chosen, lists, len(order))


def _needed(chosen: list[int], lists: _Lists, demands: int) -> tuple[int, ...]:
    """Drop the places, the last first, whose demands others reach."""
    times, kept = np.zeros(demands, dtype=np.intp), set(chosen)
    for place in chosen:
        times[lists[place]] += 1
    for place in reversed(chosen):
        if (times[lists[place]] > 1).all():
            kept.remove(place)
            times[lists[place]] -= 1
    return tuple(sorted(kept))


def _packed(by_demand: Table, lists: _Lists, places: _Lists) -> int:
    """Count demands of which no two share a place, taking those first that share with the fewest places."""
    count, free = 0, np.ones(by_demand.places, dtype=bool)
    for demand in np.argsort(np.diff(by_demand.start), kind="stable").tolist():
        if free[demand]:
            count += 1
            for place in places[demand].tolist():
                free[lists[place]] = False
    return count


def _weighed(table: Table, by_demand: Table) -> int:
    """Weigh the demands such that no place reaches more than one in all; as many places as all weigh are needed.

    Dividing every weight by the heaviest sum of a place that reaches the demand keeps to that, and no weight falls.
    """
    reached = table.start[:-1] < table.start[1:]
    weights, sums = np.ones(table.demands), np.zeros(table.places)
    for _ in range(_ROUNDS):
        sums[reached] = np.add.reduceat(weights[table.demand], table.start[:-1][reached])
        weights = weights / np.maximum.reduceat(sums[by_demand.demand], by_demand.start[:-1])
    return int(np.ceil(weights.sum() - 1e-6))


def _settled(reach: NDArray[np.bool_], chosen: tuple[int, ...]) -> tuple[tuple[int, ...], int]:
    """Seek the exact answer where what is left after merging is small; return the best known and the bound."""
    places, demands = _merged(reach)
    small = reach[np.ix_(places, demands)]
    if small.size > _MOST_EXACT:
        return chosen, 1
    found, bound = _exact(small, len(chosen))
    if 0 < len(found) < len(chosen):
        chosen = tuple(int(places[i]) for i in found)
    return chosen, bound


def _merged(reach: NDArray[np.bool_]) -> tuple[_Ints, _Ints]:
    """Keep one of the places, and one of the demands, that are alike."""
    demands = np.sort(np.unique(reach, axis=1, return_index=True)[1])
    places = np.sort(np.unique(reach[:, demands], axis=0, return_index=True)[1])
    return places, demands


def _exact(reach: NDArray[np.bool_], most: int) -> tuple[list[int], int]:
    """Solve by branch and bound; return the places, none where it ended without, and the bound."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (only where counting does not settle it)

    count = reach.shape[0]
    found = milp(
        np.ones(count),
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(reach.T.astype(float), lb=1),
        options={"node_limit": _MOST_NODES},
    )
    bound = found.mip_dual_bound
    least = int(np.ceil(bound - 1e-6)) if bound is not None and np.isfinite(bound) else 1
    places = np.flatnonzero(found.x > 0.5).tolist() if found.x is not None else []
    if len(places) < most and places and not reach[places].any(axis=0).all():
        return [], least
    return places, least
