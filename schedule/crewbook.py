"""Crew book: the tables of a rules file that plan the site: where splices lie, pours, calendar, chance, placing."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from pydantic import Field, with_config

from .rulefield import TABLE, Day, Factor, Flag, Length, Share, Span, Text, Whole

__all__ = [
    "CalendarRules",
    "ChanceRules",
    "PlacingRules",
    "Position",
    "PourEntry",
    "SequenceRules",
    "TradeRates",
    "Weekday",
]


class Position(StrEnum):
    """How a splice lies to those who weld it."""

    FLOOR = "floor"
    WALL = "wall"
    OVERHEAD = "overhead"


class Weekday(StrEnum):
    """Days of the week, in their order."""

    MONDAY = "Mon"
    TUESDAY = "Tue"
    WEDNESDAY = "Wed"
    THURSDAY = "Thu"
    FRIDAY = "Fri"
    SATURDAY = "Sat"
    SUNDAY = "Sun"


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceRules:
    """In which order splices are made.

    Attributes
    ----------
    storey_m : float
        Splices whose levels lie closer than this belong to one storey [m], > 0.
    ahead : int
        Working days before a pour's own day by which its splices are done, 0 to 30.
    """

    storey_m: Length
    ahead: Annotated[Whole, Field(le=30)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class PourEntry:
    """One pour as the rules file has it; what it states must all hold for a splice to belong to it.

    Attributes
    ----------
    name : str
        Its name, unique.
    day : date or None
        Day on which it is poured.
    match : str or None
        Names of the lines in it, with ``*`` and ``?``.
    x, y, level : tuple of float or None
        Lower and upper end in the drawing's own coordinates [m].
    """

    name: Text
    day: Day | None = None
    match: Text | None = None
    x: Span | None = None
    y: Span | None = None
    level: Span | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarRules:
    """Which days are worked.

    Attributes
    ----------
    weekdays : tuple of Weekday
        Days of the week that are worked.
    holidays : tuple of date
        Days that are not.
    start : date or None
        Day on which welding starts at the earliest.
    """

    weekdays: Annotated[tuple[Weekday, ...], Field(min_length=1)]
    holidays: tuple[Day, ...] = ()
    start: Day | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceRules:
    """What is uncertain about the days.

    Attributes
    ----------
    draws : int
        Times the job is played through, 0 for none.
    seed : int
        Start of the random numbers, so that the same job always gives the same figures.
    pace_least, pace_most : float
        Share of the stated minutes that the whole job may take, at least <= 1 and at most >= 1.
    splice_least, splice_most : float
        The same for every single splice, beyond the pace of the job.
    rework : float
        Share of splices that fail inspection and are made again, 0 to 0.9.
    weather : float
        Share of working days lost to weather, 0 to 0.9.
    """

    draws: Annotated[Whole, Field(le=100_000)]
    seed: Whole
    pace_least: Factor
    pace_most: Factor
    splice_least: Factor
    splice_most: Factor
    rework: Annotated[Share, Field(le=0.9)]
    weather: Annotated[Share, Field(le=0.9)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class TradeRates:
    """Labour to place and tie one metre of strip [person-days per metre].

    Attributes
    ----------
    labourer, craftsman, head_craftsman, foreman : float
        By trade.
    """

    labourer: Share
    craftsman: Share
    head_craftsman: Share
    foreman: Share

    @property
    def person_days(self) -> float:
        """All trades together [person-days per metre]."""
        return self.labourer + self.craftsman + self.head_craftsman + self.foreman


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class PlacingRules:
    """Labour to place and tie the strip itself, apart from welding.

    Attributes
    ----------
    counted : bool
        Whether it is reported.
    narrow_to_m : float
        Widest profile that takes the narrow rates [m], > 0.
    narrow, wide : TradeRates
        Labour by width.
    """

    counted: Flag
    narrow_to_m: Length
    narrow: TradeRates
    wide: TradeRates
