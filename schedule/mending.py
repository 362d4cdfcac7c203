"""Mending: a plan made better by taking a few of its groups apart and sorting their runs anew, in the best way."""

from random import Random

from .filling import sort_small
from .short_job import ShortJob, Sorted

__all__ = ["mend"]

_MOST_RUNS = 10
_SLACK = 1e-9


def mend(short: ShortJob, groups: Sorted, *, rounds: int) -> Sorted:
    """Improve a plan step by step.

    Parameters
    ----------
    short : ShortJob
    groups : Sorted
        The plan, every group of it possible.
    rounds : int
        Number of steps.

    Returns
    -------
    Sorted
        No worse, and the same for the same plan.
    """
    plan = _Mended(short, groups)
    draw = Random(len(groups))  # noqa: S311 (no secret: a fixed series of choices)
    for _ in range(rounds):
        plan.step(draw)
    return plan.groups


class _Mended:
    def __init__(self, short: ShortJob, groups: Sorted) -> None:
        self._short = short
        self.groups = [list(group) for group in groups]
        self._weights = [short.weigh(group) for group in groups]
        self._tried: set[tuple[int, ...]] = set()

    def step(self, draw: Random) -> None:
        """Take some groups apart and sort their runs anew."""
        taken = self._choose(draw)
        runs = sorted(
            (run for at in taken for run in self.groups[at]), key=lambda i: -self._short.job.demands[i].length
        )
        if len(taken) < 2 or tuple(runs) in self._tried:
            return
        self._tried.add(tuple(runs))
        anew = sort_small(self._short, runs)
        weights = [self._short.weigh(group) for group in anew]
        if sum(weights) < sum(self._weights[at] for at in taken) - _SLACK:
            for at in sorted(taken, reverse=True):
                del self.groups[at], self._weights[at]
            self.groups += anew
            self._weights += weights

    def _choose(self, draw: Random) -> list[int]:
        """Choose groups that hold few runs together: the first by its waste, the others by chance."""
        numbers = draw.sample(range(len(self.groups)), min(len(self.groups), 2 * _MOST_RUNS))
        taken: list[int] = []
        room = _MOST_RUNS
        for number in numbers:
            if len(self.groups[number]) <= room:
                taken.append(number)
                room -= len(self.groups[number])
        return taken
