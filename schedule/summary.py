"""Summary: the first sheet of the workbook, one page that a project manager can read."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from io import BytesIO

from openpyxl import Workbook
from openpyxl.cell import Cell
from openpyxl.drawing.image import Image
from openpyxl.utils import get_column_letter

from splicewright.extract.finding import Severity

from .cell import (
    BODY,
    HEAD,
    NOTE,
    PLAIN,
    SUBHEAD,
    TITLE,
    Link,
    Look,
    Sheet,
    Stamp,
    Value,
    line_count,
    row_height,
)
from .crew import CrewPlan
from .formula import Formula
from .measure import Measure, count_text
from .network_picture import network_picture
from .plan import Schedule
from .sheet import open_sheet
from .sheet_view import MONEY, View

__all__ = ["open_summary", "write_summary"]

_WIDTHS = (16, 19, 15, 14, 14, 14, 13)
_LAST = len(_WIDTHS)
_SCALE_LETTER, _SCALE_A4 = 91, 88
"""Makes the columns as wide as the paper is between its margins [percent]."""
_PICTURE = (756, 279)
"""Room for the picture of the network [dots]."""
_PICTURE_ROWS = 14
_MOST_DRAWINGS = 12
_MOST_FINDINGS = 10
_MOST_PROFILES = 20

_READERS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Detailer", ("Splices", "Fittings", "Saw settings", "Saw cuts", "Findings")),
    ("Buyer", ("Footage and orders", "Order list", "Fittings", "Cutting list")),
    ("Site", ("Crew days", "Power points", "Inspection", "Inspection log")),
    ("Manager", ("Crew plan", "Day model", "Findings", "Basis")),
)
"""Which sheets are made for whom."""

_KINDS = (
    ("corners", "corner", "corners"),
    ("tees", "tee", "tees"),
    ("wyes", "wye", "wyes"),
    ("crosses", "cross", "crosses"),
    ("closures", "ring closed by a splice", "rings closed by a splice"),
    ("others", "other place", "other places"),
    ("ends", "free end", "free ends"),
)
"""Totals of nodes, with their names for one and for several."""


def open_summary(book: Workbook, view: View) -> Sheet:
    """Add the first sheet, which is filled last: it shows what the other sheets come to.

    Parameters
    ----------
    book : Workbook
        Write-only workbook.
    view : View

    Returns
    -------
    WriteOnlyWorksheet
        For `write_summary`.
    """
    sheet = open_sheet(book, "Summary", view.paper, landscape=False)
    sheet.sheet_properties.pageSetUpPr = None  # fitted to one page, a job with many findings could not be read
    sheet.page_setup.fitToWidth = sheet.page_setup.fitToHeight = None
    sheet.page_setup.scale = _SCALE_LETTER if view.paper.imperial else _SCALE_A4
    for number, width in enumerate(_WIDTHS, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    return sheet


def write_summary(sheet: Sheet, view: View) -> None:
    """Fill the first sheet: the job in words and as a picture, what is open, what the rates come to, who needs what.

    Parameters
    ----------
    sheet : WriteOnlyWorksheet
        From `open_summary`.
    view : View
    """
    schedule, measure = view.schedule, view.measure
    page = _Page(sheet)
    page.text(schedule.job, TITLE)
    page.text("Waterstop fabrication schedule" + (f": {view.paper.drawing}" if view.paper.drawing else ""), NOTE)
    _totals(page, schedule, measure)
    _picture(page, schedule)
    _readers(page)
    _profiles(page, view)
    _findings(page, schedule)
    _rates(page, view)
    _what_if(page, schedule, measure)
    _drawings(page, schedule, measure)
    page.heading("Cautions")
    for caution in schedule.rules.cautions:
        page.text(f"•  {caution}", PLAIN)


class _Page:
    """The summary sheet, written from the top down, one row at a time."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.row = 0

    def append(self, cells: Iterable[Cell]) -> None:
        self.sheet.append(list(cells))
        self.row += 1

    def stamp(self, look: Look, value: Value) -> Cell:
        return Stamp(self.sheet, look).cell(value)

    def text(self, text: str, look: Look, *, label: str | None = None, label_look: Look = PLAIN) -> None:
        """Write a text over the whole width, or beside a label in the first column, on as many lines as it needs."""
        first = 1 if label is None else 2
        lines = line_count(text, sum(_WIDTHS[first - 1 :]), look)
        cells = [] if label is None else [self.stamp(replace(label_look, bold=True), label)]
        cells += [self.stamp(replace(look, wrap=True), text)]
        cells += [self.stamp(look, None) for _ in range(_LAST - first)]
        row = self.row + 1
        self.sheet.merged_cells.add(f"{get_column_letter(first)}{row}:{get_column_letter(_LAST)}{row}")
        self.sheet.row_dimensions[row].height = row_height(lines, look.size) + (2 if look.below else 1)
        self.append(cells)

    def heading(self, text: str) -> None:
        self.append([])
        self.sheet.row_dimensions[self.row + 1].height = 19
        self.append([self.stamp(SUBHEAD, text)])

    def choice(self, text: str, *numbers: tuple[float | Formula, str]) -> None:
        """Write a text over two columns, and numbers in their forms beside it."""
        row = self.row + 1
        self.sheet.merged_cells.add(f"A{row}:B{row}")
        cells = [self.stamp(replace(BODY, wrap=True), text), self.stamp(BODY, None)]
        self.sheet.row_dimensions[row].height = row_height(line_count(text, sum(_WIDTHS[:2])))
        self.append([*cells, *(self.stamp(replace(BODY, form=form), value) for value, form in numbers)])

    def head(self, titles: Sequence[str]) -> None:
        looks = [replace(HEAD, across="left" if number == 0 else "right") for number in range(len(titles))]
        self.append(self.stamp(look, title) for look, title in zip(looks, titles, strict=True))


