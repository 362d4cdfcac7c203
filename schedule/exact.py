"""Exact: the best of all plans of a small job, and the best way to cut one small group, by integer programs.

First every group is priced as if any chain of rolls could be cut anywhere; the cheapest choice of groups is found; then
the chosen groups are cut. Where the least parts make a group dearer than that, it is priced anew and the choice made
again, so that the last choice is the best of all.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import inf, prod
from time import perf_counter
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .chain import cut_chain
from .few_runs import part_few
from .filling import part_best
from .piecing import cut_exactly
from .reach import Reach
from .short_job import Content, content_of
from .stock import CuttingJob, Group

__all__ = ["best_groups", "best_of_few", "best_plan", "count_groups"]

_Floats: TypeAlias = NDArray[np.float64]

_MOST_TURNS = 60
_SPARE_ROLLS = 2
_SLACK = 1e-9
_TINY = 11
"""Runs up to which all ways to part them are gone through one by one."""


def count_groups(job: CuttingJob) -> int:
    """Return how many groups `best_plan` would look at."""
    offcuts = prod((stock.available or 0) + 1 for stock in job.stocks if stock.available is not None)
    return prod(demand.quantity + 1 for demand in job.demands) * offcuts


def best_plan(job: CuttingJob, *, nodes: int, until: float = inf) -> tuple[list[Group], float] | None:
    """Return the best of all plans, with the weight that no plan can stay under.

    Parameters
    ----------
    job : CuttingJob
        So small that all its groups can be listed.
    nodes : int
        Branches after which each integer program ends.
    until : float, optional
        Reading of `time.perf_counter` [s] at which to end at the latest.

    Returns
    -------
    list of Group, float, or None
        None where no plan was found within the branches or the time.
    """
    if _is_tiny(job):
        return _part(job, until)
    offers = _offers(job)
    weights = np.array([offer.weight for offer in offers])
    for _ in range(_MOST_TURNS):
        found = _choose(job, offers, weights, nodes, until) if perf_counter() < until else None
        if found is None:
            return None
        chosen, bound = found
        groups = {number: _cut(job, offers[number], until) for number in chosen}
        dear = {
            n: job.weigh([g]) if g else inf for n, g in groups.items() if not g or job.weigh([g]) > weights[n] + _SLACK
        }
        if not dear:
            return [replace(group, times=chosen[n]) for n, group in groups.items() if group], bound
        for number, weight in dear.items():
            weights[number] = weight
    return None


def _is_tiny(job: CuttingJob) -> bool:
    return len(job.buyable) == len(job.stocks) and sum(demand.quantity for demand in job.demands) <= _TINY


def _part(job: CuttingJob, until: float) -> tuple[list[Group], float] | None:
    """Go through all ways to part a handful of runs into groups."""
    cuts = _Cuts(job, until)
    runs = [i for i, demand in enumerate(job.demands) for _ in range(demand.quantity)]
    groups = part_best(cuts.reach, runs, [job.demands[i].length for i in runs], cuts.weigh)
    plan = cuts.plan(groups)
    return None if plan is None else (plan, job.weigh(plan))


def best_of_few(
    job: CuttingJob, worths: Sequence[float], *, most: float, ways: int, until: float = inf
) -> tuple[list[Group] | None, float] | None:
    """Look for a plan of some twenty runs that is better than the best known, until there can be none.

    Parameters
    ----------
    job : CuttingJob
        Without offcuts in stock; no more than `few_runs.MOST_RUNS` runs.
    worths : sequence of float
        What one run of each demand is worth, no more than any group weighs.
    most : float
        Only plans of less weight are looked for.
    ways : int
        Number of ways to add a group to others after which the search ends.
    until : float, optional
        Reading of `time.perf_counter` [s] from which on groups are no longer cut in the best of all ways.

    Returns
    -------
    list of Group or None, float; or None
        The best plan, None where none is lighter than `most`; and the weight that no plan can stay under. None where
        the search has ended early.
    """
    cuts = _Cuts(job, until)
    found = part_few(job, worths, most, cuts.weigh, ways=ways)
    if found is None or found[0] is None:
        return found if found is None else (None, found[1])
    return cuts.plan(found[0]), found[1]


class _Cuts:
    """The best way to cut each group, and its weight."""

    def __init__(self, job: CuttingJob, until: float) -> None:
        self._job, self.reach, self._until = job, Reach(job), until
        self._known: dict[Content, Group | None] = {}

    def weigh(self, group: Sequence[int]) -> float:
        """Weight of a group, infinite where it cannot be cut."""
        cut = self._cut(content_of(group))
        return inf if cut is None else self._job.weigh([cut])

    def plan(self, groups: Sequence[Sequence[int]]) -> list[Group] | None:
        """Cut all groups; None where one cannot be cut."""
        cuts = [self._cut(content_of(group)) for group in groups]
        plan = [cut for cut in cuts if cut is not None]
        return plan if len(plan) == len(cuts) else None

    def _cut(self, content: Content) -> Group | None:
        if content not in self._known:
            rolls = self.reach.chain(sum(self._job.demands[i].length * number for i, number in content))
            cut = cut_chain(self._job, content, rolls)
            most = len(rolls) + _SPARE_ROLLS
            seconds = _left(self._until)
            self._known[content] = cut or cut_exactly(self._job, content, offcuts=(), most_rolls=most, seconds=seconds)
        return self._known[content]


def best_groups(
    contents: Sequence[Sequence[int]], weights: Sequence[float], demand: Sequence[int], *, nodes: int, seconds: float
) -> dict[int, int] | None:
    """Choose the cheapest of some groups that hold every run at least once.

    Parameters
    ----------
    contents : sequence of sequence of int
        For each group how many runs of each demand it holds.
    weights : sequence of float
        Weight of each group.
    demand : sequence of int
        How many runs of each demand there are.
    nodes : int
        Branches after which the search ends with the best choice so far.
    seconds : float
        Time after which it ends all the same, far more than the branches take.

    Returns
    -------
    dict of int to int, or None
        How often each chosen group is taken; None where no choice was found.
    """
    matrix = np.array(contents, dtype=np.float64).T
    done = _solve(np.array(weights), matrix, np.array(demand), np.full(len(demand), inf), nodes, seconds)
    if done.x is None:
        return None
    return {i: round(float(value)) for i, value in enumerate(done.x) if value > 0.5}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Offer:
    """A group that could be: what it holds, the offcuts it uses, its weight if it can be cut anywhere."""

    content: Content
    offcuts: tuple[int, ...]
    rolls: tuple[int, ...]
    weight: float


def _offers(job: CuttingJob) -> list[_Offer]:
    reach = Reach(job)
    limited = [i for i, stock in enumerate(job.stocks) if stock.available is not None]
    used = [
        tuple(i for i, n in zip(limited, numbers, strict=True) for _ in range(n))
        for numbers in product(*(range((job.stocks[i].available or 0) + 1) for i in limited))
    ]
    if not job.splices:
        used = [offcuts for offcuts in used if len(offcuts) < 2]
    offers = []
    for numbers in product(*(range(demand.quantity + 1) for demand in job.demands)):
        content = tuple((i, n) for i, n in enumerate(numbers) if n)
        length = sum(job.demands[i].length * n for i, n in content)
        offers += [offer for offcuts in used if content and (offer := _offer(job, reach, content, length, offcuts))]
    return offers


def _offer(job: CuttingJob, reach: Reach, content: Content, length: int, offcuts: tuple[int, ...]) -> _Offer | None:
    """Price a group with given offcuts and the cheapest rolls beside them."""
    own = sum(job.weights[i] + job.splice_weight for i in offcuts)
    rest = length - sum(job.stocks[i].length - job.loss for i in offcuts)
    if offcuts and rest <= job.loss:
        return _Offer(content=content, offcuts=offcuts, rolls=offcuts, weight=own - job.splice_weight)
    if offcuts and not job.splices:
        return None
    rolls = reach.chain(rest)
    return (
        _Offer(content=content, offcuts=offcuts, rolls=offcuts + rolls, weight=own + reach.weight(rest))
        if rolls
        else None
    )


def _choose(
    job: CuttingJob, offers: Sequence[_Offer], weights: _Floats, nodes: int, until: float
) -> tuple[dict[int, int], float] | None:
    """Choose the cheapest groups that hold every run once and use no offcut twice."""
    limited = [i for i, stock in enumerate(job.stocks) if stock.available is not None]
    finite = np.flatnonzero(np.isfinite(weights))
    rows = np.zeros((len(job.demands) + len(limited), len(finite)))
    for at, number in enumerate(finite.tolist()):
        for demand, n in offers[number].content:
            rows[demand, at] = n
        for stock in offers[number].offcuts:
            rows[len(job.demands) + limited.index(stock), at] += 1
    quantity = [demand.quantity for demand in job.demands]
    most = np.array([*quantity, *((job.stocks[i].available or 0) for i in limited)], dtype=np.float64)
    least = np.array([*quantity, *(0 for _ in limited)], dtype=np.float64)
    done = _solve(weights[finite], rows, least, most, nodes, _left(until))
    if done.x is None or done.status != 0:
        return None
    chosen = {int(finite[i]): round(float(value)) for i, value in enumerate(done.x) if value > 0.5}
    return chosen, sum(float(weights[number]) * times for number, times in chosen.items())


def _solve(weights: _Floats, rows: _Floats, least: _Floats, most: _Floats, nodes: int, seconds: float) -> Any:  # noqa: ANN401 (a result of scipy's)
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (slow to import)

    unit = float(np.max(weights)) or 1.0
    options: dict[str, float] = {"node_limit": nodes, "mip_rel_gap": 0.0}
    if seconds < inf:
        options["time_limit"] = seconds
    return milp(
        weights / unit,
        integrality=np.ones(len(weights)),
        bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(rows, least, most),
        options=options,
    )


def _cut(job: CuttingJob, offer: _Offer, until: float) -> Group | None:
    return cut_chain(job, offer.content, offer.rolls) or cut_exactly(
        job,
        offer.content,
        offcuts=offer.offcuts,
        most_rolls=len(offer.rolls) + _SPARE_ROLLS,
        seconds=_left(until),
    )


def _left(until: float) -> float:
    """Return the time that is left [s]; a tenth of a second is always granted."""
    return max(0.1, until - perf_counter())
