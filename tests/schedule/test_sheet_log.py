"""The inspection log in the workbook: every line, pages to tear off, guides for those who fill it in."""

from dataclasses import replace
from itertools import pairwise

import pytest
from openpyxl import load_workbook
from openpyxl.utils import range_boundaries

from splicewright.schedule import sheet_log
from splicewright.schedule.carryover import EarlierLog, EarlierRow, Typed
from splicewright.schedule.log_form import KEY_TITLE, LOG_SHEET, LogKey
from splicewright.schedule.plan import carry_over
from splicewright.schedule.workbook import write_workbook

DAYS = {"crew.crews": 2, "crew.shift": "4 h"}


@pytest.fixture(scope="module")
def schedule(schedule_of):
    """Thirty runs of 15 m with a splice each, made by two crews in several days, and an ell with a seam."""
    return schedule_of(*[[(0, y), (15, y)] for y in range(30)], [(20, 0), (25, 0), (25, -5)], options=DAYS)


def page_of(schedule, folder, *, imperial=False):
    write_workbook(schedule, folder / "job.xlsx", imperial=imperial)
    return load_workbook(folder / "job.xlsx")[LOG_SHEET]


@pytest.fixture(scope="module")
def page(schedule, tmp_path_factory):
    return page_of(schedule, tmp_path_factory.mktemp("log"))


def rows_of(page):
    """Lines below the headings, by heading."""
    head, *rows = page.iter_rows(min_row=3, values_only=True)
    return [dict(zip(head, row, strict=True)) for row in rows]


def headings(page):
    """Rows that stand over a crew's day, with their number in the sheet."""
    return [
        (number, row["Mark"]) for number, row in enumerate(rows_of(page), 4) if (row[KEY_TITLE] or "").startswith("D")
    ]


def test_every_splice_and_sample_weld_has_a_line(page, schedule):
    """The log's lines stand in its order under a heading for every crew and day; nothing is filled in."""
    lines = [row for row in rows_of(page) if not row[KEY_TITLE].startswith("D")]

    assert [(entry.mark, entry.what, entry.day, entry.crew) for entry in schedule.log] == [
        (row["Mark"], row["What"], row["Day"], row["Crew"]) for row in lines
    ]
    assert {None} == {row[title] for row in lines for title in ("Result", "Date", "Initials", "Defect", "Remarks")}


def test_every_crew_and_day_has_a_page_of_its_own(page, schedule):
    """A heading names day and crew, counts their splices, and stands at the top of a page; so does the shop's."""
    days = schedule.crew.days
    expected = [
        f"Day {day.day}, crew {day.crew}: {len(day.splices)} splices".replace(" 1 splices", " 1 splice") for day in days
    ]

    assert len(days) > 3
    assert [*expected, "Fittings from the shop, on delivery: 1 seam"] == [text for _, text in headings(page)]
    assert [number - 1 for number, _ in headings(page)][1:] == [one.id for one in page.row_breaks.brk]


def test_dated_days_show_their_date(schedule_of, tmp_path):
    """Where the job has a start, the heading of a day has its date, year first."""
    made = schedule_of([(0, 0), (15, 0)], more="\n[calendar]\nstart = 2026-03-02\n")

    assert "Day 1, crew 1, 2026-03-02: 1 splice" == headings(page_of(made, tmp_path))[0][1]


def test_every_page_carries_the_criteria_with_their_sources(page, schedule):
    """The rows that repeat on every printed page hold the headings and what to reject for, with the sources."""
    text = page["A2"].value

    assert "$2:$3" == page.print_title_rows
    assert [] == [row for row in schedule.rules.inspection if f"{row.text}: {row.limit} ({row.source})" not in text]


def test_very_many_criteria_leave_room_for_the_log(schedule, tmp_path):
    """Five hundred criteria do not fill the pages: they stay on their own sheet, and the log refers to it."""
    rules = replace(schedule.rules, inspection=schedule.rules.inspection * 50)
    page = page_of(replace(schedule, rules=rules), tmp_path)

    assert len(page["A2"].value) < 600
    assert "the sheet Inspection lists" in page["A2"].value


def guards_of(page):
    """Checks of what is typed, by the heading of their column."""
    titles = {cell.column: cell.value for cell in page[3]}
    return {titles[next(iter(guard.sqref.ranges)).min_col]: guard for guard in page.data_validations.dataValidation}


def test_what_is_filled_in_is_checked_from_the_first_line_to_the_last(page):
    """Result, date, initials and defect are checked; lists and messages are no longer than a spreadsheet takes."""
    guards = guards_of(page)

    assert {"Result", "Date", "Initials", "Defect"} == set(guards)
    for guard in guards.values():
        column = next(iter(guard.sqref.ranges))
        assert (4, page.max_row) == (column.min_row, column.max_row)
        assert guard.showErrorMessage
        assert max(len(guard.formula1), len(guard.error)) <= 255
        assert len(guard.errorTitle) <= 32


def test_the_defect_is_chosen_from_the_criteria(page, schedule):
    """The list behind the column Defect is the criteria on their sheet; another text may be kept on asking."""
    guard = guards_of(page)["Defect"]
    sheet, _, area = guard.formula1.replace("$", "").replace("'", "").partition("!")
    left, top, right, bottom = range_boundaries(area)
    listed = [page.parent[sheet].cell(row, left).value for row in range(top, bottom + 1)]

    assert left == right
    assert [row.text for row in schedule.rules.inspection] == listed
    assert "warning" == guard.errorStyle


