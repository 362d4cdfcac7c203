"""Workbook: the schedule as a spreadsheet for the detailer, the buyer, the site and the project manager."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.writer.excel import ExcelWriter

from splicewright.extract.errors import OutputError

from .cell import BODY, FONT, plain_text
from .formula import FormulaArchive
from .plan import Schedule
from .sheet_bars import write_bars
from .sheet_crew import write_plan, write_power
from .sheet_live import write_day_model
from .sheet_log import write_log
from .sheet_rolls import write_footage, write_orders, write_pieces
from .sheet_shop import write_cuts, write_fittings, write_setups, write_splices
from .sheet_site import write_basis, write_crew, write_criteria, write_findings
from .sheet_view import View
from .summary import open_summary, write_summary

__all__ = ["write_workbook"]

_SHEETS: tuple[Callable[[Workbook, View], None], ...] = (
    write_splices,
    write_fittings,
    write_setups,
    write_cuts,
    write_pieces,
    write_bars,
    write_footage,
    write_orders,
    write_plan,
    write_crew,
    write_power,
    write_day_model,
    write_criteria,
    write_log,
    write_findings,
    write_basis,
)
"""Sheets after the summary, in their order."""

_MOST_TITLE = 255
_FIXED_TIME = datetime(2000, 1, 1)
"""Stands for the time of writing, so that the same schedule gives the same bytes."""


def write_workbook(schedule: Schedule, path: Path, *, imperial: bool, map_file: str = "") -> None:
    """Write a schedule as a spreadsheet.

    The same schedule always gives the same bytes. Lists longer than `sheet.MOST_ROWS` are cut and say so.

    Parameters
    ----------
    schedule : Schedule
    path : Path
        File to write; an existing one is replaced.
    imperial : bool
        Feet, inches and pounds on Letter paper; otherwise metres, millimetres and kilograms on A4.
    map_file : str
        Name of the map page beside the workbook, which marks lead to; empty where there is none.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    try:
        with FormulaArchive(path) as archive:
            ExcelWriter(_book(View.of(schedule, imperial=imperial, map_file=map_file)), archive).write_data()
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror}; choose another folder with --out") from None


def _book(view: View) -> Workbook:
    book = Workbook(write_only=True)
    book.properties.title = plain_text(view.schedule.job)[:_MOST_TITLE]
    book.properties.creator = "Splicewright"
    book.properties.created = book.properties.modified = _FIXED_TIME
    book._named_styles["Normal"].font = Font(name=FONT, size=BODY.size)  # there is no public way to it
    summary = open_summary(book, view)
    for write in _SHEETS:
        write(book, view)
    write_summary(summary, view)
    return book
