"""Live sheet: the day model as formulas, so that changed rates give changed days without the program."""

from collections.abc import Sequence
from dataclasses import replace

from openpyxl import Workbook
from openpyxl.utils import get_column_letter

from splicewright.extract.unit import LengthUnit

from .measure import count_text
from .sheet import BODY, HEAD, SUBHEAD, Sheet, Stamp, Value, open_sheet, write_title
from .sheet_view import View
from .splice import Made, Splice

__all__ = ["MOST_LIVE", "write_day_model"]

MOST_LIVE = 5_000
"""Splices after which the sheet holds no formulas: spreadsheets would take too long."""

_WIDTHS = (34, 14, 14, 14, 14, 14, 14, 14, 14)
_SLACK_MIN = 0.001
_INPUT = replace(HEAD, bold=False, wrap=False, across="right", form="0.###")
_RESULT = replace(BODY, bold=True, across="right", form="0.00")
_WHOLE = replace(_RESULT, form="0")
_NUMBER = replace(BODY, across="right", form="0.00")
_WORD = replace(BODY, across="left", indent=1)
_WHOLE_RESULTS = ("=MAX", "=ROUNDUP", "=COUNTIF", "=IF(I", "=1")
"""How formulas begin that give whole numbers."""
_WORDS = ("Kind of splice", "Weld", "Position", "Splice")


