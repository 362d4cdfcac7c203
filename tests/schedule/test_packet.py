"""The packet as it is read back: the same bytes each time, every page numbered, nothing of the schedule missing."""

from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from splicewright.extract.errors import OutputError
from splicewright.extract.finding import Finding, Severity
from splicewright.schedule.job import schedule_job
from splicewright.schedule.packet import write_packet
from splicewright.schedule.packet_map import divide
from splicewright.schedule.rules import load_rules
from splicewright.schedule.splice import Made
from splicewright.schedule.typeface import clipped, shown

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
HOSTILE = "<b>bold</b> <img src='x'/> &amp; \u202egnp 水 🙂 =1+1 \x07"


@pytest.fixture(scope="module")
def basin():
    return schedule_job([BASIN / "settling-basin.dxf"], load_rules(BASIN / "rules.toml"), name="settling-basin")


@pytest.fixture(scope="module")
def ell(schedule_of):
    """A flat ell of two long legs.

    c
    |
    a-----b
    """
    return schedule_of([(25, 0), (0, 0)], [(0, 0), (0, 12)])


@pytest.fixture(scope="module")
def pages(basin, tmp_path_factory):
    """The text of every page of the demo's packet."""
    path = tmp_path_factory.mktemp("packet") / "basin.pdf"
    write_packet(basin, path, imperial=True)
    return [page.extract_text() for page in PdfReader(path).pages]


def read(schedule, folder, *, imperial=False):
    write_packet(schedule, folder / "packet.pdf", imperial=imperial)
    return PdfReader(folder / "packet.pdf")


def test_the_same_schedule_gives_the_same_bytes(basin, tmp_path):
    """Written twice, the packet is the same file."""
    for name in ("one.pdf", "two.pdf"):
        write_packet(basin, tmp_path / name, imperial=False)

    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()


def test_every_page_is_numbered(pages):
    """Each page carries the job and its number out of all."""
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert "settling-basin" in page


def test_the_parts_are_in_the_outline(basin, tmp_path):
    """The outline leads to every part, in the order of the pages."""
    reader = read(basin, tmp_path)
    at = [reader.get_destination_page_number(entry) for entry in reader.outline]

    assert ["Summary", "Map, whole job", "Shop", "Cut list", "Crew calendar", "Inspection"] == [
        entry.title for entry in reader.outline
    ]
    assert sorted(at) == at


@pytest.mark.outside(
    what="paper of the printed packet, in points",
    against="ISO 216 (A4, 210 x 297 mm) and ANSI/ASME Y14.1 (A, 8.5 x 11 in), from memory",
    result="equal",
)
@pytest.mark.parametrize(("imperial", "size"), [(True, (612, 792)), (False, (595, 842))])
def test_paper_is_the_readers(ell, tmp_path, imperial, size):
    """Pages are Letter or A4, upright but for the maps, which lie across."""
    pages = read(ell, tmp_path, imperial=imperial).pages
    sizes = [(round(page.mediabox.width), round(page.mediabox.height)) for page in pages]

    assert {size, size[::-1]} == set(sizes)
    assert size[::-1] == sizes[1]


@pytest.mark.outside(
    what="marks of all fittings, cuts, rolls, pieces and splices in the printed packet",
    against="pypdf, reading its text back",
    result="none is missing",
)
def test_nothing_is_missing(basin, pages):
    """Every fitting, cut, roll, piece, site splice and caution is somewhere in the packet."""
    words = set(" ".join(pages).replace(":", " ").replace(",", " ").split())
    marks = [fitting.mark for fitting in basin.fittings] + [cut.mark for cut in basin.cuts]
    marks += [roll.mark for roll in basin.rolls] + [piece.mark for roll in basin.rolls for piece in roll.pieces]
    marks += [entry.mark for entry in basin.log]

    assert [] == [mark for mark in marks if mark not in words]
    assert all(caution.split()[-1] in words for caution in basin.rules.cautions)


