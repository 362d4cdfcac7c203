"""The inspection log filled in, saved by LibreOffice and carried over: its entries are on the same splices.

Collected only where there is a ``soffice``.
"""

import datetime as dt
import subprocess

import pytest
from openpyxl import load_workbook

from splicewright.schedule.carryover import carry
from splicewright.schedule.earlier_log import read_log
from splicewright.schedule.log_form import LOG_SHEET
from splicewright.schedule.workbook import write_workbook

ENTRIES = {
    "W1-1": {"Result": "accepted", "Date": dt.datetime(2026, 3, 2)},
    "S1": {"Result": "rejected", "Date": "2 March", "Defect": "Charred or burnt material", "Remarks": "=1+1"},
    "S2": {"Result": "made again", "Date": 20260302, "Initials": "ÄÖ", "Remarks": "<b>😀</b>"},
}


@pytest.fixture(scope="module")
def schedule(schedule_of):
    """
    An ell and a straight run.

        ------+   ---------------
              |
    """
    return schedule_of([(0, 0), (5, 0), (5, -5)], [(9, 0), (29, 0)])


@pytest.fixture(scope="module")
def saved(schedule, tmp_path_factory):
    """The workbook with entries and a column more, opened and saved by LibreOffice."""
    folder = tmp_path_factory.mktemp("log")
    write_workbook(schedule, folder / "job.xlsx", imperial=False)
    book = load_workbook(folder / "job.xlsx")
    sheet = book[LOG_SHEET]
    column = {cell.value: cell.column for cell in sheet[3]}
    row = {cells[0].value: cells[0].row for cells in sheet.iter_rows()}
    for mark, typed in ENTRIES.items():
        for title, value in typed.items():
            sheet.cell(row[mark], column[title]).value = value
    sheet.cell(3, sheet.max_column + 1).value = "Heat [°C]"
    sheet.cell(row["S1"], sheet.max_column).value = 188.5
    book.save(folder / "job.xlsx")
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", "out"]
    subprocess.run([*command, "job.xlsx"], cwd=folder, check=True, capture_output=True, timeout=180)
    return folder / "out" / "job.xlsx"


def test_entries_outlive_libreoffice(saved, schedule):
    """Texts, dates, numbers and added columns are carried to their marks; formulas count as what they came to."""
    carried = carry(read_log(saved), schedule.log, tolerance_m=0.005)
    expected = {mark: dict(typed) for mark, typed in ENTRIES.items()}
    expected["W1-1"]["Date"] = 46083
    expected["S1"] |= {"Remarks": 2, "Heat [°C]": 188.5}

    assert expected == {
        mark: {title: typed.value for title, typed in entry.typed.items()} for mark, entry in carried.entries.items()
    }
    assert "yyyy-mm-dd" == carried.entries["W1-1"].typed["Date"].form
    assert () == carried.left


@pytest.mark.filterwarnings("ignore:Cell .* is marked as a date:UserWarning")
def test_checks_and_colours_outlive_libreoffice(saved):
    """LibreOffice reads the checks of what is typed and the colours, and writes them again."""
    sheet = load_workbook(saved)[LOG_SHEET]

    assert 4 == len(sheet.data_validations.dataValidation)
    assert {"date", "list", "textLength"} == {guard.type for guard in sheet.data_validations.dataValidation}
    assert any("rejected" in rule.formula[0] for area in sheet.conditional_formatting for rule in area.rules)
