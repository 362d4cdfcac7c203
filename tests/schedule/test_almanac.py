"""Working days and their dates."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.schedule.almanac import Almanac

WEEK = Almanac(start=date(2026, 3, 2), weekdays=frozenset(range(5)), holidays=frozenset({date(2026, 3, 5)}))


def test_weekends_and_holidays_are_skipped():
    """From Monday 2 March 2026, the Thursday a holiday: Mon, Tue, Wed, Fri, Mon."""
    assert [2, 3, 4, 6, 9] == [day.day for day in WEEK.dates_of(5)]


@pytest.mark.parametrize(
    ("day", "ahead", "number"),
    [
        (date(2026, 3, 3), 1, 1),
        (date(2026, 3, 3), 0, 2),
        (date(2026, 3, 6), 1, 3),
        (date(2026, 3, 7), 1, 4),
        (date(2026, 3, 7), 0, 4),
        (date(2026, 3, 9), 2, 3),
        (date(2026, 3, 2), 1, 0),
        (date(2026, 2, 27), 1, -1),
    ],
    ids=["Tue", "Tue, same day", "Fri after a holiday", "Sat", "Sat, same day", "Mon, two ahead", "start", "earlier"],
)
def test_work_for_a_pour_ends_the_working_day_before(day: date, ahead: int, number: int):
    """Counted from the start, day 1; days that are not worked count for nothing; 0 or less is before the start."""
    assert number == WEEK.days_before(day, ahead=ahead)


@given(number=st.integers(1, 300))
def test_the_date_of_a_working_day_and_back(number: int):
    """The number of a date's own working day is the number it was asked for."""
    assert number == WEEK.days_before(WEEK.dates_of(number)[-1], ahead=0)
