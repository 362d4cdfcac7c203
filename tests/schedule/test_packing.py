"""Packing: plans of least cost against exhaustive search and simple ways to cut, and what must hold of every plan."""

from collections import Counter
from itertools import combinations, combinations_with_replacement, permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule import packing as room
from splicewright.schedule.offcut import bound_with_offcuts
from splicewright.schedule.packing import Effort, cut_end_to_end, cut_first_fit, pack
from splicewright.schedule.stock import CuttingJob, Demand, Stock


def job_of(lengths, stocks, *, splice=2.0, loss=0, least=0, ends=None, offcuts=(), splices=True):
    """A job of runs of given lengths; `stocks` are pairs of length and price."""
    first, last = ends or (least, least)
    demands = (
        Demand(length=length, quantity=number, first=first, last=last)
        for length, number in sorted(Counter(lengths).items())
    )
    return CuttingJob(
        demands=tuple(demands),
        stocks=(
            *(Stock(length=length, price=float(price)) for length, price in stocks),
            *(Stock(length=length, price=0.0, available=1) for length in offcuts),
        ),
        splice_price=splice,
        loss=loss,
        least=least,
        splices=splices,
    )


class Exhaustive:
    """All plans of a small job: every run cut in every way into whole lengths, put into every choice of rolls."""

    def __init__(self, job):
        self.job = job
        self.runs = [demand for demand in job.demands for _ in range(demand.quantity)]
        self.bought = [stock for stock in job.stocks if stock.available is None]
        self.known = {}

    def least(self):
        """Cost of the best of all plans."""
        return self.rest(0, tuple(sorted(stock.length for stock in self.job.stocks if stock.available is not None)))

    def rest(self, number, rooms):
        if number == len(self.runs):
            return 0.0
        if (number, rooms) not in self.known:
            ways = set(self.ways(self.runs[number], rooms))
            costs = (cost + self.rest(number + 1, after) for cost, after in ways)
            self.known[number, rooms] = min(costs, default=float("inf"))
        return self.known[number, rooms]

    def ways(self, run, rooms):
        """Cost of every way to cut one run, and the rooms it leaves."""
        for count in range(1, 4 if self.job.splices else 2):
            for kept, new in self.choices(count, rooms):
                chosen = [*kept, *(stock.length for stock in new)]
                others = Counter(rooms) - Counter(kept)
                price = sum(stock.price for stock in new) + (count - 1) * self.job.splice_price
                for parts in splits(run.length + (count - 1) * self.job.loss, chosen):
                    if self.allowed(run, parts):
                        left = (room - part for room, part in zip(chosen, parts, strict=True) if room > part)
                        yield price, tuple(sorted([*others.elements(), *left]))

    def choices(self, count, rooms):
        for old in range(count + 1):
            for kept in set(combinations(rooms, old)):
                yield from ((kept, new) for new in combinations_with_replacement(self.bought, count - old))

    def allowed(self, run, parts):
        if len(parts) == 1:
            return True
        ends = any(a >= run.first and b >= run.last for a, b in permutations(parts, 2))
        return ends and min(parts) >= self.job.least


def splits(total, rooms):
    """Every way to split a length over some rooms, something in each."""
    if len(rooms) == 1:
        if 0 < total <= rooms[0]:
            yield (total,)
        return
    for part in range(1, min(total - 1, rooms[0]) + 1):
        yield from ((part, *more) for more in splits(total - part, rooms[1:]))


def check(job, groups):
    """A plan serves every run once, fills no roll too full, and leaves no part of a spliced run too short."""
    served = Counter()
    used = Counter()
    for group in groups:
        runs = {}
        for roll in group.rolls:
            used[roll.stock] += group.times
            assert sum(part.length for part in roll.parts) <= job.stocks[roll.stock].length
            for part in roll.parts:
                runs.setdefault((part.demand, part.copy), {})[part.place] = part.length
        for (number, _), parts in runs.items():
            demand, count = job.demands[number], len(parts)
            served[number] += group.times
            assert list(range(count)) == sorted(parts)
            assert demand.length + (count - 1) * job.loss == sum(parts.values())
            if count > 1:
                assert job.splices
                assert min(parts.values()) >= job.least
                assert parts[0] >= demand.first
                assert parts[count - 1] >= demand.last
    assert {i: demand.quantity for i, demand in enumerate(job.demands)} == served
    assert all(used[i] <= stock.available for i, stock in enumerate(job.stocks) if stock.available is not None)


SMALL = {
    "lengths": st.lists(st.integers(2, 9), min_size=1, max_size=4).filter(lambda lengths: sum(lengths) <= 20),
    "stocks": st.sampled_from([[(5, 10)], [(6, 10)], [(4, 7), (6, 10)], [(5, 6), (7, 9)]]),
    "splice": st.sampled_from([0.0, 1.0, 3.0, 20.0]),
    "loss": st.sampled_from([0, 1]),
}


