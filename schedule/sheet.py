"""Sheet: one table of the workbook, how it looks on screen and how it prints."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from textwrap import wrap

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.cell_range import CellRange, MultiCellRange
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.filters import AutoFilter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.table import Table as NativeTable
from openpyxl.worksheet.table import TableColumn

from .cell import (
    BODY,
    FONT,
    HEAD,
    NOTE,
    PLAIN,
    RULED,
    SUBHEAD,
    TITLE,
    Link,
    Look,
    Sheet,
    Stamp,
    Value,
    line_count,
    plain_text,
    row_height,
    text_units,
)
from .formula import Formula

__all__ = [
    "BODY",
    "FONT",
    "HEAD",
    "MOST_ROWS",
    "NOTE",
    "PLAIN",
    "SUBHEAD",
    "TITLE",
    "Column",
    "Look",
    "Paper",
    "Sheet",
    "Stamp",
    "Table",
    "Value",
    "ask_number",
    "column_widths",
    "line_count",
    "open_sheet",
    "plain_text",
    "row_height",
    "text_units",
    "write_across",
    "write_rows",
    "write_table",
    "write_title",
]

MOST_ROWS = 100_000
"""Rows after which a list is cut and says so; the record as JSON holds the rest."""

_NARROWEST = 6
_PAPER_A4 = "9"
_PAPER_LETTER = "1"
_WIDE_TABLE = 100
_ROOMY_HEIGHT = 19
_HEAD_LINES = 2
_BOLD, _BESIDE = 1.08, 2.5
_MANY_COLUMNS = 10
"""Columns from which headings may take a line more, so that the sheet stays readable in print."""
_MOST_HEADER = 80
_MOST_LINKS = 65_000
"""Links that one sheet may have, with some to spare: spreadsheets take 65,530."""
_NO_WORD = re.compile(r"\W+", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What every printed page carries.

    Attributes
    ----------
    job : str
        Name of the job.
    imperial : bool
        Letter paper; otherwise A4.
    drawing : str
        The drawings, with what the rules state of their revision and date.
    """

    job: str
    imperial: bool
    drawing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    title : str
        Heading, with the unit where there is one.
    form : str
        Number format; ``"General"`` for text.
    most : int
        Greatest width [characters]; longer texts go on in a new line.
    least : int
        Least width [characters].
    side : str
        Side that values and heading stand at, ``"left"`` or ``"right"``; empty for text left, numbers right.
    total : bool
        Whether a live sum stands below it.
    """

    title: str
    form: str = "General"
    most: int = 40
    least: int = _NARROWEST
    side: str = ""
    total: bool = False

    @property
    def across(self) -> str:
        """Side that values and heading stand at."""
        return self.side or ("left" if self.form == "General" else "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One list of the workbook.

    Attributes
    ----------
    columns : tuple of Column
    rows : sequence of tuple of Value
        One value a column; None leaves a cell empty.
    group_by : int or None
        Column, from 0, whose changes are marked by a line above the row.
    roomy : bool
        Whether rows are boxed and high enough to be filled in by hand.
    name : str
        Name of the native table, unique in the workbook; empty for none.
    filtered : bool
        Whether its headings carry the buttons of a filter.
    """

    columns: tuple[Column, ...]
    rows: Sequence[tuple[Value, ...]]
    group_by: int | None = None
    roomy: bool = False
    name: str = ""
    filtered: bool = False


def open_sheet(book: Workbook, name: str, paper: Paper, *, landscape: bool, one_page: bool = False) -> Sheet:
    """Add a sheet with its print set-up: fitted to the width, numbered pages, the job's name at the top."""
    sheet = book.create_sheet(name)
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.paperSize = _PAPER_LETTER if paper.imperial else _PAPER_A4
    sheet.page_setup.orientation = "landscape" if landscape else "portrait"
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 1 if one_page else 0
    margins = sheet.page_margins
    margins.left = margins.right = 0.5
    margins.top = margins.bottom = 0.75
    margins.header = margins.footer = 0.35
    sheet.sheet_view.showGridLines = False
    sheet.merged_cells = _Merged()
    sheet.oddHeader.left.text = _edge_text(paper.job)
    sheet.oddHeader.right.text = "&A"
    sheet.oddFooter.left.text = _edge_text(paper.drawing) or "Splicewright fabrication schedule"
    sheet.oddFooter.right.text = "Page &P of &N"
    return sheet


