"""How long fittings take to plan, and how that grows with their number; run by hand.

    python tests/bench/fittings.py [NODES]

Plans four jobs of about NODES nodes (20,000 where nothing is said) and of half as many, from finished networks: a
lattice whose fittings are nearly all alike; tees that all differ, each at its own angle; rows of short bays whose nodes
are joined on purpose; and one lattice of runs too short for both legs, which is parted into pieces that can be shipped.
Prints the seconds of the processor from the finished network to fittings, cuts, saw sheet and shop work, those of the
whole plan with rolls, crews and power besides, the power points, and how both grow from half to whole as an exponent: 1
grows in proportion, 1.1 about as n log n.
"""

import argparse
import gc
import time
from collections.abc import Callable, Iterator
from functools import partial
from math import cos, log2, pi, sin, sqrt

import numpy as np

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.finding import Source
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.network import JointNetwork, build_network
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.assembly import gather
from splicewright.schedule.fitting import group_alike, list_fittings
from splicewright.schedule.joining import join_nodes
from splicewright.schedule.plan import Schedule, plan
from splicewright.schedule.rules import Rules, load_rules
from splicewright.schedule.saw import list_cuts
from splicewright.schedule.saw_sheet import list_setups
from splicewright.schedule.shopwork import find_faults, work_out
from splicewright.schedule.stretch import lay_out

Lines = Iterator[list[tuple[float, float]]]


def lattice(nodes: int) -> Lines:
    side = round(sqrt(nodes))
    for i in range(side):
        yield [(0, 6.0 * i), (6.0 * (side - 1), 6.0 * i)]
        yield [(6.0 * i, 0), (6.0 * i, 6.0 * (side - 1))]


def different(nodes: int) -> Lines:
    row = round(sqrt(nodes / 4))
    for i in range(nodes // 4):  # a tee and its three ends are four nodes
        x, y, angle = 10.0 * (i % row), 10.0 * (i // row), pi * (0.1 + 0.8 * i / (nodes // 4))
        yield [(x - 4, y), (x + 4, y)]
        yield [(x, y), (x + 4 * cos(angle), y + 4 * sin(angle))]


def bays(nodes: int) -> Lines:
    for row in range(nodes // 40):  # ten short bays of two rails and eleven rungs each, with free rail ends
        y = 10.0 * row
        yield [(-3, y), (23 + 3, y)]
        yield [(-3, y + 1), (23 + 3, y + 1)]
        for i in range(18):
            yield [(1.3 * i, y), (1.3 * i, y + 1)]


def crowded(nodes: int) -> Lines:
    side = round(sqrt(nodes))
    for i in range(side):
        yield [(0, i), (side - 1.0, i)]
        yield [(i, 0), (i, side - 1.0)]


def network_of(lines: Lines, rules: Rules) -> JointNetwork:
    source = Source(file="bench.dxf", layer="WATERSTOP", entity="LINE 1")
    drawn = tuple(
        JointLine(source=source, points_m=np.array([(*p, 0.0) for p in line]), profile=None, joint=JointKind.SLAB)
        for line in lines
    )
    drawing = Drawing(
        file="bench.dxf",
        sha256="0" * 64,
        kind=DrawingKind.DXF,
        unit=LengthUnit.METRE,
        lines=drawn,
        skipped={},
        selected=len(drawn),
    )
    return build_network(drawing, rules.limits())


def make_fittings(network: JointNetwork, rules: Rules) -> None:
    gc.collect()
    gc.disable()
    layout, _ = join_nodes(lay_out([network], rules), rules)
    types = group_alike(gather(layout, rules), rules)
    pieces, cuts = list_cuts(types, rules)
    works = work_out(types, pieces, cuts, rules)
    list_setups(cuts, rules)
    list_fittings(types, rules)
    for _ in find_faults(types, works, rules):
        pass
    gc.enable()


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("nodes", nargs="?", type=int, default=20_000)
    most = parser.parse_args().nodes
    plain = load_rules(None, options={"chance.draws": 0})
    joined = load_rules(None, options={"chance.draws": 0, "assemblies.join": True})
    jobs = (("lattice", lattice, plain), ("different", different, plain), ("bays", bays, joined))
    for name, draw, rules in (*jobs, ("crowded", crowded, plain)):
        took: dict[int, tuple[float, float]] = {}
        for nodes in (most // 2, most):
            network = network_of(draw(nodes), rules)
            count = sum(1 for _ in network.nodes())
            fittings_s = min(seconds(partial(make_fittings, network, rules)) for _ in range(3))
            schedules: list[Schedule] = []
            whole_s = seconds(lambda: schedules.append(plan([network], rules, job="bench")))  # noqa: B023
            took[count] = fittings_s, whole_s
            power = schedules[0].crew.power
            points = f"{len(power.points)} power points, at least {power.least_points}" if power else "no power"
            print(f"{name}: {count} nodes, fittings {fittings_s:.2f} s, whole plan {whole_s:.2f} s, {points}")
        (few, short), (many, long) = took.items()
        grown = [log2(after / before) / log2(many / few) for before, after in zip(short, long, strict=True)]
        print(f"{name}: fittings grow with exponent {grown[0]:.2f}, the whole plan with {grown[1]:.2f}")


if __name__ == "__main__":
    main()
