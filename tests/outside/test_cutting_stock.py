"""Cutting stock and bin packing without splices: published instances reach their best known values, each proven.

Sources: V. Chvátal, Linear Programming, 1983, ch. 13 (also a NEOS case study); R. Fourer, D. Gay, B. Kernighan, AMPL: a
modeling language for mathematical programming (the roll trim example); W. Winston, Operations Research (the lumber
example: stock of 17 ft for 3, 5 and 9 ft); a lumber yard's 25 ft example; the example csp.vbp of the source package of
pyvpsolver; E. Falkenauer's u120_00 of the OR-Library (binpack1.txt), first of its uniform class, published optimum 48.
The paper mill's 5600 mm instance is from memory, its optimum worked out.
"""

import pytest

from splicewright.schedule.packing import cut_first_fit, pack
from splicewright.schedule.stock import CuttingJob, Demand, Stock

U120_00 = """
    42 69 67 57 93 90 38 36 45 42 33 79 27 57 44 84 86 92 46 38 85 33 82 73 49 70 59 23 57 72 74 69 33 42 28 46 30 64 29
    74 41 49 55 98 80 32 25 38 82 30 35 39 57 84 62 50 55 27 30 36 20 78 47 26 45 41 58 98 91 96 73 84 37 93 91 43 73 85
    81 79 71 80 76 83 41 78 70 23 42 87 43 84 60 55 49 78 73 62 36 44 94 69 32 96 70 84 58 78 25 80 58 66 83 24 98 60 42
    43 43 39
"""
MILL = """
    1380x22 1520x25 1560x12 1710x14 1820x18 1880x18 1930x20 2000x10 2050x12 2100x14 2140x16 2150x18 2200x20
"""

INSTANCES = {
    "Chvatal 1983 ch. 13": (100, "45x97 36x610 31x395 14x211", 453),
    "AMPL book, roll trim": (110, "75x8 55x10 50x24 45x35 20x48", 47),
    "Winston, lumber": (17, "9x15 5x20 3x25", 19),
    "lumber yard, 25 ft": (25, "11x300 9x1200 7x5000", 2167),
    "paper mill, 5600 mm": (5600, MILL, 73),
    "pyvpsolver csp.vbp": (5180, "1250x5 1150x64 1120x9 1066x18 1000x11 520x91", 33),
    "Falkenauer u120_00": (150, " ".join(f"{size}x1" for size in U120_00.split()), 48),
}


def job_of(stock, text, **changed):
    """Read widths with their numbers: "45x97 36x610"."""
    demand = {}
    for width, number in (map(int, part.split("x")) for part in text.split()):
        demand[width] = demand.get(width, 0) + number
    demands = tuple(Demand(length=width, quantity=number) for width, number in demand.items())
    stocks = (Stock(length=stock, price=1.0),)
    return CuttingJob(**{"demands": demands, "stocks": stocks, "splices": False, **changed})


@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="V. Chvátal, Linear Programming, 1983, ch. 13, roll example (also a NEOS case study)",
    result="453 rolls, as published, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against=(
        "R. Fourer, D. Gay, B. Kernighan, AMPL: A Modeling Language for Mathematical Programming, the roll trim example"
    ),
    result="47 rolls, as published, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="W. Winston, Operations Research, the lumber example: 17 ft cut to 3, 5 and 9 ft",
    result="19 boards, as published, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="a lumber yard's example found on the web: 25 ft cut to 7, 9 and 11 ft",
    result="2167 boards, as published, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="a paper mill's instance of 5600 mm, from memory; its optimum worked out",
    result="73 rolls, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="pyvpsolver, source package, example csp.vbp",
    result="33 rolls, as published, and proven",
)
@pytest.mark.outside(
    what="rolls needed where nothing is spliced",
    against="E. Falkenauer's u120_00, OR-Library, binpack1.txt",
    result="48 rolls, as published, and proven",
)
@pytest.mark.parametrize("name", INSTANCES)
def test_the_best_known_number_is_reached_and_proven(name):
    """The plan takes as many rolls as the best known, and the bound says that fewer will not do."""
    stock, text, best = INSTANCES[name]
    job = job_of(stock, text)
    packing = pack(job)
    cut = {part.length for group in packing.groups for roll in group.rolls for part in roll.parts}
    counted = sum(group.times * len(roll.parts) for group in packing.groups for roll in group.rolls)

    assert (best, best) == (packing.cost, packing.least_cost)
    assert sum(demand.quantity for demand in job.demands) == counted
    assert all(sum(part.length for part in roll.parts) <= stock for group in packing.groups for roll in group.rolls)
    assert {demand.length for demand in job.demands} == cut


@pytest.mark.outside(
    what="the instance u120_00 as it stands in the test",
    against="OR-Library, binpack1.txt: 120 items of 20 to 98, 7078 in all",
    result="equal",
)
def test_the_instance_of_falkenauer_is_the_published_one():
    """120 items of 20 to 98, 7078 in all (OR-Library, binpack1.txt)."""
    sizes = [int(size) for size in U120_00.split()]

    assert (120, 20, 98, 7078) == (len(sizes), min(sizes), max(sizes), sum(sizes))


@pytest.mark.outside(
    what="rolls that first-fit decreasing takes",
    against="V. Chvátal, Linear Programming, 1983, ch. 13 (NEOS case study): 485",
    result="equal",
)
def test_first_fit_decreasing_gives_the_published_number_of_rolls():
    """First-fit decreasing takes as many rolls as published."""
    stock, text, _ = INSTANCES["Chvatal 1983 ch. 13"]
    job = job_of(stock, text)

    assert 485 == job.cost(cut_first_fit(job, 0))


@pytest.mark.outside(
    what="rolls needed where splices are free",
    against="the length of strip asked for, over the length of a roll: seven published instances",
    result="equal",
)
@pytest.mark.parametrize("name", INSTANCES)
def test_joining_offcuts_does_no_worse(name):
    """With free splices no more rolls are needed than without, nor fewer than the total length asks for."""
    stock, text, best = INSTANCES[name]
    joined = pack(job_of(stock, text, splices=True))
    length = sum(demand.length * demand.quantity for demand in job_of(stock, text).demands)

    assert -(-length // stock) == joined.cost == joined.least_cost <= best
