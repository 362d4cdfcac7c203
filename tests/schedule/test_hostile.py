"""Hostile names of layers, blocks, profiles and pours arrive as text in every output of the command line."""

import csv
import json
import re
import zipfile
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest
from ezdxf.filemanagement import new, readfile
from icalendar import Calendar
from openpyxl import load_workbook
from pypdf import PdfReader

from splicewright.schedule.cli import run
from splicewright.schedule.record import from_json

KINDS = "xlsx,json,html,dxf,pdf,ics,csv,bcf,tickets"
NAMES = {
    "formula": "=1+1 WATERSTOP",
    "html": "WATERSTOP </script><script>document.title='x'</script><img src=x onerror=alert(1)>",
    "control": "WATERSTOP \x07\x1b[31m",
    "leftward": "WATERSTOP \u202eabc\u202c \U0001f600 \u6c34",
    "long": "WATERSTOP " + "x" * 32_758,
}
RULES = """
[profiles."=bulb<b>\\u202eq\\u202c\\U0001F600"]
width = "9 in"
thickness = "3/8 in"
mass = "2 kg/m"
rolls = [{ length = "10 m" }]

[[lines]]
match = "*WATERSTOP*"
profile = "=bulb<b>\\u202eq\\u202c\\U0001F600"
joint = "slab"

[calendar]
start = 2026-03-02

[[pours]]
name = "=cmd|' /C calc'!A0</script><script>alert(1)</script>"
day = 2026-03-13
x = "-100 m to 10 m"

[[pours]]
name = "@SUM(1)"
day = 2026-03-27
"""
POURS = ("=cmd|' /C calc'!A0</script><script>alert(1)</script>", "@SUM(1)")


def draw(path, name):
    """
    Draw an ell, a tee, a near miss and a block on one layer, which then gets a name that the library would refuse.

        -------+------+  -- near miss
               |      |
    """
    document = new("R2018", units=6)
    model, block = document.modelspace(), document.blocks.new("THEBLOCK")
    on = {"layer": "THELAYER"}
    model.add_lwpolyline([(0, 0), (25, 0), (25, -5)], dxfattribs=on)
    model.add_line((12, 0), (12, -5), dxfattribs=on)
    model.add_line((25.06, 0), (30, 0), dxfattribs=on)
    model.add_text("a text", dxfattribs=on)
    block.add_line((40, 0), (52, 0), dxfattribs=on)
    model.add_blockref("THEBLOCK", (0, 0))
    document.saveas(path)
    text = path.read_text(encoding="utf-8").replace("THELAYER", name).replace("THEBLOCK", f"b{name}")
    path.write_text(text, encoding="utf-8")


@pytest.fixture(scope="module", params=NAMES)
def job(request, tmp_path_factory):
    """A folder with every output of a drawing with a hostile name; the name itself."""
    folder = tmp_path_factory.mktemp(request.param)
    draw(folder / "job.dxf", NAMES[request.param])
    (folder / "rules.toml").write_text(RULES, encoding="utf-8")
    status = run(["schedule", str(folder / "job.dxf"), "--rules", str(folder / "rules.toml"), "--write", KINDS])

    assert 0 == status
    return folder, NAMES[request.param]


def test_the_record_holds_names_as_they_are(job):
    """Layer, profile and pours are in the JSON record letter by letter."""
    folder, name = job
    record = from_json((folder / "job.schedule.json").read_bytes())  # which refuses what does not fit the schema
    layers = {source["layer"] for run in record["runs"] for source in run["sources"]}

    assert {name} == layers
    assert {"=bulb<b>\u202eq\u202c\U0001f600"} == {run["profile"] for run in record["runs"]}
    assert set(POURS) >= {splice["zone"] for splice in record["splices"] if splice["zone"]}


class Tags(HTMLParser):
    """Counts what a page is made of, with what its elements would run."""

    def __init__(self, text):
        super().__init__()
        self.scripts, self.handlers, self.images = 0, [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.scripts += tag == "script"
        self.handlers += [key for key, _ in attrs if key.startswith("on")]
        self.images += [value for key, value in attrs if key == "src"]


def test_pages_run_no_script_of_a_drawing(job):
    """Map and tickets hold the program's own scripts and nothing that a name has brought."""
    folder, _ = job
    found = {name: Tags((folder / name).read_text(encoding="utf-8")) for name in ("job.map.html", "job.tickets.html")}

    assert {"job.map.html": 3, "job.tickets.html": 0} == {name: page.scripts for name, page in found.items()}
    assert [[], []] == [page.handlers for page in found.values()]
    assert [[], []] == [page.images for page in found.values()]


def test_no_cell_of_the_tasks_is_a_formula(job):
    """No field of the CSV begins with what makes a spreadsheet work it out; pours are named as they are."""
    folder, _ = job
    with (folder / "job.schedule.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))

    assert [] == [cell for row in rows for cell in row if cell[:1] in {"=", "+", "-", "@", "\t", "\r"}]
    assert [f"Weld waterstop, {name}" for name in POURS] == [row[1] for row in rows[1:]]


def test_the_calendar_holds_names_as_text(job):
    """A calendar reads the pours' names back as they are, and no more events than there are."""
    folder, _ = job
    events = [str(event["summary"]) for event in Calendar.from_ical((folder / "job.schedule.ics").read_bytes()).events]

    assert {f"job: {name}" for name in POURS} <= set(events)


def test_topics_hold_names_as_text(job):
    """Every file in the BCF is well-formed, and every finding's sentence stands in it as it is."""
    folder, _ = job
    with zipfile.ZipFile(folder / "job.findings.bcf") as archive:
        trees = [ET.fromstring(archive.read(one)) for one in archive.namelist() if not one.endswith(".png")]
    texts = "\n".join(text for tree in trees for text in tree.itertext())
    findings = json.loads((folder / "job.schedule.json").read_bytes())["findings"]

    assert [] == [finding["message"] for finding in findings if finding["message"] not in texts]
    assert 3 < len(findings)


def test_the_marked_drawing_keeps_the_name(job):
    """The drawing handed back opens, and what was drawn is on the layer as it was called."""
    folder, name = job
    marked = readfile(folder / "job.marked.dxf")
    layers = {entity.dxf.layer for entity in marked.modelspace() if entity.dxf.layer.find("SPLICEWRIGHT") < 0}

    assert name in layers


def test_the_packet_opens(job):
    """The PDF is read whole, and pages are no more than for a plain name, so that no name fills pages."""
    folder, _ = job
    pages = PdfReader(folder / "job.packet.pdf").pages
    text = "".join(page.extract_text() for page in pages)

    assert "Cautions" in text
    assert len(pages) < 40


def test_the_workbook_has_formulas_of_its_own_only(job):
    """No cell of the workbook that holds text of the drawing is a formula."""
    folder, _ = job
    book = load_workbook(folder / "job.schedule.xlsx")
    found = [cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]

    assert [] == [formula for formula in found if re.search(r"cmd|WATERSTOP|@SUM|bulb", str(formula))]


def test_the_terminal_is_told_in_short_lines(job, capsys):
    """What the terminal shows of a finding is cut, and holds no control character, whatever a layer is called."""
    folder, _ = job
    run(["schedule", str(folder / "job.dxf"), "--rules", str(folder / "rules.toml"), "--write", "json"])
    said = capsys.readouterr().out

    assert max(map(len, said.splitlines())) < 1_000
    assert [] == [sign for sign in said if not sign.isprintable() and sign != "\n"]
