"""Sheet: one table of the workbook, how it looks on screen and how it prints."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from string import ascii_uppercase, digits
from textwrap import wrap
from typing import TypeAlias

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet._write_only import WriteOnlyWorksheet
from openpyxl.worksheet.properties import PageSetupProperties

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

Sheet: TypeAlias = WriteOnlyWorksheet

Value: TypeAlias = str | int | float | None

FONT = "Arial"
"""Found, or drawn just as wide, on every system, so that widths fit; column widths count its digits."""

MOST_ROWS = 100_000
"""Rows after which a list is cut and says so; the record as JSON holds the rest."""

_MOST_CHARACTERS = 32_767
_CUT_MARK = " … (cut)"
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_ESCAPE_LOOKALIKE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r")


_NARROWEST = 6
_PAPER_A4 = "9"
_PAPER_LETTER = "1"
_WIDE_TABLE = 100
_ROOMY_HEIGHT = 19
_HEAD_LINES = 2
_UNITS = dict.fromkeys(ascii_uppercase + "@%", 1.25) | dict.fromkeys(digits + "+=<>", 1.0)
_SMALL_UNITS = 0.87
_WIDE_UNITS = 1.9
_FIRST_WIDE = "\u2e80"
_BOLD = 1.08
_HIGHEST = 409
_MOST_HEADER = 80

_FAINT = Side(style="thin", color="BFBFBF")
_THIN = Side(style="thin", color="404040")
_SHADE = PatternFill("solid", fgColor="E4E4E4")


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How a cell looks.

    Attributes
    ----------
    size : float
        Size of the letters [points].
    bold, grey, shaded, wrap : bool
        Whether letters are bold or grey, the ground is shaded, long text goes on in a new line.
    across : str
        ``"left"``, ``"right"`` or ``"general"`` (text left, numbers right).
    above, below : Side or None
        Lines above and below.
    form : str
        Number format.
    link : bool
        Whether it is underlined as a link.
    indent : int
        Distance of left-bound text from the left edge [about characters].
    boxed : bool
        Whether lines stand at its left and right, for cells to fill in by hand.
    """

    size: float = 10
    bold: bool = False
    grey: bool = False
    shaded: bool = False
    wrap: bool = False
    across: str = "general"
    above: Side | None = None
    below: Side | None = None
    form: str = "General"
    link: bool = False
    indent: int = 0
    boxed: bool = False


TITLE = Look(size=16, bold=True)
NOTE = Look(size=9, grey=True)
SUBHEAD = Look(size=12, bold=True)
PLAIN = Look()
HEAD = Look(bold=True, shaded=True, wrap=True, above=_THIN, below=_THIN)
BODY = Look(below=_FAINT)


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What every printed page carries.

    Attributes
    ----------
    job : str
        Name of the job.
    imperial : bool
        Letter paper; otherwise A4.
    """

    job: str
    imperial: bool


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
    """

    columns: tuple[Column, ...]
    rows: Sequence[tuple[Value, ...]]
    group_by: int | None = None
    roomy: bool = False


def plain_text(text: str) -> str:
    """Make a text fit for a cell: no control characters, no half characters, no more than a cell holds.

    Examples
    --------
    >>> plain_text("Top" + chr(7) + " slab")
    'Top\ufffd slab'
    """
    clean = _ESCAPE_LOOKALIKE.sub("_x005F_", _UNPRINTABLE.sub("\ufffd", text))
    if len(clean) <= _MOST_CHARACTERS:
        return clean
    return clean[: _MOST_CHARACTERS - len(_CUT_MARK)] + _CUT_MARK


class Stamp:
    """Puts values into cells of one look; the cell is made once and used again, which keeps long lists fast.

    Parameters
    ----------
    sheet : WriteOnlyWorksheet
        Sheet that the cells go to.
    look : Look
    """

    __slots__ = ("_look", "_plain", "_risky", "_sheet")

    def __init__(self, sheet: Sheet, look: Look) -> None:
        self._sheet = sheet
        self._look = look
        self._plain = _dressed(sheet, look)
        self._risky: Cell | None = None

    def cell(self, value: Value) -> Cell:
        """Return the cell with a value in it, good until the next call; text is never taken for a formula."""
        if not isinstance(value, str):
            self._plain.value = value
            return self._plain
        text = plain_text(value)
        cell = self._risky_cell() if text.startswith(_RISKY_STARTS) else self._plain
        cell.value = text
        cell.data_type = "s"
        return cell

    def formula(self, text: str) -> Cell:
        """Return the cell with a formula of our own in it, good until the next call."""
        self._plain.value = text
        return self._plain

    def _risky_cell(self) -> Cell:
        if self._risky is None:
            self._risky = _dressed(self._sheet, self._look)
            self._risky.quotePrefix = True  # text stays text when someone edits the cell
        return self._risky


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
    sheet.oddHeader.left.text = plain_text(paper.job)[:_MOST_HEADER].replace("&", "&&")
    sheet.oddHeader.right.text = "&A"
    sheet.oddFooter.left.text = "Splicewright fabrication schedule"
    sheet.oddFooter.right.text = "Page &P of &N"
    return sheet


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
    last = write_rows(sheet, table, widths, at_row=3)
    if table.rows:
        body_end = 3 + min(len(table.rows), MOST_ROWS)
        sheet.auto_filter.ref = f"A3:{get_column_letter(len(table.columns))}{body_end}"
    return sheet, last


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
    first = [Stamp(sheet, replace(look, above=_THIN)) for look in looks] if table.group_by is not None else usual
    wrapped = [number for number, look in enumerate(looks) if look.wrap]
    before: Value = None
    for at, row in enumerate(rows, at_row + 1):
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
    if not rows or not any(column.total for column in table.columns):
        return last
    sheet.append(_sums(sheet, table, at_row + 1, last))
    return last + 1


