"""The whole plan: totals, findings and what must hold for every job."""

import gc
from dataclasses import replace
from math import cos, radians, sin

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.extract.finding import Severity
from splicewright.extract.network import build_network
from splicewright.schedule.plan import plan


def lattice(columns: int, rows: int, step: float, *, away: float = 0.0, turn_deg: float = 0.0):
    """Draw a lattice of whole lines."""
    width, height = (columns - 1) * step, (rows - 1) * step
    lines = [[(0, y * step), (width, y * step)] for y in range(rows)]
    lines += [[(x * step, 0), (x * step, height)] for x in range(columns)]
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))
    return [[(away + c * x - s * y, away + s * x + c * y) for x, y in line] for line in lines]


def test_totals_come_in_the_order_of_the_record(schedule_of):
    """The totals hold every key of the record, in its order."""
    assert [
        "length_m",
        "ends",
        "corners",
        "tees",
        "wyes",
        "crosses",
        "others",
        "closures",
        "factory_splices",
        "field_splices",
        "miter_cuts",
        "square_cuts",
        "fittings",
        "rolls",
        "order_length_m",
        "crew_days",
    ] == list(schedule_of([(0, 0), (5, 0)]).totals)


def test_totals_of_an_ell_and_a_tee(schedule_of):
    """
    Worked out by hand: 3 seams, 6 miters, 5 legs; the run between takes one piece, 3 stems one each: 5 butts.

        +-------+------    9 m apart, stems of 5 m and 4 m, and 5 m on
        |5      |4

    Square cuts: 5 leg ends and 2 for each of 4 pieces. Pieces 7.82, 4.41, 4.41 and 3.41 m: three rolls of 10 m.
    """
    schedule = schedule_of([(0, -5), (0, 0), (14, 0)], [(9, 0), (9, -4)])

    assert {
        "length_m": pytest.approx(23.0),
        "ends": 3,
        "corners": 1,
        "tees": 1,
        "wyes": 0,
        "crosses": 0,
        "others": 0,
        "closures": 0,
        "factory_splices": 3,
        "field_splices": 5,
        "miter_cuts": 6,
        "square_cuts": 13,
        "fittings": 2,
        "rolls": 3,
        "order_length_m": 30.0,
        "crew_days": 1,
    } == schedule.totals


@pytest.mark.parametrize(("away", "turn_deg"), [(0.0, 0.0), (2.0e6, 0.0), (1.0e6, 33.0)])
def test_a_lattice_counts_as_its_formula_says(schedule_of, away: float, turn_deg: float):
    """
    An m x n lattice has 4 corners, 2(m-2) + 2(n-2) tees, (m-2)(n-2) crosses, and seams 1, 2 and 4 times these.

    Its fittings are three types, wherever and however it is drawn.
    """
    m, n = 7, 5
    tees, crosses = 2 * (m - 2) + 2 * (n - 2), (m - 2) * (n - 2)

    schedule = schedule_of(*lattice(m, n, 5.0, away=away, turn_deg=turn_deg))

    assert (4, tees, crosses) == tuple(schedule.totals[kind] for kind in ("corners", "tees", "crosses"))
    assert 4 + 2 * tees + 4 * crosses == schedule.totals["factory_splices"]
    assert 2 * (m * (n - 1) + n * (m - 1)) == schedule.totals["field_splices"]
    assert [4, tees, crosses] == [fitting.quantity for fitting in schedule.fittings]


def test_a_dense_lattice_is_one_assembly(schedule_of):
    """Lines 1 m apart leave no room for legs of 0.6 m: everything is one piece, where that can be delivered."""
    large = {"fittings.largest": "6 m", "assemblies.second_side": "6 m", "assemblies.heaviest": "200 kg"}
    schedule = schedule_of(*lattice(6, 6, 1.0), options=large)

    assert [("assembly", "4 corners + 16 tees + 16 crosses", 4 + 2 * 16 + 4 * 16)] == [
        (f.kind, f.contents, f.factory_seams) for f in schedule.fittings
    ]
    assert (0, 0) == (schedule.totals["field_splices"], sum(f.code == "large-assembly" for f in schedule.findings))


@pytest.mark.parametrize(
    ("policy", "factory", "field", "fittings"), [("factory", 2, 3, 1), ("site shop", 0, 5, 1), ("field", 0, 3, 0)]
)
def test_the_policy_decides_who_makes_the_splices_of_a_tee(schedule_of, policy, factory, field, fittings):
    """
    A tee: two seams and three butts from the factory; all on site with a site shop; three seams in the field.

        ---+---
           |
    """
    totals = schedule_of([(0, 0), (8, 0)], [(4, 0), (4, -4)], options={"fittings.policy": policy}).totals

    assert (factory, field, fittings) == (totals["factory_splices"], totals["field_splices"], totals["fittings"])


