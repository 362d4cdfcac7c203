"""Bar sheet: a bar for every roll, to scale, with the pieces that are cut from it."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TypeAlias

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from .cell import BODY, FONT, HEAD, Sheet, Stamp
from .roll import Roll
from .sheet import open_sheet, write_title
from .sheet_rolls import roll_text
from .sheet_view import View

__all__ = ["write_bars"]

_CELLS = 60
_MOST_BARS = 2000
_EDGE = Side(style="thin", color="404040")
_TONES = (PatternFill("solid", fgColor="FFFFFF"), PatternFill("solid", fgColor="D9D9D9"))
_KEPT = PatternFill("solid", fgColor="7F7F7F")


def write_bars(book: Workbook, view: View) -> None:
    """Draw a bar for every roll, to scale: its pieces with their marks, dark what is kept, blank what is scrap."""
    rolls = view.schedule.rolls[:_MOST_BARS]
    sheet = open_sheet(book, "Roll bars", view.paper, landscape=True)
    widths = [9.0, 18.0, 12.0, *[1.7] * _CELLS, 14.0, 9.0]
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "A4"
    sheet.print_title_rows = "3:3"
    more = len(view.schedule.rolls) - len(rolls)
    note = (
        "Every roll to scale, in the order of the cutting list: pieces with their marks, dark what is kept as an "
        f"offcut, blank what is scrap.{f' {more:,} more rolls stand on the cutting list.' if more else ''}"
    )
    write_title(sheet, "Roll bars", note, widths)
    head = Stamp(sheet, replace(HEAD, wrap=False))
    titles = ("Roll", "Profile", "Roll length", "Cut from left to right", *[None] * (_CELLS - 1), "Left", "Offcut")
    sheet.append(head.cell(title) for title in titles)
    bar = _Bar(sheet, view)
    longest_m = max((roll.length_m for roll in rolls), default=1.0)
    for at, roll in enumerate(rolls, 4):
        sheet.row_dimensions[at].height = 18
        spans = list(_spans(roll, longest_m))
        for first, stop, *_ in spans:
            if stop - first > 1:
                corners = (get_column_letter(4 + first), get_column_letter(3 + stop))
                sheet.merged_cells.add(f"{corners[0]}{at}:{corners[1]}{at}")
        sheet.append(bar.cells(roll, spans))


_Span: TypeAlias = tuple[int, int, str, PatternFill | None]
"""First cell, the one after the last, what stands in it, and its ground; None outside the roll."""


def _spans(roll: Roll, longest_m: float) -> Iterator[_Span]:
    """Divide the cells of a bar among pieces and rest; every piece has at least one."""
    scale = _CELLS / longest_m
    end, at, length_m = max(len(roll.pieces), round(roll.length_m * scale)), 0, 0.0
    for number, piece in enumerate(roll.pieces):
        length_m += piece.length_m
        behind = len(roll.pieces) - number - 1
        stop = min(max(at + 1, round(length_m * scale)), end - behind)
        label = piece.mark if len(piece.mark) <= 1.4 * (stop - at) else ""
        yield at, stop, label, _TONES[number % 2]
        at = stop
    if at < end:
        label = roll.offcut if len(roll.offcut) <= 1.4 * (end - at) else ""
        yield at, end, label, _KEPT if roll.offcut else _TONES[0]
    if end < _CELLS:
        yield end, _CELLS, "", None


class _Bar:
    """Puts bars into cells; each kind of cell is made once, since the sheet has very many."""

    def __init__(self, sheet: Sheet, view: View) -> None:
        self._sheet, self._view = sheet, view
        self._text, self._left = Stamp(sheet, BODY), Stamp(sheet, replace(BODY, across="right"))
        self._offcut = Stamp(sheet, replace(BODY, across="left", indent=1))
        self._cells: dict[tuple[int, bool, bool], Cell] = {}

    def cells(self, roll: Roll, spans: Iterable[_Span]) -> Iterator[Cell]:
        """Yield the cells of one row, each good until the next is asked for."""
        for text in (roll.mark, roll.profile or "not known", roll_text(self._view, roll)):
            yield self._text.cell(text)
        for first, stop, label, ground in spans:
            for at in range(first, stop):
                cell = self._cell(ground, first=at == first, last=at == stop - 1)
                cell.value = label if label and at == first else None
                cell.data_type = "s" if cell.value else "n"
                yield cell
        yield self._left.cell(self._view.measure.text(roll.offcut_m) if roll.offcut_m else "none")
        yield self._offcut.cell(roll.offcut or ("scrap" if roll.offcut_m else None))

    def _cell(self, ground: PatternFill | None, *, first: bool, last: bool) -> Cell:
        key = (id(ground), first, last)
        if key not in self._cells:
            self._cells[key] = _bar_cell(self._sheet, ground, first=first, last=last)
        return self._cells[key]


def _bar_cell(sheet: Sheet, ground: PatternFill | None, *, first: bool, last: bool) -> Cell:
    cell = WriteOnlyCell(sheet)
    if ground is not None:
        cell.fill = ground
        cell.border = Border(top=_EDGE, bottom=_EDGE, left=_EDGE if first else None, right=_EDGE if last else None)
    cell.font = Font(name=FONT, size=8, bold=ground is _KEPT, color="FFFFFF" if ground is _KEPT else "000000")
    cell.alignment = Alignment(horizontal="center", vertical="center")
    return cell