def line_count(value: Value, width: float, look: Look = BODY) -> int:
    """Estimate on how many lines a text stands in a column [characters]; programs differ, so rather one too many."""
    if not isinstance(value, str):
        return 1
    units = text_units(value) * look.size / 10 * (_BOLD if look.bold else 1)
    if units <= width and "\n" not in value:
        return 1
    room = max(1, int(width * len(value) / units))
    return sum(len(wrap(part, room)) or 1 for part in value.split("\n"))


def text_units(text: str) -> float:
    """Estimate the width of a text in units of column width, which is that of a digit.

    Examples
    --------
    >>> text_units("LWPOLYLINE") > text_units("lwpolyline")
    True
    """
    return sum(_UNITS.get(letter, _WIDE_UNITS if letter > _FIRST_WIDE else _SMALL_UNITS) for letter in text)


def row_height(lines: int, size: float = 10) -> float:
    """Height of a row [points], no more than a spreadsheet allows."""
    return min(lines * size * 1.28 + 2, _HIGHEST)


def column_widths(table: Table) -> list[float]:
    """Choose column widths [characters] that fit headings and contents within each column's bounds."""
    widths: list[float] = []
    for number, column in enumerate(table.columns):
        heading = _heading_width(column.title)
        content = max((_width_of(row[number], column.form) for row in table.rows[:MOST_ROWS]), default=0)
        widths.append(max(heading, column.least, min(content + 2.5, column.most)))
    return widths


def _heading_width(title: str) -> int:
    """Choose the least width at which a heading takes two lines or less, with room for the filter's button."""
    longest = max((len(word) for word in title.split()), default=0)
    fits = (width for width in range(longest, len(title) + 1) if len(wrap(title, width)) <= _HEAD_LINES)
    return next(fits, longest) + 3


def _width_of(value: Value, form: str) -> float:
    if value is None:
        return 0
    if isinstance(value, str):
        return text_units(value)
    decimals = len(form.rpartition(".")[2]) + 1 if "." in form else 0
    whole = len(str(int(abs(value))))
    grouping = (whole - 1) // 3 if "," in form else 0
    return whole + grouping + decimals + (value < 0)


def _write_head(sheet: Sheet, table: Table, widths: Sequence[float], row: int) -> None:
    lines = max(len(wrap(column.title, int(width - 2))) for column, width in zip(table.columns, widths, strict=True))
    sheet.row_dimensions[row].height = row_height(lines) + 2
    looks = [replace(HEAD, across=column.across, indent=_indent(table, n)) for n, column in enumerate(table.columns)]
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
    cells = []
    for number, column in enumerate(table.columns):
        stamp = Stamp(sheet, replace(HEAD, form=column.form, wrap=False, across=column.across))
        letter = get_column_letter(number + 1)
        label = "Sum" if number == 0 else None
        cells.append(stamp.formula(f"=SUM({letter}{first}:{letter}{last})") if column.total else stamp.cell(label))
    return cells


def _dressed(sheet: Sheet, look: Look) -> Cell:
    cell = WriteOnlyCell(sheet)
    cell.font = Font(
        name=FONT,
        size=look.size,
        bold=look.bold,
        color="595959" if look.grey else "000000",
        underline="single" if look.link else None,
    )
    cell.alignment = Alignment(
        horizontal=look.across, vertical="top", wrap_text=look.wrap, indent=look.indent if look.across == "left" else 0
    )
    side = _FAINT if look.boxed else None
    cell.border = Border(top=look.above, bottom=look.below, left=side, right=side)
    cell.number_format = look.form
    if look.shaded:
        cell.fill = _SHADE
    return cell