def _totals(page: _Page, schedule: Schedule, measure: Measure) -> None:
    page.heading("The job in short")
    for label, text in _sentences(schedule, measure):
        page.text(text, BODY, label=label, label_look=BODY)


def _sentences(schedule: Schedule, measure: Measure) -> list[tuple[str, str]]:
    totals, crew = schedule.totals, schedule.crew
    seams = sum(fitting.factory_seams * fitting.quantity for fitting in schedule.fittings)
    rules = schedule.rules.basis()
    assumed = sum(1 for row in rules if row.source == "assumed" and not row.by_user)
    kinds = [count_text(totals[key], one, many) for key, one, many in _KINDS if totals[key]]
    return [
        (
            "Waterstop",
            f"{measure.text(totals['length_m'] or 0)} along the centreline, "
            f"{count_text(len(schedule.footage), 'profile')}, "
            f"{count_text(len(schedule.runs), 'run')} between nodes",
        ),
        ("Nodes", ", ".join(kinds) or "none"),
        (
            "Shop",
            f"{count_text(totals['fittings'], 'fitting')} of {count_text(len(schedule.fittings), 'type')} with "
            f"{count_text(seams, 'seam')}; {count_text(totals['miter_cuts'], 'mitered saw cut')}",
        ),
        (
            "Splices",
            f"{count_text(totals['factory_splices'], 'shop splice')}, "
            f"{count_text(totals['field_splices'], 'site splice')}; "
            f"fittings policy: {schedule.rules.fittings.policy.value}",
        ),
        (
            "Rolls",
            f"{count_text(totals['rolls'], 'roll')}, {measure.round_text(totals['order_length_m'] or 0)} in all"
            f"{_spare_text(schedule)}; {_proof_text(schedule)}",
        ),
        (
            "Crew",
            f"{count_text(crew.crew_days, 'crew-day')}: {count_text(crew.crews, 'crew')} of {crew.people} people, "
            f"done after {count_text(crew.working_days, 'working day')}{_odds(crew)}; "
            f"{count_text(crew.sample_welds, 'sample weld')}",
        ),
        ("Assumptions", f"{assumed} of {len(rules)} rules are assumed values: check them on the sheet Basis"),
    ]


def _spare_text(schedule: Schedule) -> str:
    """Say how many rolls are ordered beside those that the plan cuts."""
    spare = sum(line.spare for line in schedule.order_list if line.group == "strip")
    return f", and {spare:,} spare" if spare else ""


def _proof_text(schedule: Schedule) -> str:
    """Say how close the plan of the rolls is to the least possible cost."""
    gaps = [plan.gap for plan in schedule.roll_plans]
    if not gaps:
        return "nothing is cut from rolls"
    if max(gaps) < 5e-6:
        return "no plan costs less"
    cost = sum(plan.cost for plan in schedule.roll_plans)
    left = sum(plan.cost - plan.least_cost for plan in schedule.roll_plans)
    return f"no plan can cost more than {100 * left / cost:.2f} % less"


def _odds(crew: CrewPlan) -> str:
    """Say how sure the days are."""
    odds = crew.odds
    return f" ({odds.days_50} to {odds.days_95} with what is uncertain)" if odds else ""


def _profiles(page: _Page, view: View) -> None:
    schedule, measure = view.schedule, view.measure
    page.heading("By profile")
    unit = measure.long_unit
    lengths = (f"Measured [{unit}]", f"In fittings [{unit}]", f"From rolls [{unit}]")
    cost_title = _money("Cost", schedule.rules.prices.currency)
    page.head(("Profile", *lengths, "Rolls", f"To order [{unit}]", cost_title))
    form = "#,##0.0"
    for footage in schedule.footage[:_MOST_PROFILES]:
        orders = [order for order in schedule.orders if order.profile == footage.profile]
        rolls = ", ".join(f"{order.quantity:,} × {measure.roll_text(order.length_m)}" for order in orders)
        priced = all(order.cost is not None for order in orders)
        cost: Value = view.live.get(f"rolls of {footage.profile}", 0) if priced else "no price"
        shares = (footage.measured_m, footage.in_fittings_m, footage.in_pieces_m)
        page.append(
            (
                page.stamp(replace(BODY, wrap=True), footage.profile or "not known"),
                *(page.stamp(replace(BODY, form=form), measure.long(length)) for length in shares),
                page.stamp(replace(BODY, wrap=True, across="right"), rolls or "none"),
                page.stamp(replace(BODY, form=form), measure.long(footage.order_m)),
                page.stamp(replace(BODY, form=MONEY, across="right"), cost),
            )
        )
    left = len(schedule.footage) - _MOST_PROFILES
    if left > 0:
        page.text(f"and {count_text(left, 'more profile')} on the sheet Footage and orders", NOTE)


