"""Packing: a plan of least cost for one job of cutting, with the cost that no plan can stay under.

Good plans come at once: runs end to end, first-fit decreasing, and rolls filled ever more carefully. Then the proof:
what the lengths alone ask for; for small jobs, all groups of runs; for larger ones, groups found by column generation,
which also tells what each run is worth; by that, plans are filled anew and mended. The search ends after so many steps,
which a usual machine takes well within the time budget, so that the same job has the same plan; the clock ends it
earlier only where the budget would be overrun.

References
----------
M. Casazza and A. Ceselli, Exactly solving packing problems with fragmentation, Computers and Operations Research, 2015,
for the problem: bins, and items that may be split at a price, with and without loss at each split.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from math import ceil, inf
from time import perf_counter
from typing import TypeAlias

import numpy as np

from .bound import bound_by_length, grain_of
from .chain import cut_in_order
from .column import bound_by_columns
from .exact import best_groups, best_of_few, best_plan, count_groups
from .few_runs import MOST_RUNS
from .filling import fill_rolls, first_fit, merge
from .guided import fill_by_worth
from .length_class import LengthClasses, spread_worths
from .mending import Mending
from .offcut import bound_with_offcuts, fill_offcuts
from .short_job import Content, ShortJob, Sorted, content_of
from .stock import CuttingJob, Group, renumbered, splices_of

__all__ = ["Effort", "Packing", "cut_end_to_end", "cut_first_fit", "pack"]

_CLOSED = 1e-6
"""Gaps below this share of a roll's price are none: tie-breaks and rounding."""
_MOST_LISTED = 2500
_MOST_CHOSEN = 40
"""Different lengths up to which columns are made for each, and groups chosen by an integer program."""
_WASTES = (0.001, 0.0005, 0.003)
_LARGE = 3000
"""Runs from which on only the quick ways are gone."""
_FEW = 11
"""Runs up to which all ways to part them are gone through at once."""
_MANY = 300
_GOOD = 0.002
_GOOD_IF_LARGE = 0.005
"""Gaps with which the search ends in jobs of many and of very many runs."""
_FINE = 800
"""Lengths up to which each is looked at by itself."""
_CLASSES = 300
"""Classes of lengths beyond."""
_KNOTS = (16, 32, 64)
"""Numbers of lengths at which worths are sought one after the other."""
_MOST_KNOTS = 160
"""Lengths up to which the worth of each is sought in the end."""
_SHARES = (0.25, 0.5)
"""Shares of the time for a plan without offcuts and for one with them; the bound takes as long as the first."""
_CHUNK = 300
"""Steps of mending after which a plan that has not become better is left as it is."""
_MOST_COLUMNS = 800

Counts: TypeAlias = tuple[int, ...]
"""For each demand how many of its runs are in a group."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How long to search.

    Attributes
    ----------
    rounds : int
        Columns to generate.
    nodes : int
        Branches of an integer program; 0 for none of these, whose solver takes a while to load.
    mends : int
        Most times that a few groups of a plan are sorted anew.
    orders : int
        Orders in which runs are sorted by what they are worth.
    ways : int
        Ways to part few runs.
    seconds : float
        Time after which the search ends wherever it is; met on slow machines and in very large jobs only.
    """

    rounds: int = 300
    nodes: int = 200
    mends: int = 2000
    orders: int = 2
    ways: int = 200_000_000
    seconds: float = 10.0

    @classmethod
    def of_budget(cls, seconds: float) -> "Effort":
        """Turn a time budget [s] into steps, as a usual machine takes them."""
        usual, share = cls(), seconds / 10
        names = ("rounds", "nodes", "mends", "orders", "ways")
        steps = {name: max(1, round(getattr(usual, name) * share)) for name in names}
        return cls(**steps, seconds=seconds)


