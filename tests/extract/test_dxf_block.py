"""Block inserts, external references, layers and what is not shown."""

import math
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing as Document
from ezdxf.xclip import XClip

from splicewright.extract.drawing import Drawing
from splicewright.extract.dxf import read_dxf
from splicewright.extract.errors import NothingSelectedError, UnreadableDrawingError
from splicewright.extract.selection import Selection
from splicewright.extract.unit import LengthUnit

WS = {"layer": "WS"}


@pytest.fixture
def document() -> Document:
    """A drawing in metres with block STRIP: a line from (0, 0) to (1, 0) on layer 0."""
    document = ezdxf.new("R2018", units=6)
    document.blocks.new("STRIP").add_line((0, 0), (1, 0))
    return document


@pytest.fixture
def read(tmp_path: Path):
    """Save a drawing and read the layers that match some patterns, WS where none is given."""

    def save_and_read(document: Document, *patterns: str) -> Drawing:
        document.saveas(tmp_path / "host.dxf")
        return read_dxf(tmp_path / "host.dxf", Selection(patterns=patterns or ("WS",)))

    return save_and_read


def ends(drawing: Drawing) -> list[list[float]]:
    """First and last vertex of every line, rounded to a nanometre, one flat list each."""
    return [[round(value, 9) + 0.0 for value in line.points_m[[0, -1]].ravel()] for line in drawing.lines]


@pytest.mark.parametrize(
    ("attributes", "expected"),
    [
        ({}, [10, 20, 3, 11, 20, 3]),
        ({"rotation": 90}, [10, 20, 3, 10, 21, 3]),
        ({"xscale": 4, "yscale": 2}, [10, 20, 3, 14, 20, 3]),
        ({"xscale": -1}, [10, 20, 3, 9, 20, 3]),
        ({"xscale": -2, "rotation": 90}, [10, 20, 3, 10, 18, 3]),
        ({"extrusion": (0, 0, -1)}, [-10, 20, -3, -11, 20, -3]),
        ({"extrusion": (1, 0, 0)}, [3, 10, 20, 3, 11, 20]),
        ({"zscale": 0}, [10, 20, 3, 11, 20, 3]),
    ],
)
def test_insert_moves_turns_scales_and_mirrors(document, read, attributes, expected):
    """A block stands where, and as large and as turned, as its insert says, also where one scale is 0."""
    document.modelspace().add_blockref("STRIP", (10, 20, 3), dxfattribs=WS | attributes)

    assert [expected] == ends(read(document))


def test_base_point_is_the_handle_of_a_block(document, read):
    """The block's base point comes to lie on the insertion point, scale and rotation applied about it."""
    block = document.blocks.new("PEG", base_point=(100, 100, 0))
    block.add_line((100, 100), (101, 100))
    document.modelspace().add_blockref("PEG", (5, 5), dxfattribs=WS | {"rotation": 90, "xscale": 2})

    assert [[5, 5, 0, 5, 7, 0]] == ends(read(document))


def test_uneven_scale_makes_an_ellipse_of_a_circle(document, read):
    """A circle of radius 1 scaled 10 : 5 measures what the 10 x 5 ellipse does, 48.4422411."""
    document.blocks.new("RING").add_circle((0, 0), 1)
    document.modelspace().add_blockref("RING", (0, 0), dxfattribs=WS | {"xscale": 10, "yscale": 5, "rotation": 30})
    (line,) = read(document).lines

    assert line.closed
    assert 48.4422411 == pytest.approx(line.length_m, rel=1e-6)


def test_uneven_scale_shears_a_turned_block_inside(document, read):
    """
    A strip turned by 45 degrees inside a block that is scaled 3 : 1 lies flatter, which no single insert can say.

           /           ____...
          /     ->   --            (1, 1) / sqrt 2  ->  (3, 1) / sqrt 2
    """
    document.blocks.new("OUTER").add_blockref("STRIP", (0, 0), dxfattribs={"rotation": 45})
    document.modelspace().add_blockref("OUTER", (0, 0), dxfattribs=WS | {"xscale": 3})
    (x, y) = ends(read(document))[0][3:5]

    assert (3 * math.sqrt(0.5), math.sqrt(0.5)) == pytest.approx((x, y), abs=1e-9)