def test_lines_without_a_profile_are_reported_once_a_layer(schedule_of, line):
    """Three lines on two layers carry no profile, one carries one the rules do not know: three findings."""
    schedule = schedule_of(
        line([(0, 0), (5, 0)], 1, joint="slab", profile=None),
        line([(0, 2), (5, 2)], 2, joint="slab", profile=None),
        line([(0, 4), (5, 4)], 3, joint="wall-base", profile=None),
        line([(0, 6), (5, 6)], 4, joint="slab", profile="ribed"),
    )

    advice = "give its profile in a [[lines]] entry of the rules file."

    assert [
        f"Layer 'slab' of test.dxf carries no profile: 2 runs taken as 'ribbed'; {advice}",
        "Layer 'slab' of test.dxf carries profile 'ribed', which the rules do not know: 1 run taken as 'ribbed'; "
        + advice,
        f"Layer 'wall-base' of test.dxf carries no profile: 1 run taken as 'ribbed'; {advice}",
    ] == sorted(f.message for f in schedule.findings if f.code == "unknown-profile")


def test_the_gravest_findings_come_first(schedule_of, line):
    """A slab strip that runs straight into a wall-base strip is an error, and stands before all warnings."""
    schedule = schedule_of(
        line([(0, 0), (9, 0)], 1, joint="slab"), line([(9, -9), (9, 9)], 2, joint="wall-base", profile=None)
    )
    ranks = [list(Severity).index(finding.severity) for finding in schedule.findings]

    assert sorted(ranks) == ranks
    assert Severity.ERROR == schedule.findings[0].severity


def test_several_drawings_are_one_job(drawing_of, build, rules):
    """Two networks are planned together: equal fittings in both are one type, and each run is welded once."""
    ell = [(0, 0), (5, 0), (5, 5)]
    one = build(drawing_of(ell, joint="slab"))
    two = build_network(drawing_of(ell, joint="slab"), rules.limits(), first_node=4, first_run=3)

    schedule = plan([one, two], rules, job="both")

    assert [(2, (("N2",), ("N5",)))] == [(f.quantity, f.nodes) for f in schedule.fittings]
    assert (4, 20.0, "both") == (schedule.totals["field_splices"], schedule.totals["length_m"], schedule.job)


def test_a_job_without_lines_has_an_empty_plan(drawing_of, build, rules):
    """Nothing drawn: no days, no rolls, no splices."""
    schedule = plan([build(drawing_of())], rules, job="none")

    assert {0} == set(schedule.totals.values())


def test_planning_leaves_the_collector_as_it_was(schedule_of):
    """The search for cycles, paused while planning, runs again afterwards."""
    schedule_of([(0, 0), (5, 0)])

    assert gc.isenabled()


COURSES = st.lists(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=4, unique=True),
    min_size=1,
    max_size=6,
)


@settings(max_examples=40, deadline=None)
@given(courses=COURSES, shuffle=st.randoms())
def test_the_plan_does_not_depend_on_the_order_of_lines(schedule_of, courses, shuffle):
    """Reordering and reversing the drawn lines changes no total."""
    drawn = [[(3.3 * x, 3.3 * y) for x, y in course] for course in courses]
    other = [course[::-1] for course in drawn]
    shuffle.shuffle(other)

    assert rounded(schedule_of(*drawn).totals) == rounded(schedule_of(*other).totals)


def rounded(totals):
    """Round lengths to the micrometre."""
    return {key: round(value, 6) for key, value in totals.items()}


@settings(max_examples=40, deadline=None)
@given(courses=COURSES, policy=st.sampled_from(["factory", "site shop", "field"]))
def test_what_the_parts_say_agrees_with_the_totals(schedule_of, courses, policy):
    """Splices, cuts, fittings, days and marks agree with each other in every job."""
    drawn = [[(3.3 * x, 3.3 * y) for x, y in course] for course in courses]
    schedule = schedule_of(*drawn, options={"fittings.policy": policy})
    totals, field = schedule.totals, [s for s in schedule.splices if s.made.value == "field"]
    seams = sum(s.kind.value == "seam" for s in schedule.splices)

    assert [f"S{i}" for i in range(1, len(schedule.splices) + 1)] == [s.mark for s in schedule.splices]
    assert [s.mark for s in field] == [mark for day in schedule.crew.days for mark in day.splices]
    assert pytest.approx(sum(s.minutes for s in field)) == sum(day.splice_min for day in schedule.crew.days)
    if policy != "field":
        legs = sum(fitting.quantity * len(fitting.legs_m) for fitting in schedule.fittings)
        pieces = sum(len(roll.pieces) for roll in schedule.rolls)
        assert seams == sum(fitting.quantity * fitting.factory_seams for fitting in schedule.fittings)
        assert 2 * seams == totals["miter_cuts"] + totals["square_cuts"] - legs - 2 * pieces


def test_a_plan_is_the_same_every_time(schedule_of):
    """Planning twice gives equal fittings, cuts, splices, rolls, days and log."""
    courses = [*lattice(4, 4, 4.0), [(0, -5), (3, -7), (5, -5), (0, -5)]]
    one, two = schedule_of(*courses), schedule_of(*courses)

    assert [getattr(one, part) for part in ("fittings", "cuts", "splices", "rolls", "crew", "log", "findings")] == [
        getattr(two, part) for part in ("fittings", "cuts", "splices", "rolls", "crew", "log", "findings")
    ]
    assert replace(one.footage[0]) == two.footage[0]
