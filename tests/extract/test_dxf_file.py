"""DXF files as files: versions, units, damage, and what is told of it."""

import gc
import hashlib
import math
from pathlib import Path

import ezdxf
import pytest

from splicewright.extract.drawing import Drawing
from splicewright.extract.dxf import read_dxf
from splicewright.extract.errors import DrawingError, MissingUnitError, NothingSelectedError, UnreadableDrawingError
from splicewright.extract.selection import Selection
from splicewright.extract.unit import LengthUnit

WS = {"layer": "WS"}
ALL = Selection(patterns=("*",))
VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def tags(*pairs: tuple[int, object]) -> str:
    """Write group codes and values as DXF text."""
    return "".join(f"{code:3}\n{value}\n" for code, value in pairs)


def line(layer: str = "WS", x: object = 1.0, **more: object) -> str:
    """Write one LINE from the origin along x."""
    extra = tags(*((int(code.strip("g")), value) for code, value in more.items()))
    return tags((0, "LINE"), (8, layer), (10, 0.0), (20, 0.0), (30, 0.0), (11, x), (21, 0.0), (31, 0.0)) + extra


def section(name: str, body: str) -> str:
    """Write a section."""
    return tags((0, "SECTION"), (2, name)) + body + tags((0, "ENDSEC"))


METRES = section("HEADER", tags((9, "$ACADVER"), (1, "AC1009"), (9, "$INSUNITS"), (70, 6)))
EOF = tags((0, "EOF"))


@pytest.fixture
def read(tmp_path: Path):
    """Write a text as a DXF file and read all of it."""

    def write_and_read(text: str | bytes, selection: Selection = ALL, **unit: LengthUnit) -> Drawing:
        path = tmp_path / "job.dxf"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_dxf(path, selection, **unit)

    return write_and_read


def a_bit_of_everything(version: str) -> ezdxf.document.Drawing:
    """A line, a bulged ring, an arc, a 3D polyline and a block insert, 10 + 2 pi + pi / 2 + 5 + 6 long in all."""
    document = ezdxf.new(version, units=6)
    model = document.modelspace()
    model.add_line((0, 0), (10, 0), dxfattribs=WS)
    ring = [(0, 0, 1), (2, 0, 1)]
    if version == "R12":
        model.add_polyline2d(ring, format="xyb", close=True, dxfattribs=WS)
    else:
        model.add_lwpolyline(ring, format="xyb", close=True, dxfattribs=WS)
    model.add_arc((0, 0), 1, 0, 90, dxfattribs=WS)
    model.add_polyline3d([(0, 0, 0), (3, 0, 4)], dxfattribs=WS)
    document.blocks.new("STRIP").add_line((0, 0), (3, 0))
    model.add_blockref("STRIP", (7, 7), dxfattribs=WS | {"xscale": 2})
    return document