@pytest.mark.parametrize("kind", ["bulge", "ellipse", "spline"])
def test_curves_under_an_uneven_scale(document, read, kind):
    """Half a circle of radius 1, drawn in three ways, scaled 10 : 5 is half the 10 x 5 ellipse."""
    block = document.blocks.new("HALF")
    if kind == "bulge":
        block.add_lwpolyline([(1, 0, 0, 0, 1), (-1, 0, 0, 0, 0)])
    elif kind == "ellipse":
        block.add_ellipse((0, 0), (1, 0), 1.0, 0, math.pi)
    else:
        control, weight = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0)], math.sqrt(0.5)
        knots = [0, 0, 0, 1, 1, 2, 2, 2]
        block.add_rational_spline(control, [1, weight, 1, weight, 1], degree=2, knots=knots)
    document.modelspace().add_blockref("HALF", (0, 0), dxfattribs=WS | {"xscale": 10, "yscale": 5})
    (line,) = read(document).lines

    assert 48.4422411 / 2 == pytest.approx(line.length_m, rel=1e-6)
    assert [10, 0, 0, -10, 0, 0] == pytest.approx(line.points_m[[0, -1]].ravel(), abs=1e-9)


def test_array_stands_in_rows_and_columns(document, read):
    """
    A 3 x 2 array turned by 90 degrees: columns run up, rows run left; the scale does not stretch the grid.

        .  ^        each copy is the strip, 2 long, pointing up
        ^  ^
        ^  ^
    """
    grid = {"column_count": 3, "column_spacing": 10, "row_count": 2, "row_spacing": 4, "rotation": 90, "xscale": 2}
    document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS | grid)
    expected = [[x, y, 0, x, y + 2, 0] for x in (0, -4) for y in (0, 10, 20)]

    assert expected == ends(read(document))


@pytest.mark.parametrize("grid", [{"column_count": 0, "row_count": 0}, {"column_count": 5, "column_spacing": 0}])
def test_array_of_nothing_is_one_copy(document, read, grid):
    """A count of 0 means one copy, and so do copies that fall on each other."""
    document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS | grid)

    assert [[0, 0, 0, 1, 0, 0]] == ends(read(document))


def test_layer_0_is_inherited_through_nested_blocks(document, read):
    """
    Layer 0 stands for the layer of the insert, all the way out; any other layer stays.

        model: INSERT on WS -> OUTER: INSERT on 0 -> STRIP: LINE on 0         = WS
                               OUTER: INSERT on GRID -> STRIP: LINE on 0      = GRID
                               OUTER: LINE on REBAR                          = REBAR
    """
    outer = document.blocks.new("OUTER")
    outer.add_blockref("STRIP", (0, 0))
    outer.add_blockref("STRIP", (0, 1), dxfattribs={"layer": "GRID"})
    outer.add_line((0, 2), (1, 2), dxfattribs={"layer": "REBAR"})
    document.modelspace().add_blockref("OUTER", (0, 0), dxfattribs=WS)

    assert ["WS"] == [line.source.layer for line in read(document).lines]
    assert ["WS", "GRID", "REBAR"] == [line.source.layer for line in read(document, "*").lines]


def test_line_inside_a_block_on_another_layer_is_found(document, read):
    """A line on WS in a block that is inserted on another layer is waterstop."""
    document.blocks.new("PANEL").add_line((0, 0), (2, 0), dxfattribs=WS)
    insert = document.modelspace().add_blockref("PANEL", (0, 0), dxfattribs={"layer": "PARTS"})
    (line,) = read(document).lines

    assert "WS" == line.source.layer
    assert line.source.entity.endswith(f"in INSERT {insert.dxf.handle}")


def test_layer_names_differ_by_more_than_case(document, read):
    """WS and ws are one layer, spelled as the layer table spells it."""
    document.layers.add("Ws")
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "WS"})
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "ws"})

    assert ["Ws", "Ws"] == [line.source.layer for line in read(document, "wS").lines]


@pytest.mark.parametrize(("state", "reason"), [("freeze", "layer-frozen"), ("off", "layer-off")])
def test_hidden_layers_are_left_out(document, read, state, reason):
    """What lies on a layer that is frozen or off is counted, with one finding a layer."""
    getattr(document.layers.add("WS-OLD"), state)()
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.modelspace().add_line((0, 1), (1, 1), dxfattribs={"layer": "WS-OLD"})
    drawing = read(document, "WS*")

    assert {reason: 1} == drawing.skipped
    assert ["layer-hidden"] == [finding.code for finding in drawing.findings]
    assert "WS-OLD" in drawing.findings[0].message


@pytest.mark.parametrize(("state", "skipped", "lines"), [("freeze", {"layer-frozen": 1}, 1), ("off", {}, 2)])
def test_insert_on_a_hidden_layer(document, read, state, skipped, lines):
    """A frozen layer hides all of a block inserted on it; one that is off hides only what lies on it itself."""
    getattr(document.layers.add("PARTS"), state)()
    document.blocks.new("PANEL").add_line((0, 0), (2, 0), dxfattribs=WS)
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.modelspace().add_blockref("PANEL", (0, 0), dxfattribs={"layer": "PARTS"})
    drawing = read(document)

    assert skipped == drawing.skipped
    assert lines == len(drawing.lines)