def _edge_text(text: str) -> str:
    """Make a text fit for the edge of a page, where an ampersand means more than itself, and all has 255 letters."""
    clean = " ".join(plain_text(text).split())
    short = clean if len(clean) <= _MOST_HEADER else f"{clean[: _MOST_HEADER - 1]}…"
    return short.replace("&", "&&")


class _Merged(MultiCellRange):  # type: ignore[misc]  # the library carries no types
    """Merged cells in their order, so that the same sheet is the same bytes; added without looking at all others."""

    def add(self, coord: str) -> None:
        """Add a range, which must lie clear of the others."""
        self.ranges.add(CellRange(coord))

    def __iter__(self) -> Iterator[CellRange]:
        """Yield the ranges by column, then by row."""
        return iter(self.sorted())


def write_table(book: Workbook, name: str, note: str, table: Table, paper: Paper) -> tuple[Sheet, int]:
    """Write one table on a sheet of its own: title, note, headings that stay in sight, rows, sums.

    Parameters
    ----------
    book : Workbook
        Write-only workbook.
    name, note : str
        Name of the sheet, which is also its title, and one or two sentences on how to read it.
    table : Table
    paper : Paper

    Returns
    -------
    sheet, int
        The sheet, still open for further rows, and the number of its last row so far.
    """
    widths = column_widths(table)
    sheet = open_sheet(book, name, paper, landscape=sum(widths) > _WIDE_TABLE)
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "B4"
    sheet.print_title_rows = "3:3"
    cut = len(table.rows) > MOST_ROWS
    shown = f"The first {MOST_ROWS:,} of {len(table.rows):,} rows; the JSON record holds all. " if cut else ""
    write_title(sheet, name, shown + note, widths)
    native = replace(table, name=_NO_WORD.sub("_", name), filtered=True)
    return sheet, write_rows(sheet, native, widths, at_row=3)


def write_title(sheet: Sheet, title: str, note: str, widths: Sequence[float]) -> None:
    """Write the first two rows of a sheet: its title, and a note over the whole width."""
    sheet.row_dimensions[1].height = 24
    sheet.append([Stamp(sheet, TITLE).cell(title)])
    write_across(sheet, 2, note, NOTE, widths)


def write_across(sheet: Sheet, row: int, text: str, look: Look, widths: Sequence[float]) -> None:
    """Write a text over the whole width of a sheet, on as many lines as it needs."""
    sheet.merged_cells.add(f"A{row}:{get_column_letter(len(widths))}{row}")
    sheet.row_dimensions[row].height = row_height(line_count(text, sum(widths), look), look.size) + 2
    sheet.append([Stamp(sheet, replace(look, wrap=True)).cell(text)])


def write_rows(sheet: Sheet, table: Table, widths: Sequence[float], *, at_row: int) -> int:
    """Write headings, rows and sums of a table from a row on; return the number of the last row written."""
    rows = table.rows[:MOST_ROWS]
    _write_head(sheet, table, widths, at_row)
    looks = [_body_look(table, number, width) for number, width in enumerate(widths)]
    usual = [Stamp(sheet, look) for look in looks]
    first = [Stamp(sheet, replace(look, above=RULED)) for look in looks] if table.group_by is not None else usual
    wrapped = [number for number, look in enumerate(looks) if look.wrap]
    before: Value = None
    for at, row in enumerate(_few_links(rows), at_row + 1):
        group = row[table.group_by or 0]
        stamps = usual if group == before else first
        before = group
        lines = max((line_count(row[n], widths[n] - looks[n].indent) for n in wrapped), default=1)
        height = max(row_height(lines) if lines > 1 else 0, _ROOMY_HEIGHT if table.roomy else 0)
        if height:
            sheet.row_dimensions[at].height = height
        sheet.append([stamp.cell(value) for stamp, value in zip(stamps, row, strict=True)])
        sheet.row_dimensions.pop(at, None)  # written, and not to be kept for every row of a long list
    last = at_row + len(rows)
    if rows and table.name:
        sheet.tables.add(_native(table, at_row, last))
    if not rows or not any(column.total for column in table.columns):
        return last
    sheet.append(_sums(sheet, table, at_row + 1, last))
    return last + 1


def _few_links(rows: Sequence[tuple[Value, ...]]) -> Iterator[tuple[Value, ...]]:
    """Yield rows with no more links than a sheet may have; the rest are texts."""
    left = _MOST_LINKS
    for row in rows:
        links = sum(isinstance(value, Link) for value in row)
        left -= links
        fits = left >= 0 or not links
        yield row if fits else tuple(value.text if isinstance(value, Link) else value for value in row)


