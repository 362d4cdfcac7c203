"""How long the crew plan of a large job takes; run by hand.

    python tests/bench/crew.py

Prints the time for a course of 10,000 splices in 40 pours (order, tours, days, crews, odds, power) and that for 10,000
draws of a job of 500 splices.
"""

import time
from dataclasses import replace

import numpy as np

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.finding import Source
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.network import build_network
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.chance import play
from splicewright.schedule.crew import plan_crews, staff
from splicewright.schedule.pour import Pour, PourPlan
from splicewright.schedule.power import plan_power
from splicewright.schedule.rules import load_rules
from splicewright.schedule.sequence import order_splices
from splicewright.schedule.splice import draft_splices
from splicewright.schedule.stretch import lay_out


def lattice(count: int, bay_m: float) -> Drawing:
    """Draw a slab of joints in both directions."""
    far = (count - 1) * bay_m
    courses = [[(0, i * bay_m, 0), (far, i * bay_m, 0)] for i in range(count)]
    courses += [[(i * bay_m, 0, 0), (i * bay_m, far, 0)] for i in range(count)]
    lines = tuple(
        JointLine(
            source=Source(file="slab.dxf", layer="WATERSTOP", entity=f"LINE {n}"),
            points_m=np.array(course, float),
            joint=JointKind.SLAB,
        )
        for n, course in enumerate(courses)
    )
    return Drawing(
        file="slab.dxf",
        sha256="0" * 64,
        kind=DrawingKind.DXF,
        unit=LengthUnit.METRE,
        lines=lines,
        skipped={},
        selected=len(lines),
    )


def main() -> None:
    rules = load_rules(None)
    bay_m = 6.0
    drawing = lattice(51, bay_m)
    network = build_network(drawing, rules.limits())
    far = 50 * bay_m
    pours = tuple(
        Pour(name=f"pour {i}-{j}", x=(far * i / 8, far * (i + 1) / 8), y=(far * j / 5, far * (j + 1) / 5))
        for j in range(5)
        for i in range(8)
    )
    in_pours = replace(rules, pours=PourPlan(pours=pours))
    layout = lay_out([network], rules)
    from splicewright.schedule.assembly import gather
    from splicewright.schedule.fitting import group_alike
    from splicewright.schedule.roll import cut_rolls

    types = group_alike(gather(layout, rules), rules)
    drafts = draft_splices(layout, cut_rolls(layout, rules).lengths_m, types, [], rules)
    for title, chosen in (("one storey", rules), ("40 pours", in_pours)):
        start = time.perf_counter()
        course = order_splices(drafts, layout, [network], chosen)
        roster = staff(course, chosen)
        turns = [(shift.crew, shift.day) for shift in roster.shifts for _ in range(shift.first, shift.stop)]
        minutes = [draft.minutes for draft in course.drafts]
        odds = play(minutes, course.move_min, course.cover_min, chosen, crews=roster.crews)
        power = plan_power(course.drafts, layout, turns, chosen)
        plan = plan_crews(roster, course, rules.profiles, chosen, odds=odds, power=power)
        took = time.perf_counter() - start
        print(f"{len(drafts)} splices, {title}: {took:.2f} s; {plan.crew_days} crew-days, {len(power.points)} points")
    many = replace(rules, chance=replace(rules.chance, draws=10_000))
    start = time.perf_counter()
    found = play([30.0] * 500, [1.0] * 500, [0.0] * 500, many, crews=1)
    print(f"{found.draws if found else 0} draws of 500 splices: {time.perf_counter() - start:.2f} s")


if __name__ == "__main__":
    main()