def test_invisible_entities_are_left_out(document, read):
    """An invisible line, and all that an invisible insert holds, is counted."""
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS | {"invisible": 1})
    document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS | {"invisible": 1})
    drawing = read(document)

    assert {"invisible": 2} == drawing.skipped
    assert 3 == drawing.selected


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_paper_space_is_left_out(tmp_path, version):
    """Lines on a sheet are counted, not read; R12 marks them one by one."""
    document = ezdxf.new(version, units=6)
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.paperspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.saveas(tmp_path / "sheet.dxf")
    drawing = read_dxf(tmp_path / "sheet.dxf", Selection(patterns=("WS",)), unit=LengthUnit.METRE)

    assert {"paper-space": 1} == drawing.skipped
    assert ["paper-space"] == [finding.code for finding in drawing.findings]


def test_sheets_make_one_finding(document, read):
    """What stands on sheets is one note, however many layers and types it is of."""
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    for layer in ("WS", "WS-2"):
        document.paperspace().add_line((0, 0), (1, 0), dxfattribs={"layer": layer})
    document.paperspace().add_circle((0, 0), 1, dxfattribs=WS)

    (finding,) = read(document, "WS*").findings

    assert "2 layers: 1 CIRCLE, 2 LINE left out, on a sheet and not in the model" == finding.message


def test_only_paper_space_is_nothing(document, read):
    """A drawing whose lines all stand on a sheet says so."""
    document.paperspace().add_line((0, 0), (1, 0), dxfattribs=WS)

    with pytest.raises(NothingSelectedError, match=r"1 LINE \(paper-space\); no other layer shows a line"):
        read(document)


def test_missing_block_is_counted(document, read):
    """An insert of a block that is not there is one skipped entity with a finding."""
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    document.modelspace().add_blockref("NOWHERE", (0, 0), dxfattribs=WS)
    drawing = read(document)

    assert {"missing-block": 1} == drawing.skipped
    assert 2 == drawing.selected


def test_block_that_holds_itself_ends(document, read):
    """
    A block that holds itself through another is opened up once.

        model -> A -> LINE
                 A -> B -> A -> ...
    """
    first, second = document.blocks.new("A"), document.blocks.new("B")
    first.add_line((0, 0), (1, 0))
    first.add_blockref("B", (0, 0))
    second.add_blockref("A", (5, 0))
    document.modelspace().add_blockref("A", (0, 0), dxfattribs=WS)
    drawing = read(document)

    assert [[0, 0, 0, 1, 0, 0]] == ends(drawing)
    assert {"recursive-block": 1} == drawing.skipped


def test_a_bomb_of_blocks_is_refused(document, read):
    """Ten blocks, each of which holds the last one ten times, would open up to 10^10 lines: one sentence."""
    for level in range(10):
        block = document.blocks.new(f"L{level}")
        for _ in range(10):
            block.add_blockref("STRIP" if level == 0 else f"L{level - 1}", (0, 0))
    grid = {"column_count": 30000, "column_spacing": 1, "row_count": 30000, "row_spacing": 1}
    document.modelspace().add_blockref("L9", (0, 0), dxfattribs=WS | grid)

    with pytest.raises(UnreadableDrawingError, match=r"host\.dxf opens up to more than 2000000 entities"):
        read(document)


def test_attributes_of_an_insert_are_counted(document, read):
    """The texts attached to an insert are selected entities that are no lines."""
    insert = document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS)
    insert.add_attrib("MARK", "A1", dxfattribs=WS)
    drawing = read(document)

    assert {"ATTRIB": 1} == drawing.skipped
    assert 1 == len(drawing.lines)


@pytest.mark.parametrize(("scale", "codes"), [(1, ["block-unit"]), (0.001, [])])
def test_units_of_a_block_do_not_scale_it(document, read, scale, codes):
    """
    The scale of the insert alone counts: CAD has worked the ratio of units into it. A block in millimetres that
    stands unscaled in a drawing in metres is shown a thousand times too large, so it is pointed out.
    """
    document.blocks.get("STRIP").units = 4
    document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS | {"xscale": scale, "yscale": scale})
    drawing = read(document)

    assert scale == drawing.length_m
    assert codes == [finding.code for finding in drawing.findings]


def test_clipped_block_is_read_whole_and_told(document, read):
    """A clipped insert is read whole, and a finding says so."""
    insert = document.modelspace().add_blockref("STRIP", (0, 0), dxfattribs=WS)
    XClip(insert).set_block_clipping_path([(0, -1), (0.5, 1)])
    drawing = read(document)

    assert 1.0 == drawing.length_m
    assert ["clipped-block"] == [finding.code for finding in drawing.findings]


