"""Short job: a job in which every run longer than a roll has given its whole rolls, and only remainders are sorted.

With rolls of one length nothing is lost by it: what a group of runs costs depends on their remainders only.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import TypeAlias

from .chain import cut_chain
from .reach import Reach
from .stock import CuttingJob, Demand, Group, Part, RollCut

__all__ = ["Content", "ShortJob", "Sorted", "content_of"]

Sorted: TypeAlias = list[list[int]]
"""Groups of runs; a run by the position of its demand, once for every copy."""

Content: TypeAlias = tuple[tuple[int, int], ...]
"""What is in a group: positions of demands with their numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lead:
    """Whole rolls that a long run takes before its remainder; the last part of them may be shorter than a roll."""

    rolls: int
    last_part: int


class ShortJob:
    """The remainders of a job.

    Parameters
    ----------
    whole : CuttingJob
        The job.
    stock : int
        Position of the stock length that long runs take whole rolls of.

    Attributes
    ----------
    job : CuttingJob
        The job with every long run shortened to its remainder.
    reach : Reach
        Of that job.
    sound : bool
        Whether every part of the long runs is long enough with whole rolls of that length.
    """

    def __init__(self, whole: CuttingJob, stock: int) -> None:
        self._whole, self._stock = whole, stock
        self._leads: dict[int, _Lead] = {}
        self.sound = True
        self.job = replace(whole, demands=tuple(self._shorten(i, demand) for i, demand in enumerate(whole.demands)))
        self.reach = Reach(self.job)
        self._known: dict[Content, Group | None] = {}

    def runs(self) -> list[int]:
        """Return every run, from long to short."""
        demands = self.job.demands
        order = sorted(range(len(demands)), key=lambda i: (-demands[i].length, i))
        return list(chain.from_iterable([i] * demands[i].quantity for i in order))

    def length(self, group: Iterable[int]) -> int:
        """Length of a group of runs [ticks]."""
        return sum(self.job.demands[i].length for i in group)

    def cut(self, content: Content) -> Group | None:
        """Cut a group from the cheapest rolls that were found to do; None where none were found."""
        if content not in self._known:
            self._known[content] = self._cut(content)
        return self._known[content]

    def weigh(self, group: Sequence[int]) -> float:
        """Weight of a group as it can be cut; infinite where it cannot."""
        cut = self.cut(content_of(group))
        return float("inf") if cut is None else self.job.weigh([cut])

    def weigh_whole(self, content: Content) -> float:
        """Weight of a group with the whole rolls of its long runs; infinite where it cannot be cut."""
        cut = self.cut(content)
        return float("inf") if cut is None else self._whole.weigh([self._with_leads(cut)])

    def lead_weight(self, demand: int) -> float:
        """Weight of the whole rolls that a long run takes, and of their splices; 0 for others."""
        lead = self._leads.get(demand)
        return 0.0 if lead is None else lead.rolls * (self._whole.weights[self._stock] + self._whole.splice_weight)

    def plan(self, sorted_runs: Sorted) -> list[Group]:
        """Turn sorted runs into a plan of the whole job.

        Parameters
        ----------
        sorted_runs : Sorted
            Groups that can be cut.

        Returns
        -------
        list of Group
        """
        counted = Counter(content_of(group) for group in sorted_runs)
        plan = []
        for content, times in counted.items():
            group = self.cut(content)
            if group is None:
                raise ValueError("a group of runs cannot be cut from any chain of rolls")
            plan.append(replace(self._with_leads(group), times=times))
        return plan

    def _cut(self, content: Content) -> Group | None:
        length = sum(self.job.demands[i].length * number for i, number in content)
        group = cut_chain(self.job, content, self.reach.chain(length))
        if group is None and length <= self.job.longest:
            stocks = [i for i in self.job.buyable if self.job.stocks[i].length >= length]
            group = cut_chain(self.job, content, [min(stocks, key=lambda i: (self.job.weights[i], i))])
        return group

    def _shorten(self, number: int, demand: Demand) -> Demand:
        job, roll = self._whole, self._whole.stocks[self._stock].length
        if demand.length <= job.longest:
            return demand
        rolls = max(1, -((job.loss - demand.length) // (roll - job.loss)) - 1)
        rest = demand.length - rolls * (roll - job.loss)
        short = max(0, demand.last - rest)
        self._leads[number] = _Lead(rolls=rolls, last_part=roll - short)
        self.sound &= roll - short >= (demand.first if rolls == 1 else job.least) and roll >= demand.first
        self.sound &= rest + short <= job.longest
        return replace(demand, length=rest + short, first=max(demand.first, job.least))

    def _with_leads(self, group: Group) -> Group:
        """Put the whole rolls of its long runs before a group."""
        runs = dict.fromkeys((part.demand, part.copy) for roll in group.rolls for part in roll.parts)
        long = {run: self._leads[run[0]] for run in runs if run[0] in self._leads}
        if not long:
            return group
        before: Mapping[tuple[int, int], int] = {run: lead.rolls for run, lead in long.items()}
        lead_rolls = chain.from_iterable(self._lead_rolls(run, lead) for run, lead in long.items())
        return Group(rolls=(*lead_rolls, *(_moved(roll, before) for roll in group.rolls)), times=group.times)

    def _lead_rolls(self, run: tuple[int, int], lead: _Lead) -> Iterator[RollCut]:
        for place in range(lead.rolls):
            length = lead.last_part if place == lead.rolls - 1 else self._whole.stocks[self._stock].length
            part = Part(demand=run[0], copy=run[1], place=place, length=length)
            yield RollCut(stock=self._stock, parts=(part,))


def content_of(group: Iterable[int]) -> Content:
    """Count what is in a group."""
    return tuple(sorted(Counter(group).items()))


def _moved(roll: RollCut, before: Mapping[tuple[int, int], int]) -> RollCut:
    """Move the parts of long runs behind their whole rolls."""
    parts = (replace(part, place=part.place + before.get((part.demand, part.copy), 0)) for part in roll.parts)
    return RollCut(stock=roll.stock, parts=tuple(parts))
