"""Roll sheets: the cutting list, a bar for every roll, footage, and what to order."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import TypeAlias

from openpyxl import Workbook
from openpyxl.cell import Cell, WriteOnlyCell
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter

from .measure import marks_text
from .order import OrderLine
from .roll import Roll, RollPlan
from .sheet import (
    BODY,
    FONT,
    HEAD,
    SUBHEAD,
    Column,
    Sheet,
    Stamp,
    Table,
    column_widths,
    open_sheet,
    write_rows,
    write_table,
    write_title,
)
from .sheet_view import MASS, MONEY, Row, View, number_column, text_column
from .tape import TapeLengths, read_tape

__all__ = ["write_bars", "write_footage", "write_orders", "write_pieces"]

_PERCENT = '0.00" %"'


def write_pieces(book: Workbook, view: View) -> None:
    """Write how every roll is cut."""
    tape = read_tape(view.schedule.rolls, imperial=view.measure.imperial)
    columns = (
        text_column("Roll", least=8),
        text_column("Profile", most=24),
        text_column("Roll length", least=10),
        text_column("Piece", least=8),
        *view.length_columns("Cut"),
        text_column("Ends", least=8),
        text_column("For run", least=8),
        text_column("Place in run", least=9),
        replace(view.length_columns("Left of roll")[0], least=14),
        text_column("Offcut", least=8),
    )
    rows = [row for roll in view.schedule.rolls for row in _piece_rows(view, roll, tape)]
    note = (
        "Cut the rolls in this order, which is that of the work, and mark each piece. Lengths include what the welds "
        "melt away and are rounded for the tape so that no run comes out short; the longest comes out "
        f"{view.measure.fine(tape.most_more_m):.2f} {view.measure.fine_unit} long. "
        "Pieces with mitred ends are measured along the centreline. What is left of a roll stands beside its last "
        "piece; an offcut with a mark is kept."
    )
    write_table(book, "Cutting list", note, Table(columns=columns, rows=rows, group_by=0), view.paper)


def _piece_rows(view: View, roll: Roll, tape: TapeLengths) -> Iterator[Row]:
    for number, piece in enumerate(roll.pieces, 1):
        last = number == len(roll.pieces)
        yield (
            roll.mark,
            roll.profile or "not known",
            _roll_text(view, roll),
            piece.mark,
            *view.length(tape.lengths_m[piece.mark]),
            piece.ends[0] if piece.ends[0] == piece.ends[1] else " / ".join(piece.ends),
            piece.run,
            f"{piece.number} of {piece.of}",
            *view.length(roll.offcut_m if last else None)[:1],
            (roll.offcut or ("scrap" if roll.offcut_m else "none")) if last else None,
        )


def _roll_text(view: View, roll: Roll) -> str:
    text = view.measure.roll_text(roll.length_m)
    return text if roll.stock is None else f"offcut {roll.stock} {text}".replace("  ", " ")


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
    longest_m = max((roll.length_m for roll in rolls), default=1.0)
    for at, roll in enumerate(rolls, 4):
        sheet.row_dimensions[at].height = 18
        spans = list(_spans(roll, longest_m))
        for first, stop, *_ in spans:
            if stop - first > 1:
                corners = (get_column_letter(4 + first), get_column_letter(3 + stop))
                sheet.merged_cells.add(f"{corners[0]}{at}:{corners[1]}{at}")
        sheet.append(_bar_cells(sheet, view, roll, spans))


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


def _bar_cells(sheet: Sheet, view: View, roll: Roll, spans: Iterable[_Span]) -> Iterator[Cell]:
    for text in (roll.mark, roll.profile or "not known", _roll_text(view, roll)):
        yield Stamp(sheet, BODY).cell(text)
    for first, stop, label, ground in spans:
        for cell in range(first, stop):
            yield _bar_cell(sheet, label if cell == first else "", ground, (cell == first, cell == stop - 1))
    yield Stamp(sheet, replace(BODY, across="right")).cell(
        view.measure.text(roll.offcut_m) if roll.offcut_m else "none"
    )
    yield Stamp(sheet, replace(BODY, across="left", indent=1)).cell(roll.offcut or ("scrap" if roll.offcut_m else None))


def _bar_cell(sheet: Sheet, label: str, ground: PatternFill | None, ends: tuple[bool, bool]) -> Cell:
    cell = WriteOnlyCell(sheet, value=label or None)
    if ground is not None:
        cell.fill = ground
        cell.border = Border(top=_EDGE, bottom=_EDGE, left=_EDGE if ends[0] else None, right=_EDGE if ends[1] else None)
    cell.font = Font(name=FONT, size=8, bold=ground is _KEPT, color="FFFFFF" if ground is _KEPT else "000000")
    cell.alignment = Alignment(horizontal="center", vertical="center")
    return cell


def write_footage(book: Workbook, view: View) -> None:
    """Write what the plan cuts and how good it is, and the ledger of where all lengths go."""
    name = "Footage and orders"
    tables = (
        ("", _orders(view)),
        ("Proof", _proof(view)),
        ("Ledger", _ledger(view)),
        ("Ledger of the rolls", _roll_ledger(view)),
    )
    columns = max(len(table.columns) for _, table in tables)
    widths = [0.0] * columns
    for _, table in tables:
        for number, width in enumerate(column_widths(table)):
            widths[number] = max(widths[number], width)
    sheet = open_sheet(book, name, view.paper, landscape=True)
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "A3"
    note = (
        "Above, the rolls that the plan cuts; all that is to order stands on the sheet Order list. Then how close the "
        "plan is to the least that any plan can cost. Below, where the lengths go: measured = in fittings + cut from "
        "rolls - lost in welds; new rolls + offcuts from stock = cut to pieces + trimmed + left over. Measured is the "
        "length along the centreline, nothing added."
    )
    write_title(sheet, name, note, widths)
    last = 2
    for heading, table in tables:
        if heading:
            for text in (None, heading):
                sheet.append([Stamp(sheet, SUBHEAD).cell(text)])
            last += 2
        last = write_rows(sheet, table, widths[: len(table.columns)], at_row=last + 1)


def _currency(view: View, title: str) -> str:
    currency = view.schedule.rules.prices.currency
    return f"{title} [{currency}]" if currency else title


def _orders(view: View) -> Table:
    priced = any(order.cost is not None for order in view.schedule.orders)
    columns = (
        text_column("Profile", most=28, least=18),
        text_column("Roll length", least=10),
        number_column("Rolls to order", total=True, least=9),
        number_column("Least possible", total=True, least=9),
        view.sum_column("To order"),
        view.sum_column("Cut to pieces"),
        view.sum_column("Left over"),
        number_column(_currency(view, "Cost"), MONEY, total=priced, least=12),
    )
    rows = [
        (
            order.profile or "not known",
            view.measure.roll_text(order.length_m),
            order.quantity,
            order.least_quantity or None,
            view.measure.long(order.length_m * order.quantity),
            view.measure.long(order.pieces_m),
            view.measure.long(order.length_m * order.quantity - order.pieces_m),
            "no price" if order.cost is None else order.cost,
        )
        for order in view.schedule.orders
    ]
    return Table(columns=columns, rows=rows)


def _proof(view: View) -> Table:
    lots = any(plan.lot for plan in view.schedule.roll_plans)
    columns = (
        text_column("Profile", most=28, least=18),
        text_column("Counted in", least=10),
        number_column("Cost of plan", MONEY, least=12),
        number_column("Least possible", MONEY, least=12),
        number_column("Gap", _PERCENT, least=9),
        number_column("Splices in runs", total=True, least=9),
        view.sum_column("Left over"),
        text_column("Proven by", most=28, least=12),
        *((text_column("Pour", most=24),) if lots else ()),
    )
    rows = [
        (
            plan.profile or "not known",
            *_counted(view, plan),
            100 * plan.gap,
            plan.splices,
            view.measure.long(plan.left_m),
            plan.method,
            *((plan.lot or "none",) if lots else ()),
        )
        for plan in view.schedule.roll_plans
    ]
    return Table(columns=columns, rows=rows)


def _counted(view: View, plan: RollPlan) -> tuple[str, float, float]:
    """Return the unit of a plan's costs, its cost and the least one; without prices they are lengths of strip."""
    if plan.priced:
        return view.schedule.rules.prices.currency or "money", plan.cost, plan.least_cost
    return f"{view.measure.long_unit} of strip", view.measure.long(plan.cost), view.measure.long(plan.least_cost)


