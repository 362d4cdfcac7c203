"""The workbook's own XML, held to what the strictest spreadsheet programs ask before they open a file unasked.

Limits are those of ECMA-376 part 1 (Office Open XML), 5th edition, and of the published list of specifications and
limits of spreadsheet programs that keep to it.
"""

import posixpath
import re
import zipfile
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from urllib.parse import unquote
from xml.etree import ElementTree as ET

import pytest
from openpyxl.utils import range_boundaries

from splicewright.extract.finding import Finding, Severity, Source
from splicewright.schedule import sheet
from splicewright.schedule.job import schedule_job
from splicewright.schedule.rules import load_rules
from splicewright.schedule.workbook import write_workbook

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINKED = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")

HOSTILE = {
    "formula": "=cmd|' /C calc'!A0",
    "plus": "+1+cmd",
    "at": "@SUM(A1:A9)",
    "link": '=HYPERLINK("http://example.invalid","x")',
    "markup": "<img src=x onerror=alert(1)></t></is></c> &amp; ]]>",
    "controls": "a\x00b\x07c\x1bd\x7fe\ufffff\ud800g",
    "breaks": "one\r\ntwo\tthree\n",
    "right to left": "\u202eنقطة\u2066 waterstop",
    "long": "W" * 32_768,
    "long emoji": "🙂" * 20_000,
    "emoji": "🙂👷‍♀️",
    "escape": "_x0041_ _x000D_",
    "signs": "[]:*?/\\'\"#|",
    "footer": "&A&P&D&F",
}


class Parts:
    """A workbook's parts as they are written."""

    def __init__(self, path):
        with zipfile.ZipFile(path) as archive:
            self.files = {name: archive.read(name) for name in archive.namelist()}
            self.twice = len(archive.namelist()) != len(self.files)

    def tree(self, name):
        return ET.fromstring(self.files[name])

    def relations(self, name):
        """Targets by id of the relations of a part; those outside with their address."""
        folder, base = posixpath.split(name)
        rels = posixpath.join(folder, "_rels", f"{base}.rels")
        if rels not in self.files:
            return {}
        found = {}
        for one in self.tree(rels):
            target = one.get("Target")
            inside = one.get("TargetMode") != "External"
            path = posixpath.normpath(posixpath.join("/", folder, target))
            found[one.get("Id")] = (inside, path if inside else target)
        return found

    @cached_property
    def sheets(self):
        """Path of every sheet, by name."""
        rels = self.relations("xl/workbook.xml")
        listed = self.tree("xl/workbook.xml").iter(f"{MAIN}sheet")
        return {one.get("name"): rels[one.get(LINKED)][1].lstrip("/") for one in listed}

    @cached_property
    def trees(self):
        return {name: self.tree(path) for name, path in self.sheets.items()}

    @cached_property
    def names(self):
        """What every defined name stands for; names of one sheet only with the sheet's number."""
        listed = self.tree("xl/workbook.xml").iter(f"{MAIN}definedName")
        return {(one.get("name"), one.get("localSheetId")): one.text for one in listed}

    @cached_property
    def tables(self):
        """Sheet, element and target of every native table."""
        found = []
        for name, path in self.sheets.items():
            rels = self.relations(path)
            for part in self.trees[name].iter(f"{MAIN}tablePart"):
                target = rels[part.get(LINKED)][1].lstrip("/")
                found.append((name, self.tree(target), target))
        return found

    def cells(self, name):
        """Text of every cell of a sheet by its reference; None for what is no text."""
        return {cell.get("r"): text_of(cell) for cell in self.trees[name].iter(f"{MAIN}c")}


def text_of(cell):
    return "".join(cell.itertext()) if cell.get("t") == "inlineStr" else None


def shown(text):
    """What a spreadsheet shows for a text as written: escaped characters count once."""
    return ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)


def utf16(text):
    return len(text.encode("utf-16-le", "surrogatepass")) // 2


def overlap(one, other):
    (a, b, c, d), (e, f, g, h) = range_boundaries(one), range_boundaries(other)
    return a <= g and e <= c and b <= h and f <= d


@pytest.fixture(scope="module")
def basin():
    options = {"prices.currency": "USD", "prices.factory_splice": 40.0, "prices.field_splice": 25.0}
    rules = load_rules(BASIN / "rules.toml", options={**options, "prices.crew_hour": 150.0})
    return schedule_job([BASIN / "settling-basin.dxf"], rules, name="settling-basin")


