"""Sheet view: a schedule in the units that one reader wants, as columns and values of tables."""

from dataclasses import dataclass, field
from typing import TypeAlias
from urllib.parse import quote

from splicewright.extract.line import Vector
from splicewright.extract.node import Node
from splicewright.extract.run import Run
from splicewright.extract.unit import LengthUnit

from .cell import Link, Value
from .formula import Formula
from .measure import Measure, decimals_of
from .plan import Schedule
from .sheet import Column, Paper

__all__ = [
    "COUNT",
    "FEET_INCHES",
    "MASS",
    "MINUTES",
    "MONEY",
    "SAW",
    "TURN",
    "Row",
    "View",
    "number_column",
    "text_column",
]

Row: TypeAlias = tuple[Value, ...]

_MOST_FILE = 40
COUNT = "#,##0"
MINUTES = "0"
TURN = "0.0"
SAW = "0.00"
MASS = "#,##0.0"
MONEY = "#,##0.00"
FEET_INCHES = "ft\u2011in"
"""Unit of lengths in feet and inches, with a hyphen at which no line is broken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A schedule as one reader wants to see it.

    Attributes
    ----------
    schedule : Schedule
    measure : Measure
        Units of lengths and masses.
    paper : Paper
    place_unit : LengthUnit
        Unit of places: the drawings' own where they share one.
    files : Mapping of str to str
        Drawing of every run and node, by mark; empty for a single drawing.
    map_file : str
        Name of the map page that stands beside the workbook; empty where there is none.
    live : dict of str to Formula
        What sheets have to offer to the summary, which is filled last.
    """

    schedule: Schedule
    measure: Measure
    paper: Paper
    place_unit: LengthUnit
    files: dict[str, str]
    map_file: str = ""
    live: dict[str, Formula] = field(default_factory=dict)

    @classmethod
    def of(cls, schedule: Schedule, *, imperial: bool, map_file: str = "") -> "View":
        """Prepare a schedule for a reader."""
        measure = Measure(imperial=imperial)
        several = len(schedule.drawings) > 1
        marked: tuple[Run | Node, ...] = (*schedule.runs, *schedule.nodes) if several else ()
        return cls(
            schedule=schedule,
            measure=measure,
            paper=Paper(job=schedule.job, imperial=imperial, drawing=_drawing_text(schedule)),
            place_unit=measure.place_unit(frozenset(drawing.unit for drawing in schedule.drawings)),
            files={item.mark: item.sources[0].file for item in marked if item.sources},
            map_file=map_file,
        )

    def place_columns(self) -> tuple[Column, ...]:
        """Columns for a place."""
        decimals = decimals_of(self.place_unit)
        form = f"0.{'0' * decimals}" if decimals else "0"
        return tuple(Column(title=f"{axis} [{self.place_unit.value}]", form=form, least=9, most=20) for axis in "XYZ")

    def place(self, at_m: Vector | None) -> Row:
        """Values of a place [m]."""
        if at_m is None:
            return (None, None, None)
        x, y, z = at_m
        metres = self.place_unit.metres
        return (x / metres, y / metres, z / metres)

    def length_columns(self, title: str, *, total: bool = False) -> tuple[Column, ...]:
        """Columns for a length to cut: as people read it and, where that is text, once more as a number."""
        if not self.measure.imperial:
            return (Column(title=f"{title} [mm]", form="#,##0", least=9, total=total),)
        written = Column(title=f"{title} [{FEET_INCHES}]", side="right", least=12)
        return (written, Column(title=f"{title} [ft]", form="#,##0.000", least=9, total=total))

    def length(self, length_m: float | None) -> Row:
        """Values of a length to cut [m]."""
        if length_m is None:
            return (None, None) if self.measure.imperial else (None,)
        if not self.measure.imperial:
            return (self.measure.fine(length_m),)
        return (self.measure.text(length_m), self.measure.long(length_m))

    def sum_column(self, title: str, *, total: bool = True) -> Column:
        """Column for a length to buy or to report."""
        form = "#,##0.00" if self.measure.imperial else "#,##0.000"
        return Column(title=f"{title} [{self.measure.long_unit}]", form=form, least=9, total=total)

    def place_words(self) -> str:
        """Say in which coordinates places are."""
        return f"the drawing's own coordinates [{self.place_unit.value}]"

    def mapped(self, mark: str | int | None, *, place: str = "") -> Value:
        """Return a mark that leads to its place on the map page, where there is one."""
        if not mark or not self.map_file:
            return mark
        return Link(text=mark, place=place or str(mark), file=quote(self.map_file))


def _drawing_text(schedule: Schedule) -> str:
    """Name the drawings with their revision and date, as far as the rules state them."""
    files = [drawing.file for drawing in schedule.drawings]
    more = f" and {len(files) - 1} more" if len(files) > 1 else ""
    rules = schedule.rules.drawing
    issue = [f"revision {rules.revision}"] if rules.revision else []
    issue += [rules.dated.isoformat()] if rules.dated else []
    return ", ".join([*(f"{_short(file)}{more}" for file in files[:1]), *issue])


def _short(file: str) -> str:
    return file if len(file) <= _MOST_FILE else f"{file[: _MOST_FILE - 1]}…"


def text_column(title: str, *, most: int = 40, least: int = 6) -> Column:
    """Return a column of texts."""
    return Column(title=title, most=most, least=least)


def number_column(title: str, form: str = COUNT, *, total: bool = False, least: int = 6) -> Column:
    """Return a column of numbers."""
    return Column(title=title, form=form, total=total, least=least)
