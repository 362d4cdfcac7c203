"""Irons, circuits, the generator and power points."""

import pytest

from splicewright.schedule.chance import play

# Fittings have legs of 600 mm; the lead is shortened so that small drawings need several points.


def points(schedule):
    return [(point.mark, len(point.splices), round(point.farthest_m, 3)) for point in schedule.crew.power.points]


def test_one_point_serves_a_run_within_the_lead(schedule_of):
    """
    A run of 25 m between free ends, two splices 9.99 m apart, a lead of 10 m: one point at one of them serves both.

        =====10-----|-----10=====|==5==
    """
    power = schedule_of([(0, 0), (25, 0)], options={"iron.lead": "10 m"}).crew.power

    assert [("E1", 2, 9.99)] == [(p.mark, len(p.splices), round(p.farthest_m, 3)) for p in power.points]
    assert 1 == power.least_points


def test_a_shorter_lead_needs_a_second_point(schedule_of):
    """With 9 m neither splice, nor an end, reaches both: two points, proven to be the fewest."""
    power = schedule_of([(0, 0), (25, 0)], options={"iron.lead": "9 m"}).crew.power

    assert (2, 2) == (len(power.points), power.least_points)
    assert [0, 1] == sorted(number for point in power.points for number in point.splices)


def test_leads_run_along_the_structure_not_through_the_air(schedule_of):
    """
    The two long sides of a hairpin are 2 m apart, but 12 m of strip lie between their splices.

        +-----------|-----     20 m, splice 9.985 m from the end
        |
        +-----------|-----
    """
    hairpin = [(20, 0), (0, 0), (0, 2), (20, 2)]
    near = schedule_of(hairpin, options={"iron.lead": "3 m"})
    far = schedule_of(hairpin, options={"iron.lead": "13 m"})

    assert len(near.crew.power.points) > len(far.crew.power.points) == 1


def test_parts_that_do_not_touch_are_reached_over_their_gap(schedule_of):
    """
    Two runs of 15 m, 1 m apart, each with one splice at 9.995 m: one lead of 5 m from either reaches both.

        ------|---
        ------|---
    """
    power = schedule_of([(0, 0), (15, 0)], [(0, 1), (15, 1)], options={"iron.lead": "5 m"}).crew.power

    assert [("E1", 2, 1.0)] == [(p.mark, len(p.splices), round(p.farthest_m, 3)) for p in power.points]


def test_every_crew_needs_its_iron_circuit_and_current(schedule_of):
    """
    Two crews with one large iron each: 16 A, a circuit of 15 A carries 12 A for hours, so one iron; generator 2.2 kW.

    2 x 8 A x 110 V = 1760 W, and a quarter more is 2200 W.
    """
    options = {"crew.crews": 2, "crew.minutes.butt": "210 min"}
    power = schedule_of([(0, 0), (25, 0)], options=options).crew.power

    assert (2, 0, 16.0, 2, 2.2) == (
        power.large_irons,
        power.small_irons,
        power.amperes,
        power.circuits,
        power.generator_kw,
    )


def test_a_job_without_splices_needs_no_power(schedule_of):
    """One run from one roll: no iron, no point, no odds."""
    schedule = schedule_of([(0, 0), (5, 0)])

    assert (0, (), 0.0, 0) == (
        schedule.crew.power.large_irons,
        schedule.crew.power.points,
        schedule.crew.power.amperes,
        schedule.crew.power.circuits,
    )
    assert schedule.crew.odds is None
    assert play([], [], [], schedule.rules, crews=1) is None


@pytest.mark.parametrize("lead", ["4 m", "9 m", "20 m"])
def test_every_splice_is_served_once_within_the_lead(schedule_of, lead: str):
    """On a lattice every splice hangs on exactly one point, no farther than the lead."""
    lines = [[(0, y), (18, y)] for y in (0, 6, 12)] + [[(x, 0), (x, 12)] for x in (0, 9, 18)]
    schedule = schedule_of(*lines, options={"iron.lead": lead})
    power = schedule.crew.power

    assert list(range(schedule.totals["field_splices"])) == sorted(n for p in power.points for n in p.splices)
    assert all(point.farthest_m <= power.lead_m + 1e-6 for point in power.points)
    assert power.least_points <= len(power.points)


def test_no_mark_stands_for_two_things(schedule_of):
    """Nodes, runs, fittings, splices, pieces, rolls, offcuts, sample welds and power points share no mark."""
    schedule = schedule_of([(0, 0), (25, 0)], [(5, 0), (5, 8)], options={"cutting.keep_from": "100 mm"})
    rolls = schedule.rolls
    kinds = [
        *(schedule.nodes, schedule.runs, schedule.fittings, schedule.splices, rolls, schedule.crew.power.points),
        [entry for entry in schedule.log if entry.what.startswith("sample")],
        [piece for roll in rolls for piece in roll.pieces],
    ]
    marks = [thing.mark for kind in kinds for thing in kind] + [roll.offcut for roll in rolls if roll.offcut]

    assert all(kinds)
    assert {"E", "F", "L", "N", "O", "P", "R", "S", "W"} == {mark[0] for mark in marks}
    assert len(marks) == len(set(marks))