@settings(deadline=None, max_examples=30)
@given(least=st.sampled_from([0, 2]), **SMALL)
def test_small_jobs_agree_with_exhaustive_search(lengths, stocks, splice, loss, least):
    """With splices anywhere, cost and bound are those of the best of all plans, whatever the loss and least part."""
    job = job_of(lengths, stocks, splice=splice, loss=loss, least=least)
    packing = pack(job)
    check(job, packing.groups)

    assert Exhaustive(job).least() == pytest.approx(packing.cost)
    assert packing.least_cost == pytest.approx(packing.cost)


@settings(deadline=None, max_examples=15)
@given(**SMALL)
def test_small_jobs_with_offcuts_agree_with_exhaustive_search(lengths, stocks, splice, loss):
    """Offcuts in stock, each there once and free, are used as in the best of all plans."""
    job = job_of(lengths[:3], stocks, splice=splice, loss=loss, offcuts=(2, 4))
    packing = pack(job)
    check(job, packing.groups)

    assert Exhaustive(job).least() == pytest.approx(packing.cost)


@settings(deadline=None, max_examples=15)
@given(price=st.sampled_from([0.0, 0.5, 1.0, 3.0]), **SMALL)
def test_no_plan_with_offcuts_costs_less_than_their_bound(lengths, stocks, splice, loss, price):
    """Whatever offcuts are taken to be worth, the best of all plans costs no less than the bound."""
    job = job_of(lengths[:3], stocks, splice=splice, loss=loss, offcuts=(2, 4))
    bound = bound_with_offcuts(job, lambda length: price * length, rounds=100, knots=[len(job.demands)])

    assert bound <= Exhaustive(job).least() + 1e-3


@settings(deadline=None, max_examples=40)
@given(**{**SMALL, "lengths": st.lists(st.integers(1, 4), min_size=1, max_size=6)})
def test_small_jobs_without_splices_agree_with_exhaustive_search(lengths, stocks, splice, loss):
    """Plain cutting stock: the best of all plans, proven."""
    job = job_of(lengths, stocks, splice=splice, loss=loss, splices=False)
    packing = pack(job)
    check(job, packing.groups)

    assert Exhaustive(job).least() == pytest.approx(packing.cost) == packing.least_cost


@settings(deadline=None, max_examples=30)
@given(lengths=st.lists(st.integers(5, 11), min_size=1, max_size=3), splice=st.sampled_from([0.0, 3.0]))
def test_parts_at_the_ends_may_have_to_be_longer(lengths, splice):
    """With 3 at the start and 2 at the end of every spliced run: still the best of all plans."""
    job = job_of(lengths, [(7, 10)], splice=splice, loss=1, least=2, ends=(3, 2))
    packing = pack(job)
    check(job, packing.groups)

    assert Exhaustive(job).least() == pytest.approx(packing.cost)


THREE = [(7_620, 165), (15_240, 310), (30_480, 600)]
LARGER = {
    "short and long": (1_000, 20_000),
    "lumpy": (8_000, 14_000),
    "longer than the usual roll": (16_000, 25_000),
    "longer than any roll": (2_000, 60_000),
}


@pytest.mark.parametrize("count", [15, 22, 40])
@pytest.mark.parametrize("kind", LARGER)
def test_plans_are_sound_and_no_worse_than_simple_ones(kind, count):
    """Never worse than first-fit decreasing or cutting end to end, never better than the bound, little above it."""
    draw = Random(count)
    lengths = [draw.randint(*LARGER[kind]) for _ in range(count)]
    for stocks in (THREE, THREE[1:2]):
        job = job_of(lengths, stocks, splice=40.0, loss=10, least=308)
        packing = pack(job, Effort.of_budget(1))
        check(job, packing.groups)
        simple = [plan(job, i) for plan in (cut_first_fit, cut_end_to_end) for i in range(len(stocks))]

        assert packing.least_cost <= packing.cost
        assert packing.cost <= min(job.cost(plan) for plan in simple if plan is not None)
        assert packing.gap <= 0.03


@settings(deadline=None, max_examples=25)
@given(
    lengths=st.lists(st.integers(300, 45_000), min_size=1, max_size=30),
    stocks=st.sampled_from([THREE, THREE[:1], THREE[1:2], [(12_000, 200), (15_240, 310)]]),
    splice=st.sampled_from([0.0, 40.0, 400.0]),
    loss=st.sampled_from([0, 10]),
)
def test_no_plan_is_worse_than_simple_ones(lengths, stocks, splice, loss):
    """Whatever the runs, a plan costs no more than first-fit decreasing and cutting end to end."""
    job = job_of(lengths, stocks, splice=splice, loss=loss, least=308)
    packing = pack(job, Effort.of_budget(0.3))
    check(job, packing.groups)
    simple = [plan(job, i) for plan in (cut_first_fit, cut_end_to_end) for i in range(len(stocks))]

    assert packing.least_cost <= packing.cost <= min(job.cost(plan) for plan in simple if plan is not None)


