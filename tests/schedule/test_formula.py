"""Formulas are written together with their values, wherever a sheet's file happens to be cut into blocks."""

import zipfile

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.writer.excel import ExcelWriter

from splicewright.schedule import formula
from splicewright.schedule.formula import Formula, FormulaArchive


def written(folder, rows):
    """Write rows of formulas and texts; return the file."""
    book = Workbook(write_only=True)
    page = book.create_sheet("Sums")
    for row in rows:
        page.append([value.written if isinstance(value, Formula) else value for value in row])
    with FormulaArchive(folder / "sums.xlsx") as archive:
        ExcelWriter(book, archive).write_data()
    return folder / "sums.xlsx"


@pytest.mark.parametrize("block", [7, 100, 1 << 20])
def test_formulas_have_their_values(tmp_path, monkeypatch, block):
    """A program that works nothing out reads the value, one that does the formula, whatever the blocks are."""
    monkeypatch.setattr(formula, "_BLOCK", block)
    rows = [[number, Formula(f"A{number}*2.5", number * 2.5)] for number in range(1, 40)]
    path = written(tmp_path, [*rows, ["a < b", Formula('COUNTIF(A1:A39,"<20")', 19)]])
    values = [row[1] for row in load_workbook(path, data_only=True)["Sums"].iter_rows(values_only=True)]
    texts = [row[1] for row in load_workbook(path)["Sums"].iter_rows(values_only=True)]

    assert [*(number * 2.5 for number in range(1, 40)), 19] == values
    assert [*(f"=A{number}*2.5" for number in range(1, 40)), '=COUNTIF(A1:A39,"<20")'] == texts


def test_a_text_that_looks_like_one_is_left_alone(tmp_path):
    """Neither the sign between formula and value nor the markup of a formula does anything in a text."""
    texts = ["\ue000", "f>1\ue0002</f><v />", "<f>1\ue0002</f><v/>"]
    path = written(tmp_path, [texts])

    assert tuple(texts) == next(load_workbook(path)["Sums"].iter_rows(values_only=True))


def test_nothing_of_the_sign_is_left(tmp_path):
    """The file holds the formula and its value, and not what stood between them."""
    path = written(tmp_path, [[Formula("1+1", 2)]])
    with zipfile.ZipFile(path) as archive:
        xml = archive.read("xl/worksheets/sheet1.xml")

    assert b"<f>1+1</f><v>2</v>" in xml
    assert b"\xee\x80\x80" not in xml
