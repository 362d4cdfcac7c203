"""Live sheet: the day model as formulas, so that changed rates give changed days without the program."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

from openpyxl import Workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName

from .cell import BODY, HEAD, PLAIN, SUBHEAD, Link, Look, Sheet, Stamp, Value
from .formula import Formula
from .measure import count_text
from .rate import Rate, field_splices, profile_rate, rate_name, rates_of
from .sheet import open_sheet, write_title
from .sheet_view import MONEY, View
from .splice import Splice

__all__ = ["DAY_MODEL", "MOST_LIVE", "write_day_model"]

DAY_MODEL = "Day model"
MOST_LIVE = 5_000
"""Splices after which the sheet holds no formulas: spreadsheets would take too long."""

_WIDTHS = (34, 14, 14, 14, 14, 14, 14, 14, 14)
_SLACK_MIN = 0.001
_NUMBER = replace(BODY, across="right", form="0.00")
_MONEY = replace(BODY, across="right", form=MONEY)
_WHOLE = replace(BODY, across="right", form="0")
_WORD = replace(BODY, across="left", indent=1)
_RESULT = replace(BODY, bold=True)
_CHANGED = PatternFill(bgColor="FFF2CC")


def write_day_model(book: Workbook, view: View) -> None:
    """Write what the rates on the sheet Basis come to, and every splice with its day, worked out by formulas."""
    sheet = open_sheet(book, DAY_MODEL, view.paper, landscape=True)
    for number, width in enumerate(_WIDTHS, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    splices = field_splices(view)
    note = (
        "Change a shaded value on the sheet Basis, and the days follow here. All stands as the schedule was made with "
        "it. Order and ways stay as planned."
    )
    if len(splices) > MOST_LIVE:
        note = f"{count_text(len(splices), 'splice')} are too many to be worked out by formulas in a spreadsheet."
    write_title(sheet, DAY_MODEL, note, _WIDTHS)
    if splices and len(splices) <= MOST_LIVE:
        _Model(book, sheet, view, splices).write()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Turn:
    """One splice as the formulas work it out."""

    minutes: float
    moving: float
    day: int
    spent: float


class _Model:
    """The sheet, written from the top down."""

    def __init__(self, book: Workbook, sheet: Sheet, view: View, splices: Sequence[Splice]) -> None:
        self._book, self._sheet, self._view, self._splices = book, sheet, view, splices
        self._row = 2
        self._stamps: dict[tuple[int, Look], Stamp] = {}
        self._rates: dict[str, Rate] = {rate.name: rate for rate in rates_of(view)}
        keys = {(s.weld, s.profile, s.position) for s in splices}
        self._classes = sorted(keys, key=lambda key: tuple(str(part) for part in key))
        self._each = [self._minutes(number) for number in range(len(self._classes))]
        self._turns = list(self._take_turns())

    def write(self) -> None:
        """Write everything; the results stand first."""
        first_class = self._row + 4 + 4 + len(self._costs()) + 3  # results, their headings, a blank, headings
        first_splice = first_class + len(self._classes) + 2
        last_splice = first_splice + len(self._splices) - 1
        self._sheet.print_title_rows = f"{first_splice - 1}:{first_splice - 1}"
        self._results(f"$H${first_splice}:$H${last_splice}")
        self._class_rows(f"$B${first_splice}:$B${last_splice}")
        self._splice_rows(first_class)

    # --- the same sums as the formulas, for programs that work nothing out

    def _value(self, name: str) -> float:
        return self._rates[name].value

    def _minutes(self, number: int) -> float:
        weld, profile, position = self._classes[number]
        share, width = self._value("width_share"), self._value(profile_rate(self._view, profile))
        wide = 1 - share + share * width / self._value("width_of_minutes")
        return self._value(rate_name("minutes", weld)) * wide * self._value(rate_name("factor", position))

    def _take_turns(self) -> Iterator[_Turn]:
        number_of = {key: number for number, key in enumerate(self._classes)}
        long, room = self._view.measure.long, self._room + _SLACK_MIN
        day, spent = 0, room
        for splice in self._splices:
            minutes = self._each[number_of[splice.weld, splice.profile, splice.position]]
            minutes += int(splice.cover_min > 0) * self._value("cover_change_min")
            moving = long(splice.walked_m) / self._value("walking_speed")
            moving += long(splice.climbed_m) / self._value("climbing_speed")
            fits = day > 0 and spent + moving + minutes <= room
            day, spent = (day, spent + moving + minutes) if fits else (day + 1, minutes)
            yield _Turn(minutes=minutes, moving=moving, day=day, spent=spent)

    @property
    def _room(self) -> float:
        value = self._value
        return (value("shift_min") - value("warm_up_min") + value("overlap_min") - value("sample_weld_min")) - value(
            "cool_down_min"
        )

    # --- the sheet

    def _results(self, days: str) -> None:
        crew = self._view.schedule.crew
        self._line((Link(text="Rates: to the sheet Basis", place="'Basis'!A4"),), PLAIN)
        self._line((None,), PLAIN)
        self._line(("Result",), SUBHEAD)
        self._row += 1
        titles = ("", "Now", "As planned")
        self._sheet.append([self._cell(n, title, replace(HEAD, across="right")) for n, title in enumerate(titles)])
        room = "shift_min-warm_up_min+overlap_min-sample_weld_min-cool_down_min"
        planned_min = self._view.schedule.rules.crew.welding_min
        self._result("Left of a day for welding [min]", "welding_min_now", Formula(room, self._room), planned_min)
        crew_days = max(turn.day for turn in self._turns)
        self._result("Crew-days", "crew_days_now", Formula(f"MAX({days})", crew_days), crew.crew_days)
        working = ceil(crew_days / crew.crews)
        formula = Formula("ROUNDUP(crew_days_now/crews,0)", working)
        self._result("Working days", "working_days_now", formula, crew.working_days)
        people = crew_days * crew.people
        planned = crew.crew_days * crew.people
        self._result("Person-days", "person_days_now", Formula("crew_days_now*crew_people", people), planned)
        for label, name, formula in self._costs():
            self._result(label, name, formula, formula.value)

    def _costs(self) -> list[tuple[str, str, Formula]]:
        """Return what the site costs, as far as there are prices."""
        costs = []
        currency = next((rate.unit for rate in self._rates.values() if rate.name.endswith("_price")), "")
        money = f" [{currency}]" if currency else ""
        if "crew_hour_price" in self._rates:
            value = max(turn.day for turn in self._turns) * self._value("shift_min") / 60
            formula = Formula("crew_days_now*shift_min/60*crew_hour_price", value * self._value("crew_hour_price"))
            costs.append((f"Cost of crews{money}", "crew_cost_now", formula))
        if "field_splice_price" in self._rates:
            number = len(self._splices)
            formula = Formula(f"{number}*field_splice_price", number * self._value("field_splice_price"))
            costs.append((f"Cost of site splices{money}", "splice_cost_now", formula))
        return costs

    def _result(self, label: str, name: str, formula: Formula, planned: float) -> None:
        """Write one result beside the planned one, give it its name, and let it stand out where it has changed."""
        whole = isinstance(formula.value, int)
        look = _WHOLE if whole else _MONEY
        self._line((label, formula, planned), _RESULT, numbers=look)
        row = self._row
        self._book.defined_names[name] = DefinedName(name, attr_text=f"'{DAY_MODEL}'!$B${row}")
        self._view.live[name] = Formula(name, formula.value)
        rule = FormulaRule(formula=[f"ABS($B{row}-$C{row})>0.005"], fill=_CHANGED, font=Font(bold=True))
        self._sheet.conditional_formatting.add(f"B{row}", rule)

    def _class_rows(self, numbers: str) -> None:
        unit = self._rates["width_of_minutes"].unit
        self._head(
            ("Kind of splice", "No.", "Weld", "Position", f"Width [{unit}]", "Minutes each", "Splices", "Minutes")
        )
        counts = [0] * len(self._classes)
        number_of = {key: number for number, key in enumerate(self._classes)}
        for splice in self._splices:
            counts[number_of[splice.weld, splice.profile, splice.position]] += 1
        for number, (weld, profile, position) in enumerate(self._classes):
            row, width = self._row + 1, profile_rate(self._view, profile)
            wide = f"(1-width_share+width_share*E{row}/width_of_minutes)"
            each = f"{rate_name('minutes', weld)}*{wide}*{rate_name('factor', position)}"
            self._line(
                (
                    profile or "not known",
                    number + 1,
                    str(weld),
                    str(position),
                    Formula(width, self._value(width)),
                    Formula(each, self._each[number]),
                    Formula(f"COUNTIF({numbers},B{row})", counts[number]),
                    Formula(f"F{row}*G{row}", counts[number] * self._each[number]),
                )
            )

    def _splice_rows(self, first_class: int) -> None:
        unit, long = self._view.measure.long_unit, self._view.measure.long
        ways = (f"Walked [{unit}]", f"Climbed [{unit}]")
        self._head(("Splice", "Kind", *ways, "New cover", "Minutes", "Moving [min]", "Crew-day", "Spent"))
        number_of = {key: number for number, key in enumerate(self._classes, 1)}
        each = f"$F${first_class}:$F${first_class + len(self._classes) - 1}"
        first = self._row + 1
        for row, (splice, turn) in enumerate(zip(self._splices, self._turns, strict=True), first):
            fits = f"I{row - 1}+G{row}+F{row}<=welding_min_now+{_SLACK_MIN}"
            day = f"IF({fits},H{row - 1},H{row - 1}+1)" if row > first else "1"
            spent = f"IF(H{row}=H{row - 1},I{row - 1}+G{row}+F{row},F{row})" if row > first else f"F{row}"
            self._line(
                (
                    splice.mark,
                    number_of[splice.weld, splice.profile, splice.position],
                    long(splice.walked_m),
                    long(splice.climbed_m),
                    int(splice.cover_min > 0),
                    Formula(f"INDEX({each},B{row})+E{row}*cover_change_min", turn.minutes),
                    Formula(f"C{row}/walking_speed+D{row}/climbing_speed", turn.moving),
                    Formula(day, turn.day),
                    Formula(spent, turn.spent),
                )
            )

    def _head(self, titles: Sequence[str]) -> None:
        self._sheet.append([])
        self._row += 2
        words = {"Kind of splice", "Weld", "Position", "Splice"}
        looks = [replace(HEAD, across="left" if title in words else "right", indent=0) for title in titles]
        self._sheet.append([self._cell(n, title, looks[n]) for n, title in enumerate(titles)])

    def _line(
        self,
        values: Sequence[Value],
        look: Look = BODY,
        *,
        numbers: Look | None = None,
    ) -> None:
        """Write one row."""
        self._row += 1
        cells = []
        for number, value in enumerate(values):
            one = numbers or _look(value) if number and not isinstance(value, str) else look
            cells.append(self._cell(number, value, _WORD if number and one is BODY else one))
        self._sheet.append(cells)

    def _cell(self, column: int, value: Value, look: Look) -> object:
        """Return a cell; those of one row are never the same object."""
        if (column, look) not in self._stamps:
            self._stamps[column, look] = Stamp(self._sheet, look)
        return self._stamps[column, look].cell(value)


def _look(value: Value) -> Look:
    inner = value.value if isinstance(value, Formula) else value
    return _NUMBER if isinstance(inner, float) else _WHOLE