def test_rejected_splices_are_coloured(page):
    """A format over all lines looks for what the list of results offers."""
    formats = {str(area.sqref): [rule.formula[0] for rule in area.rules] for area in page.conditional_formatting}
    last = page.max_row

    assert {f"A4:J{last}", f"I4:I{last}"} == set(formats)
    assert '"accepted,rejected,made again"' == guards_of(page)["Result"].formula1
    assert any('"rejected"' in formula for formula in formats[f"A4:J{last}"])


def test_the_key_is_hidden_and_last(page):
    """The column that tells a later run which line is which stands last, out of sight and off the paper."""
    letter = page.cell(3, page.max_column).column_letter

    assert KEY_TITLE == page[f"{letter}3"].value
    assert page.column_dimensions[letter].hidden
    assert [LogKey.parse(row[KEY_TITLE]).text for row in rows_of(page)] == [row[KEY_TITLE] for row in rows_of(page)]


def test_thousands_of_days_stay_within_the_page_breaks_of_a_sheet(schedule, tmp_path, monkeypatch):
    """A sheet takes some thousand page breaks; days beyond go on without."""
    monkeypatch.setattr(sheet_log, "_MOST_BREAKS", 2)

    assert 2 == len(page_of(schedule, tmp_path).row_breaks.brk)


def carried(schedule, *rows):
    return carry_over(schedule, EarlierLog(file="old.xlsx", rows=rows, extras=("Heat",)))


def typed(key, **cells):
    return EarlierRow(where="row 9", key=key, own={}, typed={title: Typed(value=v) for title, v in cells.items()})


def test_what_was_filled_in_stands_on_its_line(schedule, tmp_path):
    """Entries are in the new log as what they were: text that looks like a formula is text, numbers are numbers."""
    keys = {entry.mark: entry.key for entry in schedule.log}
    row = typed(keys["S5"], Result="rejected", Date="2 March", Remarks="=1+1", Heat=188.5)
    page = page_of(carried(schedule, row), tmp_path)
    (line,) = (line for line in rows_of(page) if line["Mark"] == "S5")
    cell = next(cell for cell in page["J"] if cell.value == "=1+1")

    assert ("rejected", "2 March", "=1+1", 188.5) == (line["Result"], line["Date"], line["Remarks"], line["Heat"])
    assert "s" == cell.data_type


def test_a_date_is_written_year_first_and_other_numbers_as_they_are(schedule, tmp_path):
    """A date stays a date; a number typed in its column is shown as a number."""
    keys = {entry.mark: entry.key for entry in schedule.log}
    date = EarlierRow(where="", key=keys["S1"], own={}, typed={"Date": Typed(value=46083, form="yyyy-mm-dd")})
    page = page_of(carried(schedule, date, typed(keys["S2"], Date=20260303)), tmp_path)
    shown = {row[0].value: (row[6].value, row[6].number_format) for row in page.iter_rows(min_row=4)}

    assert ("2026-03-02", "yyyy-mm-dd") == (shown["S1"][0].date().isoformat(), shown["S1"][1])
    assert (20260303, "General") == shown["S2"]


def test_marks_that_changed_are_told_beside_the_new_ones(schedule, tmp_path):
    """The column of earlier marks is there where a mark changed, and not otherwise."""
    key = next(entry.key for entry in schedule.log if entry.mark == "S5")
    moved = page_of(carried(schedule, typed(replace(key, mark="S77"), Result="accepted")), tmp_path)
    line = next(line for line in rows_of(moved) if line["Mark"] == "S5")
    kept = page_of(carried(schedule, typed(key, Result="accepted")), tmp_path)

    assert ("S77", "accepted") == (line["Earlier marks"], line["Result"])
    assert "Earlier marks" not in [cell.value for cell in kept[3]]


def test_what_is_left_over_stands_at_the_end(schedule, tmp_path):
    """Under a heading that says why stand the lines without a place, with all that was on them."""
    gone = LogKey.of_splice("S900", "field leg", (1.0, 2.0, 3.0), "ribbed")
    hand = EarlierRow(where="row 7", key=None, own={"Mark": Typed(value="drain")}, typed={"Heat": Typed(value=True)})
    *_, first, lost, second, drain = rows_of(page_of(carried(schedule, typed(gone, Result="accepted"), hand), tmp_path))

    assert first["Mark"].startswith("Left over: splices that are not in this schedule any more")
    assert ("accepted", gone.text) == (lost["Result"], lost[KEY_TITLE])
    assert second["Mark"].startswith("Left over: lines that were added by hand")
    assert ("drain", True) == (drain["Mark"], drain["Heat"])


def test_rows_of_a_page_are_as_high_as_their_texts(schedule, tmp_path):
    """A long remark makes its row higher, within what a spreadsheet allows."""
    keys = {entry.mark: entry.key for entry in schedule.log}
    page = page_of(
        carried(schedule, typed(keys["S1"], Remarks="word " * 40), typed(keys["S2"], Remarks="x" * 32_767)), tmp_path
    )
    heights = {row[0].value: page.row_dimensions[row[0].row].height for row in page.iter_rows(min_row=4)}

    assert heights["S3"] < heights["S1"] < heights["S2"] <= 409


def test_the_same_entries_give_the_same_bytes(schedule, tmp_path):
    """Two workbooks of one carried-over schedule are equal byte for byte."""
    keys = {entry.mark: entry.key for entry in schedule.log}
    made = carried(schedule, typed(keys["S1"], Result="accepted", Heat=1.5))
    for name in ("one", "two"):
        write_workbook(made, tmp_path / name, imperial=True)

    assert all(a == b for a, b in pairwise([(tmp_path / name).read_bytes() for name in ("one", "two")]))
