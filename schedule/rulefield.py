"""Rule fields: the types of single values in a rules file, each checked and brought to the units used inside."""

from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import Annotated, TypeAlias

from pydantic import BeforeValidator, ConfigDict, Field, Strict

from splicewright.extract.unit import parse_length

from .quantity import parse_duration, parse_mass, parse_mass_per_length, parse_span, parse_speed
from .rulefile import shown

__all__ = [
    "TABLE",
    "Count",
    "Day",
    "Duration",
    "DurationOrZero",
    "Factor",
    "Flag",
    "Length",
    "LengthOrZero",
    "Mass",
    "Money",
    "Patterns",
    "People",
    "Positive",
    "Share",
    "Span",
    "Speed",
    "Text",
    "Weight",
    "Whole",
]

_MOST = 1e6
"""Metres, minutes or kilograms per metre beyond this are slips of the pen."""


def _quantity(value: object, *, parse: Callable[[str], float], example: str, zero: bool) -> float:
    if not isinstance(value, str):
        raise ValueError(f"must be a text with a unit, such as {example!r}, not {shown(value)}")  # noqa: TRY004
    try:
        number = parse(value)
    except ArithmeticError:
        raise ValueError(f"{shown(value)} is no usable number") from None
    if number > _MOST:
        raise ValueError(f"{shown(value)} is more than any job needs; check the unit")
    if number == 0 and not zero:
        raise ValueError(f"must be more than 0, not {shown(value)}")
    return number


def _day(value: object) -> date:
    if isinstance(value, date) and not isinstance(value, datetime):
        return value
    try:
        return date.fromisoformat(value) if isinstance(value, str) else date.fromisoformat("")
    except ValueError:
        raise ValueError(f"must be a date, such as 2026-03-02, not {shown(value)}") from None


def _span(value: object) -> tuple[float, float]:
    if not isinstance(value, str):
        raise ValueError(f"must be a text such as '0 m to 14 m', not {shown(value)}")  # noqa: TRY004
    return parse_span(value)


_length = partial(_quantity, parse=parse_length, example="9 in")
_duration = partial(_quantity, parse=parse_duration, example="30 min")
_mass = partial(_quantity, parse=parse_mass_per_length, example="1.8 lb/ft")
_weight = partial(_quantity, parse=parse_mass, example="50 kg", zero=False)
_speed = partial(_quantity, parse=parse_speed, example="40 m/min", zero=False)

Length: TypeAlias = Annotated[float, BeforeValidator(partial(_length, zero=False))]
LengthOrZero: TypeAlias = Annotated[float, BeforeValidator(partial(_length, zero=True))]
Duration: TypeAlias = Annotated[float, BeforeValidator(partial(_duration, zero=False))]
DurationOrZero: TypeAlias = Annotated[float, BeforeValidator(partial(_duration, zero=True))]
Mass: TypeAlias = Annotated[float, BeforeValidator(partial(_mass, zero=False))]
Weight: TypeAlias = Annotated[float, BeforeValidator(_weight)]
Speed: TypeAlias = Annotated[float, BeforeValidator(_speed)]
Span: TypeAlias = Annotated[tuple[float, float], BeforeValidator(_span)]
Day: TypeAlias = Annotated[date, BeforeValidator(_day)]
Money: TypeAlias = Annotated[float, Strict(), Field(ge=0, allow_inf_nan=False)]
Share: TypeAlias = Annotated[float, Strict(), Field(ge=0, le=1, allow_inf_nan=False)]
Factor: TypeAlias = Annotated[float, Strict(), Field(ge=0.1, le=10, allow_inf_nan=False)]
Positive: TypeAlias = Annotated[float, Strict(), Field(gt=0, le=1e6, allow_inf_nan=False)]
Text: TypeAlias = Annotated[str, Strict(), Field(min_length=1)]
Patterns: TypeAlias = tuple[Text, ...]
Flag: TypeAlias = Annotated[bool, Strict()]
Count: TypeAlias = Annotated[int, Strict(), Field(ge=1, le=99)]
Whole: TypeAlias = Annotated[int, Strict(), Field(ge=0, le=1_000_000)]
People: TypeAlias = Annotated[int, Strict(), Field(ge=2, le=3)]

_UNIT_ENDINGS = ("_kg_per_m", "_m_per_min", "_min", "_m")


def _field_name(name: str) -> str:
    """Drop the unit from an attribute's name: in the file the unit stands beside the number."""
    return next((name.removesuffix(end) for end in _UNIT_ENDINGS if name.endswith(end)), name)


TABLE = ConfigDict(extra="forbid", alias_generator=_field_name)
"""How a table is read: nothing unknown in it, names without their units."""
