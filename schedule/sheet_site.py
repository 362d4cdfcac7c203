"""Site sheets: crew days, inspection and its log, drawing findings, the basis of the schedule."""

from collections.abc import Sequence
from dataclasses import replace

from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, Series
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.pagebreak import Break

from .cell import BODY, HEAD, INPUT, PLAIN, SUBHEAD, Sheet, Stamp
from .measure import count_text, marks_text
from .rate import Rate, rates_of
from .sheet import Table, ask_number, column_widths, open_sheet, write_across, write_rows, write_table, write_title
from .sheet_view import MINUTES, Row, View, number_column, text_column

__all__ = ["write_basis", "write_crew", "write_criteria", "write_findings"]

_BASIS = "Basis"
_WIDE = 100
_MOST_BARS = 60
_ONE_PAGE = 20


def write_crew(book: Workbook, view: View) -> None:
    """Write the days of the welding crews, and below them how to weld."""
    crew = view.schedule.crew
    dated = any(day.on for day in crew.days)
    columns = (
        text_column("Day"),
        *((text_column("Date", least=11),) if dated else ()),
        text_column("Crew"),
        number_column("People"),
        number_column("Splices"),
        number_column("Warm-up [min]", MINUTES, least=9),
        number_column("Sample weld [min]", MINUTES, least=9),
        number_column("Splices [min]", MINUTES, least=9),
        number_column("Moving, covers [min]", MINUTES, least=9),
        number_column("Left of shift [min]", MINUTES, least=9),
        number_column("Cool-down, unattended [min]", MINUTES, least=9),
        number_column(f"Walked [{view.measure.long_unit}]", MINUTES, least=9),
        text_column("Splices made", most=32, least=20),
        text_column("Where", most=32, least=16),
    )
    rows = [
        (
            day.day,
            *((day.on.isoformat() if day.on else None,) if dated else ()),
            day.crew,
            day.people,
            len(day.splices),
            day.warm_up_min,
            day.sample_weld_min,
            day.splice_min,
            day.move_min + day.cover_min,
            day.idle_min,
            day.cool_down_min,
            view.measure.long(day.walked_m),
            marks_text(day.splices),
            ", ".join(day.zones),
        )
        for day in crew.days
    ]
    note = (
        f"{count_text(crew.crews, 'crew')} of {crew.people} people, {count_text(crew.crew_days, 'crew-day')}, "
        f"done after {count_text(crew.working_days, 'working day')}; one sample weld a crew and day. "
        "Below the list: how to weld."
    )
    table = Table(columns=columns, rows=rows)
    sheet, last = write_table(book, "Crew days", note, table, view.paper)
    last = _append_notes(sheet, view, table, last)
    if 1 < len(rows) <= _MOST_BARS:
        _draw_days(sheet, len(rows), 5 if dated else 4, last + 2)
        if len(rows) <= _ONE_PAGE:
            sheet.page_setup.fitToHeight = 1  # a picture is not to be cut by the edge of a page
        else:
            sheet.row_breaks.append(Break(id=last + 1))


def _draw_days(sheet: Sheet, rows: int, column: int, at_row: int) -> None:
    """Draw the splices of each day and crew as bars."""
    chart = BarChart()
    chart.title = chart.legend = None
    chart.gapWidth = 40
    chart.x_axis.title, chart.y_axis.title = "day, or day and crew", "splices"
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.scaling.min = 0
    series = Series(Reference(sheet, min_col=column, min_row=4, max_row=3 + rows), title=None)
    series.graphicalProperties.solidFill = "7F7F7F"
    chart.series.append(series)
    chart.set_categories(Reference(sheet, min_col=1, min_row=4, max_row=3 + rows))
    chart.width, chart.height = min(24.0, 6.0 + 0.8 * rows), 6.5
    sheet.add_chart(chart, f"A{at_row}")


def _append_notes(sheet: Sheet, view: View, table: Table, last: int) -> int:
    """Write how to weld, and return the number of the last row."""
    widths = column_widths(table)
    sheet.append([])
    write_across(sheet, last + 2, "How to weld", SUBHEAD, widths)
    for row, note in enumerate(view.schedule.rules.notes, last + 3):
        write_across(sheet, row, f"•  {note.text} ({note.source})", PLAIN, widths)
    return last + 2 + len(view.schedule.rules.notes)


def write_criteria(book: Workbook, view: View) -> None:
    """Write when to reject a splice."""
    columns = (
        text_column("No.", least=6),
        text_column("Reject a splice for", most=40, least=30),
        text_column("When", most=36, least=24),
        text_column("Source", most=30, least=20),
    )
    rows = [(n, row.text, row.limit, row.source) for n, row in enumerate(view.schedule.rules.inspection, 1)]
    note = (
        "When to reject a splice. The list is open: the specification may add to it. Destructive tests on samples "
        "only, never on installed work. The log to fill in is on the next sheet."
    )
    write_table(book, "Inspection", note, Table(columns=columns, rows=rows), view.paper)