def _ledger(view: View) -> Table:
    measure = view.measure
    columns = (
        text_column("Profile", most=28, least=18),
        number_column("Runs", total=True),
        view.sum_column("Measured"),
        view.sum_column("In fittings"),
        view.sum_column("Cut from rolls"),
        view.sum_column("Lost in welds"),
        number_column(f"Difference [{measure.fine_unit}]", "0.000", least=11),
        view.sum_column("To order"),
    )
    rows = [
        (
            footage.profile or "not known",
            footage.runs,
            measure.long(footage.measured_m),
            measure.long(footage.in_fittings_m),
            measure.long(footage.in_pieces_m),
            measure.long(footage.lost_in_welds_m),
            round(measure.fine(footage.difference_m), 6) + 0.0,
            measure.long(footage.order_m),
        )
        for footage in view.schedule.footage
    ]
    return Table(columns=columns, rows=rows)


def _roll_ledger(view: View) -> Table:
    measure = view.measure
    columns = (
        text_column("Profile", most=28, least=18),
        number_column("Offcuts used", total=True),
        view.sum_column("New rolls"),
        view.sum_column("From stock"),
        view.sum_column("Cut to pieces"),
        view.sum_column("Trimmed"),
        number_column(f"Difference [{measure.fine_unit}]", "0.000", least=11),
        view.sum_column("Left over"),
    )
    used = Counter(roll.profile for roll in view.schedule.rolls if roll.stock is not None)
    rows = [
        (
            footage.profile or "not known",
            used[footage.profile],
            measure.long(footage.order_m),
            measure.long(footage.offcuts_m),
            measure.long(footage.in_pieces_m),
            measure.long(footage.trimmed_m),
            round(measure.fine(footage.roll_difference_m), 6) + 0.0,
            measure.long(footage.left_m),
        )
        for footage in view.schedule.footage
    ]
    return Table(columns=columns, rows=rows)


