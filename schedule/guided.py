"""Guided: rolls filled by what every run is worth, as the proof has it, rather than by how full they get.

The runs are taken in a shuffled order, so that those that are left to the last are of all lengths and still fit well.
"""

from collections import Counter
from collections.abc import Sequence
from random import Random

from .filling import sort_small, spread
from .knapsack import Knapsack
from .short_job import ShortJob, Sorted

__all__ = ["fill_by_worth"]

_WINDOW = 60
_SMALL = 9


def fill_by_worth(short: ShortJob, worths: Sequence[float], *, seed: int) -> Sorted:
    """Fill chains of rolls, for run after run with the group that loses least.

    Parameters
    ----------
    short : ShortJob
    worths : sequence of float
        What one run of each demand is worth.
    seed : int
        Number of the order in which the runs are taken.

    Returns
    -------
    Sorted
    """
    sack, draw = Knapsack(short.job, safe=True), Random(seed)  # noqa: S311 (no secret: one of many fixed orders)
    left = Counter(short.runs())
    groups: Sorted = []
    while left.total() > _SMALL:
        kinds = list(left)
        first = draw.choice(kinds)
        others = left - Counter([first])
        window = [kinds[at] for at in spread(len(kinds), _WINDOW)]
        _, counts = sack.best(worths, pieces=sack.pieces({kind: others[kind] for kind in window}), first=first)
        group = _possible(short, [kind for kind, number in enumerate(counts) for _ in range(number)], first)
        content = Counter(group)
        times = max(1, min(left[kind] // number for kind, number in content.items()) // 2)
        groups += [group] * times
        left -= Counter({kind: number * times for kind, number in content.items()})
    return groups + sort_small(short, list(left.elements()))


def _possible(short: ShortJob, group: list[int], first: int) -> list[int]:
    """Leave out short runs until a group can be cut; what remains at last is the one run that it was made for."""
    order = sorted(group, key=lambda kind: -short.job.demands[kind].length)
    order.remove(first)
    order.insert(0, first)
    while len(order) > 1 and short.weigh(order) == float("inf"):
        order.pop()
    return order