@pytest.fixture(scope="module")
def hostile(basin):
    """The demo, with a hostile text wherever a name from a drawing or a rules file can stand."""
    texts = list(HOSTILE.values())
    findings = tuple(
        Finding(
            code="near-miss",
            severity=Severity.WARNING,
            message=text,
            at_m=(1.0, 2.0, 3.0),
            sources=(Source(file=text, layer=text, entity=text),),
        )
        for text in texts
    )
    splices = tuple(
        replace(one, profile=texts[n % len(texts)], reason=texts[(n + 3) % len(texts)])
        for n, one in enumerate(basin.splices)
    )
    everywhere = HOSTILE["formula"]
    return replace(
        basin,
        job=" ".join(texts[:5]),
        drawings=tuple(replace(one, file=HOSTILE["footer"] * 40) for one in basin.drawings),
        splices=splices,
        fittings=tuple(replace(one, contents=text) for one, text in zip(basin.fittings, texts, strict=False)),
        footage=tuple(replace(one, profile=everywhere) for one in basin.footage),
        orders=tuple(replace(one, profile=everywhere) for one in basin.orders),
        order_list=tuple(replace(one, note=texts[n % len(texts)]) for n, one in enumerate(basin.order_list)),
        findings=findings,
    )


@pytest.fixture(scope="module", params=["imperial", "metric", "hostile"])
def parts(request, basin, hostile, tmp_path_factory):
    """The demo in both unit systems, and the hostile job."""
    path = tmp_path_factory.mktemp("limits") / "job.xlsx"
    made = hostile if request.param == "hostile" else basin
    write_workbook(made, path, imperial=request.param != "metric", map_file="a job #1.map.html")
    return Parts(path)


def test_every_part_is_well_formed_and_there_once(parts):
    """All XML parses, and no part is written twice."""
    trees = [parts.tree(name) for name in parts.files if name.endswith((".xml", ".rels"))]

    assert not parts.twice
    assert 20 < len(trees)


def test_sheet_names_are_short_and_plain(parts):
    """At most 31 characters, no brackets, colons, stars, question marks or slashes, none twice in any case."""
    names = list(parts.sheets)

    assert [] == [name for name in names if not 0 < len(name) <= 31 or re.search(r"[\[\]:*?/\\]", name)]
    assert len(names) == len({name.lower() for name in names})
    assert [] == [name for name in names if name.startswith("'") or name.endswith("'") or name.lower() == "history"]


def test_no_cell_holds_more_than_it_may(parts):
    """At most 32,767 UTF-16 units, and some are cut at just that."""
    lengths = [utf16(shown(text)) for name in parts.sheets for text in parts.cells(name).values() if text is not None]

    assert 500 < len(lengths)
    assert 32_767 >= max(lengths)


def test_every_cell_of_a_kind_has_what_it_says(parts):
    """A text has letters and a number its digits; what is empty claims to be neither text nor formula."""
    cells = [cell for tree in parts.trees.values() for cell in tree.iter(f"{MAIN}c")]
    kinds = {cell.get("t") for cell in cells}

    assert {"inlineStr", "n", None} >= kinds
    assert [] == [cell.get("r") for cell in cells if cell.get("t") == "inlineStr" and not text_of(cell)]
    assert [] == [cell.get("r") for cell in cells if cell.findtext(f"{MAIN}v") == ""]


def test_tables_have_valid_and_unique_names(parts):
    """Letters, digits and underscores, not like a cell, no more than 255, none twice and none that is also a name."""
    named = [table.get("displayName") for _, table, _ in parts.tables]
    ids = [table.get("id") for _, table, _ in parts.tables]
    names = {name.lower() for name, _ in parts.names}

    assert 10 < len(named)
    assert [] == [name for name in named if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_.]{0,254}", name)]
    assert [] == [name for name in named if re.fullmatch(r"([A-Za-z]{1,3}\d+|[RrCc]\d*([Cc]\d*)?)", name)]
    assert len(named) == len({name.lower() for name in named}) == len(set(ids))
    assert set() == {name.lower() for name in named} & names
    assert [table.get("name") for _, table, _ in parts.tables] == named


def test_headings_of_tables_are_their_cells(parts):
    """Each column's name is the text of the cell at its head, unique in its table in any case, at most 255 long."""
    for name, table, _ in parts.tables:
        left, top, right, bottom = range_boundaries(table.get("ref"))
        cells = parts.cells(name)
        titles = [column.get("name") for column in table.iter(f"{MAIN}tableColumn")]
        head = [cells[f"{letters(column)}{top}"] for column in range(left, right + 1)]

        assert head == titles
        assert len(titles) == len({title.lower() for title in titles}) == right - left + 1
        assert [] == [title for title in titles if not 0 < len(title) <= 255 or title != title.strip()]
        assert top < bottom


