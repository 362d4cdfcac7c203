"""Welding days: how splices fill them, and how many crews keep the dates."""

from dataclasses import replace
from datetime import date
from itertools import pairwise, product
from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.extract.errors import RulesError
from splicewright.schedule.crew import plan_crews, plan_shifts, staff
from splicewright.schedule.sequence import Course, Zone
from splicewright.schedule.splice import Draft, SpliceKind

# A shift of 8 h less 60 min warm-up and 20 min sample weld leaves 400 min: ten splices of 40 min.


@pytest.mark.parametrize(
    ("splices", "days"),
    [(0, []), (1, [1]), (10, [10]), (11, [10, 1]), (20, [10, 10]), (21, [10, 10, 1])],
    ids=["none", "one", "exactly a day", "one more", "exactly two days", "one more again"],
)
def test_days_are_filled_to_the_last_splice_that_fits(rules, splices: int, days: list[int]):
    """No splices take no day; ten splices of 40 min fill a day of 400 min; the eleventh opens another."""
    shifts = plan_shifts([40.0] * splices, rules)

    assert days == [shift.stop - shift.first for shift in shifts]
    assert list(range(1, len(days) + 1)) == [shift.day for shift in shifts]


def test_thirds_of_an_hour_fill_a_day_to_the_minute(rules):
    """Splices of 400 / 7 min, which no float holds, still go seven to a day."""
    assert [7, 7] == [shift.stop - shift.first for shift in plan_shifts([400 / 7] * 14, rules)]


def test_a_splice_is_never_split_over_two_days(rules):
    """After 380 min a splice of 30 min waits for the next day although 20 min are left."""
    assert [(380.0, 2), (30.0, 1)] == [(s.minutes, s.stop - s.first) for s in plan_shifts([190.0, 190.0, 30.0], rules)]


def test_a_cool_down_within_the_shift_takes_its_time_from_splices(rules_of):
    """With 30 min of cool-down inside the shift nine splices of 40 min fit, not ten."""
    rules = rules_of(options={"crew.cool_down_in_shift": True})

    assert [9, 1] == [shift.stop - shift.first for shift in plan_shifts([40.0] * 10, rules)]


def test_several_crews_share_the_days(rules):
    """Two crews weld 25 splices of 40 min in two days: ten each on the first, five by one of them on the second."""
    shifts = plan_shifts([40.0] * 25, rules, crews=2)

    assert [(1, 1, 10), (2, 1, 10), (1, 2, 5)] == [(s.crew, s.day, s.stop - s.first) for s in shifts]


@pytest.mark.parametrize("minutes", [400.5, 1000.0])
def test_a_splice_longer_than_a_day_is_refused(rules, minutes: float):
    """No day is long enough: the sentence starts with the rule that would mend it."""
    with pytest.raises(RulesError, match=r"^crew\.shift: a splice of .* does not fit into the 400 min"):
        plan_shifts([40.0, minutes], rules)


def test_a_splice_as_long_as_a_day_is_welded(rules):
    """Exactly 400 min fit."""
    assert [(0, 1), (1, 2)] == [(shift.first, shift.stop) for shift in plan_shifts([400.0, 400.0], rules)]


def course_of(minutes, *zones, move_min=None, cover_min=None):
    """A course of butts; zones are (number of splices, day or None)."""
    drafts = [
        Draft((float(i), 0.0, 0.0), SpliceKind.PIECE, "ribbed", "R1", None, None, "", time, 0.0)
        for i, time in enumerate(minutes)
    ]
    made, first = [], 0
    for number, (count, day) in enumerate(zones or [(len(drafts), None)], 1):
        made.append(Zone(name=f"pour {number}", pour=True, day=day, first=first, stop=first + count))
        first += count
    nothing = (0.0,) * len(drafts)
    return Course(
        drafts=tuple(drafts),
        zones=tuple(made) if drafts else (),
        walked_m=nothing,
        climbed_m=nothing,
        move_min=tuple(move_min or nothing),
        cover_min=tuple(cover_min or nothing),
        findings=(),
    )


