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
    # Written again by a library that keeps formulas without their values, so that nothing but their results can show.
    openpyxl.load_workbook(folder / f"{JOB}.schedule.xlsx").save(folder / "bare.xlsx")
    found = {}
    for path in convert(folder, "bare.xlsx", AS_CSV):
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem.removeprefix("bare-")] = list(csv.reader(file))
    return found


@pytest.fixture(scope="module")
def book(folder):
    """The workbook as a program reads it that works nothing out."""
    return openpyxl.load_workbook(folder / f"{JOB}.schedule.xlsx", data_only=True)


@pytest.fixture(scope="module")
def formulas(folder):
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
def test_formulas_are_worked_out(sheets, book, formulas):
    """What LibreOffice makes of every formula is the value that was written with it; none is an error."""
    seen = dict.fromkeys(formulas.sheetnames, 0)
    for sheet in formulas:
        for cell in (cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"):
            shown = float(sheets[sheet.title][cell.row - 1][cell.column - 1])
            written = book[sheet.title][cell.coordinate].value
            assert shown == pytest.approx(written, rel=1e-9, abs=1e-9), (sheet.title, cell.coordinate, cell.value)
            seen[sheet.title] += 1

    assert {"Summary", "Fittings", "Footage and orders", "Order list", "Day model"} <= {s for s, n in seen.items() if n}
    assert 300 < sum(seen.values())


def test_results_are_the_programs(book, totals):
    """Crew-days and what stands beside them as planned are the record's."""
    rows = {row[0]: row for row in book["Day model"].iter_rows(max_col=3, values_only=True) if row[0]}

    assert (totals["crew_days"], totals["crew_days"]) == rows["Crew-days"][1:]
    assert rows["Working days"][1] == rows["Working days"][2]


def test_a_changed_price_and_spare_change_the_cost(folder, formulas):
    """A dearer roll and two more of it, typed into the workbook, come out in the cost on the first page."""
    rates = {row[0].value: row[1] for row in formulas["Basis"].iter_rows(max_col=2)}
    roll = next(name for name in rates if name and name.startswith("Price of a roll, wide-bulb"))
    lines = {row[1].value: row for row in formulas["Order list"].iter_rows(max_col=12) if row[2].value == "wide-bulb"}
    changed = openpyxl.load_workbook(folder / f"{JOB}.schedule.xlsx")
    changed["Basis"][rates[roll].coordinate].value = 400
    changed["Order list"][lines["roll"][6].coordinate].value = 3
    changed.save(folder / "changed.xlsx")
    convert(folder, "changed.xlsx", AS_CSV)
    with (folder / "out" / "changed-Summary.csv").open(encoding="utf-8", newline="") as file:
        rows = {row[0]: row for row in csv.reader(file)}
    needed = lines["roll"][5].value

    assert 185 + 400 * (needed + 3) == float(rows["Cost of all to order that has a price"][2])


@pytest.mark.outside(
    what="totals of fittings, rolls, shop and site splices of the demo",
    against="LibreOffice Calc, adding up the sheets",
    result="equal to the totals of the schedule for other programs",
)
def test_sheets_agree_with_the_record(sheets, totals):
    """Fittings, splices and rolls on the sheets add up to the record's totals."""
    copies = [float(value) for value in column(sheets["Fittings"], "Copies")]
    rolls = [float(value) for value in column(sheets["Footage and orders"], "Rolls to order")]
    made = column(sheets["Splices"], "Made in")

    assert 2 * totals["fittings"] == sum(copies)  # the list and its sum
    assert 2 * totals["rolls"] == sum(rolls)
    assert (totals["factory_splices"], totals["field_splices"]) == (made.count("shop"), made.count("site"))


def test_the_summary_is_two_pages(folder, units):
    """Printed, it begins with the job's name and ends with the cautions on the next page, on the reader's paper."""
    (pdf,) = convert(folder, f"{JOB}.schedule.xlsx", "pdf")
    first, second, third = (
        subprocess.run(
            ["pdftotext", "-f", page, "-l", page, "-layout", str(pdf), "-"], check=True, capture_output=True, text=True
        ).stdout
        for page in "123"
    )
    paper = subprocess.run(["pdfinfo", str(pdf)], check=True, capture_output=True, text=True).stdout

    assert JOB in first
    assert "Who needs which sheet" in first
    assert "Long rolls are heavy" in second
    assert "Every weld of the barrier" in third
    assert {"imperial": "letter", "metric": "A4"}[units] in paper


def test_a_damaged_workbook_would_be_noticed(folder):
    """A workbook that is cut short does not open, so that opening proves something."""
    whole = (folder / f"{JOB}.schedule.xlsx").read_bytes()
    (folder / "damaged.xlsx").write_bytes(whole[: len(whole) // 2])
    convert(folder, "damaged.xlsx", "ods")

    assert not (folder / "out" / "damaged.ods").exists()