def letters(number):
    text = ""
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def test_tables_lie_clear_of_merged_cells_and_of_one_another(parts):
    """No table holds a merged cell or part of another table, and none has a sheet's own filter over it."""
    for name, tree in parts.trees.items():
        refs = [table.get("ref") for sheet_name, table, _ in parts.tables if sheet_name == name]
        merged = [one.get("ref") for one in tree.iter(f"{MAIN}mergeCell")]
        filters = [one.get("ref") for one in tree.findall(f"{MAIN}autoFilter")]

        assert [] == [(one, two) for n, one in enumerate(refs) for two in refs[n + 1 :] if overlap(one, two)]
        assert [] == [(one, two) for one in refs for two in merged if overlap(one, two)]
        assert not (refs and filters)
        assert len(merged) == len(set(merged))


def test_filters_of_tables_cover_them(parts):
    """A table's filter is over all of it."""
    filters = {table.get("ref"): table.find(f"{MAIN}autoFilter") for _, table, _ in parts.tables}
    refs = {ref: one.get("ref") for ref, one in filters.items() if one is not None}

    assert 10 < len(refs)
    assert refs == {ref: ref for ref in refs}


def test_names_are_valid_and_lead_to_cells(parts):
    """Defined names are plain words, unlike cells, unique, and lead to a cell that is there."""
    own = {name: text for (name, sheet_of), text in parts.names.items() if sheet_of is None}

    assert 10 < len(own)
    assert len(own) == len({name.lower() for name in own})
    for name, text in own.items():
        assert re.fullmatch(r"[A-Za-z_][A-Za-z0-9_.]{0,254}", name)
        assert not re.fullmatch(r"[A-Za-z]{1,3}\d+|[RrCc]\d*([Cc]\d*)?", name)
        sheet_of, letter, row = re.fullmatch(r"'?([^'!]+)'?!\$([A-Z]+)\$(\d+)", text).groups()
        assert f"{letter}{row}" in parts.cells(sheet_of)


def test_formulas_use_only_names_and_sheets_that_exist(parts):
    """Every word of a formula is a function, a name or a cell; none is longer than 8,192 characters."""
    known = {name for name, sheet_of in parts.names if sheet_of is None}
    functions = {"SUM", "SUBTOTAL", "IF", "INDEX", "COUNTIF", "MAX", "ROUNDUP", "ABS", "AND", "LOWER", "TRIM"}
    seen = 0
    for name, tree in parts.trees.items():
        for formula in (one.text for one in tree.iter(f"{MAIN}f")):
            sheets = re.findall(r"'([^']+)'!", formula)
            bare = re.sub(r"'[^']+'!|\$?[A-Z]{1,3}\$?\d+", "", formula)
            words = set(re.findall(r"[A-Za-z_][A-Za-z0-9_.]*", bare))

            assert set(sheets) <= set(parts.sheets), (name, formula)
            assert words <= known | functions, (name, formula)
            assert len(formula) <= 8_192
            seen += 1

    assert 100 < seen


def test_every_formula_is_written_with_its_value(parts):
    """Programs that work nothing out show a number wherever there is a formula."""
    values = [
        cell.findtext(f"{MAIN}v")
        for tree in parts.trees.values()
        for cell in tree.iter(f"{MAIN}c")
        if cell.find(f"{MAIN}f") is not None
    ]

    assert 100 < len(values)
    assert [] == [value for value in values if not re.fullmatch(r"-?\d+(\.\d+)?(e[+-]?\d+)?", value or "")]


def test_guides_are_short_enough(parts):
    """Of what guides people who fill in: messages at most 255, titles 32, lists and formulas 255 characters."""
    guards = [guard for tree in parts.trees.values() for guard in tree.iter(f"{MAIN}dataValidation")]

    assert 3 <= len(guards)
    for guard in guards:
        assert all(len(guard.get(key) or "") <= 255 for key in ("error", "prompt"))
        assert all(len(guard.get(key) or "") <= 32 for key in ("errorTitle", "promptTitle"))
        assert all(len(one.text or "") <= 255 for one in guard)


def test_links_are_few_enough_and_lead_somewhere(parts):
    """At most 65,530 links a sheet, no two at a cell, each to a cell of a sheet that exists or to the map beside it."""
    for name, path in parts.sheets.items():
        links = list(parts.trees[name].iter(f"{MAIN}hyperlink"))
        rels = parts.relations(path)

        assert 65_530 >= len(links)
        assert len(links) == len({link.get("ref") for link in links})
        for link in links:
            if link.get(LINKED):
                inside, target = rels[link.get(LINKED)]
                assert (False, "a job #1.map.html") == (inside, unquote(target))
                assert link.get("location")
            else:
                sheet_of, cell = re.fullmatch(r"'([^']+)'!([A-Z]+\d+)", link.get("location")).groups()
                assert cell in parts.cells(sheet_of)
            assert link.get("ref") in parts.cells(name)


def test_the_workbook_says_who_wrote_it(parts):
    """It states this program, which makes careful ones work out its formulas themselves."""
    stated = [one.text for one in parts.tree("docProps/app.xml").iter() if one.tag.endswith("}Application")]

    assert ["Splicewright"] == stated


