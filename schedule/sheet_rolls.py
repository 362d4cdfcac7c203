"""Roll sheets: the cutting list, footage, and what to order."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, Series
from openpyxl.utils import get_column_letter

from .cell import SUBHEAD, Sheet, Stamp, Value
from .formula import Formula
from .measure import marks_text
from .order import OrderLine
from .rate import roll_rate
from .roll import Roll, RollOrder, RollPlan
from .sheet import Column, Table, ask_number, column_widths, open_sheet, write_rows, write_table, write_title
from .sheet_view import MASS, MONEY, Row, View, number_column, text_column
from .tape import TapeLengths, read_tape

__all__ = ["roll_text", "write_footage", "write_orders", "write_pieces"]

_FOOTAGE = "Footage and orders"
_ORDERS = "Order list"
_MOST_BARS, _ONE_PAGE = 40, 6
_USES = {6: "cut to pieces", 7: "not in pieces"}
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
        "piece; an offcut with a mark is kept." + _fullest_text(view, tape)
    )
    write_table(book, "Cutting list", note, Table(columns=columns, rows=rows, group_by=0), view.paper)


def _fullest_text(view: View, tape: TapeLengths) -> str:
    """Warn where cuts take so little that a full roll has no room for the rounding."""
    if tape.fits:
        return ""
    more = f"{view.measure.fine(tape.fullest_m):.2f} {view.measure.fine_unit}"
    return f" In the fullest roll the pieces come to {more} more than it has: cut its last one as long as it goes."


def _piece_rows(view: View, roll: Roll, tape: TapeLengths) -> Iterator[Row]:
    for number, piece in enumerate(roll.pieces, 1):
        last = number == len(roll.pieces)
        yield (
            roll.mark,
            roll.profile or "not known",
            roll_text(view, roll),
            piece.mark,
            *view.length(tape.lengths_m[piece.mark]),
            piece.ends[0] if piece.ends[0] == piece.ends[1] else " / ".join(piece.ends),
            piece.run,
            f"{piece.number} of {piece.of}",
            *view.length(roll.offcut_m if last else None)[:1],
            (roll.offcut or ("scrap" if roll.offcut_m else "none")) if last else None,
        )


def roll_text(view: View, roll: Roll) -> str:
    """Name a roll by its length, and as an offcut from stock by its mark."""
    text = view.measure.roll_text(roll.length_m)
    return text if roll.stock is None else f"offcut {roll.stock} {text}".replace("  ", " ")


def write_footage(book: Workbook, view: View) -> None:
    """Write what the plan cuts and how good it is, and the ledger of where all lengths go."""
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
    sheet = open_sheet(book, _FOOTAGE, view.paper, landscape=False)
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "A3"
    note = (
        "Above, the rolls that the plan cuts; all that is to order stands on the sheet Order list. Then how close the "
        "plan is to the least that any plan can cost. Below, where the lengths go: measured = in fittings + cut from "
        "rolls - lost in welds; new rolls + offcuts from stock = cut to pieces + trimmed + left over. Measured is the "
        "length along the centreline, nothing added."
    )
    write_title(sheet, _FOOTAGE, note, widths)
    last = 2
    for heading, table in tables:
        if heading:
            for text in (None, heading):
                sheet.append([Stamp(sheet, SUBHEAD).cell(text)])
            last += 2
        last = write_rows(sheet, table, widths[: len(table.columns)], at_row=last + 1)
    rows = len(view.schedule.orders)
    if 0 < rows <= _MOST_BARS:
        _draw_use(sheet, rows, last + 2)
        if rows <= _ONE_PAGE:
            sheet.page_setup.fitToHeight = 1  # a picture is not to be cut by the edge of a page


def _draw_use(sheet: Sheet, rows: int, at_row: int) -> None:
    """Draw how much of the rolls of each line is cut to pieces, and how much is not."""
    chart = BarChart()
    chart.type, chart.grouping, chart.overlap, chart.gapWidth = "bar", "percentStacked", 100, 40
    chart.title = None
    chart.legend.position = "b"
    chart.x_axis.scaling.orientation = "maxMin"
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.majorGridlines = None
    chart.y_axis.number_format = "0%"
    for column, fill in ((6, "7F7F7F"), (7, "D9D9D9")):
        series = Series(Reference(sheet, min_col=column, min_row=4, max_row=3 + rows), title=_USES[column])
        series.graphicalProperties.solidFill = fill
        chart.series.append(series)
    chart.set_categories(Reference(sheet, min_col=1, min_row=4, max_row=3 + rows))
    chart.width, chart.height = 20, max(5.0, 0.9 * rows + 3.5)
    sheet.add_chart(chart, f"A{at_row}")


def _currency(view: View, title: str) -> str:
    currency = view.schedule.rules.prices.currency
    return f"{title} [{' '.join(currency.split())}]" if currency else title


def _orders(view: View) -> Table:
    priced = any(order.cost is not None for order in view.schedule.orders)
    columns = (
        text_column("Profile", most=28, least=18),
        text_column("Roll length", least=10),
        number_column("Rolls to order", total=True, least=9),
        number_column("Least possible", total=True, least=9),
        view.sum_column("To order"),
        view.sum_column("Cut to pieces"),
        view.sum_column("Not in pieces"),
        number_column(_currency(view, "Cost"), MONEY, total=priced, least=12),
    )
    rows = [_roll_row(view, order, at) for at, order in enumerate(view.schedule.orders, 4)]
    return Table(columns=columns, rows=rows, name="Rolls_to_order")


def _roll_row(view: View, order: RollOrder, row: int) -> Row:
    """Write one order; its cost follows the number of rolls and the price of one."""
    ordered, cut = view.measure.long(order.length_m * order.quantity), view.measure.long(order.pieces_m)
    cost: Value = "no price"
    if order.cost is not None:
        rate = roll_rate(view, order.profile, order.length_m)
        cost = Formula(f"C{row}*{rate}", order.cost) if rate else order.cost
        _add_live(view, f"rolls of {order.profile}", f"'{_FOOTAGE}'!$H${row}", order.cost)
    return (
        order.profile or "not known",
        view.measure.roll_text(order.length_m),
        order.quantity,
        order.least_quantity or None,
        ordered,
        cut,
        Formula(f"E{row}-F{row}", ordered - cut),
        cost,
    )


def _add_live(view: View, key: str, place: str, value: float) -> None:
    """Add a cell to a sum that the summary shows."""
    before = view.live.get(key)
    view.live[key] = Formula(f"{before.text}+{place}" if before else place, before.value + value if before else value)


def _proof(view: View) -> Table:
    lots = any(plan.lot for plan in view.schedule.roll_plans)
    columns = (
        text_column("Profile", most=28, least=18),
        text_column("Counted in", least=10),
        number_column("Cost of plan", MONEY, least=12),
        number_column("Least possible", MONEY, least=12),
        number_column("Gap", _PERCENT, least=9),
        number_column("Splices in runs", total=True, least=9),
        view.sum_column("Not in pieces"),
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
    return Table(columns=columns, rows=rows, name="Proof")


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
    return Table(columns=columns, rows=rows, name="Ledger")


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
    return Table(columns=columns, rows=rows, name="Ledger_of_rolls")


def write_orders(book: Workbook, view: View) -> None:
    """Write all that is ordered: strip, fittings, consumables, samples, packages."""
    lines = view.schedule.order_list
    priced = any(line.cost is not None for line in lines)
    money = (_currency(view, "Price of one"), _currency(view, "Cost"))
    columns = (
        text_column("What", least=9),
        text_column("Item", most=28, least=16),
        text_column("Profile", most=18),
        text_column("Marks", most=14),
        Column(title="Length of one", side="right", least=9),
        number_column("Needed", least=9),
        number_column("Spare", least=8),
        number_column("To order", least=9),
        number_column(f"Mass of one [{view.measure.mass_unit}]", MASS, least=9),
        number_column(f"Mass [{view.measure.mass_unit}]", MASS, least=9),
        *((number_column(money[0], MONEY, least=9),) if priced else ()),
        *((number_column(money[1], MONEY, total=True, least=12),) if priced else ()),
        text_column("Why so many", most=36),
    )
    rows = [_order_row(view, line, row, priced=priced) for row, line in enumerate(lines, 4)]
    note = (
        "All that is bought or asked of the shop. Needed is what the plan takes; spares follow the rules and may be "
        "changed here: numbers, masses and costs follow. Fittings cost what their seams do, strip not included."
    )
    sheet, last = write_table(book, _ORDERS, note, Table(columns=columns, rows=rows, group_by=0), view.paper)
    if lines:
        ask_number(sheet, f"G4:G{3 + len(lines)}", "Spares are a whole number, zero or more.", whole=True)
    if priced:
        cost = sum(line.cost or 0.0 for line in lines)
        view.live["cost of the order"] = Formula(f"SUM('{_ORDERS}'!$L$4:$L${last - 1})", cost)


def _order_row(view: View, line: OrderLine, row: int, *, priced: bool) -> Row:
    """Write one line; what can be worked out from its numbers is worked out by formulas."""
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
        0 if from_stock else Formula(f"F{row}+G{row}", line.quantity),
        *_mass(view, line, row),
        *((_price(view, line), _cost(line, row)) if priced else ()),
        line.note or None,
    )


def _mass(view: View, line: OrderLine, row: int) -> tuple[Value, Value]:
    """Mass of one and of all; of packages and of what lies in stock only that of all."""
    if line.mass_kg is None:
        return (None, None)
    mass = view.measure.mass(line.mass_kg)
    if line.group == "packages" or line.item == "offcut in stock" or not line.quantity:
        return (None, mass)
    return (mass / line.quantity, Formula(f"H{row}*I{row}", mass))


def _price(view: View, line: OrderLine) -> Value:
    """Price of one, by the rates on the sheet Basis."""
    if not line.cost or not line.quantity:
        return None
    price = line.cost / line.quantity
    if line.group == "strip" and line.length_m is not None:
        rate = roll_rate(view, line.profile, line.length_m)
        return Formula(rate, price) if rate else price
    seams = next((one.factory_seams for one in view.schedule.fittings if (one.mark,) == line.marks), None)
    priced = view.schedule.rules.prices.factory_splice is not None
    return Formula(f"{seams}*factory_splice_price", price) if seams and priced else price


def _cost(line: OrderLine, row: int) -> Value:
    return Formula(f"H{row}*K{row}", line.cost) if line.cost and line.quantity else line.cost
