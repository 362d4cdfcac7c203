"""Site sheets: crew days, inspection and its log, drawing findings, the basis of the schedule."""

from openpyxl import Workbook
from openpyxl.worksheet.datavalidation import DataValidation

from .measure import count_text, marks_text
from .sheet import PLAIN, SUBHEAD, Column, Sheet, Table, column_widths, write_across, write_table
from .sheet_view import MINUTES, View, number_column, text_column

__all__ = ["write_basis", "write_crew", "write_criteria", "write_findings", "write_log"]

_RESULTS = "accepted,rejected,made again"


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
        number_column("Warm-up [min]", MINUTES, least=11),
        number_column("Sample weld [min]", MINUTES, least=11),
        number_column("Splices [min]", MINUTES, least=11),
        number_column("Moving, covers [min]", MINUTES, least=11),
        number_column("Left of shift [min]", MINUTES, least=11),
        number_column("Cool-down, unattended [min]", MINUTES, least=11),
        number_column(f"Walked [{view.measure.long_unit}]", MINUTES, least=9),
        text_column("Splices made", most=40, least=20),
        text_column("Where", most=40, least=16),
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
    _append_notes(sheet, view, table, last)


def _append_notes(sheet: Sheet, view: View, table: Table, last: int) -> None:
    widths = column_widths(table)
    sheet.append([])
    write_across(sheet, last + 2, "How to weld", SUBHEAD, widths)
    for row, note in enumerate(view.schedule.rules.notes, last + 3):
        write_across(sheet, row, f"•  {note.text} ({note.source})", PLAIN, widths)


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


def write_log(book: Workbook, view: View) -> None:
    """Write the inspection log to fill in."""
    columns = (
        text_column("Mark", least=8),
        text_column("What", most=44, least=16),
        text_column("Run or node"),
        text_column("Day"),
        text_column("Crew"),
        text_column("Result", least=13),
        Column(title="Date", form="yyyy-mm-dd", least=12, side="left"),
        text_column("Initials", least=10),
        text_column("Remarks", least=36),
    )
    places = {splice.mark: splice.run or splice.node for splice in view.schedule.splices}
    unfilled = (None, None, None, None)
    rows = [
        (entry.mark, entry.what, places.get(entry.mark), entry.day, entry.crew, *unfilled)
        for entry in view.schedule.log
    ]
    note = "A line for every splice and every sample weld, to fill in: result (choose from the list), date, initials."
    sheet, last = write_table(book, "Inspection log", note, Table(columns=columns, rows=rows, roomy=True), view.paper)
    if rows:
        _guard_entries(sheet, last)


def _guard_entries(sheet: Sheet, last: int) -> None:
    """Guide what people fill in, so that results can be counted afterwards."""
    result = DataValidation(type="list", formula1=f'"{_RESULTS}"', allow_blank=True)
    result.error = f"Choose one of: {_RESULTS.replace(',', ', ')}."
    date = DataValidation(type="date", operator="greaterThan", formula1="DATE(2000,1,1)", allow_blank=True)
    date.error = "Give a date."
    initials = DataValidation(type="textLength", operator="lessThanOrEqual", formula1="6", allow_blank=True)
    initials.error = "Initials have at most six letters."
    for guard, letter in ((result, "F"), (date, "G"), (initials, "H")):
        guard.showErrorMessage = True
        guard.errorTitle = "Inspection log"
        guard.add(f"{letter}4:{letter}{last}")
        sheet.data_validations.append(guard)


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
    rows = []
    for number, finding in enumerate(view.schedule.findings, 1):
        source = finding.sources[0] if finding.sources else None
        where = (source.layer, source.entity) if source else (None, None)
        file = (source.file if source else None,) if view.files else ()
        place = view.place(finding.at_m)
        rows.append((number, finding.severity.value, finding.message, *place, *where, finding.code, *file))
    note = (
        "What is odd in the drawings. An error leaves the barrier broken or unbuildable until someone decides; a "
        "warning is likely a drafting slip or an assumption to confirm; a note tells what was done. "
        f"Places are in {view.place_words()}."
    )
    write_table(book, "Findings", note, Table(columns=columns, rows=rows), view.paper)


def write_basis(book: Workbook, view: View) -> None:
    """Write every rule in force with its source."""
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
    note = (
        "Every rule in force. What is marked assumed has no source: check it and put the job's own value into the "
        "rules file under the name in the first column."
    )
    write_table(book, "Basis", note, Table(columns=columns, rows=rows), view.paper)
