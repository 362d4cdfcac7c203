"""Drawings handed back with marks: all that was drawn stays, what is added can be read, and means what it says."""

import re
import time
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest
from ezdxf import bbox
from ezdxf.filemanagement import new, readfile
from ezdxf.lldxf.const import DXFStructureError
from ezdxf.lldxf.tagwriter import TagCollector
from shapely.geometry import Polygon

from splicewright.extract.errors import OutputError
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.job import schedule_job
from splicewright.schedule.marked import write_marked
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
LAYERS = ("NODES", "RUNS", "FITTINGS", "FIELD-SPLICES", "SHOP-SPLICES", "FINDINGS", "LEGEND")
VERSIONS = ("R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
TEE = ([(0, 0), (10, 0)], [(5, 0), (5, 4)])
# Lengths of one metre in the units of $INSUNITS codes 1, 2, 4, 5 and 6, exact by definition.
UNIT = {1: LengthUnit.INCH, 2: LengthUnit.FOOT, 4: LengthUnit.MILLIMETRE, 5: LengthUnit.CENTIMETRE, 6: LengthUnit.METRE}
METRE = {1: 1 / 0.0254, 2: 1 / 0.3048, 4: 1000, 5: 100, 6: 1}


def document_of(*courses, version="R2018", code=6, layer="WATERSTOP", shift=(0.0, 0.0, 0.0)):
    """A drawing of lines given in metres."""
    document = new(version, units=code)
    for course in courses:
        points = [[(a + b) * METRE[code] for a, b in zip((*point, 0)[:3], shift, strict=True)] for point in course]
        if version == "R12":
            document.modelspace().add_polyline3d(points, dxfattribs={"layer": layer})
        else:
            for one, two in pairwise(points):
                document.modelspace().add_line(one, two, dxfattribs={"layer": layer})
    return document


@pytest.fixture
def mark(tmp_path):
    """Save a document, schedule it, and hand it back: the path before and the path after."""

    def marked(document, *, name="tank.dxf", rules=None, **options):
        source, target = tmp_path / name, tmp_path / "marked.dxf"
        if document is not None:
            document.saveas(source)
        options.setdefault("unit", None if document is None or document.dxfversion > "AC1009" else LengthUnit.METRE)
        made = schedule_job([source], load_rules(rules), name="job", **options)
        write_marked(made, 0, source, target)
        return source, target

    return marked


def written(entity, version):
    """What an entity writes into a file, parts and all."""
    tags = TagCollector.dxftags(entity, version)
    return [(tag.code, tag.value) for tag in tags]


def originals(document, marked):
    """Entities of every layout and block of one document, and those of the same handles in another.

    Not the SEQEND that closes a list: ezdxf makes it anew on every reading.
    """
    here = {entity.dxf.handle: entity for entity in document.entitydb.values() if entity.dxf.handle}
    for handle, entity in sorted(here.items()):
        if entity.dxf.hasattr("layer") and entity.dxftype() != "SEQEND":
            yield entity, marked.entitydb.get(handle)


def ours(document, kind="*", layer="*"):
    """Entities on our layers."""
    return [
        entity
        for entity in document.modelspace().query(kind)
        if entity.dxf.layer.startswith("SPLICEWRIGHT-") and (layer == "*" or entity.dxf.layer.endswith(layer))
    ]


def words(document, layer):
    return [text.dxf.text for text in ours(document, "TEXT", layer)]


def assert_kept(source, target):
    """Every drawn entity is there as it was, nothing but marks has been added, and the audit finds nothing new."""
    before, after = readfile(source), readfile(target)
    version = after.dxfversion
    pairs = list(originals(before, after))
    kept = [written(entity, version) for entity, _ in pairs]

    assert kept == [[] if twin is None else written(twin, version) for _, twin in pairs]
    assert len(before.modelspace()) == len(after.modelspace()) - len(ours(after))
    assert [fault.code for fault in before.audit().errors] == [fault.code for fault in after.audit().errors]


@pytest.mark.outside(
    what="drawings handed back with marks, in every version and unit",
    against="ezdxf: entities before and after, and its audit",
    result="all that was drawn is as it was; the audit finds nothing new",
)
@pytest.mark.parametrize("version", VERSIONS)
@pytest.mark.parametrize("code", sorted(METRE))
def test_everything_drawn_stays_as_it_was(mark, version, code):
    """
    In every version and unit the lines come back as they were, the version stays, and the marks stand on our layers.

        +---+---+
            |
            +
    """
    source, target = mark(document_of(*TEE, version=version, code=code), unit=UNIT[code])
    after = readfile(target)

    assert_kept(source, target)
    assert readfile(source).dxfversion == after.dxfversion
    assert readfile(source).header.get("$INSUNITS") == after.header.get("$INSUNITS")
    assert {f"SPLICEWRIGHT-{name}" for name in LAYERS} <= {layer.dxf.name for layer in after.layers}


def test_the_demo_stays_as_it_was(mark):
    """Of the demo drawing, with its blocks, hatches, dimensions and sheets, every entity comes back equal."""
    made = schedule_job([BASIN / "settling-basin.dxf"], load_rules(BASIN / "rules.toml"), name="demo")
    _, target = mark(document_of(*TEE))
    write_marked(made, 0, BASIN / "settling-basin.dxf", target)

    assert_kept(BASIN / "settling-basin.dxf", target)


def test_every_mark_of_the_schedule_is_written(mark):
    """All nodes, runs, pieces, fittings and splices of the demo are named in the drawing, each on its layer."""
    made = schedule_job([BASIN / "settling-basin.dxf"], load_rules(BASIN / "rules.toml"), name="demo")
    _, target = mark(document_of(*TEE))
    write_marked(made, 0, BASIN / "settling-basin.dxf", target)
    after = readfile(target)
    field = {splice.mark for splice in made.splices if splice.made == "field"}
    pieces = {piece.mark for roll in made.rolls for piece in roll.pieces}

    assert {node.mark for node in made.nodes} == {text.split()[0] for text in words(after, "NODES")}
    assert {fitting.mark for fitting in made.fittings} == set(words(after, "FITTINGS"))
    assert field == set(words(after, "FIELD-SPLICES"))
    assert {run.mark for run in made.runs} | pieces == {word for text in words(after, "-RUNS") for word in text.split()}
    assert len(field) + 1 == len(ours(after, "LINE", "FIELD-SPLICES")) - leaders_of(after, "FIELD-SPLICES")


def leaders_of(document, layer):
    """Lines that begin where a tick has its middle are leaders."""
    lines = ours(document, "LINE", layer)
    middles = {tuple(round(v, 6) for v in (line.dxf.start + line.dxf.end) / 2) for line in lines}
    return sum(tuple(round(v, 6) for v in line.dxf.start) in middles for line in lines)


def test_ticks_stand_where_splices_are(mark):
    """
    Legs of 24 in on a tee of 10 m and 4 m: ticks across the strip at 5 m -+ 0.6096 m, and at 0.6096 m up the stem.

        +--|-+-|--+
             -
             +
    """
    _, target = mark(document_of(*TEE))
    ticks = [
        line
        for line in ours(readfile(target), "LINE", "FIELD-SPLICES")
        if line.dxf.start.z == 0 and line.dxf.start.x < 10.5
    ]
    found = {
        tuple(round(v, 4) + 0.0 for v in ((t.dxf.start + t.dxf.end) / 2).xyz[:2]): t.dxf.end - t.dxf.start
        for t in ticks
    }

    assert {(4.3904, 0.0), (5.6096, 0.0), (5.0, 0.6096)} <= set(found)
    assert 0 == pytest.approx(found[4.3904, 0.0].x) == pytest.approx(found[5.0, 0.6096].y)


def test_fittings_are_outlined(mark):
    """
    The tee's outline is a T of its legs and its strip's width: area 3 * 0.6096 * w - w * w / 2.

        +-------+
        +--+ +--+     w = 9 in, half of the stem's width within the through piece
           | |
           +-+
    """
    _, target = mark(document_of(*TEE))
    outline = max(
        (Polygon(ring.get_points("xy")) for ring in ours(readfile(target), "LWPOLYLINE", "FITTINGS")),
        key=lambda shape: -shape.bounds[0],
    )
    width = load_rules(None).profile_of(None).width_m

    assert 3 * 0.6096 * width - width * width / 2 == pytest.approx(outline.area, rel=1e-6)
    assert (5 - 0.6096, -width / 2, 5 + 0.6096, 0.6096) == pytest.approx(outline.bounds)


def test_findings_stand_in_clouds(mark):
    """
    A near miss 60 mm from a line gets a cloud of arcs round its place, with its sentence.

        +-------+
           '          ends 60 mm below
           |
    """
    _, target = mark(document_of([(0, 0), (10, 0)], [(5, -0.06), (5, -4)]))
    after = readfile(target)
    clouds = [(bbox.extents([ring]).center, ring) for ring in ours(after, "LWPOLYLINE", "FINDINGS")]
    centre, cloud = min(clouds, key=lambda found: found[0].distance((5, -0.06)))

    assert {0.5} == {point[4] for point in cloud.get_points()}
    assert cloud.closed
    assert (5.0, -0.06) == pytest.approx(centre.xyz[:2], abs=0.01)
    assert any("near-miss" in text for text in words(after, "FINDINGS"))


def test_marks_stand_at_their_height(mark):
    """
    Marks of a wall joint that climbs 3 m stand at their places in space, those at its top at 3 m.

            + 3 m
            |
        ----+----
    """
    _, target = mark(document_of([(0, 0, 0), (10, 0, 0)], [(5, 0, 0), (5, 0, 3)]))
    after = readfile(target)
    heights = {text.dxf.text.split()[0]: round(text.dxf.insert.z, 6) for text in ours(after, "TEXT", "NODES")}

    assert {0.0, 3.0} == set(heights.values())
    assert 3.0 in {round(circle.dxf.center.z, 6) for circle in ours(after, "CIRCLE", "NODES")}


def test_survey_coordinates_stay_exact(mark):
    """Half a million metres east and four million north, ticks stand within a micrometre of their places."""
    far = (512_345.678, 4_123_456.789, 250.0)
    source, target = mark(document_of(*TEE, shift=far))
    centres = {tuple(round(v, 6) for v in circle.dxf.center) for circle in ours(readfile(target), "CIRCLE", "NODES")}

    assert_kept(source, target)
    assert tuple(round(a + b, 6) for a, b in zip(far, (5, 0, 0), strict=True)) in centres


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_binary_drawings_come_back_as_text(mark, tmp_path, version):
    """A binary DXF is handed back as text, its lines as they were."""
    path = tmp_path / "tank.dxf"
    document_of(*TEE, version=version).saveas(path, fmt="bin")
    source, target = mark(None, unit=LengthUnit.METRE)

    assert source.read_bytes().startswith(b"AutoCAD Binary DXF")
    assert not target.read_bytes().startswith(b"AutoCAD Binary DXF")
    assert_kept(source, target)


def test_a_damaged_drawing_comes_back_mended(mark, tmp_path):
    """What is opened by way of repair is handed back repaired, lines and marks, and passes the audit."""
    document_of(*TEE).saveas(tmp_path / "whole.dxf")
    text = (tmp_path / "whole.dxf").read_text()
    broken = text.replace("  0\nSECTION\n  2\nENTITIES\n", "  0\nENDSEC\n  0\nSECTION\n  2\nENTITIES\n")
    (tmp_path / "tank.dxf").write_text(broken)
    _, target = mark(None)
    after = readfile(target)
    lines = [
        (tuple(line.dxf.start), tuple(line.dxf.end)) for line in after.modelspace().query('LINE[layer=="WATERSTOP"]')
    ]

    assert broken != text
    with pytest.raises(DXFStructureError):
        readfile(tmp_path / "tank.dxf")
    assert [((0, 0, 0), (10, 0, 0)), ((5, 0, 0), (5, 4, 0))] == lines
    assert [] == after.audit().errors
    assert words(after, "NODES")


def test_a_drawing_without_a_unit_stays_without(mark):
    """Where the drawing states no unit and the user says feet, marks stand in feet, and still none is stated."""
    document = document_of(*TEE, code=2)
    document.header["$INSUNITS"] = 0
    _, target = mark(document, unit=LengthUnit.FOOT)
    after = readfile(target)
    centres = {round(circle.dxf.center.x, 4) for circle in ours(after, "CIRCLE", "NODES")}

    assert 0 == after.header["$INSUNITS"]
    assert round(5 / 0.3048, 4) in centres


def test_our_layers_never_meet_the_drawings_own(mark):
    """Where the drawing has a layer or an entity on a name of ours, in any case, ours take a number."""
    document = document_of(*TEE)
    document.layers.add("splicewright-nodes")
    document.modelspace().add_line((0, 9), (1, 9), dxfattribs={"layer": "SPLICEWRIGHT-2-RUNS"})
    _, target = mark(document)
    after = readfile(target)

    assert {f"SPLICEWRIGHT-3-{name}" for name in LAYERS} <= {layer.dxf.name for layer in after.layers}
    assert [] == list(after.modelspace().query('*[layer=="SPLICEWRIGHT-NODES"]'))
    assert 1 == len(after.modelspace().query('*[layer=="SPLICEWRIGHT-2-RUNS"]'))


def test_a_marked_drawing_reads_as_before(mark):
    """A marked drawing scheduled again gives the same waterstop: no mark is taken for a line."""
    source, target = mark(document_of(*TEE))
    again = schedule_job([target], load_rules(None), name="again")
    first = schedule_job([source], load_rules(None), name="job")

    assert first.totals == again.totals


def test_letters_are_as_high_as_the_drawings_own(mark):
    """A drawing lettered 0.3 m high gets marks as high, where they have room."""
    document = document_of(*[[(x, 0), (x, 40)] for x in range(0, 60, 10)])
    for x in range(5):
        document.modelspace().add_text("POUR", height=0.3, dxfattribs={"insert": (x * 10 + 4, 20)})
    _, target = mark(document)

    assert {0.3} == {round(text.dxf.height, 6) for text in ours(readfile(target), "TEXT")}


def boxes_of(document):
    found = [
        (text.dxf.text, bbox.extents([text], fast=True))
        for text in ours(document, "TEXT")
        if "LEGEND" not in text.dxf.layer
    ]
    return [(word, box) for word, box in found if box.has_data]


def test_labels_do_not_cover_each_other(mark):
    """
    On a grid of 36 crosses no two labels overlap, nor any a text that was there.

        --+--+--
        --+--+--     6 by 6 lines, 3 m apart
    """
    document = document_of(
        *[[(x * 3, -2), (x * 3, 17)] for x in range(6)], *[[(-2, y * 3), (17, y * 3)] for y in range(6)]
    )
    document.modelspace().add_text("EXISTING", height=0.2, dxfattribs={"insert": (3.1, 3.1)})
    _, target = mark(document)
    after = readfile(target)
    own = bbox.extents(after.modelspace().query('TEXT[layer=="0"]'), fast=True)
    found = [*boxes_of(after), ("EXISTING", own)]
    clashes = [
        (a, b)
        for i, (a, one) in enumerate(found)
        for b, two in found[i + 1 :]
        if min(one.extmax.x, two.extmax.x) - max(one.extmin.x, two.extmin.x) > 0.01
        and min(one.extmax.y, two.extmax.y) - max(one.extmin.y, two.extmin.y) > 0.01
    ]

    assert len(found) > 200
    assert [] == clashes


def test_labels_moved_away_have_leaders(mark):
    """
    Forty splices stacked over one place in plan are all readable, the far ones by leaders from the place.

          |
          |    one strip climbing 400 m; pieces of a roll meet every 50 ft
          |
    """
    _, target = mark(document_of([(0, 0, 0), (0, 0, 400)], [(0, 0, 0), (3, 0, 0)]))
    after = readfile(target)
    places = Counter(
        tuple(round(v, 3) for v in text.dxf.insert.xyz[:2]) for text in ours(after, "TEXT", "FIELD-SPLICES")
    )

    assert 1 == max(places.values())
    assert leaders_of(after, "FIELD-SPLICES") > 10


def test_the_legend_stands_clear(mark):
    """The legend lies to the right of everything drawn, a frame far off included, and tells layers and cautions."""
    document = document_of(*TEE)
    frame = [(-1, -1), (60, -1), (60, 20), (-1, 20)]
    document.modelspace().add_lwpolyline(frame, close=True, dxfattribs={"layer": "FRAME"})
    _, target = mark(document)
    after = readfile(target)
    legend = bbox.extents(ours(after, "*", "LEGEND"), fast=True)
    text = " ".join(words(after, "LEGEND"))

    assert legend.extmin.x > 60
    assert "CAUTIONS" in text
    assert "splice welded on site" in text
    assert "500 °F" in text


def test_hostile_names_arrive_as_text(mark, tmp_path):
    """Names with codes of CAD, formulas, HTML, signs from right to left and emoji stand in findings as they are."""
    name = "WATERSTOP %%U<b>=1+1</b> \u202eabc\u202c \U0001f600 ^J"
    document_of([(0, 0), (10, 0)], [(5, -0.06), (5, -4)], layer="WATERSTOP NAME").saveas(tmp_path / "tank.dxf")
    text = (tmp_path / "tank.dxf").read_text(encoding="utf-8").replace("WATERSTOP NAME", name)
    (tmp_path / "tank.dxf").write_text(text, encoding="utf-8")  # CAD would not let one draw on such a layer
    source, target = mark(None)
    text = " ".join(words(readfile(target), "FINDINGS") + words(readfile(target), "LEGEND"))

    assert_kept(source, target)
    assert "<b>=1+1</b>" in text
    assert "\U0001f600" in text
    assert "%%U" not in text
    assert [] == [one for one in ours(readfile(target), "TEXT") if re.search(r"[\x00-\x1f]", one.dxf.text)]


def test_blocks_that_hold_themselves_are_no_trap(mark):
    """Blocks nested into themselves, and a bomb of blocks on other layers, are measured once and left alone."""
    document = document_of(*TEE)
    document.blocks.new("LOOP").add_blockref("LOOP", (1, 1))
    document.modelspace().add_blockref("LOOP", (0, 0))
    inner = document.blocks.new("B0")
    inner.add_line((0, 0), (1, 1))
    for number in range(1, 12):
        block = document.blocks.new(f"B{number}")
        for x in range(10):
            block.add_blockref(f"B{number - 1}", (x / 100, 0))
    document.modelspace().add_blockref("B11", (0, 0))
    begun = time.monotonic()
    _, target = mark(document)

    assert time.monotonic() - begun < 20
    assert words(readfile(target), "NODES")


def test_the_same_drawing_gives_the_same_bytes(mark):
    """Marking twice gives equal files, whatever the hour, and the drawing keeps the date it was made."""
    source, target = mark(document_of(*TEE))
    first = target.read_bytes()
    made = schedule_job([source], load_rules(None), name="job")
    time.sleep(0.01)
    write_marked(made, 0, source, target)

    def born(data):
        return re.search(rb"\$TDCREATE\r?\n *40\r?\n(\S+)", data)[1]

    assert first == target.read_bytes()
    assert born(source.read_bytes()) == born(first)


def test_a_drawing_changed_meanwhile_is_refused(mark):
    """A drawing that is no longer the one that was read is not marked."""
    source, target = mark(document_of(*TEE))
    made = schedule_job([source], load_rules(None), name="job")
    document_of([(0, 0), (9, 0)]).saveas(source)

    with pytest.raises(OutputError, match="has changed while it was being scheduled"):
        write_marked(made, 0, source, target)


def test_each_drawing_gets_its_own_marks(tmp_path):
    """Of two drawings of one name in two folders each gets its own nodes and findings, none of the other's."""
    paths = []
    for folder, shift in (("a", 0.0), ("b", 500.0)):
        (tmp_path / folder).mkdir()
        paths.append(tmp_path / folder / "plan.dxf")
        gap = ([(shift, 0), (shift + 10, 0)], [(shift + 5, -0.06), (shift + 5, -4)])
        document_of(*gap).saveas(paths[-1])
    made = schedule_job(paths, load_rules(None), name="job")
    found = []
    for number, path in enumerate(paths):
        write_marked(made, number, path, tmp_path / "marked.dxf")
        after = readfile(tmp_path / "marked.dxf")
        nodes = {text.split()[0] for text in words(after, "NODES")}
        found.append((nodes, sum("near-miss" in text for text in words(after, "FINDINGS"))))

    assert [({"N1", "N2", "N3", "N4"}, 1), ({"N5", "N6", "N7", "N8"}, 1)] == found


def test_sheets_show_marks_in_every_view(tmp_path):
    """On the demo's flat sheet marks stand on the sheet, a node in plan and again in the elevation of its wall."""
    sheet = BASIN / "settling-basin-sheet.dxf"
    made = schedule_job([sheet], load_rules(BASIN / "rules-sheet.toml"), name="job")
    write_marked(made, 0, sheet, tmp_path / "marked.dxf")
    after = readfile(tmp_path / "marked.dxf")
    counts = Counter(text.split()[0] for text in words(after, "NODES"))
    page = bbox.extents([e for e in after.modelspace() if not e.dxf.layer.startswith("SPLICEWRIGHT")], fast=True)
    places = [circle.dxf.center for circle in ours(after, "CIRCLE", "NODES") if circle.dxf.center.x < page.extmax.x]

    assert_kept(sheet, tmp_path / "marked.dxf")
    assert {1, 2} <= set(counts.values())
    assert len(places) > len(made.nodes)
    assert all(page.extmin.x <= at.x and page.extmin.y <= at.y <= page.extmax.y and at.z == 0 for at in places)


def test_ten_thousand_splices_are_marked_in_time(tmp_path):
    """
    A floor of 41 by 41 joints, so close that legs meet, has 4 * 41 * 41 + 2 * 41 * 40 splices, marked in under 20 s.

        --+--+--
        --+--+--     1.5 m apart
    """
    n = 41
    lines = [[(1.5 * i, -0.75), (1.5 * i, 1.5 * n - 0.75)] for i in range(n)]
    document_of(*lines, *[[point[::-1] for point in line] for line in lines]).saveas(tmp_path / "floor.dxf")
    made = schedule_job([tmp_path / "floor.dxf"], load_rules(None), name="floor")
    begun = time.process_time()
    write_marked(made, 0, tmp_path / "floor.dxf", tmp_path / "marked.dxf")
    spent = time.process_time() - begun

    assert 4 * 41 * 41 + 2 * 41 * 40 == len(made.splices)
    assert spent < 20
