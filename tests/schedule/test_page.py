"""The map page as a file: the same bytes each time, names that stay text, figures that are the schedule's."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from splicewright.extract.errors import OutputError
from splicewright.extract.finding import Finding, Severity, Source
from splicewright.schedule.measure import Measure
from splicewright.schedule.page import page_text, write_page
from splicewright.schedule.page_data import origin_of, page_data


@pytest.fixture(scope="module")
def ell(schedule_of):
    """A flat ell of two long legs.

    c
    |
    a-----b
    """
    return schedule_of([(25, 0), (0, 0)], [(0, 0), (0, 12)])


def data_of(text):
    return json.loads(re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.DOTALL)[1])


def test_the_same_schedule_gives_the_same_bytes(ell, tmp_path):
    """Written twice, the page is the same file."""
    for name in ("one.html", "two.html"):
        write_page(ell, tmp_path / name, imperial=True)

    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()


def test_no_address_is_in_reach(ell):
    """Outside the library's own script, the page names no address, and its policy forbids every request."""
    text = page_text(ell, imperial=False, pictures={})
    own = re.sub(r"<script>.*?</script>", "", text, count=1, flags=re.DOTALL)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)[1]

    assert {"http://www.w3.org/2000/svg"} == set(re.findall(r"https?://[\w./-]+", own))
    assert policy.startswith("default-src &#x27;none&#x27;;")
    assert not re.search(r"connect-src|unsafe-eval|https?:|script-src[^;]*unsafe-inline", policy)


def test_the_library_ends_no_script(ell):
    """Four script elements are opened and closed, however long the library's script is."""
    text = page_text(ell, imperial=False, pictures={})

    assert (3, 3) == (len(re.findall("<script", text)), len(re.findall("</script", text)))


@pytest.mark.parametrize(
    "name", ["</script><script>alert(1)</script>", "<!--<script>", "\ud800", "{{library}}", "\x00\x07"]
)
def test_hostile_names_arrive_as_they_are(ell, tmp_path, name):
    """Whatever a name holds, the page holds as many scripts as ever, and the data reads back to that very name."""
    source = Source(file="a.dxf", layer=name, entity=name)
    finding = Finding(code="free-end", severity=Severity.ERROR, message=name, sources=(source,))
    write_page(replace(ell, job=name, findings=(finding,)), tmp_path / "map.html", imperial=False)
    text = (tmp_path / "map.html").read_text(encoding="utf-8")
    data = data_of(text)

    assert 3 == len(re.findall("<script", text))
    assert (name, name) == (data["job"], data["findings"][0]["message"])
    assert ["a.dxf", name] == data["layers"][data["findings"][0]["sources"][0][0]]


def test_places_and_lengths_are_the_schedules(ell):
    """Nodes, splices and courses come back to within the step of 0.1 mm; lengths are written in the reader's units."""
    data = page_data(ell, Measure(imperial=True), {})
    step, origin = data["units"]["stepM"], np.array(data["units"]["originM"])
    for rows, name in ((ell.nodes, "nodes"), (ell.splices, "splices")):
        found = np.array([data[name][axis] for axis in "xyz"]).T * step + origin
        assert np.allclose(np.array([row.at_m for row in rows]), found, atol=step / 2)
    course = np.cumsum(np.array(data["runs"]["points"][0]).reshape(-1, 3), axis=0) * step

    assert np.allclose(ell.runs[0].points_m, course, atol=step / 2)
    assert [Measure(imperial=True).text(run.length_m) for run in ell.runs] == data["runs"]["length"]


def test_everything_is_on_it(ell):
    """Every node, run, splice, fitting, piece and saw cut of the schedule has its place on the page."""
    data = page_data(ell, Measure(imperial=False), {})
    pieces = [piece.mark for roll in ell.rolls for piece in roll.pieces]

    assert [node.mark for node in ell.nodes] == data["nodes"]["mark"]
    assert [run.mark for run in ell.runs] == data["runs"]["mark"]
    assert [splice.mark for splice in ell.splices] == data["splices"]["mark"]
    assert [fitting.mark for fitting in ell.fittings] == [fitting["mark"] for fitting in data["fittings"]]
    assert sorted(pieces) == sorted(row[0] for rows in data["runs"]["pieces"] for row in rows)
    assert [cut.mark for cut in ell.cuts] == [row[0] for rows in data["cuts"].values() for row in rows]


def test_far_places_are_counted_from_near_by(schedule_of):
    """At survey coordinates the origin moves to a round place near by; near the drawing's own it stays."""
    far = schedule_of([(500_025, 4_000_000), (500_000, 4_000_000)])
    near = schedule_of([(25, 0), (0, 0)])

    assert (500_000.0, 4_000_000.0, 0.0) == origin_of(far.runs)
    assert (0.0, 0.0, 0.0) == origin_of(near.runs)
    assert (0.0, 0.0, 0.0) == origin_of([])


def test_fittings_are_drawn(ell, tmp_path):
    """Each fitting carries its shop drawing, which stands alone, with the look of its lines inside it."""
    write_page(ell, tmp_path / "map.html", imperial=False)
    (picture,) = [fitting["picture"] for fitting in data_of((tmp_path / "map.html").read_text("utf-8"))["fittings"]]

    assert picture.startswith("<svg ")
    assert "polyline.seam" in picture
    assert 'class="seam"' in picture


def test_drawings_beyond_the_room_are_left_out(ell):
    """Drawings of fittings are taken as long as they fit, and the page stays small."""
    pictures = {"F1": "<svg>" + " " * 1_500_000, "F2": "<svg>" + " " * 1_500_000}
    text = page_text(ell, imperial=False, pictures=pictures)

    assert data_of(text)["fittings"][0]["picture"] == pictures["F1"]
    assert len(text) < 10_000_000


def test_a_folder_that_is_not_there_is_refused(ell, tmp_path):
    """A page that cannot be written is refused in one sentence with a remedy."""
    with pytest.raises(OutputError, match=r"cannot be written: .*; choose another folder with --out"):
        write_page(ell, tmp_path / "missing" / "map.html", imperial=False)