def write_day_model(book: Workbook, view: View) -> None:
    """Write rates that may be changed, and below them every splice with its day, worked out by formulas."""
    sheet = open_sheet(book, "Day model", view.paper, landscape=True)
    for number, width in enumerate(_WIDTHS, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    splices = [splice for splice in view.schedule.splices if splice.made is Made.FIELD]
    note = (
        "Change a shaded value and the days follow. The values stand as the schedule was made with them; what they "
        "mean and where they come from is on the sheet Basis. Order and ways stay as planned."
    )
    if len(splices) > MOST_LIVE:
        note = f"{count_text(len(splices), 'splice')} are too many to be worked out by formulas in a spreadsheet."
    write_title(sheet, "Day model", note, _WIDTHS)
    if splices and len(splices) <= MOST_LIVE:
        _Model(sheet, view, splices).write()


class _Model:
    """The sheet, written from the top down; rows of rates are remembered by name for the formulas."""

    def __init__(self, sheet: Sheet, view: View, splices: Sequence[Splice]) -> None:
        self._sheet, self._view, self._splices = sheet, view, splices
        self._row = 2
        self._cell: dict[str, str] = {}
        keys = {(s.weld, s.profile, s.position): s for s in splices}
        self._classes = sorted(keys, key=lambda key: tuple(str(part) for part in key))

    def write(self) -> None:
        """Write everything; the results stand first, above the rates."""
        rates = self._rates()
        first_rate = self._row + 7
        for number, (name, _, _) in enumerate(rates):
            self._cell[name] = f"$B${first_rate + number}"
        first_class = first_rate + len(rates) + 2
        first_splice = first_class + len(self._classes) + 2
        last_splice = first_splice + len(self._splices) - 1
        self._results(f"$H${first_splice}:$H${last_splice}")
        self._text("Rates", SUBHEAD)
        for name, value, unit in rates:
            self._line((name, value, unit), inputs={1})
        self._class_rows(first_class, f"$B${first_splice}:$B${last_splice}")
        self._splice_rows(first_splice, first_class)

    def _results(self, days: str) -> None:
        crew, cell = self._view.schedule.crew, self._cell
        self._text("Result", SUBHEAD)
        room = f"{cell['Shift']}-{cell['Warm-up']}+{cell['Overlap']}-{cell['Sample weld']}-{cell['Cool-down in shift']}"
        self._line(("Left of a day for welding", f"={room}", "min"))
        self._cell["room"] = f"$B${self._row}"
        self._line(("Crew-days", f"=MAX({days})", f"as planned {crew.crew_days}"))
        self._cell["crew-days"] = f"$B${self._row}"
        self._line(
            (
                "Working days",
                f"=ROUNDUP({self._cell['crew-days']}/{cell['Crews']},0)",
                f"as planned {crew.working_days}",
            )
        )
        self._line(("Person-days", f"={self._cell['crew-days']}*{cell['People in a crew']}", ""))

    def _rates(self) -> list[tuple[str, float, str]]:
        schedule, unit, long = self._view.schedule, self._view.measure.long_unit, self._view.measure.long
        crew = schedule.rules.crew
        rates: list[tuple[str, float, str]] = [
            ("Crews", schedule.crew.crews, ""),
            ("People in a crew", schedule.crew.people, ""),
            ("Shift", crew.shift_min, "min"),
            ("Warm-up", crew.warm_up_min, "min"),
            ("Overlap", crew.overlap_min, "min"),
            ("Sample weld", crew.sample_weld_min, "min"),
            ("Cool-down in shift", crew.cool_down_min if crew.cool_down_in_shift else 0.0, "min"),
            ("Walking", long(crew.walking_m_per_min), f"{unit}/min"),
            ("Climbing", long(crew.climbing_m_per_min), f"{unit}/min"),
            ("Cover change", crew.cover_change_min, "min"),
            ("Share that grows with width", crew.width_share, ""),
            ("Width of the minutes", self._width(crew.width_m), self._width_unit),
        ]
        welds = sorted({str(weld) for weld, _, _ in self._classes})
        rates += [(f"Minutes, {w}", m, "min") for w, m in ((str(k), v) for k, v in crew.minutes.items()) if w in welds]
        places = {str(position) for _, _, position in self._classes}
        rates += [(f"Factor, {p}", f, "") for p, f in ((str(k), v) for k, v in crew.position.items()) if p in places]
        return rates

    def _class_rows(self, first: int, numbers: str) -> None:
        width = f"Width [{self._width_unit}]"
        self._head(("Kind of splice", "No.", "Weld", "Position", width, "Minutes each", "Splices", "Minutes"))
        rules, cell = self._view.schedule.rules, self._cell
        for number, (weld, profile, position) in enumerate(self._classes, 1):
            row = first + number - 1
            wide = f"(1-{cell['Share that grows with width']}+{cell['Share that grows with width']}*E{row}"
            wide += f"/{cell['Width of the minutes']})"
            each = f"={cell[f'Minutes, {weld}']}*{wide}*{cell[f'Factor, {position}']}"
            count, total = f"=COUNTIF({numbers},B{row})", f"=F{row}*G{row}"
            width_now = self._width(rules.profile_of(profile).width_m)
            self._line((profile, number, str(weld), str(position), width_now, each, count, total), inputs={4})

    @property
    def _width_unit(self) -> str:
        return "in" if self._view.measure.imperial else "mm"

    def _width(self, width_m: float) -> float:
        unit = LengthUnit.INCH if self._view.measure.imperial else LengthUnit.MILLIMETRE
        return round(width_m / unit.metres, 6)

    def _splice_rows(self, first: int, first_class: int) -> None:
        unit, long = self._view.measure.long_unit, self._view.measure.long
        self._head(
            (
                "Splice",
                "Kind",
                f"Walked [{unit}]",
                f"Climbed [{unit}]",
                "New cover",
                "Minutes",
                "Moving [min]",
                "Crew-day",
                "Spent",
            )
        )
        number_of = {key: number for number, key in enumerate(self._classes, 1)}
        each = f"$F${first_class}:$F${first_class + len(self._classes) - 1}"
        cell = self._cell
        for row, splice in enumerate(self._splices, first):
            minutes = f"=INDEX({each},B{row})+E{row}*{cell['Cover change']}"
            move = f"=C{row}/{cell['Walking']}+D{row}/{cell['Climbing']}"
            fits = f"I{row - 1}+G{row}+F{row}<={cell['room']}+{_SLACK_MIN}"
            day = f"=IF({fits},H{row - 1},H{row - 1}+1)" if row > first else "=1"
            spent = f"=IF(H{row}=H{row - 1},I{row - 1}+G{row}+F{row},F{row})" if row > first else f"=F{row}"
            kind = number_of[splice.weld, splice.profile, splice.position]
            cover = int(splice.cover_min > 0)
            ways = (long(splice.walked_m), long(splice.climbed_m))
            self._line((splice.mark, kind, *ways, cover, minutes, move, day, spent))

    def _text(self, text: str, look: object) -> None:
        self._row += 1
        self._sheet.append([Stamp(self._sheet, SUBHEAD if look is SUBHEAD else BODY).cell(text)])

    def _head(self, titles: Sequence[str]) -> None:
        self._sheet.append([])
        self._row += 2
        looks = [replace(HEAD, across="left" if title in _WORDS else "right") for title in titles]
        self._sheet.append([Stamp(self._sheet, look).cell(title) for look, title in zip(looks, titles, strict=True)])

    def _line(self, values: Sequence[Value], *, inputs: frozenset[int] | set[int] = frozenset()) -> None:
        """Write one row: formulas begin with an equals sign and are our own."""
        self._row += 1
        cells = []
        for number, value in enumerate(values):
            if number in inputs:
                cells.append(Stamp(self._sheet, _INPUT).cell(value))
            elif number and isinstance(value, str) and value.startswith("="):
                look = _WHOLE if value.startswith(_WHOLE_RESULTS) else _RESULT
                cells.append(Stamp(self._sheet, look).formula(value))
            elif isinstance(value, str):
                cells.append(Stamp(self._sheet, _WORD if number else BODY).cell(value))
            else:
                cells.append(Stamp(self._sheet, _NUMBER if isinstance(value, float) else BODY).cell(value))
        self._sheet.append(cells)
