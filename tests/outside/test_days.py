"""Calendars and odds against numpy and scipy."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy import stats

from splicewright.schedule.almanac import Almanac
from splicewright.schedule.chance import play
from splicewright.schedule.rules import load_rules

START = date(2026, 3, 2)
HOLIDAYS = frozenset({date(2026, 3, 5), date(2026, 4, 3), date(2026, 4, 6), date(2026, 12, 25)})
DRAWS = 20_000


@pytest.mark.outside(
    what="dates of working days through weekends and holidays",
    against="numpy.busday_offset",
    result="equal, 300 days",
)
@pytest.mark.parametrize("weekdays", [(0, 1, 2, 3, 4), (0, 1, 2, 3, 4, 5), (6, 0, 1, 2, 3)])
def test_dates_of_working_days(weekdays):
    """The n-th working day is numpy's n-th business day."""
    mask = [day in weekdays for day in range(7)]
    almanac = Almanac(start=START, weekdays=frozenset(weekdays), holidays=HOLIDAYS)
    theirs = np.busday_offset(START, np.arange(300), roll="forward", weekmask=mask, holidays=sorted(HOLIDAYS))

    assert theirs.tolist() == almanac.dates_of(300)


@pytest.mark.outside(
    what="working days left before a pour",
    against="numpy.busday_count",
    result="equal, every day of a year",
)
def test_working_days_before_a_pour():
    """Done the day before: as many days as numpy counts from the start up to the pour."""
    almanac = Almanac(start=START, weekdays=frozenset(range(5)), holidays=HOLIDAYS)
    pours = [date.fromordinal(START.toordinal() + ahead) for ahead in range(1, 366)]
    theirs = np.busday_count(START, pours, holidays=sorted(HOLIDAYS)).tolist()

    assert theirs == [almanac.days_before(pour, ahead=1) for pour in pours]


def odds(splices, due, **changed):
    """Play a job of splices of 300 min, one a day, with one thing left to chance."""
    sure = {"pace_least": 1.0, "pace_most": 1.0, "splice_least": 1.0, "splice_most": 1.0, "rework": 0.0, "weather": 0.0}
    rules = load_rules(None)
    rules = replace(rules, chance=replace(rules.chance, **sure | {"draws": DRAWS} | changed))
    return play([300.0] * splices, [0.0] * splices, [0.0] * splices, rules, crews=1, due=due)


def allowed(share):
    """Four standard errors of a share of the draws."""
    return 4 * np.sqrt(share * (1 - share) / DRAWS) + 1e-4


@pytest.mark.outside(
    what="share of games in which nine splices, each made again with a chance of 0.3, are done within 9 to 14 days",
    against="scipy.stats.binom",
    result="within four standard errors of 20,000 draws",
)
@pytest.mark.parametrize("days", [9, 10, 12, 14])
def test_rework_is_binomial(days):
    """A splice made again takes one more day, so days beyond nine are the number of failures."""
    share = stats.binom.cdf(days - 9, 9, 0.3)

    assert odds(9, [(8, days)], rework=0.3).kept == (pytest.approx(share, abs=allowed(share)),)


@pytest.mark.outside(
    what="50, 80 and 95 percent of the days for ten good days, a quarter of all days lost to weather",
    against="scipy.stats.nbinom: lost days before the tenth good one",
    result="equal",
)
def test_weather_is_negative_binomial():
    """Ten splices, one a good day: quantiles of ten plus the lost days."""
    played = odds(10, [], weather=0.25)
    theirs = tuple(10 + stats.nbinom.ppf([0.5, 0.8, 0.95], 10, 0.75))

    assert theirs == (played.days_50, played.days_80, played.days_95)


@pytest.mark.outside(
    what="share of games in which one splice fits the day, its minutes spread",
    against="scipy.stats.triang, between least and most, likeliest 1",
    result="within four standard errors of 20,000 draws",
)
@pytest.mark.parametrize("least", [0.5, 0.9])
def test_minutes_are_triangular(least):
    """Two splices of 200 min in a day of 400: kept where their pace is at most 1."""
    rules = load_rules(None)
    chance = {"pace_least": least, "pace_most": 2.0, "splice_least": 1.0, "splice_most": 1.0, "rework": 0, "weather": 0}
    rules = replace(rules, chance=replace(rules.chance, draws=DRAWS, **chance))
    shift = rules.crew.shift_min - rules.crew.warm_up_min - rules.crew.sample_weld_min
    played = play([shift / 2.4] * 2, [0.0] * 2, [0.0] * 2, rules, crews=1, due=[(1, 1)])
    share = stats.triang.cdf(1.2, (1 - least) / (2 - least), least, 2 - least)

    assert played.kept == (pytest.approx(share, abs=allowed(share)),)
