"""Mending: a plan made better by taking a few of its groups apart and sorting their runs anew.

What each run is worth, as the proof has it, tells which groups weigh more than they should; those are taken
apart first, and filled again so that as little as possible is lost.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from random import Random

from .filling import best_with, sort_small
from .knapsack import Knapsack
from .short_job import ShortJob, Sorted

__all__ = ["Mending"]

_MOST_RUNS = 30
_SMALL = 8
"""So many last runs are sorted in the best of all ways."""
_MOST_LOOKED_AT = 400
_SLACK = 1e-9


class Mending:
    """A plan that is made better step by step.

    Parameters
    ----------
    short : ShortJob
    groups : Sorted
        The plan, every group of it possible.
    worths : sequence of float
        What one run of each demand is worth.
    """

    def __init__(self, short: ShortJob, groups: Sorted, worths: Sequence[float]) -> None:
        self._short, self._worths = short, worths
        self._sack, self._draw = Knapsack(short.job, safe=True), Random(len(groups))  # noqa: S311 (no secret)
        self._entries = [(self._excess(group), group) for group in groups]

    @property
    def groups(self) -> Sorted:
        """The plan as it is now."""
        return [group for _, group in self._entries]

    def improve(self, rounds: int, stop: Callable[[], bool]) -> bool:
        """Take some steps; the same for the same plan.

        Parameters
        ----------
        rounds : int
            Number of steps.
        stop : callable
            Tells whether to stop at once.

        Returns
        -------
        bool
            Whether the plan has become better; it never becomes worse.
        """
        better = False
        for _ in range(rounds):
            if stop():
                break
            better |= self._step()
        return better

    def _step(self) -> bool:
        """Take some groups apart and sort their runs anew."""
        taken = self._choose()
        if len(taken) < 2:
            return False
        anew = [
            (self._excess(group), group) for group in self._sort([run for at in taken for run in self._entries[at][1]])
        ]
        gain = sum(self._entries[at][0] for at in taken) - sum(excess for excess, _ in anew)
        if gain < -_SLACK:
            return False
        for at in sorted(taken, reverse=True):
            del self._entries[at]
        self._entries += anew
        return gain > _SLACK

    def _excess(self, group: list[int]) -> float:
        """Tell how much more a group weighs than its runs are worth."""
        return self._short.weigh(group) - sum(self._worths[run] for run in group)

    def _choose(self) -> list[int]:
        """Choose groups that hold few runs together, by chance, those with much excess rather."""
        count = len(self._entries)
        looked_at = self._draw.sample(range(count), min(count, _MOST_LOOKED_AT))
        ranked = sorted((-(self._entries[at][0] + _SLACK) * self._draw.random() ** 2, at) for at in looked_at)
        taken, room = [], _MOST_RUNS
        for _, at in ranked:
            if len(self._entries[at][1]) <= room:
                taken.append(at)
                room -= len(self._entries[at][1])
        return taken

    def _sort(self, runs: list[int]) -> Sorted:
        left = Counter(runs)
        groups: Sorted = []
        demands = self._short.job.demands
        while left.total() > _SMALL:
            kinds = list(left)
            longest = max(kinds, key=lambda kind: demands[kind].length)
            first = longest if self._draw.random() < 0.5 else self._draw.choice(kinds)
            group = best_with(self._short, self._sack, self._worths, first, left - Counter([first]))
            groups.append(group)
            left -= Counter(group)
        return groups + sort_small(self._short, list(left.elements()))
