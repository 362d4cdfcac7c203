"""Guided: rolls filled by what every run is worth, as the proof has it, rather than by how full they get.

The runs are taken in a shuffled order, so that those that are left to the last are of all lengths and still fit well.
"""

from collections import Counter
from collections.abc import Sequence
from random import Random

from .filling import best_with, sort_small, spread
from .knapsack import Knapsack
from .short_job import ShortJob, Sorted

__all__ = ["fill_by_worth"]

_WINDOW = 150
"""Runs or numbers of equal runs that are tried beside each, spread over all."""
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
    tried = max(1, _WINDOW // max(left.values(), default=1).bit_length())
    while left.total() > _SMALL:
        kinds = list(left)
        first = draw.choice(kinds)
        others = left - Counter([first])
        window = [kinds[at] for at in spread(len(kinds), tried)]
        group = best_with(short, sack, worths, first, {kind: others[kind] for kind in window})
        content = Counter(group)
        times = max(1, min(left[kind] // number for kind, number in content.items()) // 2)
        groups += [group] * times
        left -= Counter({kind: number * times for kind, number in content.items()})
    return groups + sort_small(short, list(left.elements()))