def test_a_day_adds_up_to_the_shift(rules):
    """Warm-up, sample weld, splices, moves, covers and idle time are the shift of 8 h; cooling comes after."""
    course = course_of([40.0] * 3, move_min=(0, 5, 7), cover_min=(0, 0, 10))
    plan = plan_crews(staff(course, rules), course, ["ribbed"], rules)
    (day,) = plan.days

    assert (("S1", "S2", "S3"), 60.0, 20.0, 120.0, 12.0, 10.0, 30.0, 258.0) == (
        day.splices,
        day.warm_up_min,
        day.sample_weld_min,
        day.splice_min,
        day.move_min,
        day.cover_min,
        day.cool_down_min,
        day.idle_min,
    )
    assert (1, 1, 1) == (plan.crew_days, plan.working_days, plan.sample_welds)


def test_the_way_to_the_first_splice_of_a_day_costs_nothing(rules):
    """Nine splices of 40 min with ways of 5 min take 400 min; the tenth is next day's first, reached while warming."""
    shifts = plan_shifts([40.0] * 10, rules, move_min=[5.0] * 10)

    assert [9, 1] == [shift.stop - shift.first for shift in shifts]


def test_an_overlap_with_the_warm_up_is_time_to_weld(rules_of):
    """With 40 min of the warm-up used for cutting and laying out eleven splices of 40 min fit, not ten."""
    rules = rules_of(options={"crew.overlap": "40 min"})

    assert [11] == [shift.stop - shift.first for shift in plan_shifts([40.0] * 11, rules)]


def test_days_are_evened_out_where_the_rules_ask_for_it(rules_of):
    """Eleven splices of 40 min take two days either way: ten and one, or six and five."""
    rules = rules_of(options={"crew.evened": True})

    assert [6, 5] == [shift.stop - shift.first for shift in plan_shifts([40.0] * 11, rules)]


@pytest.mark.parametrize(
    ("profiles", "people"), [(["ribbed"], 2), (["seal"], 3), (["bulb"], 3), (["ribbed", "bulb"], 3), ([], 2)]
)
def test_the_neediest_profile_sets_the_crew(rules, profiles: list[str], people: int):
    """Large (12 in) and asymmetric profiles take three people, and the crew stays the same for the whole job."""
    course = course_of([])

    assert people == plan_crews(staff(course, rules), course, profiles, rules).people


# Monday, 2 March 2026 is working day 1, Monday 9 March working day 6; splices are done the working day before a pour.
START = {"calendar.start": "2026-03-02"}


def test_dates_force_a_second_crew(rules_of):
    """
    Twenty splices of 40 min, two full days, are needed for a pour on Tuesday: one day is left, so two crews.

        Mon  Tue           one crew is done on Tuesday evening, a day too late
         10 | pour         two crews: 10 + 10 on Monday
         10 |
    """
    rules = rules_of(options=START)
    roster = staff(course_of([40.0] * 20, (20, date(2026, 3, 3))), rules)

    assert (2, 2, ()) == (roster.least_crews, roster.crews, roster.findings)
    assert [(1, 2, 1), (2, 1, 0), (3, 1, 0), (4, 1, 0)] == [
        (choice.crews, choice.working_days, choice.shortfall_days) for choice in roster.choices
    ]


def test_one_crew_stays_where_the_dates_allow_it(rules_of):
    """The same twenty splices for a pour on Wednesday: two days are left, and one crew needs them both."""
    rules = rules_of(options=START)
    course = course_of([40.0] * 20, (20, date(2026, 3, 4)))
    (zone,) = plan_crews(staff(course, rules), course, ["ribbed"], rules).zones

    assert (1, 2, 2, 0, 1) == (zone.start_day, zone.finish_day, zone.due_day, zone.float_days, zone.latest_start_day)
    assert (date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 2)) == (zone.start, zone.finish, zone.latest_start)


def test_a_later_pour_takes_away_the_float_of_an_earlier_one(rules_of):
    """
    Ten splices for a pour in two weeks, then ten for one on Wednesday of the first: neither may slip a day.

    The first has eight days to spare by itself; a slip would push the second past Tuesday.
    """
    rules = rules_of(options=START)
    course = course_of([40.0] * 20, (10, date(2026, 3, 13)), (10, date(2026, 3, 4)))
    zones = plan_crews(staff(course, rules), course, ["ribbed"], rules).zones

    assert [(9, 0), (2, 0)] == [(zone.due_day, zone.float_days) for zone in zones]


