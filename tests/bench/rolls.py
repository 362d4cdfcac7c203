"""How close plans of rolls come to the least possible cost, and how long they take; run by hand.

    python tests/bench/rolls.py [--large]

Prints, for 500 runs from three roll lengths, the cost of first-fit decreasing, of cutting end to end and of the plan,
the proven bound, the gap, splices inside runs and seconds; with --large for 20,000 runs, with a budget of 60 s.
Lengths are drawn at random, rolls are of 25, 50 and 100 ft at 165, 310 and 600, a splice inside a run costs 40, melts
1/4 in and trims 1/8 in.
"""

import argparse
from collections import Counter
from random import Random
from time import perf_counter

from splicewright.schedule.packing import Effort, cut_end_to_end, cut_first_fit, pack
from splicewright.schedule.stock import CuttingJob, Demand, Stock, ticks

FOOT_M, INCH_M = 0.3048, 0.0254
MELT_M, TRIM_M, LEAST_M = INCH_M / 4, INCH_M / 8, 12 * INCH_M
STOCK = ((25, 165.0), (50, 310.0), (100, 600.0))
KINDS = {
    "1 to 20 m": (1.0, 20.0),
    "8 to 14 m": (8.0, 14.0),
    "16 to 25 m": (16.0, 25.0),
    "2 to 60 m": (2.0, 60.0),
}


def draw(count: int, shortest_m: float, longest_m: float, seed: int) -> CuttingJob:
    random = Random(seed)
    lengths = Counter(
        ticks(round(random.uniform(shortest_m, longest_m), 3) + 2 * MELT_M + TRIM_M) for _ in range(count)
    )
    least = ticks(LEAST_M + TRIM_M)
    return CuttingJob(
        demands=tuple(
            Demand(length=length, quantity=number, first=least, last=least)
            for length, number in sorted(lengths.items())
        ),
        stocks=tuple(Stock(length=ticks(feet * FOOT_M + TRIM_M), price=price) for feet, price in STOCK),
        splice_price=40.0,
        loss=ticks(MELT_M + TRIM_M),
        least=least,
    )


def simple(job: CuttingJob) -> list[float]:
    costs = []
    for cut in (cut_first_fit, cut_end_to_end):
        plans = [plan for stock in job.buyable if (plan := cut(job, stock)) is not None]
        costs.append(min(job.cost(plan) for plan in plans))
    return costs


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--large", action="store_true")
    large = parser.parse_args().large
    count, effort = (20_000, Effort.of_budget(55)) if large else (500, Effort())
    print(f"{count} runs        first fit   end to end         plan        least      gap  splices  seconds")
    for name, bounds in KINDS.items():
        for seed in (1, 2):
            job = draw(count, *bounds, seed)
            start = perf_counter()
            packing = pack(job, effort)
            seconds = perf_counter() - start
            costs = (*simple(job), packing.cost, packing.least_cost)
            text = " ".join(f"{cost:12,.0f}" for cost in costs)
            print(f"{name:<12} {text} {packing.gap:8.3%} {packing.splices:8,} {seconds:8.1f}")


if __name__ == "__main__":
    main()
