"""Welding days: how splices fill them."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.extract.errors import RulesError
from splicewright.schedule.crew import plan_crews, plan_shifts

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


def test_several_crews_share_the_days(rules_of):
    """Two crews weld 25 splices of 40 min in two days: ten each on the first, five by one of them on the second."""
    shifts = plan_shifts([40.0] * 25, rules_of(options={"crew.crews": 2}))

    assert [(1, 1, 10), (2, 1, 10), (1, 2, 5)] == [(s.crew, s.day, s.stop - s.first) for s in shifts]


@pytest.mark.parametrize("minutes", [400.5, 1000.0])
def test_a_splice_longer_than_a_day_is_refused(rules, minutes: float):
    """No day is long enough: the sentence starts with the rule that would mend it."""
    with pytest.raises(RulesError, match=r"^crew\.shift: a splice of .* does not fit into the 400 min"):
        plan_shifts([40.0, minutes], rules)


def test_a_splice_as_long_as_a_day_is_welded(rules):
    """Exactly 400 min fit."""
    assert [(0, 1), (1, 2)] == [(shift.first, shift.stop) for shift in plan_shifts([400.0, 400.0], rules)]


def test_a_day_adds_up_to_the_shift(rules):
    """Warm-up, sample weld, splices and idle time are the 8 h of the shift; the cool-down comes after."""
    plan = plan_crews(plan_shifts([40.0] * 3, rules), ["S1", "S2", "S3"], ["ribbed"], rules)
    (day,) = plan.days

    assert (("S1", "S2", "S3"), 60.0, 20.0, 120.0, 30.0, 280.0) == (
        day.splices,
        day.warm_up_min,
        day.sample_weld_min,
        day.splice_min,
        day.cool_down_min,
        day.idle_min,
    )
    assert (1, 1, 1) == (plan.crew_days, plan.working_days, plan.sample_welds)


@pytest.mark.parametrize(
    ("profiles", "people"), [(["ribbed"], 2), (["seal"], 3), (["bulb"], 3), (["ribbed", "bulb"], 3), ([], 2)]
)
def test_the_neediest_profile_sets_the_crew(rules, profiles: list[str], people: int):
    """Large (12 in) and asymmetric profiles take three people, and the crew stays the same for the whole job."""
    assert people == plan_crews([], [], profiles, rules).people


@given(minutes=st.lists(st.floats(1, 400), max_size=40), crews=st.integers(1, 4))
def test_every_splice_is_welded_once_and_no_day_is_over_full(rules, minutes: list[float], crews: int):
    """Shifts follow each other without gap or overlap, and none is longer than its day."""
    shifts = plan_shifts(minutes, replace(rules, crew=replace(rules.crew, crews=crews)))

    assert list(range(len(minutes))) == [i for shift in shifts for i in range(shift.first, shift.stop)]
    assert all(shift.minutes <= 400 + 1e-6 and shift.stop > shift.first for shift in shifts)
    assert len(shifts) == len({(shift.crew, shift.day) for shift in shifts})