def test_too_few_crews_are_told_with_the_days_they_lack(rules_of):
    """Fifty splices of 40 min for a pour on Tuesday need five crews; the four there are finish a day too late."""
    roster = staff(course_of([40.0] * 50, (50, date(2026, 3, 3))), rules_of(options=START))
    (finding,) = roster.findings

    assert (5, 4) == (roster.least_crews, roster.crews)
    assert "Pour 'pour 1' on 2026-03-03 cannot be kept: 4 crews finish its splices 1 working day too late; " in (
        finding.message
    )
    assert "5 crews would" in finding.message


@pytest.mark.parametrize(("day", "late"), [(date(2026, 3, 2), 1), (date(2026, 2, 26), 3)])
def test_a_pour_before_anyone_can_weld_is_impossible(rules_of, day: date, late: int):
    """A pour on the day of the start, or two working days before it, no number of crews can keep."""
    roster = staff(course_of([40.0], (1, day)), rules_of(options=START))
    (finding,) = roster.findings

    assert roster.least_crews is None
    assert f"{late} working day{'s' * (late > 1)} too late; no number of crews can" in finding.message


times = st.integers(1, 40).map(lambda tens: 10.0 * tens)
jobs = st.lists(st.tuples(times, st.sampled_from([0.0, 5.0, 30.0])), min_size=1, max_size=9)


def days_of(minutes, moves, cuts, room):
    """Times of the days that a sequence is cut into, None where one is too long."""
    bounds = [0, *(i for i, cut in enumerate(cuts, 1) if cut), len(minutes)]
    spans = list(pairwise(bounds))
    used = [sum(minutes[a:b]) + sum(moves[a + 1 : b]) for a, b in spans]
    return [b for _, b in spans] if max(used) <= room else None


@given(job=jobs, due=st.lists(st.tuples(st.integers(0, 8), st.integers(1, 3)), max_size=2))
def test_the_least_number_of_crews_is_that_of_an_exhaustive_search(rules, job, due):
    """Of all ways to cut the sequence into days, and all numbers of crews, none keeps the dates with fewer crews."""
    minutes, moves = [time for time, _ in job], [move for _, move in job]
    due = [(min(at, len(job) - 1), by) for at, by in due]
    shifts = plan_shifts(minutes, rules, move_min=moves)
    least = max((ceil(sum(s.first <= at for s in shifts) / by) for at, by in due), default=1)
    every = [days_of(minutes, moves, cuts, 400) for cuts in product((False, True), repeat=len(job) - 1)]
    cut = [stops for stops in every if stops is not None]
    needs = [max((ceil(sum(stop <= at for stop in stops[:-1]) + 1) / by for at, by in due), default=1) for stops in cut]

    assert min(len(stops) for stops in cut) == len(shifts)
    assert ceil(min(needs)) == least


@given(job=jobs)
def test_more_crews_are_never_later_and_longer_shifts_never_take_more_days(rules, job):
    """Working days fall, or stay, from one crew to two to three, and from 8 h to 9 h."""
    minutes, moves = [time for time, _ in job], [move for _, move in job]
    last = [plan_shifts(minutes, rules, move_min=moves, crews=crews)[-1].day for crews in (1, 2, 3)]
    longer = replace(rules, crew=replace(rules.crew, shift_min=rules.crew.shift_min + 60))

    assert last == sorted(last, reverse=True)
    assert len(plan_shifts(minutes, longer, move_min=moves)) <= len(plan_shifts(minutes, rules, move_min=moves))


@given(job=jobs, crews=st.integers(1, 4))
def test_every_splice_is_welded_once_and_no_day_is_over_full(rules, job, crews: int):
    """Shifts follow each other without gap or overlap, and none is longer than its day, evened out or not."""
    minutes, moves = [time for time, _ in job], [move for _, move in job]
    for evened in (False, True):
        even = replace(rules, crew=replace(rules.crew, evened=evened))
        shifts = plan_shifts(minutes, even, crews=crews, move_min=moves)

        assert list(range(len(minutes))) == [i for shift in shifts for i in range(shift.first, shift.stop)]
        assert all(s.minutes + sum(moves[s.first + 1 : s.stop]) <= 400.01 for s in shifts)
        assert len(shifts) == len({(shift.crew, shift.day) for shift in shifts})
