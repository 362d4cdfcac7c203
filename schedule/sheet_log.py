"""Log sheet: the inspection log, to fill in on screen or to print, tear off by crew and day, and fill in by hand."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break

from .carryover import Carryover, Typed
from .inspection import LogEntry
from .log_form import ENTRIES, HEADING, KEY_TITLE, LOG_SHEET, OWN, RESULTS, TITLE_KEY, LogKey, heading_mark
from .measure import count_text
from .sheet import (
    BODY,
    HEAD,
    MOST_ROWS,
    NOTE,
    SUBHEAD,
    TITLE,
    Column,
    Look,
    Sheet,
    Stamp,
    Table,
    column_widths,
    line_count,
    open_sheet,
    plain_text,
    row_height,
)
from .sheet_view import View

__all__ = ["CRITERIA_SHEET", "write_log"]

CRITERIA_SHEET = "Inspection"
CRITERIA_COLUMN = "B"
_FIRST_CRITERION = 4

_HEAD_ROW = 3
_LINE_HEIGHT = 19
_BAND_HEIGHT = 21
_MOST_BREAKS = 1_000
"""Page breaks that one sheet may have, with some to spare: spreadsheets take 1,026."""
_MOST_LEGEND = 14
_LEAST = {"Mark": 8, "What": 16, "Result": 13, "Date": 12, "Initials": 10, "Defect": 22, "Remarks": 34}
_MOST = {"What": 34, "Earlier marks": 14}
_MOST_EXTRA = 24
_DATE = "yyyy-mm-dd"
_BAND = replace(SUBHEAD, size=11, shaded=True, above=HEAD.above, below=HEAD.below)
_LEGEND = replace(NOTE, size=8)
_KEY = replace(NOTE, size=8)
_RED = PatternFill(bgColor="F4C7C3")
_YELLOW = PatternFill(bgColor="FFF2CC")
_NOTE = (
    "A line for every splice and every sample weld: result, defect (by its number on paper), date, initials. A new run "
    "with --previous and this file carries over what is filled in; a hidden last column tells it which line is which."
)


def write_log(book: Workbook, view: View) -> None:
    """Write the inspection log, with what was filled into an earlier one."""
    page = _Page.of(view)
    sheet = open_sheet(book, LOG_SHEET, view.paper, landscape=True)
    sheet.oddFooter.center.text = "Inspected by ____________________   Date ______________   Weather ______________"
    for number, width in enumerate(page.widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    key_letter = get_column_letter(len(page.titles) + 1)
    sheet.column_dimensions[key_letter].width = 12
    sheet.column_dimensions[key_letter].hidden = True
    sheet.freeze_panes = "B4"
    sheet.print_title_rows = f"2:{_HEAD_ROW}"
    _Writer(sheet, page).write(view)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    """One row below the headings."""

    key: str
    cells: Mapping[str, Typed]
    heading: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Page:
    """All rows, and what their columns are called."""

    titles: tuple[str, ...]
    widths: list[float]
    blocks: list[list[_Line]]

    @classmethod
    def of(cls, view: View) -> "_Page":
        """Lay out the log of a schedule."""
        blocks = [*_days(view), *_left_over(view.schedule.carried)]
        told = {title for block in blocks for line in block for title in line.cells}
        extras = view.schedule.carried.extras if view.schedule.carried else ()
        own = tuple(title for title in OWN if title != "Earlier marks" or title in told)
        titles = (*own, *ENTRIES, *extras)
        return cls(titles=titles, widths=_widths(titles, blocks), blocks=blocks)


def _days(view: View) -> Iterator[list[_Line]]:
    """Yield a block for every crew and day, and one for what comes from the shop."""
    schedule = view.schedule
    places = {splice.mark: splice.run or splice.node for splice in schedule.splices}
    entries = schedule.carried.entries if schedule.carried else {}
    log = [entry for number, entry in enumerate(schedule.log) if number < MOST_ROWS or entry.mark in entries]
    for (crew, day), group in groupby(log, lambda entry: (entry.crew, entry.day)):
        rows = list(group)
        mark = heading_mark(crew, day)
        typed = entries[mark].typed if mark in entries else {}
        key = LogKey(mark=mark, kind=HEADING).text
        block = [_Line(key=key, cells=typed, heading=_heading(view, crew, day, rows))]
        for entry in rows:
            cells = _own(entry, places.get(entry.mark))
            if (carried := entries.get(entry.mark)) is not None:
                cells |= {"Earlier marks": Typed(value=carried.earlier)} if carried.earlier else {}
                cells |= carried.typed
            block.append(_Line(key=entry.key.text if entry.key else "", cells=cells))
        yield block


def _heading(view: View, crew: int | None, day: int | None, rows: Sequence[LogEntry]) -> str:
    if day is None:
        return f"Fittings from the shop, on delivery: {count_text(len(rows), 'seam')}"
    found = next((one for one in view.schedule.crew.days if (one.crew, one.day) == (crew, day)), None)
    on = f", {found.on.isoformat()}" if found and found.on else ""
    return f"Day {day}, crew {crew}{on}: {count_text(len(found.splices) if found else len(rows), 'splice')}"


def _own(entry: LogEntry, place: str | None) -> dict[str, Typed]:
    values = {"Mark": entry.mark, "What": entry.what, "Run or node": place, "Day": entry.day, "Crew": entry.crew}
    return {title: Typed(value=value) for title, value in values.items() if value is not None}


def _left_over(carried: Carryover | None) -> Iterator[list[_Line]]:
    """Yield a block for every reason why lines of the earlier log have no line here."""
    for group in carried.left if carried else ():
        rows = [_Line(key=row.key.text if row.key else "", cells={**row.own, **row.typed}) for row in group.rows]
        yield [_Line(key=TITLE_KEY, cells={}, heading=group.title), *rows]


def _widths(titles: Sequence[str], blocks: Sequence[Sequence[_Line]]) -> list[float]:
    columns = []
    for title in titles:
        least = _LEAST.get(title, 6)
        columns.append(Column(title=title, least=least, most=max(_MOST.get(title, _MOST_EXTRA), least)))
    rows = [
        tuple(str(line.cells[title].value) if title in line.cells else None for title in titles)
        for block in blocks
        for line in block
    ]
    return column_widths(Table(columns=tuple(columns), rows=rows))


@dataclass(slots=True)
class _Writer:
    """Writes the sheet from the top down."""

    sheet: Sheet
    page: _Page
    _row: int = 0
    _stamps: dict[tuple[str, Look], Stamp] = field(default_factory=dict)

    def write(self, view: View) -> None:
        """Write everything, then what guides those who fill it in."""
        width = sum(self.page.widths)
        self._title(LOG_SHEET, TITLE, 24)
        note = f"{_NOTE}\n{_legend(view, width)}"
        self._title(note, _LEGEND, row_height(line_count(note, width, _LEGEND), _LEGEND.size) + 2)
        self.sheet.merged_cells.add(f"A2:{get_column_letter(len(self.page.titles))}2")
        self._head()
        for number, block in enumerate(self.page.blocks):
            if 0 < number <= _MOST_BREAKS:
                self.sheet.row_breaks.append(Break(id=self._row))
            for line in block:
                self._line(line)
        if self._row > _HEAD_ROW:
            last = get_column_letter(len(self.page.titles) + 1)
            self.sheet.auto_filter.ref = f"A{_HEAD_ROW}:{last}{self._row}"
            self._guard(len(view.schedule.rules.inspection))
            self._colour()

    def _title(self, text: str, look: Look, height: float) -> None:
        cells = [self._stamp(replace(look, wrap=look is not TITLE)).cell(text)]
        cells += [self._stamp(look).cell(None) for _ in self.page.titles[1:]]
        self._append([*cells, self._stamp(_KEY).cell(TITLE_KEY)], height)

    def _head(self) -> None:
        looks = [replace(HEAD, across="left", indent=int(number > 0)) for number in range(len(self.page.titles))]
        cells = [Stamp(self.sheet, look).cell(title) for look, title in zip(looks, self.page.titles, strict=True)]
        lines = max(map(line_count, self.page.titles, [width - 3 for width in self.page.widths]))
        self._append([*cells, self._stamp(_KEY).cell(KEY_TITLE)], row_height(lines) + 2)

    def _line(self, line: _Line) -> None:
        if line.heading:
            cells = [self._cell(title, line.cells.get(title), _BAND) for title in self.page.titles]
            cells[0] = Stamp(self.sheet, _BAND).cell(line.heading)
            height = float(_BAND_HEIGHT)
        else:
            cells = [self._cell(title, line.cells.get(title), BODY) for title in self.page.titles]
            height = self._height(line)
        self._append([*cells, self._stamp(_KEY).cell(line.key)], height)

    def _cell(self, title: str, typed: Typed | None, look: Look) -> Cell:
        """Return a cell with what was typed; cells of one row must not be the same object."""
        form = typed.form if typed else "General"
        if title == "Date" and (typed is None or isinstance(typed.value, str)):
            form = _DATE
        boxed = replace(
            look,
            form=form,
            across="left",
            indent=int(title != "Mark"),
            boxed=look is BODY or title not in OWN,
            wrap=look is BODY and typed is not None,
        )
        key = (title, boxed)
        if key not in self._stamps:
            self._stamps[key] = Stamp(self.sheet, boxed)
        return self._stamps[key].cell(typed.value if typed else None)

    def _height(self, line: _Line) -> float:
        lines = 1
        for title, width in zip(self.page.titles, self.page.widths, strict=True):
            typed = line.cells.get(title)
            if typed is not None and isinstance(typed.value, str):
                lines = max(lines, line_count(plain_text(typed.value), width - 1))
        return max(_LINE_HEIGHT, row_height(lines))

    def _stamp(self, look: Look) -> Stamp:
        return Stamp(self.sheet, look)

    def _append(self, cells: Sequence[Cell], height: float) -> None:
        self._row += 1
        self.sheet.row_dimensions[self._row].height = height
        self.sheet.append(list(cells))
        self.sheet.row_dimensions.pop(self._row, None)  # written, and not to be kept for every row of a long list

    # --- what guides those who fill it in

    def _guard(self, criteria: int) -> None:
        listed = ", ".join(RESULTS)
        result = DataValidation(type="list", formula1=f'"{",".join(RESULTS)}"', allow_blank=True)
        self._ask(result, "Result", f"Choose one of: {listed}.", strict=True)
        date = DataValidation(type="date", operator="greaterThan", formula1="36526", allow_blank=True)
        self._ask(date, "Date", "Give a date, such as 2026-03-02.", strict=False)
        initials = DataValidation(type="textLength", operator="lessThanOrEqual", formula1="6", allow_blank=True)
        self._ask(initials, "Initials", "Initials have at most six letters.", strict=True)
        if criteria:
            last = _FIRST_CRITERION + criteria - 1
            column = f"${CRITERIA_COLUMN}${_FIRST_CRITERION}:${CRITERIA_COLUMN}${last}"
            defect = DataValidation(type="list", formula1=f"'{CRITERIA_SHEET}'!{column}", allow_blank=True)
            self._ask(defect, "Defect", "This is none of the criteria on the sheet Inspection. Keep it?", strict=False)

    def _ask(self, guard: DataValidation, title: str, error: str, *, strict: bool) -> None:
        guard.showErrorMessage = True
        guard.errorStyle = "stop" if strict else "warning"
        guard.errorTitle, guard.error = LOG_SHEET, error
        letter = self._letter(title)
        guard.add(f"{letter}{_HEAD_ROW + 1}:{letter}{self._row}")
        self.sheet.data_validations.append(guard)

    def _colour(self) -> None:
        """Let rejected splices stand out, those made again but not yet accepted less so, and what lacks its reason."""
        first = _HEAD_ROW + 1
        result, defect = (f"${self._letter(title)}{first}" for title in ("Result", "Defect"))
        area = f"A{first}:{get_column_letter(len(self.page.titles))}{self._row}"
        rejected = f'LOWER(TRIM({result}))="rejected"'
        bare = FormulaRule(formula=[f'AND({rejected},{defect}="")'], fill=PatternFill(bgColor="D9534F"))
        letter = self._letter("Defect")
        self.sheet.conditional_formatting.add(f"{letter}{first}:{letter}{self._row}", bare)
        strong = FormulaRule(formula=[rejected], fill=_RED, font=Font(bold=True, color="7A0000"))
        self.sheet.conditional_formatting.add(area, strong)
        again = FormulaRule(formula=[f'LOWER(TRIM({result}))="made again"'], fill=_YELLOW)
        self.sheet.conditional_formatting.add(area, again)

    def _letter(self, title: str) -> str:
        letter: str = get_column_letter(self.page.titles.index(title) + 1)
        return letter


def _legend(view: View, width: float) -> str:
    """List the criteria with their sources, as briefly as their number asks."""
    rows = view.schedule.rules.inspection
    full = ";  ".join(f"{n} {row.text}: {row.limit} ({row.source})" for n, row in enumerate(rows, 1))
    short = ";  ".join(f"{n} {row.text}: {row.limit}" for n, row in enumerate(rows, 1))
    for text in (full, short):
        if line_count(text, width, _LEGEND) <= _MOST_LEGEND:
            return f"Reject for: {text}." if text else ""
    return f"Reject for what the sheet {CRITERIA_SHEET} lists, by its numbers."
