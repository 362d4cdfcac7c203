"""Earlier workbooks, filled in and mishandled as people do: what was typed is kept, what is unusable is refused."""

import datetime as dt
import zipfile

import pytest
from ezdxf.filemanagement import new
from openpyxl import Workbook, load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.formula import ArrayFormula

from splicewright.extract.errors import RecordError
from splicewright.schedule.cell import PLAIN, Stamp
from splicewright.schedule.cli import run
from splicewright.schedule.earlier_log import read_log
from splicewright.schedule.log_form import KEY_TITLE, LOG_SHEET
from splicewright.schedule.workbook import write_workbook


@pytest.fixture(scope="module")
def made(schedule_of, tmp_path_factory):
    """
    The workbook of an ell and a straight run: S1, S2 and their sample weld, then the seam.

        ------+   ---------------
              |
    """
    path = tmp_path_factory.mktemp("made") / "job.xlsx"
    write_workbook(schedule_of([(0, 0), (5, 0), (5, -5)], [(9, 0), (29, 0)]), path, imperial=False)
    return path


class Book:
    """A workbook in someone's hands."""

    def __init__(self, made, folder):
        self.path = folder / "filled.xlsx"
        self.book = load_workbook(made)
        self.sheet = self.book[LOG_SHEET]

    def head(self):
        return next(row for row in self.sheet.iter_rows() if row[0].value == "Mark")

    def cell(self, mark, title):
        row = next(row[0].row for row in self.sheet.iter_rows() if row[0].value == mark)
        return self.sheet.cell(row, next(cell.column for cell in self.head() if cell.value == title))

    def type(self, mark, title, value):
        self.cell(mark, title).value = value

    def read(self):
        self.book.save(self.path)
        return read_log(self.path)


@pytest.fixture(scope="module")
def alone(made, tmp_path_factory):
    """The log without the other sheets, which is quicker to handle."""
    book = load_workbook(made)
    for sheet in [sheet for sheet in book if sheet.title != LOG_SHEET]:
        del book[sheet.title]
    path = tmp_path_factory.mktemp("alone") / "log.xlsx"
    book.save(path)
    return path


@pytest.fixture
def hand(alone, tmp_path):
    return Book(alone, tmp_path)


def typed(log):
    """What was typed, by mark and heading."""
    return {
        (row.key.mark if row.key else None, title): cell.value
        for row in log.rows
        for title, cell in (row.typed if row.key else {**row.own, **row.typed}).items()
    }


def test_a_workbook_without_entries_brings_nothing(made):
    """Headings, lines, titles and the note are the program's own and no entries."""
    log = read_log(made)

    assert ("job.xlsx", (), ()) == (log.file, log.rows, log.extras)


def test_everything_typed_is_read_as_what_it_is(hand):
    """Text, numbers, truth and blanks around them are kept as typed; cells with nothing but blanks are empty."""
    entries = {"Result": " Rejected ", "Date": "2 March", "Initials": 7, "Defect": True, "Remarks": "two\nlines"}
    for title, value in entries.items():
        hand.type("S1", title, value)
    hand.type("S2", "Remarks", "   ")

    assert {("S1", title): value for title, value in entries.items()} == typed(hand.read())


@pytest.mark.parametrize(
    ("stored", "meant"),
    [
        ("one_x000D_\ntwo", "one\ntwo"),
        ("one_x000D_two", "one\ntwo"),
        ("_x005F_x0041_", "_x0041_"),
        ("_x41_", "_x41_"),
        ("half _xD83D_", "half \ufffd"),
    ],
)
def test_signs_that_a_workbook_spells_out_are_read_as_meant(hand, stored, meant):
    """Workbooks store some signs as _x, four hexadecimal digits and _ (ISO/IEC 29500-1, ST_Xstring; from memory)."""
    hand.type("S1", "Remarks", stored)

    assert {("S1", "Remarks"): meant} == typed(hand.read())


def test_key_of_a_profile_with_an_odd_name_is_known_again(hand):
    """A profile whose name looks like a spelled-out sign has the same name in the key that is read."""
    hand.type("S1", "Remarks", "seen")
    hand.type("S1", KEY_TITLE, Stamp(hand.sheet, PLAIN).cell("S1 | field leg | 1/1 | 0.0 0.0 0.0 | _x0041_").value)
    (row,) = hand.read().rows

    assert "_x0041_" == row.key.profile