def write_orders(book: Workbook, view: View) -> None:
    """Write all that is ordered: strip, fittings, consumables, samples, packages."""
    lines = view.schedule.order_list
    priced = any(line.cost is not None for line in lines)
    columns = (
        text_column("What", least=11),
        text_column("Item", most=34, least=16),
        text_column("Profile", most=24),
        text_column("Marks", most=24),
        Column(title="Length of one", side="right", least=11),
        number_column("Needed", least=9),
        number_column("Spare", least=8),
        number_column("To order", least=9),
        number_column(f"Mass [{view.measure.mass_unit}]", MASS, least=11),
        *((number_column(_currency(view, "Cost"), MONEY, total=True, least=12),) if priced else ()),
        text_column("Why so many", most=48),
    )
    rows = [_order_row(view, line, priced=priced) for line in lines]
    note = (
        "All that is bought or asked of the shop. Needed is what the plan takes; spares follow the rules. Masses and "
        "costs are those of all to order; fittings cost what their seams do, strip not included."
    )
    write_table(book, "Order list", note, Table(columns=columns, rows=rows, group_by=0), view.paper)


def _order_row(view: View, line: OrderLine, *, priced: bool) -> Row:
    roll = line.item in {"roll", "offcut in stock"}
    length = None if line.length_m is None else (view.measure.roll_text if roll else view.measure.text)(line.length_m)
    from_stock = line.item == "offcut in stock"
    return (
        line.group,
        line.item,
        line.profile or None,
        marks_text(line.marks) or None,
        length,
        line.needed,
        line.spare or None,
        0 if from_stock else line.quantity,
        None if line.mass_kg is None else view.measure.mass(line.mass_kg),
        *((line.cost,) if priced else ()),
        line.note or None,
    )