@pytest.fixture
def site(tmp_path: Path):
    """Write site.dxf beside the host: a line of 2 on layer WS and one of 3 on layer 0, in metres."""

    def write(path: str = "site.dxf", units: int = 6) -> None:
        document = ezdxf.new("R2018", units=units)
        document.modelspace().add_line((0, 0), (2, 0), dxfattribs=WS)
        document.modelspace().add_line((0, 0), (3, 0))
        (tmp_path / path).parent.mkdir(exist_ok=True)
        document.saveas(tmp_path / path)

    return write


def refer(document: Document, path: str, layer: str = "REFS") -> None:
    document.add_xref_def(path, "site")
    document.modelspace().add_blockref("site", (10, 0), dxfattribs={"layer": layer})


@pytest.mark.parametrize(("file", "written"), [("site.dxf", "site.dxf"), ("sub/site.dxf", ".\\sub\\site.dxf")])
def test_reference_in_the_own_folder_is_followed(document, read, site, file, written):
    """A reference beside the drawing is read, its layers led by its name; its layer 0 is the insert's layer."""
    site(file)
    refer(document, written, layer="WS-REF")
    drawing = read(document, "WS*")

    assert [[10, 0, 0, 12, 0, 0], [10, 0, 0, 13, 0, 0]] == ends(drawing)
    assert ["site|WS", "WS-REF"] == [line.source.layer for line in drawing.lines]
    assert {"site.dxf"} == {line.source.file for line in drawing.lines}


@pytest.mark.parametrize("pattern", ["WS", "site|*"])
def test_reference_layers_match_with_and_without_their_prefix(document, read, site, pattern):
    """Layer WS of reference site answers to WS and to site|WS."""
    site()
    refer(document, "site.dxf")

    assert 2.0 == read(document, pattern).length_m


def test_host_freezes_a_layer_of_its_reference(document, read, site):
    """The drawing's own entry site|WS decides whether the reference's layer WS is shown."""
    site()
    refer(document, "site.dxf")
    document.layers.add("site|WS").freeze()
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    drawing = read(document)

    assert 1.0 == drawing.length_m
    assert {"layer-frozen": 1} == drawing.skipped


@pytest.mark.parametrize("written", ["../site.dxf", "/etc/site.dxf", "C:\\jobs\\site.dxf", "gone.dxf", "link.dxf", ""])
def test_reference_out_of_the_folder_is_not_followed(document, tmp_path, site, written):
    """No path out of the folder is followed, neither by dots, nor absolute, nor through a link: a finding."""
    site()
    home = tmp_path / "job"
    home.mkdir()
    (home / "link.dxf").symlink_to(tmp_path / "site.dxf")
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    refer(document, written, layer="WS")
    document.saveas(home / "host.dxf")
    drawing = read_dxf(home / "host.dxf", Selection(patterns=("WS",)))

    assert 1.0 == drawing.length_m
    assert {"xref": 1} == drawing.skipped
    assert "xref" in [finding.code for finding in drawing.findings]


def test_reference_that_leads_back_ends(document, read):
    """A drawing that refers to itself is read once."""
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    refer(document, "host.dxf", layer="WS")
    drawing = read(document)

    assert 1.0 == drawing.length_m
    assert "leads back to itself" in drawing.findings[0].message


def test_reference_that_is_no_dxf_is_told(document, read, tmp_path):
    """A reference that cannot be read is a finding; the drawing itself is read."""
    (tmp_path / "site.dxf").write_text("no drawing")
    document.modelspace().add_line((0, 0), (1, 0), dxfattribs=WS)
    refer(document, "site.dxf", layer="WS")

    assert {"xref": 1} == read(document).skipped


def test_reference_in_another_unit_is_told(document, read, site):
    """A reference in feet that stands unscaled in a drawing in metres is read as drawn and pointed out."""
    site(units=2)
    refer(document, "site.dxf")
    drawing = read(document)

    assert 2.0 == drawing.length_m
    assert ["block-unit"] == [finding.code for finding in drawing.findings]


def test_selected_is_read_plus_skipped(document, read):
    """Everything selected is a line or counted by reason."""
    model = document.modelspace()
    model.add_line((0, 0), (1, 0), dxfattribs=WS)
    model.add_line((0, 0), (0, 0), dxfattribs=WS)
    model.add_blockref("STRIP", (0, 0), dxfattribs=WS | {"column_count": 3, "column_spacing": 1})
    model.add_text("x", dxfattribs=WS)
    model.add_blockref("NOWHERE", (0, 0), dxfattribs=WS)
    model.add_line((0, 0), (9, 0), dxfattribs={"layer": "GRID"})
    drawing = read(document)

    assert 7 == drawing.selected == len(drawing.lines) + sum(drawing.skipped.values())