@pytest.mark.parametrize(
    ("value", "form", "number", "shown"),
    [
        (dt.datetime(2026, 3, 2), "dd.mm.yyyy", 46083, "yyyy-mm-dd"),
        (dt.date(2026, 3, 2), "m/d/yy", 46083, "yyyy-mm-dd"),
        (dt.datetime(2026, 3, 2, 12), "d-mmm hh:mm", 46083.5, "yyyy-mm-dd hh:mm"),
        (dt.time(6), "h:mm", 0.25, "hh:mm:ss"),
        (dt.timedelta(hours=30), "[h]:mm", 1.25, "[h]:mm:ss"),
        (20260302, "yyyy-mm-dd", 20260302, "General"),  # typed without dashes: no such date, but not to be lost
        (-5, "yyyy-mm-dd", -5, "General"),
        (0.5, "0%", 0.5, "0%"),
        (1234.5, "#,##0.00", 1234.5, "General"),
    ],
)
def test_dates_and_numbers_keep_their_value(hand, value, form, number, shown):
    """A date is one, in whatever form it was shown; a number that cannot be a date stays a number."""
    hand.type("S1", "Date", value)
    hand.cell("S1", "Date").number_format = form
    (row,) = hand.read().rows

    assert (number, shown) == (pytest.approx(row.typed["Date"].value, abs=1e-9), row.typed["Date"].form)


def test_dates_counted_from_1904_are_the_same_days(hand):
    """A workbook that counts its days from 1904 gives the same date."""
    hand.book.epoch = CALENDAR_MAC_1904
    hand.type("S1", "Date", dt.date(2026, 3, 2))
    (row,) = hand.read().rows

    assert 46083 == row.typed["Date"].value


@pytest.mark.parametrize("formula", ['=IF(1=1,"accepted","")', ArrayFormula("F6", '=IF(1=1,"accepted","")')])
def test_a_formula_that_nobody_worked_out_is_kept_as_text(hand, formula):
    """Where the file holds no result of a formula, its text is kept."""
    hand.type("S1", "Result", formula)

    assert {("S1", "Result"): '=IF(1=1,"accepted","")'} == typed(hand.read())


def test_a_formula_counts_as_what_it_came_to(hand):
    """Where the program that saved the file has worked a formula out, its result is the entry."""
    hand.type("S1", "Initials", "=1+1")
    hand.book.save(hand.path)
    worked = hand.path.with_name("worked.xlsx")
    with zipfile.ZipFile(hand.path) as old, zipfile.ZipFile(worked, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name).replace(b"<f>1+1</f><v />", b"<f>1+1</f><v>2</v>"))

    assert {("S1", "Initials"): 2} == typed(read_log(worked))


def test_rows_may_be_sorted_filtered_hidden_and_removed(hand):
    """Lines in any order, out of sight or gone: those that are there are known by their keys."""
    hand.type("S1", "Result", "accepted")
    hand.type("S2", "Result", "rejected")
    first, last = hand.head()[0].row, hand.sheet.max_row
    rows = [[cell.value for cell in row] for row in hand.sheet.iter_rows(min_row=first, max_row=last)]
    hand.sheet.delete_rows(first, last)
    for row in reversed([row for row in rows if row[0] != "W1-1"]):  # the headings end up below
        hand.sheet.append(row)
    hand.sheet.row_dimensions[hand.sheet.max_row - 1].hidden = True
    hand.sheet.auto_filter.add_filter_column(5, ["accepted"])

    assert {("S1", "Result"): "accepted", ("S2", "Result"): "rejected"} == typed(hand.read())


def test_rows_above_and_between_do_not_disturb(hand):
    """Rows put in above the headings and among the lines move everything, and a line typed there is kept whole."""
    hand.type("S2", "Result", "accepted")
    hand.sheet.insert_rows(hand.cell("S2", "Mark").row)
    hand.sheet.insert_rows(1, 4)
    row = hand.cell("S2", "Mark").row - 1
    hand.sheet.cell(row, 1).value, hand.sheet.cell(row, 2).value, hand.sheet.cell(row, 6).value = "drain", "patch", "ok"
    log = hand.read()

    assert {
        ("S2", "Result"): "accepted",
        (None, "Mark"): "drain",
        (None, "What"): "patch",
        (None, "Result"): "ok",
    } == typed(log)
    assert f"row {row}" == log.rows[0].where


