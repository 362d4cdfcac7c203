"""How sure the days are."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.chance import _count_days, play
from splicewright.schedule.crew import plan_shifts

SURE = {"pace_least": 1.0, "pace_most": 1.0, "splice_least": 1.0, "splice_most": 1.0, "rework": 0.0, "weather": 0.0}


def with_chance(rules, **changed):
    return replace(rules, chance=replace(rules.chance, **{**SURE, "draws": 400, **changed}))


def play_through(minutes, rules, *, moves=None, crews=1, due=()):
    return play(minutes, moves or [0.0] * len(minutes), [0.0] * len(minutes), rules, crews=crews, due=due)


times = st.lists(st.tuples(st.integers(1, 400), st.integers(0, 30)), min_size=1, max_size=25)


@settings(max_examples=60)
@given(job=times, crews=st.integers(1, 3))
def test_without_spread_every_draw_is_the_plan(rules, job, crews):
    """No spread, no rework, no weather: 50, 80 and 95 percent are the planned working days, moves counted."""
    minutes, moves = [float(time) for time, _ in job], [float(move) for _, move in job]
    odds = play_through(minutes, with_chance(rules, draws=3), moves=moves, crews=crews)
    planned = plan_shifts(minutes, rules, move_min=moves, crews=crews)[-1].day

    assert (planned, planned, planned) == (odds.days_50, odds.days_80, odds.days_95)


def test_the_same_seed_gives_the_same_odds_and_another_others(rules):
    """Odds are reproducible; they come from the seed and nothing else."""
    one, same, other = (
        play_through([37.0] * 60, with_chance(rules, seed=seed, pace_most=2.0), due=[(29, 4)]) for seed in (7, 7, 8)
    )

    assert one == same
    assert one.kept != other.kept


def test_a_pace_decides_the_days(rules):
    """
    Ten splices of 40 min fill a day; at a pace between 1 and 2, likeliest 1, they take two.

    The triangle falls from its mode 1 to 2: the share of draws below p is 1 - (2 - p)^2, so one of exactly 1 is never
    drawn and every draw takes a second day; a job of nine, 360 min, takes one day up to p = 400 / 360 = 1.111,
    that is in 1 - 0.889^2 = 0.2099 of the draws (to 3 standard errors of 0.0041 for 10,000).
    """
    fixed = {"draws": 10_000, "pace_most": 2.0}
    ten = play_through([40.0] * 10, with_chance(rules, **fixed), due=[(9, 1)])
    nine = play_through([40.0] * 9, with_chance(rules, **fixed), due=[(8, 1)])

    assert ten.kept == (pytest.approx(0, abs=0.001),)
    assert nine.kept == (pytest.approx(0.2099, abs=0.0125),)


def test_rework_takes_its_share(rules):
    """A job of one splice of 300 min that fails with 0.25 and then takes another day: 0.75 of the draws keep day 1."""
    odds = play_through([300.0], with_chance(rules, draws=10_000, rework=0.25), due=[(0, 1)])

    assert odds.kept == (pytest.approx(0.75, abs=0.013),)


def test_weather_takes_days_before_good_ones(rules):
    """With 0.2 of the days lost, a job of one day is done on day 1 with 0.8, by day 2 with 0.96."""
    odds = play_through([300.0], with_chance(rules, draws=10_000, weather=0.2), due=[(0, 1)])

    assert odds.kept == (pytest.approx(0.8, abs=0.012),)
    assert (1, 2) == (odds.days_50, odds.days_95)


def test_more_spread_never_makes_the_95th_percent_shorter(rules):
    """The long tail of minutes lengthens what one must reckon with."""
    sure = play_through([40.0] * 40, with_chance(rules))
    spread = play_through([40.0] * 40, with_chance(rules, splice_most=2.0, pace_most=1.5, rework=0.1, weather=0.1))

    assert sure.days_95 < spread.days_95
    assert spread.days_50 <= spread.days_80 <= spread.days_95


def test_no_draws_give_no_odds(rules):
    """Neither where the rules ask for none, nor where there is nothing to weld."""
    assert play_through([40.0], with_chance(rules, draws=0)) is None
    assert play_through([], with_chance(rules)) is None


def test_days_counted_for_all_draws_at_once_are_those_counted_one_by_one():
    """The search in one long sequence gives each draw what a plain loop gives it."""
    random = np.random.default_rng(3)
    times, moves = random.integers(1, 400, (50, 30)), random.integers(0, 60, (50, 30))
    found = _count_days(times, moves, 450, [9, 29])

    for row in range(50):
        days, left = [], -1
        for time, move in zip(times[row].tolist(), moves[row].tolist(), strict=True):
            left -= time + move
            fresh = left < 0
            left = 450 - time if fresh else left
            days.append((days[-1] if days else 0) + fresh)
        assert [days[9], days[29]] == found[row].tolist()