_LEAST = Effort.of_budget(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Packing:
    """A plan and its proof.

    Attributes
    ----------
    groups : tuple of Group
        The plan.
    cost : float
        What its rolls and its splices inside runs cost.
    least_cost : float
        What any plan costs at least.
    method : str
        How the bound was proven, in words, and whether the search was cut short.
    interrupted : bool
        Whether the user has ended the search.
    """

    groups: tuple[Group, ...]
    cost: float
    least_cost: float
    method: str
    interrupted: bool = False

    @property
    def gap(self) -> float:
        """Share of the cost that a better plan could save at most, 0 where this is proven to be the best."""
        return max(0.0, self.cost - self.least_cost) / self.cost if self.cost > 0 else 0.0

    @property
    def splices(self) -> int:
        """Number of splices inside runs."""
        return splices_of(self.groups)


def pack(job: CuttingJob, effort: Effort | None = None) -> Packing:
    """Find a plan of least cost.

    Parameters
    ----------
    job : CuttingJob
        Every run can be had from its stock.
    effort : Effort, optional
        How long to search.

    Returns
    -------
    Packing
        Interrupted by the user, the best plan so far.
    """
    effort = effort or Effort()
    until = perf_counter() + effort.seconds
    if all(stock.available is None for stock in job.stocks):
        return _pack(job, effort)
    packing = _pack_with_offcuts(job, effort)
    if (
        packing.interrupted
        or not effort.nodes
        or count_groups(job) > _MOST_LISTED
        or packing.cost - packing.least_cost <= _CLOSED
    ):
        return packing
    found = None
    with suppress(KeyboardInterrupt):
        found = best_plan(job, nodes=effort.nodes, until=until)
    if found is None or job.weigh(found[0]) > job.weigh(packing.groups):
        return packing
    cost = job.cost(found[0])
    return Packing(groups=tuple(found[0]), cost=cost, least_cost=cost, method="all groups of runs")


def _pack(job: CuttingJob, effort: Effort) -> Packing:
    return _result(_Search(job, effort))


def _result(search: "_Search") -> Packing:
    """Search, until the user loses patience."""
    try:
        search.run()
    except KeyboardInterrupt:
        if not search.found:
            raise
        packing = search.packing()
        return replace(packing, method=f"{packing.method}, interrupted", interrupted=True)
    return search.packing()


def _pack_with_offcuts(job: CuttingJob, effort: Effort) -> Packing:
    """Fill the offcuts first, then plan the rest; keep to new rolls alone where that is cheaper."""
    buyable = tuple(job.stocks[i] for i in job.buyable)
    rough = replace(effort, orders=0, mends=0, seconds=_SHARES[0] * effort.seconds)
    search = _Search(replace(job, stocks=buyable), rough)
    without = _result(search)
    well = replace(effort, mends=effort.mends // 2, seconds=_SHARES[1] * effort.seconds)
    effort = _LEAST if without.interrupted else well
    first, left = fill_offcuts(job)
    kept = [i for i, number in enumerate(left) if number]
    demands = tuple(replace(job.demands[i], quantity=left[i]) for i in kept)
    rest = _pack(replace(job, stocks=buyable, demands=demands), effort) if kept else None
    plans = [
        [*first, *renumbered(rest.groups if rest else (), job.buyable, kept)],
        renumbered(without.groups, job.buyable),
    ]
    best = min(plans, key=job.weigh)
    cost, ties = job.cost(best), job.weigh(best) - job.cost(best)
    bounds = {"total length": bound_by_length(job)}
    if cost - bounds["total length"] > _CLOSED * cost and not without.interrupted:
        bounds["column generation"] = search.bound_with_offcuts(job)
    method = max(bounds, key=lambda name: bounds[name])
    least = max(0.0, min(cost, bounds[method] - ties))
    interrupted = without.interrupted or (rest is not None and rest.interrupted)
    method += ", interrupted" if interrupted else ""
    return Packing(groups=tuple(best), cost=cost, least_cost=least, method=method, interrupted=interrupted)


def cut_first_fit(job: CuttingJob, stock: int) -> list[Group] | None:
    """Cut a job from rolls of one length, first-fit decreasing, long runs leading with whole rolls.

    Parameters
    ----------
    job : CuttingJob
    stock : int
        Position of the stock length.

    Returns
    -------
    list of Group, or None
        None where a run cannot be had from these rolls.
    """
    alone = replace(job, stocks=(replace(job.stocks[stock], available=None),))
    if not job.splices and max(demand.length for demand in job.demands) > alone.longest:
        return None
    short = ShortJob(alone, 0)
    if not short.sound:
        return None
    runs = short.runs()
    bins = first_fit([short.job.demands[i].length for i in runs], alone.longest)
    return renumbered(short.plan([[runs[i] for i in one] for one in bins]), (stock,))


def cut_end_to_end(job: CuttingJob, stock: int) -> list[Group] | None:
    """Cut a job from rolls of one length, run after run, each roll into the next; None where that cannot be."""
    group = cut_in_order(job, stock)
    return None if group is None else [group]


class _Search:
    """The best plan and the best bound so far."""

    def __init__(self, job: CuttingJob, effort: Effort) -> None:
        self._job, self._effort = job, effort
        self._plan: list[Group] = []
        self._weight = inf
        self._bound, self._method = 0.0, "no bound"
        self._known: dict[Counts, float] = {}
        self._columns: tuple[Counts, ...] = ()
        self._valued, self._worths = job, tuple[float, ...]()
        self._sorted: tuple[ShortJob, Sorted] | None = None
        self._unit = max(job.weights[i] for i in job.buyable) or 1.0
        self._grain = grain_of(job)
        self._late = False
        self._seconds = effort.seconds
        self._until = perf_counter() + self._seconds

    def run(self) -> None:
        """Look for plans and bounds until they meet or the effort is spent."""
        self.begin()
        self.prove(bound_by_length(self._job), "total length")
        for step in self._steps():
            if self.found and (self.good() or self.spent()):
                return
            step()

    def begin(self) -> None:
        """Cut first-fit and end to end: plans that are there before anyone can lose patience."""
        for stock in self._job.buyable:
            self.offer(cut_first_fit(self._job, stock))
            self.offer(cut_end_to_end(self._job, stock))

    def _steps(self) -> Iterator[Callable[[], None]]:
        job = self._job
        if self._count <= _FEW:
            yield self._list_all
            return
        shorts = [short for lead in self._leads() if (short := ShortJob(job, lead)).sound]
        for short in shorts:
            yield from (partial(self._fill, short, *way) for way in _ways(short, self._count))
        yield self._prove_by_columns
        if not shorts:
            return
        short = shorts[0]
        for seed in range(self._effort.orders * min(6, max(1, 500 // len(job.demands)))):
            yield partial(self._fill_by_worth, short, seed)
        if self._effort.nodes and len(job.demands) <= _MOST_CHOSEN:
            yield partial(self._choose, short)
        if self._count <= MOST_RUNS:
            yield self._go_through
        if self._effort.nodes and count_groups(job) <= _MOST_LISTED:
            yield self._list_all
        yield from self._mend()

    @property
    def found(self) -> bool:
        """Whether there is a plan."""
        return bool(self._plan)

    def _leads(self) -> list[int]:
        """Stock lengths that long runs may take whole rolls of, the cheapest by length first; one if none is long."""
        job = self._job
        rates = {i: (job.weights[i] + job.splice_weight) / (job.stocks[i].length - job.loss) for i in job.buyable}
        order = sorted(job.buyable, key=lambda i: (rates[i], i))
        return order if max(demand.length for demand in job.demands) > job.longest else order[:1]

    @property
    def _count(self) -> int:
        return sum(demand.quantity for demand in self._job.demands)

    def offer(self, plan: Sequence[Group] | None) -> None:
        """Take a plan if it is better than the best so far."""
        if plan is not None and (weight := self._job.weigh(plan)) < self._weight - _CLOSED * _CLOSED * self._unit:
            self._plan, self._weight = list(plan), weight

    def prove(self, bound: float, method: str) -> None:
        """Take a bound if it is better than the best so far; costs come in whole grains."""
        ties = self._weight - self._job.cost(self._plan)
        if self._grain:
            grains = ceil((bound - ties) / self._grain - _CLOSED * self._unit / self._grain)
            bound = max(bound, grains * self._grain + ties)
        if bound > self._bound + _CLOSED * self._unit:
            self._bound, self._method = bound, method

    def closed(self) -> bool:
        """Tell whether the best plan is proven to be one."""
        return self._weight - self._bound <= _CLOSED * self._unit

    def good(self) -> bool:
        """Tell whether there is little left to find: in a large job a fraction of a per cent will do."""
        enough = 0.0 if self._count <= _MANY else _GOOD if self._count <= _LARGE else _GOOD_IF_LARGE
        return self.closed() or self._weight - self._bound <= enough * self._weight

    def spent(self) -> bool:
        """Tell whether the time is up."""
        self._late = self._late or perf_counter() >= self._until
        return self._late

    def packing(self) -> Packing:
        cost = self._job.cost(self._plan)
        least = cost if self.closed() else max(0.0, self._bound - (self._weight - cost))
        method = f"{self._method}, time was up" if self._late else self._method
        return Packing(groups=tuple(self._plan), cost=cost, least_cost=min(cost, least), method=method)

    def _go_through(self) -> None:
        """Go through the plans of some twenty runs that could be better by one grain at least."""
        worths = spread_worths(self._valued, self._worths, self._job)
        most = self._weight - max(0.0, self._grain - _CLOSED * self._unit)
        found = best_of_few(self._job, worths, most=most, ways=self._effort.ways, until=self._until)
        if found is not None:
            self.offer(found[0])
            self.prove(self._weight if found[0] is None else found[1], "all groups of runs")

    def _list_all(self) -> None:
        found = best_plan(self._job, nodes=self._effort.nodes, until=self._until)
        if found is not None:
            self.offer(found[0])
            self.prove(found[1], "all groups of runs")

    def _fill(self, short: ShortJob, chains: Sequence[tuple[int, ...]], window: int, waste: float) -> None:
        self._take_groups(short, merge(short, fill_rolls(short, chains, window=window, waste=waste)))

    def _take_groups(self, short: ShortJob, groups: Sorted) -> None:
        """Offer a plan, and remember its groups."""
        self._offer_sorted(short, groups)
        if len(self._job.demands) <= _FINE:
            for group in groups:
                content = content_of(group)
                self._known[self._counts(content)] = short.weigh_whole(content)

    def _offer_sorted(self, short: ShortJob, groups: Sorted) -> None:
        plan = short.plan(groups)
        if self._job.weigh(plan) < self._weight:
            self._sorted = short, groups
        self.offer(plan)

    def _mend(self) -> Iterator[Callable[[], None]]:
        """Improve the best plan so far, while it becomes better."""
        if self._sorted is None:
            return
        short, groups = self._sorted
        mending = Mending(short, groups, self._worths_of(short))
        for _ in range(0, self._effort.mends, _CHUNK):
            before = self._weight
            yield lambda: self._mend_on(short, mending)
            if self._weight == before:
                return

    def _mend_on(self, short: ShortJob, mending: Mending) -> None:
        mending.improve(min(_CHUNK, self._effort.mends), self.spent)
        self._offer_sorted(short, merge(short, mending.groups))

    def _worths_of(self, short: ShortJob) -> list[float]:
        """Tell what the runs of a short job are worth."""
        whole = spread_worths(self._valued, self._worths, self._job)
        return [worth - short.lead_weight(i) for i, worth in enumerate(whole)]

    def _counts(self, content: Content) -> Counts:
        numbers = dict(content)
        return tuple(numbers.get(i, 0) for i in range(len(self._job.demands)))

    def _prove_by_columns(self) -> None:
        """Prove by columns for the lengths themselves, beginning with the groups met so far; or by classes of them."""
        bought = self._bought()
        alone = len(bought.demands) <= _FINE
        fine = bought if alone else LengthClasses(job=bought, count=_CLASSES).shortest()
        most = len(fine.demands)
        knots = [*(number for number in _KNOTS if number < most / 2), *([most] if most <= _MOST_KNOTS else [])]
        if not alone:
            del knots[-1]
        rounds = self._effort.rounds * max(1, _MOST_KNOTS // most)
        found = bound_by_columns(fine, self._known if alone else {}, rounds=rounds, knots=knots, stop=self.spent)
        self.prove(found.weight, "column generation" if alone else "column generation by classes of lengths")
        self._columns, self._valued, self._worths = found.columns if alone else (), fine, found.duals

    def bound_with_offcuts(self, whole: CuttingJob) -> float:
        """Bound the weight of all plans of a job with offcuts, of which this is the job without them."""
        fine = self._valued if len(self._job.demands) > _FINE else self._job
        self._until, self._late = perf_counter() + self._seconds, False
        return bound_with_offcuts(
            replace(whole, demands=fine.demands),
            self._worth_of_length,
            rounds=self._effort.rounds,
            knots=[number for number in _KNOTS if number < len(fine.demands) / 2] or [len(fine.demands)],
            stop=self.spent,
        )

    def _worth_of_length(self, length: int) -> float:
        """Tell what a run of some length would be worth, no more than the cheapest roll for it costs."""
        rate = min(stock.price / stock.length for stock in self._job.stocks)
        most = min((stock.price for stock in self._job.stocks if stock.length >= length), default=inf)
        if not self._worths:
            return min(most, rate * length)
        known = sorted(zip((demand.length for demand in self._valued.demands), self._worths, strict=True))
        lengths, worths = zip((0, 0.0), *known, strict=True)
        return float(min(most, np.interp(length, lengths, worths)))

    def _bought(self) -> CuttingJob:
        return replace(self._job, stocks=tuple(stock for stock in self._job.stocks if stock.available is None))

    def _fill_by_worth(self, short: ShortJob, seed: int) -> None:
        """Sort runs by what they are worth; in a large job by classes of lengths."""
        job = short.job
        worths = self._worths_of(short)
        if len(job.demands) <= _FINE:
            groups = fill_by_worth(short, worths, seed=seed)
        else:
            classes = LengthClasses(job=job, count=_CLASSES)
            longest = [max(members, key=lambda i: job.demands[i].length) for members in classes.members]
            coarse = ShortJob(classes.longest(), job.buyable[-1])
            groups = classes.runs_of(fill_by_worth(coarse, [worths[i] for i in longest], seed=seed))
        self._take_groups(short, merge(short, groups))

    def _choose(self, short: ShortJob) -> None:
        """Choose a plan from all groups met so far, by an integer program."""
        for counts in self._columns:
            weight = short.weigh_whole(_content(counts))
            if weight < inf:
                self._known[counts] = min(weight, self._known.get(counts, inf))
        worths = spread_worths(self._valued, self._worths, self._job)
        open_gap = self._weight - self._bound + _CLOSED * self._unit
        reduced = sorted(
            (weight - sum(worth * n for worth, n in zip(worths, counts, strict=True) if n), counts)
            for counts, weight in self._known.items()
        )
        kept = [counts for excess, counts in reduced if excess <= open_gap][:_MOST_COLUMNS]
        if not kept:
            return
        demand = [demand.quantity for demand in self._job.demands]
        weights = [self._known[counts] for counts in kept]
        chosen = best_groups(
            kept, weights, demand, nodes=self._effort.nodes, seconds=max(0.1, self._until - perf_counter())
        )
        if chosen is not None:
            groups = _without_surplus([kept[i] for i, times in chosen.items() for _ in range(times)], demand)
            self._offer_sorted(short, merge(short, groups))


def _ways(short: ShortJob, count: int) -> Iterator[tuple[list[tuple[int, ...]], int, float]]:
    """Yield the ways to fill rolls: which chains, how many runs to look at, how much may stay empty."""
    job = short.job
    single: list[tuple[int, ...]] = [(i,) for i in job.buyable]
    longest = max(job.buyable, key=lambda i: job.stocks[i].length)
    best = min(job.buyable, key=lambda i: job.weights[i] / job.stocks[i].length)
    narrow: list[tuple[int, ...]] = [(longest,), (best,)] if longest != best else [(best,)]
    pairs = [(i, j) for i in job.buyable for j in job.buyable if i <= j]
    wide = [*single, *pairs, (best,) * 3, (longest,) * 3, (longest,) * 4]
    sets = [narrow, single] if len(single) > 1 else [single]
    if job.splices:
        sets.append(wide)
    if count > _LARGE:
        yield from ((chains, 30, _WASTES[0]) for chains in sets)
        return
    yield from ((chains, 60, waste) for waste in _WASTES for chains in sets)


def _content(counts: Counts) -> Content:
    return tuple((i, n) for i, n in enumerate(counts) if n)


def _without_surplus(groups: Sequence[Counts], demand: Sequence[int]) -> Sorted:
    """Turn groups that hold some runs too often into groups that hold every run once."""
    left = list(demand)
    result: Sorted = []
    for counts in groups:
        group = []
        for i, number in enumerate(counts):
            taken = min(number, left[i])
            left[i] -= taken
            group += [i] * taken
        if group:
            result.append(group)
    return result