def test_columns_may_be_moved_added_and_named_anyhow(hand):
    """Columns are known by their headings; those without or with a double one get names of their own."""
    hand.sheet.insert_cols(6)
    key = next(cell.column for cell in hand.head() if cell.value == KEY_TITLE)
    head, row = hand.head()[0].row, hand.cell("S1", "Mark").row
    for column, title in (
        (6, "Heat\n [°C]"),
        (key + 1, "remarks"),
        (key + 2, None),
        (key + 3, "heat [°c]"),
        (key + 4, 5),
    ):
        hand.sheet.cell(head, column).value = title
        hand.sheet.cell(row, column).value = f"in {column}"
    hand.type("S1", "Remarks", "mine")
    log = hand.read()
    titles = {
        "Remarks": "mine",
        "Heat [°C]": "in 6",
        "remarks (2)": f"in {key + 1}",
        f"Column {hand.sheet.cell(1, key + 2).column_letter}": f"in {key + 2}",
        "heat [°c] (2)": f"in {key + 3}",
        "5": f"in {key + 4}",
    }

    assert {("S1", title): value for title, value in titles.items()} == typed(log)
    assert set(titles) - {"Remarks"} == set(log.extras)


def test_a_renamed_column_loses_nothing(hand):
    """Entries under a heading that someone has changed are kept under that heading."""
    hand.type("S1", "Result", "accepted")
    hand.cell("Mark", "Result").value = "Befund"
    log = hand.read()

    assert {("S1", "Befund"): "accepted"} == typed(log)


def test_what_is_typed_beside_titles_and_headings_is_kept(hand):
    """A name beside the title and a remark on a day's heading are entries as well."""
    hand.sheet["D1"].value = "inspector AB"
    day = next(row[0] for row in hand.sheet.iter_rows() if str(row[0].value).startswith("Day 1"))
    hand.type(day.value, "Remarks", "rain")

    assert {(None, "Day"): "inspector AB", ("D1-1", "Remarks"): "rain"} == typed(hand.read())


def test_a_damaged_key_is_no_key(hand):
    """A line whose key was typed over keeps its entries and everything else on it."""
    hand.type("S1", KEY_TITLE, "oops")
    hand.type("S1", "Result", "accepted")
    found = typed(hand.read())

    assert ("S1", "accepted") == (found[None, "Mark"], found[None, "Result"])


def test_a_copied_sheet_is_read_too(hand):
    """A copy of the log under another name is read after it; rows then tell their sheet."""
    copy = hand.book.copy_worksheet(hand.sheet)
    copy.title = "week 2"
    hand.type("S1", "Result", "accepted")
    copy.cell(hand.cell("S2", "Result").row, hand.cell("S2", "Result").column).value = "rejected"
    log = hand.read()

    assert {("S1", "Result"): "accepted", ("S2", "Result"): "rejected"} == typed(log)
    assert [f"sheet {LOG_SHEET!r}" in log.rows[0].where, "sheet 'week 2'" in log.rows[1].where] == [True, True]


def test_a_renamed_sheet_is_found(hand):
    """The log is known by its headings under whatever name its sheet has."""
    hand.type("S1", "Result", "accepted")
    hand.sheet.title = "Log of March"

    assert {("S1", "Result"): "accepted"} == typed(hand.read())


def test_hostile_entries_stay_text(hand):
    """Markup, right-to-left signs and the longest text a cell holds come back letter by letter."""
    texts = {"Initials": "<b>&amp;</b>", "Defect": "\u202eevil\u202c", "Remarks": "😀" + "x" * 32_000}
    for title, value in texts.items():
        hand.type("S1", title, value)

    assert {("S1", title): value for title, value in texts.items()} == typed(hand.read())


# --- what is refused


def refusal(path):
    with pytest.raises(RecordError) as refused:
        read_log(path)
    return str(refused.value)


def test_what_is_no_workbook_is_refused(tmp_path):
    """A missing file, a folder, a text, a locked file and an OpenDocument file are each told for what they are."""
    (tmp_path / "text.xlsx").write_text("Mark,Result\nS1,accepted\n")
    (tmp_path / "locked.xlsx").write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600))
    (tmp_path / "empty.xlsx").touch()
    with zipfile.ZipFile(tmp_path / "log.ods", "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("readme.txt", "nothing")
    words = {
        "none.xlsx": "there is no such file",
        ".": "cannot be read",
        "text.xlsx": "is no workbook",
        "locked.xlsx": "is locked with a password",
        "empty.xlsx": "is no workbook",
        "log.ods": "save it as .xlsx",
        "other.zip": "cannot be read as a workbook",
    }

    assert {} == {
        name: refusal(tmp_path / name) for name, word in words.items() if word not in refusal(tmp_path / name)
    }


def test_a_foreign_workbook_is_refused(tmp_path):
    """A workbook with other sheets, even one called as the log, has nothing to carry over."""
    book = Workbook()
    book.active.title = LOG_SHEET
    book.active.append(["Mark", "Result"])
    book.save(tmp_path / "foreign.xlsx")

    assert "has no inspection log to carry over" in refusal(tmp_path / "foreign.xlsx")


def test_a_newer_log_is_refused(hand):
    """A log whose keys are of a later form asks for a newer program."""
    hand.cell("Mark", KEY_TITLE).value = "Key, form 2"
    hand.book.save(hand.path)

    assert "newer version" in refusal(hand.path)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.99])
