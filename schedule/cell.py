"""Cell: what may stand in a cell of the workbook, how it looks, and how much room it takes."""

import re
from dataclasses import dataclass, replace
from string import ascii_uppercase, digits
from textwrap import wrap
from typing import TypeAlias

from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.worksheet._write_only import WriteOnlyWorksheet
from openpyxl.worksheet.hyperlink import Hyperlink

from .formula import Formula

__all__ = [
    "BODY",
    "FONT",
    "HEAD",
    "INPUT",
    "MOST_CHARACTERS",
    "NOTE",
    "PLAIN",
    "RULED",
    "SUBHEAD",
    "TITLE",
    "Link",
    "Look",
    "Sheet",
    "Stamp",
    "Value",
    "line_count",
    "plain_text",
    "row_height",
    "text_units",
]

Sheet: TypeAlias = WriteOnlyWorksheet

FONT = "Arial"
"""Found, or drawn just as wide, on every system, so that widths fit; column widths count its digits."""

MOST_CHARACTERS = 32_767
"""Characters that a cell holds, as spreadsheets count them: one beyond U+FFFF counts twice."""

_CUT_MARK = " … (cut)"
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_ESCAPE_LOOKALIKE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_RISKY_STARTS = ("=", "+", "-", "@", "\t", "\r")

_UNITS = dict.fromkeys(ascii_uppercase + "@%", 1.25) | dict.fromkeys(digits + "+=<>", 1.0)
_SMALL_UNITS = 0.87
_WIDE_UNITS = 1.9
_FIRST_WIDE = "\u2e80"
_BOLD = 1.08
_HIGHEST = 405
"""Height of the highest row [points]: spreadsheets allow 409, and some rows get a little more than their text."""

_FAINT = Side(style="thin", color="BFBFBF")
RULED = Side(style="thin", color="404040")
_SHADE = PatternFill("solid", fgColor="E4E4E4")


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A text that leads elsewhere.

    Attributes
    ----------
    text : str or int
        What is shown.
    place : str
        Place in the workbook, such as ``"'Fittings'!A4"``, or within `file`.
    file : str
        Address of another file, beside the workbook; empty for a place in the workbook.
    """

    text: str | int
    place: str
    file: str = ""


Value: TypeAlias = str | int | float | Formula | Link | None


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
HEAD = Look(bold=True, shaded=True, wrap=True, above=RULED, below=RULED)
BODY = Look(below=_FAINT)
INPUT = Look(shaded=True, above=RULED, below=RULED, across="right", form="0.###")
"""A value that people may change, and formulas follow."""


def plain_text(text: str) -> str:
    """Make a text fit for a cell: no control characters, no half characters, no more than a cell holds.

    Examples
    --------
    >>> plain_text("Top" + chr(7) + " slab")
    'Top\ufffd slab'
    """
    clean = _ESCAPE_LOOKALIKE.sub("_x005F_", _UNPRINTABLE.sub("\ufffd", text))
    if 2 * len(clean) <= MOST_CHARACTERS or _characters(clean) <= MOST_CHARACTERS:
        return clean
    cut = clean[: MOST_CHARACTERS - len(_CUT_MARK)]
    while (more := _characters(cut) + len(_CUT_MARK) - MOST_CHARACTERS) > 0:
        cut = cut[: -max(1, more // 2)]
    return cut + _CUT_MARK


def _characters(text: str) -> int:
    """Count as spreadsheets do."""
    return len(text) + sum(letter > "\uffff" for letter in text)


class Stamp:
    """Puts values into cells of one look; the cell is made once and used again, which keeps long lists fast.

    Parameters
    ----------
    sheet : WriteOnlyWorksheet
        Sheet that the cells go to.
    look : Look
    """

    __slots__ = ("_linked", "_look", "_plain", "_risky", "_sheet")

    def __init__(self, sheet: Sheet, look: Look) -> None:
        self._sheet = sheet
        self._look = look
        self._plain = _dressed(sheet, look)
        self._risky: Cell | None = None
        self._linked: Cell | None = None

    def cell(self, value: Value) -> Cell:
        """Return the cell with a value in it, good until the next call; text is never taken for a formula."""
        if isinstance(value, Link):
            return self._link(value)
        if isinstance(value, Formula):
            self._plain.value = value.written
            return self._plain
        if not isinstance(value, str) or not value:
            self._plain.value = None if value == "" else value  # no text is no text, rather than an empty one
            return self._plain
        text = plain_text(value)
        cell = self._risky_cell() if text.startswith(_RISKY_STARTS) else self._plain
        cell.value = text
        cell.data_type = "s"
        return cell

    def _risky_cell(self) -> Cell:
        if self._risky is None:
            self._risky = _dressed(self._sheet, self._look)
            self._risky.quotePrefix = True  # text stays text when someone edits the cell
        return self._risky

    def _link(self, link: Link) -> Cell:
        if self._linked is None:
            self._linked = _dressed(self._sheet, replace(self._look, link=True))
        self._linked.value = link.text if isinstance(link.text, int) else plain_text(link.text)
        self._linked.data_type = "n" if isinstance(link.text, int) else "s"
        # The library puts the cell's own place into ref.
        self._linked.hyperlink = Hyperlink(ref="A1", target=link.file or None, location=link.place)
        return self._linked


def line_count(value: Value, width: float, look: Look = BODY) -> int:
    """Estimate on how many lines a text stands in a column [characters]; programs differ, so rather one too many."""
    if isinstance(value, Link):
        value = value.text
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


def _dressed(sheet: Sheet, look: Look) -> Cell:
    cell = WriteOnlyCell(sheet)
    cell.font = Font(
        name=FONT,
        size=look.size,
        bold=look.bold,
        color="595959" if look.grey else "1F3864" if look.link else "000000",
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
