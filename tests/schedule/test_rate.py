"""Rates: the numbers that formulas know by name."""

import pytest

from splicewright.schedule.rate import profile_rate, rates_of, roll_rate
from splicewright.schedule.sheet_view import View

PRICES = """
[profiles.other]
width = "6 in"
thickness = "1/4 in"
mass = "1 kg/m"
rolls = [{ length = "10 m", price = 90.0 }]

[prices]
currency = "USD"
crew_hour = 150.0
"""


@pytest.fixture(scope="module")
def view(schedule_of):
    """A ring and an ell of a profile whose rolls have a price."""
    made = schedule_of(
        [(0, 0), (35, 0), (35, 12)], [(50, 0), (60, 0), (60, 10), (50, 10), (50, 0)], more=PRICES, profile="other"
    )
    return View.of(made, imperial=True)


def test_names_are_unique(view):
    """No two rates share a name, whatever their case."""
    names = [rate.name.lower() for rate in rates_of(view)]

    assert len(names) == len(set(names))


def test_prices_are_named(view):
    """Roll and crew hour have their prices with the currency; what the rules give no price has no name."""
    rates = {rate.name: (rate.value, rate.unit) for rate in rates_of(view)}

    assert (90.0, "USD") == rates[roll_rate(view, "other", 10.0)]
    assert (150.0, "USD") == rates["crew_hour_price"]
    assert "field_splice_price" not in rates
    assert "" == roll_rate(view, "other", 20.0)


def test_only_what_is_welded_has_rates(view):
    """Minutes and factors are those of welds and places that some splice has; widths those of its profile."""
    names = {rate.name for rate in rates_of(view)}
    welds = {str(splice.weld) for splice in view.schedule.splices if splice.day}

    assert {f"minutes_{weld}" for weld in welds} == {name for name in names if name.startswith("minutes_")}
    assert {profile_rate(view, "other")} == {name for name in names if name.startswith("width_") and name[6:].isdigit()}
    assert 6.0 == next(rate.value for rate in rates_of(view) if rate.name == "width_1")
