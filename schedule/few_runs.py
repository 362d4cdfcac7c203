"""Few runs: the best of all plans for some twenty runs, by what each run is worth.

No group is worth more than it weighs; what it weighs beyond is its excess. A plan weighs what all runs are worth plus
the excess of its groups. So a plan better than the best known uses no group of large excess, and the ways to part the
runs that are left can be gone through.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .reach import Reach
from .stock import CuttingJob

__all__ = ["MOST_RUNS", "part_few"]

MOST_RUNS = 22
_SLACK = 1e-9

_Ints: TypeAlias = NDArray[np.int64]
_Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    """Sets of runs that are in groups already, all with the same first run left.

    `excess` is the least excess of the groups in each; `group` the last of them, 0 for none; `layer` and `before` say
    where the set is found from which it grew; `first` is the first run left.
    """

    sets: _Ints
    excess: _Floats
    before: _Ints
    layer: _Ints
    group: _Ints
    first: _Ints

    def where(self, chosen: NDArray[np.bool_] | _Ints) -> "_Layer":
        """Return some of the sets."""
        return _Layer(**{name: getattr(self, name)[chosen] for name in _FIELDS})


_FIELDS = ("sets", "excess", "before", "layer", "group", "first")
_START = _Layer(excess=np.zeros(1), **{name: np.zeros(1, dtype=np.int64) for name in _FIELDS if name != "excess"})
_NOTHING = _START.where(np.zeros(0, dtype=np.int64))


def part_few(
    job: CuttingJob, worths: Sequence[float], most: float, weigh: Callable[[list[int]], float], *, ways: int
) -> tuple[list[list[int]] | None, float] | None:
    """Part few runs into groups of least weight.

    Parameters
    ----------
    job : CuttingJob
        No more than `MOST_RUNS` runs.
    worths : sequence of float
        What one run of each demand is worth, no more than any group weighs.
    most : float
        Weight that is known to be possible.
    weigh : callable
        True weight of a group, no less than that of the cheapest chain for its length.
    ways : int
        Number of ways to add a group to others after which the search ends.

    Returns
    -------
    list of list of int or None, float; or None
        The groups, None where nothing is lighter than `most`; and the weight that no plan can stay under. None where
        there are too many ways.
    """
    runs = [i for i, demand in enumerate(job.demands) for _ in range(demand.quantity)]
    runs.sort(key=lambda i: -job.demands[i].length)
    sums, values = np.zeros(1, dtype=np.int64), np.zeros(1)
    for run in runs:
        sums = np.concatenate((sums, sums + job.demands[run].length))
        values = np.concatenate((values, values + worths[run]))
    weights = Reach(job).weights(sums)
    weights[0] = np.inf
    allowed = most - float(values[-1])
    while True:
        found = _least_excess(weights - values, len(runs), allowed - _SLACK, ways)
        if found is None:
            return None
        masks, excess = found
        if not masks:
            return None, most
        groups = [[run for i, run in enumerate(runs) if mask >> i & 1] for mask in masks]
        true = [weigh(group) for group in groups]
        if all(weight <= weights[mask] + _SLACK for weight, mask in zip(true, masks, strict=True)):
            return groups, float(values[-1]) + excess
        weights[masks] = np.maximum(weights[masks], true)


def _least_excess(excess: _Floats, count: int, allowed: float, ways: int) -> tuple[list[int], float] | None:
    """Find the groups with the least excess in all; none if it is more than allowed, None if ways are too many."""
    groups = np.flatnonzero(excess <= allowed)
    waiting: list[list[_Layer]] = [[] for _ in range(count + 1)]
    waiting[0].append(_START)
    layers: list[_Layer] = []
    pairs = 0
    for run in range(count):
        layer = _merged(waiting[run])
        layers.append(layer)
        chosen = groups[(groups & -groups) == 1 << run]
        pairs += len(chosen) * len(layer.sets)
        if pairs > ways:
            return None
        for number, group in enumerate(layer.sets.tolist()):
            grown = _grown(layer, number, chosen[chosen & group == 0], excess, allowed, run)
            for at in np.unique(grown.first).tolist():
                waiting[at].append(grown.where(grown.first == at))
    layers.append(_merged(waiting[count]))
    return _way_back(layers)


def _grown(layer: _Layer, number: int, groups: _Ints, excess: _Floats, allowed: float, run: int) -> _Layer:
    """Add every group that may be added to one set."""
    total = float(layer.excess[number]) + excess[groups]
    groups, total = groups[total <= allowed], total[total <= allowed]
    sets = int(layer.sets[number]) | groups
    free = ~sets
    return _Layer(
        sets=sets,
        excess=total,
        before=np.full(len(groups), number),
        layer=np.full(len(groups), run),
        group=groups,
        first=np.log2((free & -free).astype(np.float64)).astype(np.int64),
    )


def _merged(parts: Sequence[_Layer]) -> _Layer:
    """Keep of every set the way with the least excess."""
    if not parts:
        return _NOTHING
    whole = _Layer(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in _FIELDS})
    order = np.lexsort((whole.excess, whole.sets))
    fresh = np.append(True, np.diff(whole.sets[order]) != 0)
    return whole.where(order[fresh])


def _way_back(layers: Sequence[_Layer]) -> tuple[list[int], float]:
    last = layers[-1]
    if not len(last.sets):
        return [], 0.0
    excess, masks = float(last.excess[0]), []
    layer, number = last, 0
    while layer.group[number]:
        masks.append(int(layer.group[number]))
        layer, number = layers[int(layer.layer[number])], int(layer.before[number])
    return masks, excess
