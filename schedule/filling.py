"""Filling: good plans at once: runs sorted into groups that fill their rolls, without any proof."""

from bisect import bisect_left, bisect_right, insort
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from .knapsack import Knapsack
from .reach import Reach
from .short_job import ShortJob, Sorted, content_of

__all__ = ["Ladder", "best_with", "fill_rolls", "first_fit", "merge", "part_best", "sort_small", "spread"]

_CELLS = 60_000
"""Steps in which the fullness of a roll is measured."""
_SMALL = 9
"""So many last runs are sorted in the best of all ways."""
_MOST_MERGED = 9
_LARGEST = 24
"""Runs in a group from which on it is left as it is."""
_SLACK = 1e-9


def first_fit(lengths: Sequence[int], capacity: int) -> Sorted:
    """Pack lengths into rolls, first-fit decreasing.

    Parameters
    ----------
    lengths : sequence of int
        Each no longer than a roll [ticks].
    capacity : int
        Length of a roll [ticks], > 0.

    Returns
    -------
    list of list of int
        For each roll the positions of its lengths, from long to short.

    Examples
    --------
    >>> first_fit([4, 6, 5, 3], 10)
    [[1, 0], [2, 3]]
    """
    order = sorted(range(len(lengths)), key=lambda i: -lengths[i])
    shortest = lengths[order[-1]] if order else 0
    rolls: Sorted = []
    left = _Remainders(len(order))
    for i in order:
        roll = left.first(lengths[i])
        if roll is None:
            roll = len(rolls)
            rolls.append([])
            left.put(roll, capacity, shortest)
        rolls[roll].append(i)
        left.put(roll, left.of(roll) - lengths[i], shortest)
    return rolls


class _Remainders:
    """What is left of each open roll, as a tree in which every knot holds the most of what hangs under it."""

    def __init__(self, capacity: int) -> None:
        self._leaves = 1 << max(0, capacity - 1).bit_length()
        self._most = [-1] * (2 * self._leaves)

    def of(self, roll: int) -> int:
        return self._most[self._leaves + roll]

    def put(self, roll: int, left: int, shortest: int) -> None:
        """Note what is left of a roll; one too short for every length is closed."""
        at = self._leaves + roll
        value = left if left >= shortest else -1
        if value == self._most[at]:
            return
        most = self._most
        most[at] = value
        while at > 1:
            at //= 2
            value = max(most[2 * at], most[2 * at + 1])
            if most[at] == value:
                break
            most[at] = value

    def first(self, length: int) -> int | None:
        """Return the first roll with that much left, if there is one."""
        if self._most[1] < length:
            return None
        at = 1
        while at < self._leaves:
            at *= 2
            if self._most[at] < length:
                at += 1
        return at - self._leaves


def fill_rolls(short: ShortJob, chains: Sequence[tuple[int, ...]], *, window: int, waste: float) -> Sorted:
    """Fill rolls, or chains of them, with long runs first and short ones to make them full; the last runs together.

    For the longest run that is left every chain is tried, and the one taken that costs least for the length in it.

    Parameters
    ----------
    short : ShortJob
    chains : sequence of tuple of int
        Positions of the stock lengths in each chain; among them one that holds the longest run.
    window : int
        Number of runs tried beside the longest, >= 1.
    waste : float
        Share of a chain that may stay empty, 0 to 1: small runs are kept for where nothing else helps.

    Returns
    -------
    Sorted
    """
    left = short.runs()[::-1]
    lengths = [short.job.demands[i].length for i in left]
    offers = [_Offer(short, chain) for chain in chains]
    groups: Sorted = []
    while len(left) > _SMALL:
        first, size = left.pop(), lengths.pop()
        fitting = [offer for offer in offers if offer.room >= size]
        ladder = Ladder(lengths, max(offer.room for offer in fitting) - size, window)
        fills = [ladder.fill(offer.room - size, int(waste * offer.room)) for offer in fitting]
        ranked = sorted(
            (offer.weight / (size + sum(lengths[at] for at in fill)), number)
            for number, (offer, fill) in enumerate(zip(fitting, fills, strict=True))
        )
        for _, number in ranked:
            chosen = fills[number]
            group = [first, *(left[at] for at in chosen)]
            if len(fitting[number].chain) == 1 or short.cut(content_of(group)) is not None:
                break
        groups.append(group)
        sizes = [size, *(lengths[at] for at in chosen)]
        for at in chosen:
            del left[at], lengths[at]
        groups += _repeated(short, left, lengths, sizes, single=len(fitting[number].chain) == 1)
    return groups + sort_small(short, left)


