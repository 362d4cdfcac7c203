"""The ledger."""

from dataclasses import replace
from math import pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st


def ledger(schedule):
    """Give the ledger's row of the ribbed profile, rounded to the micrometre."""
    (row,) = [row for row in schedule.footage if row.profile == "ribbed"]
    columns = (row.measured_m, row.in_fittings_m, row.in_pieces_m, row.lost_in_welds_m, row.order_m)
    return tuple(round(value, 6) for value in columns)


def test_the_ledger_of_an_ell(schedule_of):
    """
    Two arms of 5 m: legs of 0.6 m, pieces of 4.4 m and 10 mm each for the leg's weld, from one roll of 10 m.

        ------+
              |
    """
    assert (10.0, 1.2, 8.82, 0.02, 10.0) == ledger(schedule_of([(0, 0), (5, 0), (5, -5)]))


def test_the_ledger_of_legs_that_meet(schedule_of):
    """
    Two tees 1.4 m apart: both legs together are 1.41 m, of which the weld melts 10 mm.

        |   1.4  |      the uprights are 6 m each: four legs and four pieces of 2.4 m and 10 mm
        +--------+
        |        |
    """
    schedule = schedule_of([(0, -3), (0, 3)], [(0, 0), (1.4, 0)], [(1.4, -3), (1.4, 3)])

    assert (13.4, 3.81, 9.64, 0.05, 10.0) == ledger(schedule)


def test_the_ledger_of_a_ring(schedule_of, arc):
    """A ring of 6.283 m is one piece, longer than the ring by the one weld that closes it."""
    measured, fittings, pieces, lost, order = ledger(schedule_of(arc((0, 0), 1, 0, 360)))

    assert (pytest.approx(2 * pi, rel=1e-4), 0.0, 0.01, 10.0) == (measured, fittings, lost, order)
    assert pytest.approx(measured + 0.01, abs=1e-6) == pieces


def test_a_transition_takes_half_a_melt_from_either_profile(schedule_of, line):
    """Strip of two profiles that meets in line loses 5 mm each."""
    schedule = schedule_of(line([(0, 0), (5, 0)], 1), line([(5, 0), (9, 0)], 2, profile="bulb"))

    assert [("bulb", 0.005), ("ribbed", 0.005)] == [(row.profile, row.lost_in_welds_m) for row in schedule.footage]


def test_the_ledger_of_a_tee_welded_in_place(schedule_of):
    """Three strips of 4 m that meet at a node lose half a melt each."""
    schedule = schedule_of([(0, 0), (8, 0)], [(4, 0), (4, -4)], options={"fittings.policy": "field"})

    assert (12.0, 0.0, 12.015, 0.015, 20.0) == ledger(schedule)


def test_difference_shows_what_is_missing(schedule_of):
    """A row whose pieces are 0.25 m short differs by 0.25 m."""
    (row,) = schedule_of([(0, 0), (5, 0)]).footage
    short = replace(row, in_pieces_m=row.in_pieces_m - 0.25)

    assert (pytest.approx(0, abs=1e-9), pytest.approx(0.25)) == (row.difference_m, short.difference_m)


POINTS = st.tuples(st.integers(0, 6), st.integers(0, 6), st.integers(0, 1))
COURSES = st.lists(st.lists(POINTS, min_size=2, max_size=5, unique=True), min_size=1, max_size=8)


@settings(max_examples=60, deadline=None)
@given(
    courses=COURSES,
    scale=st.sampled_from([0.25, 0.61, 1.0, 1.2192, 3.7, 23.0]),
    policy=st.sampled_from(["factory", "site shop", "field"]),
    whole=st.booleans(),
)
def test_the_ledger_balances_to_a_millimetre(schedule_of, courses, scale, policy, whole):
    """Whatever is drawn, measured = in fittings + in pieces - lost in welds, each from its own source."""
    drawn = [[(scale * x, scale * y, scale * z) for x, y, z in course] for course in courses]

    schedule = schedule_of(*drawn, options={"fittings.policy": policy, "fittings.through_whole": whole})

    assert pytest.approx(sum(run.length_m for run in schedule.runs)) == sum(r.measured_m for r in schedule.footage)
    assert [] == [row for row in schedule.footage if abs(row.difference_m) >= 0.001]
    assert [] == [roll for roll in schedule.rolls if sum(p.length_m for p in roll.pieces) > roll.length_m + 1e-5]
