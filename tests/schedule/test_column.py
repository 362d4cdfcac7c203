"""Groups worth most, and the bound by column generation, against all groups and all plans of small jobs."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.column import bound_by_columns
from splicewright.schedule.exact import best_plan
from splicewright.schedule.knapsack import Knapsack
from splicewright.schedule.stock import CuttingJob, Demand, Stock

STOCKS = ([(7, 10.0)], [(5, 6.0), (9, 10.0)], [(4, 5.0), (7, 8.0), (12, 13.0)])


def job_of(lengths, stocks, *, loss=0, splices=True):
    return CuttingJob(
        demands=tuple(Demand(length=length, quantity=2) for length in sorted(set(lengths))),
        stocks=tuple(Stock(length=length, price=price) for length, price in stocks),
        splice_price=2.0,
        loss=loss,
        splices=splices,
    )


def lightest(job, length):
    """Weight of the cheapest rolls for a length, found by trying every number of each."""
    most = 1 if not job.splices else length // min(stock.length - job.loss for stock in job.stocks) + 1
    weights = []
    for counts in product(range(most + 1), repeat=len(job.stocks)):
        rolls = sum(counts)
        room = sum(n * stock.length for n, stock in zip(counts, job.stocks, strict=True)) - (rolls - 1) * job.loss
        if rolls and room >= length and (job.splices or rolls == 1):
            weights.append(sum(map(float.__mul__, map(float, counts), job.weights)) + (rolls - 1) * job.splice_weight)
    return min(weights, default=float("inf"))


@settings(deadline=None, max_examples=60)
@given(
    lengths=st.lists(st.integers(2, 17), min_size=1, max_size=4),
    stocks=st.sampled_from(STOCKS),
    loss=st.sampled_from([0, 1]),
    splices=st.booleans(),
    share=st.floats(0.5, 2.0),
)
def test_the_group_worth_most_is_found(lengths, stocks, loss, splices, share):
    """Of all groups of up to two runs of each length, none is worth more beyond its rolls and splices."""
    longest = max(length for length, _ in stocks)
    job = job_of(
        [length if splices else min(length, longest) for length in lengths], stocks, loss=loss, splices=splices
    )
    worths = [share * (demand.length + 1.5) for demand in job.demands]

    def gain(counts):
        length = sum(n * demand.length for n, demand in zip(counts, job.demands, strict=True))
        return sum(n * worth for n, worth in zip(counts, worths, strict=True)) - lightest(job, length)

    best = max(gain(counts) for counts in product(range(3), repeat=len(job.demands)))
    found, counts = Knapsack(job, safe=False).best(worths)

    assert best == pytest.approx(found)
    assert best == pytest.approx(gain(counts))


@settings(deadline=None, max_examples=30)
@given(
    lengths=st.lists(st.integers(2, 17), min_size=2, max_size=4),
    stocks=st.sampled_from(STOCKS),
    knots=st.sampled_from([[2], [3], [2, 4], [4]]),
    rounds=st.sampled_from([1, 5, 100]),
)
def test_no_plan_weighs_less_than_the_bound(lengths, stocks, knots, rounds):
    """However few lengths are looked at, and however early the search ends, the best plan weighs no less."""
    job = job_of(lengths, stocks, loss=1)
    found = best_plan(job, nodes=10_000)

    assert found is not None
    assert 0 < bound_by_columns(job, {}, rounds=rounds, knots=knots).weight <= found[1] + 1e-6