def _native(table: Table, head: int, last: int) -> NativeTable:
    """Describe the rows as what spreadsheets call a table; the sums stand below it."""
    ref = f"A{head}:{get_column_letter(len(table.columns))}{last}"
    native = NativeTable(displayName=table.name, ref=ref)
    for number, column in enumerate(table.columns, 1):
        native.tableColumns.append(TableColumn(id=number, name=plain_text(column.title)))
    if table.filtered:
        native.autoFilter = AutoFilter(ref=ref)
    return native


def ask_number(sheet: Sheet, area: str, error: str, *, whole: bool = False) -> None:
    """Refuse what is no number of zero or more, and say so."""
    guard = DataValidation(type="whole" if whole else "decimal", operator="greaterThanOrEqual", formula1="0")
    guard.allow_blank = guard.showErrorMessage = True
    guard.errorTitle, guard.error = sheet.title, error
    guard.add(area)
    sheet.data_validations.append(guard)


def column_widths(table: Table) -> list[float]:
    """Choose column widths [characters] that fit headings and contents within each column's bounds."""
    widths: list[float] = []
    for number, column in enumerate(table.columns):
        heading = _heading_width(column.title, _HEAD_LINES + (len(table.columns) > _MANY_COLUMNS))
        content = max((_width_of(row[number], column.form) for row in table.rows[:MOST_ROWS]), default=0)
        widths.append(max(heading, column.least, min(content + 2.5, column.most)))
    return widths


def _heading_width(title: str, lines: int) -> float:
    """Choose the least width at which a heading takes no more lines than it may, with some room beside it."""
    longest = max((len(word) for word in title.split()), default=0)
    tried = (wrap(title, width, break_on_hyphens=False) for width in range(longest, len(title) + 1))
    parts = next((parts for parts in tried if len(parts) <= lines), [title])
    return max((text_units(part) for part in parts), default=0) * _BOLD + _BESIDE


def _width_of(value: Value, form: str) -> float:
    if isinstance(value, Formula):
        value = value.value
    if isinstance(value, Link):
        value = value.text
    if value is None:
        return 0
    if isinstance(value, str):
        return text_units(value)
    decimals = len(form.rpartition(".")[2]) + 1 if "." in form else 0
    whole = len(str(int(abs(value))))
    grouping = (whole - 1) // 3 if "," in form else 0
    return whole + grouping + decimals + (value < 0)


def _write_head(sheet: Sheet, table: Table, widths: Sequence[float], row: int) -> None:
    lines = max(line_count(column.title, width - 1, HEAD) for column, width in zip(table.columns, widths, strict=True))
    # The button of a filter stands at the foot of its heading and would cover the last line.
    sheet.row_dimensions[row].height = row_height(lines + table.filtered) + 2
    head = replace(HEAD, boxed=True)
    looks = [replace(head, across=column.across, indent=_indent(table, n)) for n, column in enumerate(table.columns)]
    sheet.append([Stamp(sheet, look).cell(column.title) for look, column in zip(looks, table.columns, strict=True)])


def _body_look(table: Table, number: int, width: float) -> Look:
    column, indent = table.columns[number], _indent(table, number)
    texts = (row[number] for row in table.rows[:MOST_ROWS])
    wraps = column.across == "left" and any(isinstance(text, str) and line_count(text, width) > 1 for text in texts)
    return replace(BODY, form=column.form, wrap=wraps, across=column.across, indent=indent, boxed=table.roomy)


def _indent(table: Table, number: int) -> int:
    """Keep text clear of a number that ends just left of it."""
    return int(number > 0 and table.columns[number].across == "left")


def _sums(sheet: Sheet, table: Table, first: int, last: int) -> list[Cell]:
    """Write the sums of what a filter leaves."""
    cells = []
    for number, column in enumerate(table.columns):
        stamp = Stamp(sheet, replace(HEAD, form=column.form, wrap=False, across=column.across))
        letter = get_column_letter(number + 1)
        if column.total:
            value = Formula(f"SUBTOTAL(109,{letter}{first}:{letter}{last})", _sum(table, number))
            cells.append(stamp.cell(value))
        else:
            cells.append(stamp.cell("Sum" if number == 0 else None))
    return cells


def _sum(table: Table, number: int) -> float:
    values = (row[number] for row in table.rows[:MOST_ROWS])
    plain = (value.value if isinstance(value, Formula) else value for value in values)
    return sum(value for value in plain if isinstance(value, int | float))
