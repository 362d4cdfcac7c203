"""Plans against a solver and a published optimum: rolls and tours."""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from splicewright.schedule.packing import pack
from splicewright.schedule.stock import CuttingJob, Demand, Stock
from splicewright.schedule.tour import short_tour

# TSPLIB, instance berlin52: the 52 places, and the length of the shortest closed tour, distances rounded to whole
# numbers (G. Reinelt, TSPLIB, ORSA Journal on Computing 3, 1991).
BERLIN52 = """
    565 575  25 185  345 750  945 685  845 655  880 660  25 230  525 1000  580 1175  650 1130  1605 620  1220 580
    1465 200  1530 5  845 680  725 370  145 665  415 635  510 875  560 365  300 465  520 585  480 415  835 625
    975 580  1215 245  1320 315  1250 400  660 180  410 250  420 555  575 665  1150 1160  700 580  685 595  685 610
    770 610  795 645  720 635  760 650  475 960  95 260  875 920  700 500  555 815  830 485  1170 65  830 610
    605 625  595 360  1340 725  1740 245
"""
SHORTEST = 7542


def cheapest(lengths, stocks):
    """Least cost of the rolls for runs of some lengths, each cut from one roll: every run is put into a roll, or not.

    Variables: for each roll that might be bought, whether it is, and whether it holds each run.
    """
    rolls = [stock for stock in stocks for _ in lengths]
    count, runs = len(rolls), len(lengths)
    held = np.arange(count * runs).reshape(count, runs) + count
    once, room = np.zeros((runs, count + count * runs)), np.zeros((count, count + count * runs))
    for run in range(runs):
        once[run, held[:, run]] = 1
    for roll, (length, _) in enumerate(rolls):
        room[roll, held[roll]] = lengths
        room[roll, roll] = -length
    costs = np.concatenate([[price for _, price in rolls], np.zeros(count * runs)])
    limits = [LinearConstraint(once, 1, 1), LinearConstraint(room, -np.inf, 0)]
    return milp(costs, integrality=np.ones(len(costs)), bounds=Bounds(0, 1), constraints=limits).fun


@pytest.mark.outside(
    what="cost of rolls of one to three lengths and prices for seven to nine runs, nothing spliced",
    against="scipy.optimize.milp (HiGHS) on a model of its own: each run assigned to a roll",
    result="equal, and proven",
)
@pytest.mark.parametrize("seed", range(8))
def test_rolls_cost_what_an_integer_programme_finds(seed):
    """The planner's cost is the optimum of the assignment."""
    random = np.random.default_rng(seed)
    lengths = random.choice(np.arange(20, 95), 7 + seed % 3, replace=False).tolist()
    stocks = [(100, 10.0), (160, 15.5), (240, 23.0)][: 1 + seed % 3]
    job = CuttingJob(
        demands=tuple(Demand(length=length) for length in lengths),
        stocks=tuple(Stock(length=length, price=price) for length, price in stocks),
        splices=False,
    )
    packing = pack(job)

    assert cheapest(lengths, stocks) == pytest.approx(packing.cost)
    assert packing.cost == pytest.approx(packing.least_cost)


@pytest.mark.outside(
    what="walk from splice to splice through 52 places, closed to a round trip",
    against="TSPLIB, berlin52: shortest round trip 7542 (G. Reinelt, 1991)",
    result="never shorter, and within 15 %",
)
def test_tour_of_published_places():
    """The tour is short, not shortest; an open one saves the leg that closes it."""
    places = np.array(BERLIN52.split(), float).reshape(-1, 2)
    order = short_tour(np.column_stack([places, np.zeros(52)]))
    legs = np.linalg.norm(places[order] - np.roll(places[order], -1, axis=0), axis=1)
    walked = int(np.round(legs).sum())

    assert sorted(order.tolist()) == list(range(52))
    assert SHORTEST <= walked <= 1.15 * SHORTEST