def test_a_workbook_cut_short_is_refused(made, tmp_path, share):
    """A file that was not copied whole is no workbook."""
    whole = made.read_bytes()
    (tmp_path / "cut.xlsx").write_bytes(whole[: int(len(whole) * share)])

    assert "is no workbook" in refusal(tmp_path / "cut.xlsx")


@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/sharedStrings.xml", "xl/styles.xml", "[Content_Types].xml"])
@pytest.mark.parametrize("content", [b"", b"<", b"<a><b/></a>", b"\x00\xff"])
def test_damage_inside_is_told_in_one_sentence(made, tmp_path, part, content):
    """Whatever part is damaged, the answer is an entry-less log or one sentence, never a fault of the program."""
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(tmp_path / "bad.xlsx", "w") as new:
        for name in old.namelist():
            new.writestr(name, content if name == part else old.read(name))
    try:
        said = str(read_log(tmp_path / "bad.xlsx").rows)
    except RecordError as error:
        said = str(error)

    assert said == "()" or said.startswith(str(tmp_path / "bad.xlsx"))
    assert "\n" not in said


def test_a_bomb_is_refused(made, tmp_path):
    """A workbook that says it holds more than 2 GB is not unpacked."""
    path = tmp_path / "bomb.xlsx"
    path.write_bytes(made.read_bytes())
    content = bytearray(path.read_bytes())
    at = content.rindex(b"PK\x01\x02")
    content[at + 24 : at + 28] = (3 << 30).to_bytes(4, "little")
    path.write_bytes(content)

    assert "more than 2 GB" in refusal(path)


# --- on the command line


@pytest.fixture
def basin(tmp_path):
    """A drawing of a straight joint of 40 m and what writes its schedule."""
    document = new("R2018", units=6)
    document.modelspace().add_line((0, 0), (40, 0), dxfattribs={"layer": "WATERSTOP"})
    document.saveas(tmp_path / "joint.dxf")

    def schedule(*options):
        return run(["schedule", str(tmp_path / "joint.dxf"), "--write", "xlsx", *map(str, options)])

    return schedule


def fill(path, value):
    book = load_workbook(path)
    sheet = book[LOG_SHEET]
    row = next(row[0].row for row in sheet.iter_rows() if row[0].value == "S1")
    sheet.cell(row, next(cell.column for cell in sheet[3] if cell.value == "Result")).value = value
    book.save(path)


def result(path):
    sheet = load_workbook(path)[LOG_SHEET]
    at = next(cell.column for cell in sheet[3] if cell.value == "Result")
    return next(row[at - 1].value for row in sheet.iter_rows() if row[0].value == "S1")


def test_a_workbook_may_be_carried_over_into_itself(basin, tmp_path, capsys):
    """`--previous` may name the very file that is written; the earlier one is kept, as always."""
    path = tmp_path / "joint.schedule.xlsx"
    basin()
    fill(path, "accepted")

    assert 0 == basin("--previous", path)
    assert "accepted" == result(path)
    assert "accepted" == result(tmp_path / "joint.schedule.previous-1.xlsx")
    assert "" == capsys.readouterr().err


def test_without_the_option_nothing_is_carried_over(basin, tmp_path):
    """A run without `--previous` gives an empty log beside the earlier one, which is kept."""
    path = tmp_path / "joint.schedule.xlsx"
    basin()
    fill(path, "accepted")
    basin()

    assert (None, "accepted") == (result(path), result(tmp_path / "joint.schedule.previous-1.xlsx"))


@pytest.mark.parametrize(("options", "words"), [((), "no such file"), (("--write", "json"), "let --write hold xlsx")])
def test_the_command_refuses_in_one_sentence_and_writes_nothing(basin, tmp_path, capsys, options, words):
    """An unusable earlier workbook, or no workbook to carry it into, ends with 2 before anything is written."""
    assert 2 == basin("--previous", tmp_path / "none.xlsx", *options)

    said = capsys.readouterr().err
    assert words in said
    assert 1 == said.count("\n")
    assert {"joint.dxf"} == {path.name for path in tmp_path.iterdir()}
