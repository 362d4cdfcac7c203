"""What is written, read by programs and libraries that others wrote, and held against the standards of its kind."""

import csv
import json
from pathlib import Path

import html5lib
import openpyxl
import pytest
from plotly.offline import get_plotlyjs
from python_calamine import CalamineWorkbook

from splicewright.schedule.cli import run

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
JOB = "settling-basin"


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with all that the demo gives, with dates."""
    folder = tmp_path_factory.mktemp("readers")
    rules = (BASIN / "rules.toml").read_text(encoding="utf-8")
    (folder / "rules.toml").write_text(rules + "\n[calendar]\nstart = 2026-03-02\n", encoding="utf-8")
    options = {"--rules": folder / "rules.toml", "--out": folder, "--write": "xlsx,json,html,tickets,ics,csv"}
    run(["schedule", str(BASIN / f"{JOB}.dxf"), *(str(word) for option in options.items() for word in option)])
    return folder


@pytest.mark.outside(
    what="every number, text and date of the demo's workbook, sheet by sheet",
    against="calamine (Rust), through python-calamine",
    result="equal, cell by cell",
)
def test_calamine_reads_what_was_written(folder):
    """A second reader, in another language, finds the same values in the same cells."""
    path = folder / f"{JOB}.schedule.xlsx"
    theirs, ours = CalamineWorkbook.from_path(path), openpyxl.load_workbook(path)
    seen = 0
    for sheet in ours:
        rows = theirs.get_sheet_by_name(sheet.title).to_python(skip_empty_area=False)
        for cell in (cell for row in sheet.iter_rows() for cell in row if cell.data_type in {"n", "s"} and cell.value):
            there = rows[cell.row - 1][cell.column - 1]
            assert cell.value == (there if cell.data_type == "s" else pytest.approx(there, rel=1e-12))
            seen += 1

    assert ours.sheetnames == theirs.sheet_names
    assert 2000 < seen


@pytest.mark.outside(
    what="the map page and the page of tickets",
    against="html5lib, the WHATWG parsing algorithm, which lists every departure from the standard",
    result="no parse error outside the drawing library that the map carries",
)
@pytest.mark.parametrize("name", ["map", "tickets"])
def test_pages_are_html(folder, name):
    """The page is parsed without an error; the library for drawing, as it is shipped, is taken out first."""
    text = (folder / f"{JOB}.{name}.html").read_text(encoding="utf-8")
    library = get_plotlyjs()
    parser = html5lib.HTMLParser(tree=html5lib.getTreeBuilder("etree"))
    parser.parse(text.replace(library, ""))

    assert (name == "map") == (library in text)
    assert [] == [(place, code) for place, code, _ in parser.errors]


@pytest.mark.outside(
    what="lines of the crews' calendar",
    against="RFC 5545, 3.1 (lines of at most 75 octets, CRLF) and 3.6 (VERSION, PRODID; UID, DTSTAMP)",
    result="all hold",
)
def test_lines_of_the_calendar(folder):
    """Lines are short and end as the standard says, and the properties it asks for are there."""
    data = (folder / f"{JOB}.schedule.ics").read_bytes()
    lines = data.split(b"\r\n")

    assert b"" == lines.pop()
    assert data.count(b"\n") == len(lines)
    assert max(map(len, lines)) <= 75
    assert (b"BEGIN:VCALENDAR", b"END:VCALENDAR") == (lines[0], lines[-1])
    assert {b"VERSION:2.0", b"PRODID"} <= {lines[1], *(line.partition(b":")[0] for line in lines)}
    events = [event.split(b"END:VEVENT")[0] for event in data.split(b"BEGIN:VEVENT")[1:]]
    assert events
    assert all(b"\r\nUID:" in event and b"\r\nDTSTAMP:" in event for event in events)


@pytest.mark.outside(
    what="the table of pours for planning programs",
    against="RFC 4180, 2: CRLF, one header, the same number of fields in every record",
    result="all hold",
)
def test_records_of_the_table(folder):
    """Python's csv in its strict mode reads as many fields in each record as in the header."""
    (path,) = folder.glob("*.csv")
    text = path.read_bytes().decode("utf-8-sig")
    records = list(csv.reader(text.splitlines(keepends=True), strict=True))

    assert text.count("\n") == text.count("\r\n") == len(records)
    assert {len(records[0])} == {len(record) for record in records}
    assert 1 < len(records)


@pytest.mark.outside(
    what="the schedule for other programs",
    against="RFC 8259: UTF-8 without a byte order mark, no NaN or Infinity, no name twice in an object",
    result="all hold",
)
def test_names_and_numbers_of_the_record(folder):
    """Python's json finds no constant that is no number, and no pair of equal names."""

    def refuse(text):
        raise ValueError(text)

    def once(pairs):
        assert len(dict(pairs)) == len(pairs)
        return dict(pairs)

    data = (folder / f"{JOB}.schedule.json").read_bytes()

    assert data.startswith(b"{")
    assert json.loads(data, parse_constant=refuse, object_pairs_hook=once)["totals"]