def _picture(page: _Page, schedule: Schedule) -> None:
    """Show the network; the rows below it keep the room."""
    drawn = network_picture(schedule)
    if drawn is None:
        return
    page.append([])
    image = Image(BytesIO(drawn))
    image.width, image.height = _PICTURE
    page.sheet.add_image(image, f"A{page.row + 1}")
    for _ in range(_PICTURE_ROWS):
        page.sheet.row_dimensions[page.row + 1].height = _PICTURE[1] * 0.75 / _PICTURE_ROWS
        page.append([])


def _rates(page: _Page, view: View) -> None:
    """Show what the rates on the sheet Basis come to now, beside what was planned with them."""
    crew, currency = view.schedule.crew, view.schedule.rules.prices.currency
    planned = (
        ("Working days", "working_days_now", crew.working_days, "0"),
        ("Crew-days", "crew_days_now", crew.crew_days, "0"),
        (_money("Cost of crews", currency), "crew_cost_now", None, MONEY),
        (_money("Cost of site splices", currency), "splice_cost_now", None, MONEY),
        (_money("Cost of all to order that has a price", currency), "cost of the order", None, MONEY),
    )
    rows = [(label, view.live[key], figure, form) for label, key, figure, form in planned if key in view.live]
    if not rows:
        return
    page.heading("By the rates on the sheet Basis")
    page.head(("What", "", "Now", "As planned"))
    for label, now, figure, form in rows:
        page.choice(label, (now, form), (now.value if figure is None else figure, form))
    page.text(
        "Formulas: change a shaded value on the sheet Basis, or a spare on the order list, and they follow.", NOTE
    )


def _money(title: str, currency: str | None) -> str:
    return f"{title} [{' '.join(currency.split())}]" if currency else title


def _what_if(page: _Page, schedule: Schedule, measure: Measure) -> None:
    """Show what neighbouring choices would cost."""
    if not schedule.what_if:
        return
    currency, unit = schedule.rules.prices.currency, measure.long_unit
    priced = all(row.priced for row in schedule.what_if)
    cost_title = f"Cost [{currency}]" if priced and currency else "Cost" if priced else f"Cost [{unit} of strip]"
    page.heading("What if")
    page.head(("Choice", "", cost_title, "Site splices", "Rolls", f"To order [{unit}]", f"Left over [{unit}]"))
    for row in schedule.what_if:
        page.choice(
            row.choice,
            (row.cost if priced else measure.long(row.cost), "#,##0.00"),
            (row.splices, "#,##0"),
            (row.rolls, "#,##0"),
            (measure.long(row.order_m), "#,##0.0"),
            (measure.long(row.left_m), "#,##0.0"),
        )
    page.text(
        "Cost is that of rolls and of splices inside runs; fittings and the welds at their legs are not in it.", NOTE
    )


def _findings(page: _Page, schedule: Schedule) -> None:
    counts = Counter(finding.severity for finding in schedule.findings)
    page.heading("Open findings: " + ", ".join(count_text(counts[severity], severity.value) for severity in Severity))
    telling = [finding for finding in schedule.findings if finding.severity is not Severity.NOTE]
    for finding in telling[:_MOST_FINDINGS]:
        page.text(finding.message, BODY, label=finding.severity.value, label_look=BODY)
    left = len(telling) - _MOST_FINDINGS
    if left > 0:
        page.text(f"and {left:,} more on the sheet Findings", NOTE)


def _readers(page: _Page) -> None:
    page.heading("Who needs which sheet")
    for reader, sheets in _READERS:
        cells = [page.stamp(replace(BODY, bold=True), reader)]
        links = [page.stamp(BODY, Link(text=name, place=f"'{name}'!A1")) for name in sheets]
        page.append([*cells, *links, *(page.stamp(BODY, None) for _ in range(_LAST - 1 - len(links)))])


def _drawings(page: _Page, schedule: Schedule, measure: Measure) -> None:
    page.heading("Drawings")
    for drawing in schedule.drawings[:_MOST_DRAWINGS]:
        skipped = sum(drawing.skipped.values())
        page.text(
            f"{drawing.file}: {count_text(len(drawing.lines), 'line')}, "
            f"{measure.round_text(drawing.length_m)} as drawn, unit {drawing.unit.value}; "
            f"{count_text(skipped, 'selected entity', 'selected entities')} left out",
            PLAIN,
        )
        page.text(f"SHA-256 {drawing.sha256}", NOTE)
    left = len(schedule.drawings) - _MOST_DRAWINGS
    if left > 0:
        page.text(f"and {count_text(left, 'more drawing')}, listed in the JSON record", NOTE)