def test_a_form_for_each_crew_and_day(basin, pages):
    """Each crew's day has a form of its own, with its sample weld and its splices, and so has what the shop sends."""
    forms = {page.partition("\nDate ___")[0].splitlines()[-1]: page for page in pages if "Date ___" in page}
    days = {f"Day {day.day}, crew {day.crew}": day for day in basin.crew.days}

    assert {*days, "Fittings from the shop, on delivery"} == set(forms)
    for title, day in days.items():
        assert {f"W{day.crew}-{day.day}", *day.splices} <= set(forms[title].split())


def test_fittings_are_drawn(basin, pages):
    """Each fitting's drawing is in the packet, whether it lies in a plane or not; none claims a scale."""
    lines = [line.strip() for page in pages for line in page.splitlines()]

    assert len(basin.fittings) == lines.count("seen at an angle, not to scale") + lines.count("plan")
    assert "scale 1:" not in "".join(pages)


def test_our_own_words_can_all_be_shown(pages):
    """No letter of the demo's packet had to be named by its code point."""
    assert "‹U+" not in "".join(pages)


def test_hostile_names_are_text(ell, tmp_path):
    """Markup in names is set letter by letter, and letters that cannot be shown are named."""
    finding = Finding(code="free-end", severity=Severity.ERROR, message=HOSTILE)
    text = "".join(page.extract_text() for page in read(replace(ell, job=HOSTILE, findings=(finding,)), tmp_path).pages)

    assert "<b>bold</b> <img src='x'/> &amp; ‹U+202E›gnp ‹U+6C34› ‹U+1F642› =1+1 ‹U+0007›" in text.replace("\n", " ")


def test_long_names_are_cut_and_say_so(ell, tmp_path):
    """A name of 32,768 letters without a space takes no more than its share of a page, and tells what is left out."""
    finding = Finding(code="free-end", severity=Severity.ERROR, message="W" * 32_768)
    reader = read(replace(ell, findings=(finding,)), tmp_path)
    text = "".join(page.extract_text() for page in reader.pages)

    # 32,768 letters after "•  error: ", less the 2,000 that are set; without blanks, wherever the lines break.
    assert "(30,778moreletters)" in "".join(text.split())
    assert len(reader.pages) < 12


def test_crowded_plans_are_divided(schedule_of):
    """
    Where there are many site splices the plan is divided; the fields hold every one of them and lie within the whole.

        +--+--+--+
        |  |  |  |    8 x 8 lines, 12 m apart
        +--+--+--+
    """
    rows = [[(0, i * 12), (84, i * 12)] for i in range(8)]
    schedule = schedule_of(*rows, *[[(y, x) for x, y in row] for row in rows])
    whole, *fields = divide(schedule)
    places = [splice.at_m for splice in schedule.splices if splice.made is Made.FIELD]

    assert 2 < len(fields)
    for x, y, _ in places:
        assert any(f.west - 1e-9 <= x <= f.east + 1e-9 and f.south - 1e-9 <= y <= f.north + 1e-9 for f in fields)
    assert (whole.west, whole.north) == (fields[0].west, fields[0].north)


def test_a_job_without_fittings_or_splices_has_its_packet(schedule_of, tmp_path):
    """
    One short strip, nothing to weld: the packet says so in each part.

        a--b
    """
    text = "".join(page.extract_text() for page in read(schedule_of([(0, 0), (2, 0)]), tmp_path).pages)

    assert "Nothing is made in the shop." in text
    assert "Nothing is welded on site." in text


def test_a_folder_that_is_not_there_is_refused(ell, tmp_path):
    """A packet that cannot be written is refused in one sentence with a remedy."""
    with pytest.raises(OutputError, match=r"cannot be written: .*; choose another folder with --out"):
        write_packet(ell, tmp_path / "missing" / "packet.pdf", imperial=False)


def test_letters_are_kept_where_there_are_any():
    """Latin, Greek and Cyrillic are shown as they are; what the typeface lacks is named; a clipped text ends so."""
    assert "Fuge ąβЖ ‹U+6C34›" == shown("Fuge ąβЖ 水")
    assert clipped("x" * 100, 50, 9).endswith("…")
    assert "short" == clipped("short", 100, 9)
