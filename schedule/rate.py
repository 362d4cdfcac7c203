"""Rate: a number on the sheet Basis that may be changed there, and that formulas find by its name."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from splicewright.extract.unit import LengthUnit

from .sheet_view import View
from .splice import Made, Splice

__all__ = ["Rate", "field_splices", "profile_rate", "rate_name", "rates_of", "roll_rate"]

_NO_WORD = re.compile(r"\W+", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """One number that formulas use.

    Attributes
    ----------
    name : str
        Name that formulas know it by.
    label : str
        What it is.
    value : int or float
        Its value, in `unit`.
    unit : str
        Unit; empty for a plain number.
    rule : str
        Rule that it comes from; empty where the plan decides it.
    """

    name: str
    label: str
    value: float
    unit: str = ""
    rule: str = ""


def rates_of(view: View) -> tuple[Rate, ...]:
    """List the rates of a schedule: those of the crew, of welds and places as far as there are any, and prices."""
    return (*_crew(view), *_welds(view), *_widths(view), *_prices(view))


def field_splices(view: View) -> list[Splice]:
    """Return the splices welded on site, in the order they are made."""
    return [splice for splice in view.schedule.splices if splice.made is Made.FIELD]


def profile_rate(view: View, profile: str) -> str:
    """Name the width of a profile."""
    return f"width_{_profiles(view).index(profile) + 1}"


def roll_rate(view: View, profile: str, length_m: float) -> str:
    """Name the price of a roll; empty where it has none."""
    priced = _priced_rolls(view)
    return f"roll_price_{list(priced).index((profile, length_m)) + 1}" if (profile, length_m) in priced else ""


def rate_name(kind: str, of: object) -> str:
    """Name the minutes of a weld or the factor of a place."""
    return f"{kind}_{_NO_WORD.sub('_', str(of))}"


def _crew(view: View) -> Iterator[Rate]:
    planned, crew = view.schedule.crew, view.schedule.rules.crew
    unit, long = view.measure.long_unit, view.measure.long
    cool_down = crew.cool_down_min if crew.cool_down_in_shift else 0.0
    yield Rate(name="crews", label="Crews", value=planned.crews, rule="crew.crews")
    yield Rate(name="crew_people", label="People in a crew", value=planned.people, rule="crew.people")
    yield Rate(name="shift_min", label="Shift", value=crew.shift_min, unit="min", rule="crew.shift")
    yield Rate(name="warm_up_min", label="Warm-up", value=crew.warm_up_min, unit="min", rule="crew.warm_up")
    yield Rate(name="overlap_min", label="Overlap", value=crew.overlap_min, unit="min", rule="crew.overlap")
    yield Rate(
        name="sample_weld_min", label="Sample weld", value=crew.sample_weld_min, unit="min", rule="crew.sample_weld"
    )
    yield Rate(name="cool_down_min", label="Cool-down in shift", value=cool_down, unit="min", rule="crew.cool_down")
    speeds = (("walking", crew.walking_m_per_min), ("climbing", crew.climbing_m_per_min))
    for name, speed in speeds:
        yield Rate(
            name=f"{name}_speed", label=name.capitalize(), value=long(speed), unit=f"{unit}/min", rule=f"crew.{name}"
        )
    yield Rate(
        name="cover_change_min",
        label="Cover change",
        value=crew.cover_change_min,
        unit="min",
        rule="crew.cover_change",
    )
    yield Rate(name="width_share", label="Share that grows with width", value=crew.width_share, rule="crew.width_share")
    yield Rate(
        name="width_of_minutes",
        label="Width of the minutes",
        value=_width(view, crew.width_m),
        unit=_width_unit(view),
        rule="crew.width",
    )


def _welds(view: View) -> Iterator[Rate]:
    """Yield minutes and factors that some splice has."""
    crew, splices = view.schedule.rules.crew, field_splices(view)
    welds = {str(splice.weld) for splice in splices}
    for weld, minutes in ((str(key), value) for key, value in crew.minutes.items()):
        if weld in welds:
            rule = f"crew.minutes.{weld}"
            yield Rate(name=rate_name("minutes", weld), label=f"Minutes, {weld}", value=minutes, unit="min", rule=rule)
    places = {str(splice.position) for splice in splices}
    for place, factor in ((str(key), value) for key, value in crew.position.items()):
        if place in places:
            rule = f"crew.position.{place}"
            yield Rate(name=rate_name("factor", place), label=f"Factor, {place}", value=factor, rule=rule)


def _widths(view: View) -> Iterator[Rate]:
    for profile in _profiles(view):
        width_m = view.schedule.rules.profile_of(profile).width_m
        yield Rate(
            name=profile_rate(view, profile),
            label=f"Width, {profile or 'profile not known'}",
            value=_width(view, width_m),
            unit=_width_unit(view),
            rule="width of the profile",
        )


def _prices(view: View) -> Iterator[Rate]:
    prices = view.schedule.rules.prices
    currency = " ".join((prices.currency or "").split())
    for (profile, length_m), price in _priced_rolls(view).items():
        yield Rate(
            name=roll_rate(view, profile, length_m),
            label=f"Price of a roll, {profile or 'not known'}, {view.measure.roll_text(length_m)}",
            value=price,
            unit=currency,
            rule="price of the roll",
        )
    stated = (
        ("factory_splice", "Price of a shop splice", prices.factory_splice),
        ("field_splice", "Price of a site splice", prices.field_splice),
        ("crew_hour", "Price of a crew hour", prices.crew_hour),
    )
    for key, label, amount in stated:
        if amount is not None:
            yield Rate(name=f"{key}_price", label=label, value=amount, unit=currency, rule=f"prices.{key}")


def _profiles(view: View) -> list[str]:
    """Profiles of what is welded on site, each once."""
    return list(dict.fromkeys(sorted(splice.profile for splice in field_splices(view))))


def _priced_rolls(view: View) -> dict[tuple[str, float], float]:
    """Prices of one roll, by profile and length."""
    orders = [order for order in view.schedule.orders if order.cost is not None and order.quantity]
    return {(order.profile, order.length_m): (order.cost or 0.0) / order.quantity for order in orders}


def _width_unit(view: View) -> str:
    return "in" if view.measure.imperial else "mm"


def _width(view: View, width_m: float) -> float:
    unit = LengthUnit.INCH if view.measure.imperial else LengthUnit.MILLIMETRE
    return round(width_m / unit.metres, 6)
