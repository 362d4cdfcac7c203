"""Saw sheet: settings rounded to the saw's step, grouped, with what rounding costs and what is out of range."""

from math import cos, radians, sin, tan

import pytest

from splicewright.schedule.saw_sheet import blade_text


def ell(turn_deg, at=0.0):
    """Draw an ell that turns by some angle from straight on."""
    a = radians(180 - turn_deg)
    return [(at + 5, 0), (at, 0), (at + 5 * cos(a), 5 * sin(a))]


def test_a_setting_is_rounded_to_the_step_of_the_saw(schedule_of):
    """An ell of 60.6 degrees needs 30.3: the saw is set to 30.5, and the edge 114.3 mm off moves by 0.54 mm."""
    (setup,) = schedule_of(ell(60.6)).setups

    assert (30.5, 0.0, 2) == (setup.miter_deg, setup.bevel_deg, setup.quantity)
    assert 114.3 * (tan(radians(30.5)) - tan(radians(30.3))) == pytest.approx(setup.error_m * 1000, abs=1e-3)


def test_a_finer_saw_cuts_closer(schedule_of):
    """With steps of 0.1 degree the same ell is cut as it should be."""
    (setup,) = schedule_of(ell(60.6), options={"saw.step_deg": 0.1}).setups

    assert (30.3, 0.0) == (pytest.approx(setup.miter_deg), pytest.approx(setup.error_m * 1000, abs=1e-3))


def test_cuts_of_one_setting_stand_together(schedule_of):
    """Two ells of 90 degrees and one of 90.9, in steps of a degree: all six cuts are made with one setting of 45."""
    schedule = schedule_of(ell(90), ell(90, at=50), ell(90.9, at=100), options={"saw.step_deg": 1.0})

    assert [(45.0, 6, ("F1-1", "F1-2", "F2-1", "F2-2"))] == [(s.miter_deg, s.quantity, s.cuts) for s in schedule.setups]


def test_every_known_cut_is_made_with_one_setting(schedule_of):
    """The settings of a cross hold its eight cuts once each."""
    schedule = schedule_of([(-5, 0), (5, 0)], [(0, -5), (0, 5)])

    assert sorted(cut.mark for cut in schedule.cuts) == sorted(mark for s in schedule.setups for mark in s.cuts)
    assert 8 == sum(setup.quantity for setup in schedule.setups)


def test_a_cut_beyond_the_saw_says_so_and_comes_last(schedule_of):
    """An ell of 120 degrees asks for a miter of 60, more than the 50 of the rules; one of 90 does not."""
    schedule = schedule_of(ell(120), ell(90, at=50))

    assert [(45.0, ""), (60.0, "miter")] == [(s.miter_deg, s.beyond) for s in schedule.setups]


def test_cuts_whose_lay_is_not_known_have_no_setting(schedule_of):
    """A sloping ell of no stated joint kind is on no saw sheet."""
    assert () == schedule_of([(0, 0, 0), (5, 0, 2), (5, 5, 5)], joint=None).setups


@pytest.mark.parametrize(
    ("setting", "text"),
    [
        ((0, 0), "straight, upright"),
        ((-45, 0), "left 45.0°, upright"),
        ((0, 30), "straight, tilted left 30.0°"),
        ((31.62, -33.86), "right 31.6°, tilted right 33.9°"),
    ],
)
def test_a_setting_is_read_as_on_the_saw(setting, text):
    """Sides are words, never signs."""
    assert text == blade_text(*setting)