@pytest.mark.parametrize("form", ["asc", "bin"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_reads_alike(tmp_path, version, form):
    """R12 to R2018, ASCII and binary, hold the same lines."""
    a_bit_of_everything(version).saveas(tmp_path / "job.dxf", fmt=form)
    drawing = read_dxf(tmp_path / "job.dxf", Selection(patterns=("WS",)), unit=LengthUnit.METRE)

    assert 5 == len(drawing.lines)
    assert 10 + math.tau + math.pi / 2 + 5 + 6 == pytest.approx(drawing.length_m, rel=1e-6)
    assert () == drawing.findings


@pytest.mark.outside(
    what="units that a drawing states, code by code",
    against="the published DXF reference, header variable $INSUNITS",
    result="exactly equal",
)
@pytest.mark.parametrize(
    ("code", "unit", "metres"),
    [
        (1, "in", 0.0254),
        (2, "ft", 0.3048),
        (3, "mi", 1609.344),
        (4, "mm", 0.001),
        (5, "cm", 0.01),
        (6, "m", 1.0),
        (7, "km", 1000.0),
        (9, "mil", 2.54e-5),
        (10, "yd", 0.9144),
        (13, "um", 1e-6),
        (14, "dm", 0.1),
        (15, "dam", 10.0),
        (16, "hm", 100.0),
        (21, "us-ft", 1200 / 3937),
    ],
)
def test_stated_unit_is_obeyed(read, code, unit, metres):
    """$INSUNITS gives the length of a drawing unit (codes: the published DXF reference, header variables)."""
    header = section("HEADER", tags((9, "$ACADVER"), (1, "AC1009"), (9, "$INSUNITS"), (70, code)))
    drawing = read(header + section("ENTITIES", line()) + EOF)

    assert unit == drawing.unit
    assert metres == drawing.length_m


@pytest.mark.parametrize(
    "header",
    [
        "",
        section("HEADER", tags((9, "$ACADVER"), (1, "AC1009"))),
        section("HEADER", tags((9, "$ACADVER"), (1, "AC1009"), (9, "$INSUNITS"), (70, 0))),
    ],
)
def test_no_unit_asks_for_one(read, header):
    """No header, no $INSUNITS, or 0: never metres by chance, but a sentence that asks."""
    with pytest.raises(MissingUnitError, match=r"job\.dxf states no length unit .* --drawing-unit"):
        read(header + section("ENTITIES", line()) + EOF)


@pytest.mark.parametrize(("code", "name"), [(8, "microinches"), (11, "angstroms"), (19, "light years"), (99, "99")])
def test_absurd_unit_asks_for_another(read, code, name):
    """A unit that no job is built in is named and refused."""
    header = section("HEADER", tags((9, "$INSUNITS"), (70, code)))

    with pytest.raises(MissingUnitError, match=f"{name}.*--drawing-unit"):
        read(header + section("ENTITIES", line()) + EOF)


def test_given_unit_goes_before_the_stated_one(read):
    """A unit given by the user overrides the file's, and serves where it states none."""
    drawing = read(METRES + section("ENTITIES", line()) + EOF, unit=LengthUnit.FOOT)
    without = read(section("ENTITIES", line()) + EOF, unit=LengthUnit.INCH)

    assert 0.3048 == drawing.length_m
    assert 0.0254 == without.length_m


def test_unit_named_outside_the_header_is_none(read):
    """The word $INSUNITS in a text of the drawing states no unit."""
    note = tags((0, "TEXT"), (8, "WS"), (10, 0.0), (20, 0.0), (40, 1.0), (1, "$INSUNITS is 6"))

    with pytest.raises(MissingUnitError):
        read(section("HEADER", tags((9, "$ACADVER"), (1, "AC1009"))) + section("ENTITIES", line() + note) + EOF)


def test_file_without_header_keeps_what_later_versions_say(read):
    """
    A file of a later version that lost its header still has its layers off, its splines' degrees, its polylines.

    ezdxf takes it for R12 and overlooks all that stands behind a subclass marker.
    """
    layer = tags((0, "LAYER"), (100, "AcDbSymbolTableRecord"), (100, "AcDbLayerTableRecord"), (2, "OLD"))
    table = tags((0, "TABLE"), (2, "LAYER"), (70, 1)) + layer + tags((70, 1), (62, 7)) + tags((0, "ENDTAB"))
    entity = (100, "AcDbEntity")
    polyline = tags((0, "LWPOLYLINE"), (5, "A1"), entity, (8, "WS"), (100, "AcDbPolyline"), (90, 2), (70, 0))
    polyline += tags((10, 0.0), (20, 0.0), (10, 3.0), (20, 4.0))
    hidden = tags(
        (0, "LINE"), (5, "A2"), entity, (8, "OLD"), (100, "AcDbLine"), (10, 0.0), (20, 0.0), (11, 1.0), (21, 0.0)
    )
    text = section("TABLES", table) + section("ENTITIES", polyline + hidden) + EOF
    drawing = read(text, unit=LengthUnit.METRE)

    assert 5.0 == drawing.length_m
    assert {"layer-frozen": 1} == drawing.skipped


def test_decimal_commas_are_refused(read):
    """Recovery would turn 2,5 into 2.0 and say nothing."""
    with pytest.raises(UnreadableDrawingError, match="decimal commas, such as 2,5; save it again with points"):
        read(METRES + section("ENTITIES", line() + line(x="2,5")) + EOF)


def test_commas_in_texts_are_no_decimal_commas(read):
    """A text that reads 2,5 in a damaged file is no number."""
    note = tags((0, "TEXT"), (8, "WS"), (10, 0.0), (20, 0.0), (40, 1.0), (1, "2,5"))
    drawing = read(METRES + section("ENTITIES", line() + note) + tags((0, "ENDSEC")) + EOF)

    assert 1.0 == drawing.length_m


def test_damaged_file_is_recovered_and_told(read):
    """A file that ezdxf refuses is repaired; the finding says what was wrong."""
    drawing = read(METRES + tags((0, "ENDSEC")) + section("ENTITIES", line() + line(x=2.0)) + EOF)

    assert 3.0 == drawing.length_m
    assert ["recovered"] == [finding.code for finding in drawing.findings]
    assert "check that no line is missing" in drawing.findings[0].message


def test_duplicate_handles_lose_no_line(read):
    """Two lines with one handle are both read, and a finding warns."""
    drawing = read(METRES + section("ENTITIES", line(g5="AA") + line(x=2.0, g5="AA")) + EOF)

    assert 3.0 == drawing.length_m
    assert "non-unique entity handle" in drawing.findings[0].message


def test_encoded_layer_names_are_decoded(read):
    """U+00DF written as an escape is the letter, for the selection as for the reports."""
    drawing = read(METRES + section("ENTITIES", line(layer=r"FU\U+00DF")) + EOF, Selection(patterns=("fu?",)))

    assert "FUß" == drawing.lines[0].source.layer


def test_layer_names_of_any_bytes_can_be_written(read):
    """A layer name that is no text in the file's encoding still makes a name that can be printed."""
    header = METRES.replace("AC1009", "AC1021")
    text = (header + section("ENTITIES", line(layer="W@S")) + EOF).encode().replace(b"@", b"\xe4")

    assert "W\ufffdS" == read(text).lines[0].source.layer
    read(text).lines[0].source.layer.encode("utf-8")


def test_line_without_an_end_is_damaged(read):
    """A LINE without its second point is counted, not drawn to the origin."""
    half = tags((0, "LINE"), (8, "WS"), (10, 5.0), (20, 5.0), (30, 0.0))

    assert {"damaged": 1} == read(METRES + section("ENTITIES", line() + half) + EOF).skipped


def test_unknown_entities_are_counted(read):
    """Proxies, regions and types nobody knows are selected by their layer and counted by type."""
    header = METRES.replace("AC1009", "AC1032")
    strange = "".join(
        tags((0, kind), (5, f"F{index}"), (100, "AcDbEntity"), (8, "WS"), (100, "AcDbX"), (90, 1))
        for index, kind in enumerate(["ACAD_PROXY_ENTITY", "REGION", "SEWER_PIPE"])
    )
    first = tags((0, "LINE"), (5, "AA"), (100, "AcDbEntity"), (8, "WS"), (100, "AcDbLine"))
    first += tags((10, 0.0), (20, 0.0), (11, 1.0), (21, 0.0))
    drawing = read(header + section("ENTITIES", first + strange) + EOF, Selection(patterns=("WS",)))

    assert {"ACAD_PROXY_ENTITY": 1, "REGION": 1, "SEWER_PIPE": 1} == drawing.skipped


@pytest.mark.parametrize("form", ["asc", "bin"])
def test_a_file_cut_off_anywhere_is_one_sentence_or_whole(tmp_path, form):
    """Cut at any place, a file gives one sentence that names it, or all of its five lines."""
    path = tmp_path / "job.dxf"
    a_bit_of_everything("R12" if form == "asc" else "R2000").saveas(path, fmt=form)
    data = path.read_bytes()
    outcomes = []
    for size in range(0, len(data), max(1, len(data) // 60)):
        path.write_bytes(data[:size])
        try:
            outcomes.append(f"{len(read_dxf(path, ALL, unit=LengthUnit.METRE).lines)} lines")
        except DrawingError as error:
            outcomes.append(str(error))

    assert [] == [said for said in outcomes if said != "5 lines" and (not said.startswith("job.dxf ") or "\n" in said)]
    assert "5 lines" != outcomes[len(outcomes) // 2]


def test_cut_off_in_its_lines_is_refused(read):
    """A file that ends amid its entities is refused, for lines may be missing."""
    whole = METRES + section("ENTITIES", line() * 20) + EOF

    with pytest.raises(UnreadableDrawingError, match="is cut off before its end, lines may be missing"):
        read(whole[: len(whole) * 2 // 3])


def test_only_the_end_mark_is_missing(read):
    """A file whose last section is whole, but without its end mark, is read with a finding."""
    drawing = read(METRES + section("ENTITIES", line()))

    assert 1.0 == drawing.length_m
    assert ["recovered"] == [finding.code for finding in drawing.findings]


@pytest.mark.parametrize("data", [b"", b" \n\n", b"no drawing at all\n", b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n"])
def test_what_is_no_drawing_is_one_sentence(read, data):
    """Emptiness, prose and shreds give one sentence that names the file."""
    with pytest.raises(UnreadableDrawingError, match=r"^job\.dxf [^\n]*$"):
        read(data)


def test_absent_file_is_one_sentence(tmp_path):
    """A file that is not there is named."""
    with pytest.raises(UnreadableDrawingError, match=r"gone\.dxf cannot be read"):
        read_dxf(tmp_path / "gone.dxf", ALL)


def test_nothing_selected_lists_the_layers(read):
    """Without a match the sentence lists the layers that hold lines: likely names first, then the busiest."""
    text = METRES + section("ENTITIES", line("GRID") + line("JOINT") * 2 + line("WATERSTOP")) + EOF
    listed = r"'WATERSTOP' \(1\), 'JOINT' \(2\), 'GRID' \(1\)"

    with pytest.raises(NothingSelectedError, match=rf"matches WS-\*; choose .*: {listed}$"):
        read(text, Selection(patterns=("WS-*",)))


def test_pattern_without_a_match_is_told(read):
    """One of two patterns that matches nothing is a warning: it may be a slip of the pen."""
    drawing = read(METRES + section("ENTITIES", line("WS")) + EOF, Selection(patterns=("WS", "SW")))

    assert ["unmatched-pattern"] == [finding.code for finding in drawing.findings]
    assert "'SW'" in drawing.findings[0].message


def test_collector_is_left_as_it_was(read):
    """Reading pauses the garbage collector and starts it again, also after an error."""
    read(METRES + section("ENTITIES", line()) + EOF)
    with pytest.raises(UnreadableDrawingError):
        read(b"")

    assert gc.isenabled()


def test_digest_and_name_of_the_file(read):
    """The drawing carries the file's name and the SHA-256 of its bytes (of an empty R12 with one line)."""
    text = METRES + section("ENTITIES", line()) + EOF
    drawing = read(text)

    assert ("job.dxf", hashlib.sha256(text.encode()).hexdigest()) == (drawing.file, drawing.sha256)