@pytest.mark.parametrize("kind", ["lumpy", "longer than any roll"])
def test_five_hundred_runs_are_planned_to_half_a_per_cent(kind):
    """500 runs from three roll lengths are sound and proven to be within 0.5 % of the best."""
    draw = Random(1)
    lengths = [draw.randint(*LARGER[kind]) for _ in range(500)]
    job = job_of(lengths, THREE, splice=40.0, loss=10, least=308)
    packing = pack(job, Effort(seconds=300))
    check(job, packing.groups)

    assert packing.gap <= 0.005


@pytest.mark.parametrize("plan", [cut_first_fit, cut_end_to_end])
@pytest.mark.parametrize("kind", LARGER)
def test_simple_plans_are_sound(plan, kind):
    """First-fit decreasing and cutting end to end serve every run, with parts that are long enough."""
    draw = Random(7)
    job = job_of([draw.randint(*LARGER[kind]) for _ in range(60)], THREE[1:2], loss=10, least=308)
    groups = plan(job, 0)

    assert groups is not None
    check(job, groups)


def test_a_roll_too_short_for_a_run_is_not_used_alone():
    """Where a splice cannot keep clear of both ends of a run of 12 in rolls of 10, longer rolls are taken."""
    job = job_of([12, 12], [(10, 1), (30, 10)], loss=1, least=1, ends=(8, 8))

    assert (None, None) == (cut_first_fit(job, 0), cut_end_to_end(job, 0))
    assert 10.0 == pack(job).cost


def test_many_equal_runs_are_one_group_many_times():
    """5,000 equal runs are planned as a few groups done many times, within a splice or two of the bound."""
    packing = pack(job_of([4_784] * 5_000, [(15_243, 310)], splice=62.0, loss=10, least=308))

    assert packing.cost - packing.least_cost <= 62.0
    assert len(packing.groups) < 10
    assert 5_000 == sum(group.times * group.runs for group in packing.groups)


def test_the_same_job_has_the_same_plan():
    """No clock and no chance: two searches end with the same plan."""
    draw = Random(3)
    job = job_of([draw.randint(4_000, 14_000) for _ in range(60)], THREE, splice=40.0, loss=10, least=308)
    first, second = (pack(job, Effort.of_budget(2)) for _ in range(2))

    assert first == second


def test_an_interrupted_search_gives_the_plan_so_far(monkeypatch):
    """Whoever loses patience gets the best plan up to then, and its bound."""

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "bound_by_columns", interrupt)
    draw = Random(5)
    job = job_of([draw.randint(8_000, 14_000) for _ in range(60)], THREE, splice=40.0, loss=10, least=308)
    packing = pack(job)
    check(job, packing.groups)

    assert 0 < packing.least_cost < packing.cost


def test_an_interrupt_ends_the_search_at_once(monkeypatch):
    """With offcuts in stock, where several plans are made, one interrupt ends them all."""
    calls = []

    def interrupt(*_, **__):
        calls.append(1)
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "bound_by_columns", interrupt)
    draw = Random(5)
    lengths = [draw.randint(8_000, 14_000) for _ in range(60)]
    job = job_of(lengths, THREE, splice=40.0, loss=10, least=308, offcuts=(9_500, 6_100))
    packing = pack(job)
    check(job, packing.groups)

    assert (True, [1]) == (packing.interrupted, calls)
    assert packing.method.endswith(", interrupted")


def test_an_interrupt_before_there_is_a_plan_is_passed_on(monkeypatch):
    """Where nothing is planned yet there is nothing to give."""

    def interrupt(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "cut_first_fit", interrupt)
    with pytest.raises(KeyboardInterrupt):
        pack(job_of([8, 9], [(10, 1)]))


def test_the_clock_ends_a_search_that_takes_too_long(monkeypatch):
    """On a machine so slow that each look at the clock is a second later, ten looks are all that ten seconds allow."""
    seconds = []

    def clock():
        seconds.append(1)
        return float(len(seconds))

    monkeypatch.setattr(room, "perf_counter", clock)
    draw = Random(5)
    job = job_of([draw.randint(8_000, 14_000) for _ in range(400)], THREE, splice=40.0, loss=10, least=308)
    packing = pack(job)
    check(job, packing.groups)

    assert len(seconds) <= 13
    assert packing.method.endswith(", time was up")
    assert 0 < packing.least_cost < packing.cost


def test_offcuts_serve_large_jobs_too():
    """Of 60 runs some come from three offcuts in stock; that costs less than without them."""
    draw = Random(9)
    lengths = [draw.randint(1_000, 9_000) for _ in range(60)]
    without = job_of(lengths, THREE, splice=40.0, loss=10, least=308)
    job = job_of(lengths, THREE, splice=40.0, loss=10, least=308, offcuts=(9_500, 6_100, 4_000))
    packing = pack(job, Effort.of_budget(2))
    check(job, packing.groups)

    assert packing.cost < pack(without, Effort.of_budget(2)).least_cost
    assert packing.least_cost <= packing.cost
