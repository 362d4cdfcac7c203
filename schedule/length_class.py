"""Length class: many lengths put into a few classes, so that a large job is judged by a small one.

With every run as short as the shortest of its class, no plan of the small job costs more than one of the large job: its
bound holds. With every run as long as the longest, every plan of the small job can be cut from the large one.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .stock import CuttingJob, Demand

__all__ = ["LengthClasses", "spread_worths"]


@dataclass(frozen=True, kw_only=True)
class LengthClasses:
    """The classes of a job.

    Attributes
    ----------
    job : CuttingJob
        The job.
    count : int
        Most classes, >= 1.
    """

    job: CuttingJob
    count: int

    @cached_property
    def members(self) -> list[list[int]]:
        """Positions of the demands of each class, from short to long."""
        order = sorted(range(len(self.job.demands)), key=lambda i: (self.job.demands[i].length, i))
        size = -(-len(order) // self.count)
        return [order[at : at + size] for at in range(0, len(order), size)]

    def shortest(self) -> CuttingJob:
        """Return the job with every run as short as the shortest of its class."""
        return self._with(min)

    def longest(self) -> CuttingJob:
        """Return the job with every run as long as the longest of its class."""
        return self._with(max)

    def runs_of(self, groups: Sequence[Sequence[int]]) -> list[list[int]]:
        """Put the runs of each class where groups of classes have one of it."""
        waiting = [[i for i in members for _ in range(self.job.demands[i].quantity)] for members in self.members]
        return [[waiting[number].pop() for number in group] for group in groups]

    def _with(self, choose: Callable[[Sequence[int]], int]) -> CuttingJob:
        demands = []
        for members in self.members:
            own = [self.job.demands[i] for i in members]
            demands.append(
                Demand(
                    length=choose([demand.length for demand in own]),
                    quantity=sum(demand.quantity for demand in own),
                    first=max(demand.first for demand in own),
                    last=max(demand.last for demand in own),
                )
            )
        return replace(self.job, demands=tuple(demands))


def spread_worths(known: CuttingJob, worths: Sequence[float], job: CuttingJob) -> list[float]:
    """Guess what runs of one job are worth from those of another with lengths like theirs.

    Parameters
    ----------
    known : CuttingJob
    worths : sequence of float
        What one run of each of its demands is worth.
    job : CuttingJob

    Returns
    -------
    list of float
    """
    order = np.argsort([demand.length for demand in known.demands], kind="stable")
    lengths = np.array([demand.length for demand in known.demands])[order]
    found = np.interp([demand.length for demand in job.demands], lengths, np.array(worths)[order])
    return [float(value) for value in found]