def _repeated(short: ShortJob, left: list[int], lengths: list[int], sizes: list[int], *, single: bool) -> Sorted:
    """Take the same lengths again and again while there are such runs: what was best once is best for their like."""
    groups: Sorted = []
    wanted = Counter(sizes)
    while len(left) > _SMALL and lengths[-1] == sizes[0]:
        spans = {size: bisect_right(lengths, size) for size in wanted}
        if any(lengths[max(0, end - wanted[size])] != size for size, end in spans.items()):
            break
        taken = sorted((at for size, end in spans.items() for at in range(end - wanted[size], end)), reverse=True)
        if taken[-1] < 0:
            break
        group = [left[at] for at in taken]
        if not single and short.cut(content_of(group)) is None:
            break
        groups.append(group)
        for at in taken:
            del left[at], lengths[at]
    return groups


class _Offer:
    """A chain of rolls that may be filled."""

    def __init__(self, short: ShortJob, chain: tuple[int, ...]) -> None:
        job = short.job
        self.chain = chain
        self.room = short.reach.worth(chain)
        self.weight = sum(job.weights[i] for i in chain) + (len(chain) - 1) * job.splice_weight


class Ladder:
    """The sums that can be made of some of the lengths, as bits, with ever longer lengths taken in.

    Parameters
    ----------
    lengths : sequence of int
        From short to long [ticks].
    room : int
        The most that sums may reach [ticks].
    window : int
        Number of lengths looked at, >= 1.
    """

    def __init__(self, lengths: Sequence[int], room: int, window: int) -> None:
        self._tried = spread(bisect_left(lengths, room + 1), window)
        self._cell = max(1, room // _CELLS)
        self._sizes = [-(-lengths[at] // self._cell) for at in self._tried]
        mask, self._sums = (1 << (room // self._cell + 1)) - 1, [1]
        for size in self._sizes:
            self._sums.append((self._sums[-1] | self._sums[-1] << size) & mask)

    def fill(self, room: int, waste: int) -> list[int]:
        """Choose lengths that fill a room [ticks] up to some waste, the longest that will do first.

        Where that cannot be, they fill it best. Positions are returned from the last to the first.
        """
        cells = room // self._cell
        most = (self._sums[-1] & ((1 << (cells + 1)) - 1)).bit_length() - 1
        least = min(most, (room - waste) // self._cell)
        chosen = []
        for number in range(len(self._sizes) - 1, -1, -1):
            if least <= 0:
                break
            size = self._sizes[number]
            if size <= most and (self._sums[number] & ((1 << (most - size + 1)) - 1)) >> max(0, least - size):
                chosen.append(self._tried[number])
                most, least = most - size, least - size
        return chosen


def spread(count: int, window: int) -> list[int]:
    """Spread a window over so many positions.

    Examples
    --------
    >>> spread(3, 10), spread(9, 3)
    ([0, 1, 2], [0, 4, 8])
    """
    if count <= window:
        return list(range(count))
    return sorted({int(at) for at in np.linspace(0, count - 1, window)})


def sort_small(short: ShortJob, runs: Sequence[int]) -> Sorted:
    """Sort a few runs in the best of all ways.

    Parameters
    ----------
    short : ShortJob
    runs : sequence of int
        A handful of runs.

    Returns
    -------
    Sorted
    """
    return part_best(short.reach, runs, [short.job.demands[i].length for i in runs], short.weigh)


def part_best(reach: Reach, runs: Sequence[int], lengths: Sequence[int], weigh: Callable[[list[int]], float]) -> Sorted:
    """Part a few runs into groups of least weight.

    Every group is first taken to weigh what the cheapest chain for its length does; those chosen are weighed truly, and
    the choice is made again until all that are chosen have their true weight.

    Parameters
    ----------
    reach : Reach
        Chains.
    runs : sequence of int
        Positions of their demands.
    lengths : sequence of int
        Their lengths [ticks].
    weigh : callable
        True weight of a group, no less than that of the cheapest chain.

    Returns
    -------
    Sorted
    """
    if not runs:
        return []
    sums = np.zeros(1, dtype=np.int64)
    for length in lengths:
        sums = np.concatenate((sums, sums + length))
    weights = reach.weights(sums)
    while True:
        masks = _best_parts(weights, len(runs))
        groups = [[run for i, run in enumerate(runs) if mask >> i & 1] for mask in masks]
        dear = False
        for mask, group in zip(masks, groups, strict=True):
            weight = weigh(group)
            dear = dear or weight > weights[mask] + _SLACK
            weights[mask] = weight
        if not dear:
            return groups


def _best_parts(weights: NDArray[np.float64], count: int) -> list[int]:
    """Part a set at the least sum of weights; sets are bits of a number."""
    best = np.zeros(1 << count)
    choice = [0] * (1 << count)
    for mask, subs in enumerate(_subsets(count)):
        if mask:
            values = weights[subs] + best[mask - subs]
            at = int(np.argmin(values))
            best[mask], choice[mask] = values[at], int(subs[at])
    masks, left = [], (1 << count) - 1
    while left:
        masks.append(choice[left])
        left -= choice[left]
    return masks


@cache
def _subsets(count: int) -> list[NDArray[np.int64]]:
    """For each set list its subsets that hold its first member, the whole set first."""
    subsets = [np.zeros(0, dtype=np.int64)]
    for mask in range(1, 1 << count):
        low, subs = mask & -mask, np.zeros(1, dtype=np.int64)
        for bit in range(count):
            if (mask ^ low) >> bit & 1:
                subs = np.concatenate((subs, subs + (1 << bit)))
        subsets.append(subs[::-1] + low)
    return subsets


def best_with(
    short: ShortJob, sack: Knapsack, worths: Sequence[float], first: int, others: Mapping[int, int]
) -> list[int]:
    """Find the group for one run that loses least.

    Parameters
    ----------
    short : ShortJob
    sack : Knapsack
        Of that job, safe.
    worths : sequence of float
        What one run of each demand is worth.
    first : int
        The run's demand.
    others : Mapping of int to int
        Demands of the runs that may join it, and their numbers.

    Returns
    -------
    list of int
        A group that can be cut.
    """
    _, counts = sack.best(worths, pieces=sack.pieces(others), first=first)
    return _possible(short, [kind for kind, number in enumerate(counts) for _ in range(number)], first)


def _possible(short: ShortJob, group: list[int], first: int) -> list[int]:
    """Leave out short runs until a group can be cut; what remains at last is the one run that it was made for."""
    order = sorted(group, key=lambda kind: -short.job.demands[kind].length)
    order.remove(first)
    order.insert(0, first)
    while len(order) > 1 and short.weigh(order) == float("inf"):
        order.pop()
    return order


def merge(short: ShortJob, groups: Sorted) -> Sorted:
    """Join groups whose waste together saves more than the splices cost.

    Parameters
    ----------
    short : ShortJob
    groups : Sorted

    Returns
    -------
    Sorted
    """
    if not short.job.splices:
        return groups
    ranked = sorted((-_waste(short, group), number, group) for number, group in enumerate(groups))
    ranked, done = [entry for entry in ranked if entry[0] < 0], [entry[2] for entry in ranked if entry[0] >= 0]
    number = len(groups)
    while len(ranked) > 1:
        joined = _join(short, [entry[2] for entry in ranked[:_MOST_MERGED]])
        if joined is None:
            break
        taken, group = joined
        del ranked[:taken]
        if len(group) > _LARGEST:
            done.append(group)
        else:
            insort(ranked, (-_waste(short, group), number, group))
        number += 1
    return done + [entry[2] for entry in ranked]


def _waste(short: ShortJob, group: list[int]) -> int:
    length = short.length(group)
    return short.reach.worth(short.reach.chain(length)) - length


def _join(short: ShortJob, ranked: Sorted) -> tuple[int, list[int]] | None:
    """Join the first few groups where that saves something; return how many, and the new group."""
    apart = short.weigh(ranked[0])
    for taken in range(2, len(ranked) + 1):
        apart += short.weigh(ranked[taken - 1])
        group = list(chain.from_iterable(ranked[:taken]))
        if short.reach.weight(short.length(group)) < apart - _SLACK and short.weigh(group) < apart - _SLACK:
            return taken, group
    return None