def test_relations_lead_to_parts_that_exist(parts):
    """No relation dangles, every part has a kind, and every id that a sheet names is among its relations."""
    kinds = parts.tree("[Content_Types].xml")
    listed = {one.get("PartName") for one in kinds if one.get("PartName")}
    endings = {one.get("Extension") for one in kinds if one.get("Extension")}
    for name in parts.files:
        relations = parts.relations(name)
        targets = [target.lstrip("/") for inside, target in relations.values() if inside]

        assert set(targets) <= set(parts.files)
        assert name == "[Content_Types].xml" or f"/{name}" in listed or name.rpartition(".")[2] in endings
        if name.startswith("xl/worksheets/sheet"):
            named = {one.get(LINKED) for one in parts.tree(name).iter() if one.get(LINKED)}
            assert named == set(relations)
    assert [] == [name for name in listed if name.lstrip("/") not in parts.files]


def test_charts_show_cells_that_are_there(parts):
    """Each chart's series and names are columns of a sheet that exists, from its first row to its last."""
    charts = [name for name in parts.files if name.startswith("xl/charts/chart")]
    refs = [one.text for name in charts for one in parts.tree(name).iter() if one.tag.endswith("}f")]

    assert 3 == len(charts)
    assert 6 <= len(refs)
    for ref in refs:
        sheet_of, column, first, last = re.fullmatch(r"'([^']+)'!\$([A-Z]+)\$(\d+):\$\2\$(\d+)", ref).groups()
        cells = parts.cells(sheet_of)
        assert "4" == first
        assert {f"{column}{first}", f"{column}{last}"} <= set(cells)


def test_edges_of_pages_are_short_enough(parts):
    """What stands above and below a page has at most 255 characters, and an ampersand of a name stays one."""
    for tree in parts.trees.values():
        edges = [one.text or "" for one in tree.iter() if one.tag in {f"{MAIN}oddHeader", f"{MAIN}oddFooter"}]

        assert 2 == len(edges)
        assert 255 >= max(map(utf16, edges))
        for edge in edges:
            assert set(re.findall(r"(?<!&)(?:&&)*&([^&\d])", edge)) <= set('LCRAPN"')


def test_sizes_are_within_limits(parts):
    """Rows at most 409 points high, columns 255 wide, breaks at most 1,026 a sheet, formats fewer than 64,000."""
    for tree in parts.trees.values():
        assert 409 >= max((float(row.get("ht")) for row in tree.iter(f"{MAIN}row") if row.get("ht")), default=0)
        assert 255 >= max(float(column.get("width")) for column in tree.iter(f"{MAIN}col"))
        assert 1_026 >= len(list(tree.iter(f"{MAIN}brk")))
    assert 64_000 > len(list(parts.tree("xl/styles.xml").find(f"{MAIN}cellXfs")))


def test_hostile_texts_arrive_as_texts(hostile, tmp_path):
    """Whatever a layer is called, it is a text in the list; only what no cell can hold is replaced or cut."""
    write_workbook(hostile, tmp_path / "job.xlsx", imperial=False)
    cells = Parts(tmp_path / "job.xlsx").cells("Findings")
    head = {text: cell.rstrip("0123456789") for cell, text in cells.items() if cell.rstrip("0123456789") + "3" == cell}
    layers = [shown(cells[f"{head['Layer']}{row}"]) for row in range(4, 4 + len(HOSTILE))]
    told = dict(zip(HOSTILE, layers, strict=True))
    same = set(HOSTILE) - {"controls", "breaks", "long", "long emoji"}

    assert {name: HOSTILE[name] for name in same} == {name: told[name] for name in same}
    assert "a\ufffdb\ufffdc\ufffdd\ufffde\ufffdf\ufffdg" == told["controls"]
    assert "one\ufffd\ntwo\tthree\n" == told["breaks"]
    assert "W" * 32_759 + " … (cut)" == told["long"]
    assert told["long emoji"].startswith("🙂" * 16_000)
    assert told["long emoji"].endswith(" … (cut)")


def test_more_links_than_a_sheet_may_have_become_texts(basin, tmp_path, monkeypatch):
    """Past the limit marks stay where they are, but lead nowhere."""
    monkeypatch.setattr(sheet, "_MOST_LINKS", 11)
    write_workbook(basin, tmp_path / "job.xlsx", imperial=True, map_file="m.html")
    parts = Parts(tmp_path / "job.xlsx")
    marks = [text for cell, text in parts.cells("Splices").items() if re.fullmatch(r"A\d+", cell)]

    assert 11 >= len(list(parts.trees["Splices"].iter(f"{MAIN}hyperlink"))) > 8
    assert {splice.mark for splice in basin.splices} <= set(marks)