def write_findings(book: Workbook, view: View) -> None:
    """Write what is odd in the drawings."""
    columns = (
        text_column("No.", least=6),
        text_column("Severity", least=10),
        text_column("Finding", most=64, least=30),
        *view.place_columns(),
        text_column("Layer", most=26),
        text_column("Entity", most=24),
        text_column("Code", most=22),
        *((text_column("Drawing", most=30),) if view.files else ()),
    )
    rows: list[Row] = []
    for number, finding in enumerate(view.schedule.findings, 1):
        source = finding.sources[0] if finding.sources else None
        where = (source.layer, source.entity) if source else (None, None)
        file = (source.file if source else None,) if view.files else ()
        place = view.place(finding.at_m)
        shown = view.mapped(number, place=f"finding-{number}") if finding.at_m else number
        rows.append((shown, finding.severity.value, finding.message, *place, *where, finding.code, *file))
    note = (
        "What is odd in the drawings. An error leaves the barrier broken or unbuildable until someone decides; a "
        "warning is likely a drafting slip or an assumption to confirm; a note tells what was done. "
        f"X, Y and Z are in {view.place_words()}, places within sentences in metres."
    )
    sheet, last = write_table(book, "Findings", note, Table(columns=columns, rows=rows), view.paper)
    if rows:
        _mark_open(sheet, f"A4:{get_column_letter(len(columns))}{last}")


def _mark_open(sheet: Sheet, area: str) -> None:
    """Let errors stand out strongly and warnings less so, in grey print by their weight."""
    strong, mild = PatternFill(bgColor="F4C7C3"), PatternFill(bgColor="FFF2CC")
    for word, fill, font in (("error", strong, Font(bold=True, color="7A0000")), ("warning", mild, None)):
        sheet.conditional_formatting.add(area, FormulaRule(formula=[f'$B4="{word}"'], fill=fill, font=font))


def write_basis(book: Workbook, view: View) -> None:
    """Write the rates that formulas use, with their names, and below them every rule in force with its source."""
    columns = (
        text_column("Rule", most=48, least=20),
        text_column("Value", most=22, least=12),
        text_column("Set by", least=9),
        text_column("What it decides", most=46, least=30),
        text_column("Source", most=30, least=16),
    )
    rows = [
        (row.path, row.value, "this job" if row.by_user else "default", row.meaning, row.source)
        for row in view.schedule.rules.basis()
    ]
    table = Table(columns=columns, rows=rows, name=_BASIS, filtered=True)
    widths = column_widths(table)
    sheet = open_sheet(book, _BASIS, view.paper, landscape=sum(widths) > _WIDE)
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    sheet.freeze_panes = "A3"
    note = (
        "Change a shaded value and the formulas on other sheets follow; they know it by its name. Below, every rule in "
        "force. What is marked assumed has no source: check it and put the job's own value into the rules file."
    )
    write_title(sheet, _BASIS, note, widths)
    last = _write_rates(book, sheet, rates_of(view))
    for text in (None, "Every rule in force"):
        sheet.append([Stamp(sheet, SUBHEAD).cell(text)])
    sheet.print_title_rows = f"{last + 3}:{last + 3}"
    write_rows(sheet, table, widths, at_row=last + 3)


def _write_rates(book: Workbook, sheet: Sheet, rates: Sequence[Rate]) -> int:
    """Write what formulas use and give each its name; return the number of the last row."""
    sheet.append([Stamp(sheet, SUBHEAD).cell("Rates that formulas use")])
    sheet.row_dimensions[3].height = 19
    looks = [replace(HEAD, across="right" if number == 1 else "left", indent=number > 1) for number in range(5)]
    titles = ("Rate", "Now", "Unit", "Rule it comes from", "Name in formulas")
    sheet.append([Stamp(sheet, look).cell(title) for look, title in zip(looks, titles, strict=True)])
    word = replace(BODY, indent=1, across="left")
    stamps = [Stamp(sheet, look) for look in (replace(BODY, wrap=True), INPUT, word, word, word)]
    row = 4
    for row, rate in enumerate(rates, 5):
        values = (rate.label, rate.value, rate.unit or None, rate.rule, rate.name)
        sheet.append([stamp.cell(value) for stamp, value in zip(stamps, values, strict=True)])
        book.defined_names[rate.name] = DefinedName(rate.name, attr_text=f"{_BASIS}!$B${row}")
    ask_number(sheet, f"B5:B{row}", "A rate is a number, zero or more.")
    return row
