"""The demo's workbook in LibreOffice: it opens without repair, and what it shows is what was scheduled.

Collected only where there is a ``soffice``.
"""

import csv
import json
import subprocess
from pathlib import Path

import openpyxl
import pytest

from splicewright.schedule.cli import run

BASIN = Path(__file__).parents[3] / "fixtures" / "settling-basin"
JOB = "settling-basin"
# Every sheet (-1), comma and quotes, UTF-8 (76), values as they are rather than as they are formatted.
AS_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"


@pytest.fixture(scope="module", params=["metric", "imperial"])
def units(request):
    return request.param


@pytest.fixture(scope="module")
def folder(units, tmp_path_factory):
    """A folder with the demo's schedule."""
    folder = tmp_path_factory.mktemp(units)
    drawing, rules = BASIN / "settling-basin.dxf", BASIN / "rules.toml"
    run(["schedule", str(drawing), "--rules", str(rules), "--units", units, "--out", str(folder)])
    return folder


def convert(folder, name, kind):
    """Let LibreOffice open a file and save it as another kind, under a profile of its own."""
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, "--headless", "--convert-to", kind, "--outdir", "out", name]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=180)
    return sorted((folder / "out").glob(f"*.{kind.partition(':')[0]}"))


@pytest.fixture(scope="module")
def sheets(folder):
    """Every sheet as LibreOffice reads it, with formulas worked out: rows of texts by the sheet's name."""
    found = {}
    for path in convert(folder, f"{JOB}.schedule.xlsx", AS_CSV):
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem.removeprefix(f"{JOB}.schedule-")] = list(csv.reader(file))
    return found


@pytest.fixture(scope="module")
def book(folder):
    return openpyxl.load_workbook(folder / f"{JOB}.schedule.xlsx")


@pytest.fixture(scope="module")
def totals(folder):
    return json.loads((folder / f"{JOB}.schedule.json").read_bytes())["totals"]


def column(rows, title):
    """The values under a heading, down to the first empty cell of the first column."""
    head = next(number for number, row in enumerate(rows) if title in row)
    values = []
    for row in rows[head + 1 :]:
        if not row[0]:
            break
        values.append(row[rows[head].index(title)])
    return values


def test_every_sheet_opens(sheets, book):
    """LibreOffice reads as many sheets as were written, under the same names."""
    assert sorted(book.sheetnames) == sorted(sheets)


@pytest.mark.outside(
    what="every number of the demo's workbook, metric and imperial",
    against="LibreOffice Calc, converting it",
    result="equal, cell by cell",
)
def test_figures_are_equal(sheets, book):
    """Every number that was written is the number that LibreOffice reads, in the same cell."""
    seen = 0
    for sheet in book:
        for cell in (cell for row in sheet.iter_rows() for cell in row if isinstance(cell.value, int | float)):
            assert cell.value == pytest.approx(float(sheets[sheet.title][cell.row - 1][cell.column - 1]), rel=1e-9)
            seen += 1

    assert 500 < seen


@pytest.mark.outside(
    what="the sums on the sheets",
    against="LibreOffice Calc, working the formulas out",
    result="equal to what stands above them",
)
def test_sums_are_worked_out(sheets, book):
    """Every sum is that of what stands above it, and there are some; the day model has a test of its own."""
    seen = 0
    for sheet in (sheet for sheet in book if sheet.title != "Day model"):
        for cell in (cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"):
            first, last = cell.value.removeprefix("=SUM(").removesuffix(")").split(":")
            above = [float(row[0].value or 0) for row in sheet[first:last]]
            assert sum(above) == pytest.approx(float(sheets[sheet.title][cell.row - 1][cell.column - 1]), rel=1e-9)
            seen += 1

    assert 5 < seen


def test_sheets_agree_with_the_record(sheets, totals):
    """Fittings, splices and rolls on the sheets add up to the record's totals."""
    copies = [float(value) for value in column(sheets["Fittings"], "Copies")]
    rolls = [float(value) for value in column(sheets["Footage and orders"], "Rolls to order")]
    made = column(sheets["Splices"], "Made in")

    assert 2 * totals["fittings"] == sum(copies)  # the list and its sum
    assert 2 * totals["rolls"] == sum(rolls)
    assert (totals["factory_splices"], totals["field_splices"]) == (made.count("shop"), made.count("site"))


def test_the_summary_is_one_page(folder, units):
    """Printed, the first page is the whole summary, from the job's name to the cautions, on the reader's paper."""
    (pdf,) = convert(folder, f"{JOB}.schedule.xlsx", "pdf")
    first = subprocess.run(
        ["pdftotext", "-l", "1", "-layout", str(pdf), "-"], check=True, capture_output=True, text=True
    )
    second = subprocess.run(
        ["pdftotext", "-f", "2", "-l", "2", str(pdf), "-"], check=True, capture_output=True, text=True
    )
    paper = subprocess.run(["pdfinfo", str(pdf)], check=True, capture_output=True, text=True).stdout

    assert JOB in first.stdout
    assert "Long rolls are heavy" in first.stdout
    assert "Every weld of the barrier" in second.stdout
    assert {"imperial": "letter", "metric": "A4"}[units] in paper


def test_a_damaged_workbook_would_be_noticed(folder):
    """A workbook that is cut short does not open, so that opening proves something."""
    whole = (folder / f"{JOB}.schedule.xlsx").read_bytes()
    (folder / "damaged.xlsx").write_bytes(whole[: len(whole) // 2])
    convert(folder, "damaged.xlsx", "ods")

    assert not (folder / "out" / "damaged.ods").exists()
