"""The day model in LibreOffice: rates changed on the sheet Basis give the days that the program gives for them.

Collected only where there is a ``soffice``.
"""

import csv
import subprocess
from pathlib import Path

import openpyxl
import pytest

from splicewright.schedule.job import schedule_job
from splicewright.schedule.rules import load_rules
from splicewright.schedule.workbook import write_workbook

BASIN = Path(__file__).parents[3] / "fixtures" / "settling-basin"
AS_CSV = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1"

# A name, what is typed into the workbook, and the same as rules.
CHANGES = [
    ("as made", {}, {}),
    ("quicker", {"Minutes, butt": 22.0}, {"crew.minutes.butt": "22 min"}),
    ("short shift", {"Shift": 360.0}, {"crew.shift": "6 h"}),
    ("two crews", {"Crews": 2}, {"crew.crews": 2}),
    ("slow ways", {"Walking": 2.0, "Climbing": 0.5}, {"crew.walking": "2 m/min", "crew.climbing": "0.5 m/min"}),
    ("hard walls", {"Factor, wall": 2.0, "Overlap": 30.0}, {"crew.position.wall": 2.0, "crew.overlap": "30 min"}),
]


def plan(options):
    rules = load_rules(BASIN / "rules.toml", options=options)
    return schedule_job([BASIN / "settling-basin.dxf"], rules, name="basin")


@pytest.fixture(scope="module")
def recalculated(tmp_path_factory):
    """For each change, crew-days and working days as LibreOffice works them out."""
    folder = tmp_path_factory.mktemp("live")
    write_workbook(plan({}), folder / "made.xlsx", imperial=False)
    for name, typed, _ in CHANGES:
        book = openpyxl.load_workbook(folder / "made.xlsx")
        cells = {row[0].value: row[1] for row in book["Basis"].iter_rows(max_col=2)}
        for rate, value in typed.items():
            cells[rate].value = value
        book.save(folder / f"{name}.xlsx")
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    books = [f"{name}.xlsx" for name, _, _ in CHANGES]
    command = ["soffice", profile, "--headless", "--convert-to", AS_CSV, "--outdir", "out", *books]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=300)
    found = {}
    for name, _, _ in CHANGES:
        with (folder / "out" / f"{name}-Day model.csv").open(encoding="utf-8", newline="") as file:
            rows = {row[0]: row[1] for row in csv.reader(file) if len(row) > 1}
        found[name] = (float(rows["Crew-days"]), float(rows["Working days"]))
    return found


@pytest.mark.parametrize(("name", "options"), [(name, options) for name, _, options in CHANGES])
def test_changed_rates_give_the_days_of_the_program(recalculated, name, options):
    """
    Crew-days and working days are those that the program plans by the changed rules.

    Storeys and tours depend on the speeds; the two of this job are slowed down alike enough to keep their order.
    """
    crew = plan(options).crew

    assert recalculated[name] == (crew.crew_days, crew.working_days)


def test_the_changes_change_something(recalculated):
    """The rates do more than stand there: four of the changes give other crew-days than the workbook as made."""
    made = recalculated["as made"][0]

    assert {"quicker", "short shift", "slow ways", "hard walls"} == {
        name for name, (crew_days, _) in recalculated.items() if crew_days != made
    }
    assert recalculated["two crews"][1] < recalculated["as made"][1]
