"""What an IFC file may be: packed, of an odd schema, cut off, damaged; each read, or refused in one sentence."""

import gzip
import random
import re
import zipfile

import pytest

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.errors import DrawingError, UnreadableDrawingError
from splicewright.extract.reader import kind_of, read
from splicewright.extract.selection import Selection


@pytest.fixture
def path(model):
    """A model of two strips, 3 and 4 m long."""
    made = model()
    made.axis(made.polyline((0, 0, 0), (3, 0, 0)), name="Waterstop one")
    made.axis(made.polyline((0, 0, 0), (0, 4, 0)), name="Waterstop two")
    return made.save()


def changed(path, *pairs):
    """Replace texts in the file; each must be there."""
    text = path.read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    path.write_text(text)
    return path


def codes(drawing):
    return sorted(finding.code for finding in drawing.findings)


def test_drawing_tells_where_it_comes_from(path):
    """The drawing names file and kind; nothing is odd about a sound model."""
    drawing = read(path, Selection())

    assert ("model.ifc", DrawingKind.IFC, 2, ()) == (drawing.file, drawing.kind, drawing.selected, drawing.findings)


@pytest.mark.parametrize("name", ["model.ifc.gz", "model.ifc", "model"])
def test_gzip_is_opened(path, tmp_path, name):
    """A model packed by gzip is read, whatever its name; the digest is that of the packed bytes."""
    packed = tmp_path / name
    packed.write_bytes(gzip.compress(path.read_bytes()))

    assert DrawingKind.IFC is kind_of(packed)
    assert 7.0 == read(packed, Selection()).length_m


def test_ifczip_is_opened(path, tmp_path):
    """A zip with one model in it is read."""
    with zipfile.ZipFile(tmp_path / "model.ifczip", "w") as archive:
        archive.write(path, "folder/inside.IFC")

    assert 7.0 == read(tmp_path / "model.ifczip", Selection()).length_m


def test_zip_of_two_models_is_refused(path, tmp_path):
    """A zip with two models does not say which; nor does one whose only model is XML hold any to read."""
    with zipfile.ZipFile(tmp_path / "two.ifczip", "w") as archive:
        archive.write(path, "a.ifc")
        archive.write(path, "b.ifc")

    with pytest.raises(UnreadableDrawingError, match=r"^two\.ifczip is a packed file that holds 2 \.ifc files"):
        read(tmp_path / "two.ifczip", Selection())


def test_cut_off_gzip_is_refused(path, tmp_path):
    """A packed file that ends early is one sentence."""
    (tmp_path / "cut.gz").write_bytes(gzip.compress(path.read_bytes())[:-40])

    with pytest.raises(UnreadableDrawingError, match=r"^cut\.gz is (packed and cannot be unpacked|a packed file)"):
        read(tmp_path / "cut.gz", Selection())


def test_byte_order_mark_is_no_obstacle(path):
    """A byte order mark and blank lines in front are left out."""
    path.write_bytes(b"\xef\xbb\xbf\r\n" + path.read_bytes())

    assert 7.0 == read(path, Selection()).length_m


@pytest.mark.parametrize(
    ("stated", "read_as"),
    [
        ("IFC4X3", "IFC4X3_ADD2"),
        ("IFC4X3_RC4", "IFC4X3_ADD2"),
        ("IFC4X3_ADD1", "IFC4X3_ADD2"),
        ("IFC4X1", "IFC4X3_ADD2"),
        ("IFC4_ADD2", "IFC4"),
        ("ifc4", "IFC4"),
    ],
)
def test_relative_of_a_known_schema_is_read_as_it(path, stated, read_as):
    """A schema that the library does not know is read as the nearest that it does, with a note."""
    drawing = read(changed(path, ("'IFC4'", f"'{stated}'")), Selection())
    (finding,) = drawing.findings

    assert (7.0, "schema-read-as") == (drawing.length_m, finding.code)
    assert f"the schema {stated}, which is read as {read_as};" in finding.message


def test_older_relative_is_read_as_2x3(model):
    """A model that says IFC2X_FINAL is read as IFC2X3."""
    made = model("IFC2X3")
    made.axis(made.polyline((0, 0, 0), (3, 0, 0)))
    drawing = read(changed(made.save(), ("'IFC2X3'", "'IFC2X_FINAL'")), Selection())

    assert (3.0, ["schema-read-as"]) == (drawing.length_m, codes(drawing))


@pytest.mark.parametrize("stated", ["AP214", "IFC9", ""])
def test_strange_schema_is_refused(path, stated):
    """A schema that is no relative of a known one is refused, with the ones that can be read."""
    with pytest.raises(UnreadableDrawingError, match=rf"^model\.ifc states the schema '{stated}'; export it as IFC4"):
        read(changed(path, ("'IFC4'", f"'{stated}'")), Selection())


def test_header_without_a_schema_is_refused(path):
    """A header that states no schema is one sentence."""
    with pytest.raises(UnreadableDrawingError, match="does not state its IFC schema"):
        read(changed(path, ("FILE_SCHEMA", "FILE_SCHEM")), Selection())


def test_class_that_the_schema_lacks_is_told(path):
    """An instance whose class the schema lacks vanishes in the library, but not without a finding."""
    strange = "#9001=IFCWATERSTOP($);\n#9002=IFCWATERSTOP($);\nENDSEC;\nEND"
    drawing = read(changed(path, ("ENDSEC;\nEND", strange)), Selection())
    (finding,) = drawing.findings

    assert "class-unknown" == finding.code
    assert "2 IFCWATERSTOP" in finding.message


def test_comment_that_is_never_closed_is_refused(path):
    """The library takes all behind an open comment for a comment; the reader counts what was lost and refuses."""
    text = path.read_text()
    middle = text.index("#", len(text) // 2)
    path.write_text(text[:middle] + "/* " + text[middle:])

    with pytest.raises(UnreadableDrawingError, match="opens a comment and never closes it"):
        read(path, Selection())


def test_instances_inside_a_comment_are_told(path):
    """What stands in a comment is left out, and counted."""
    text = path.read_text()
    extra = "/* #9001=IFCCARTESIANPOINT((1.,2.,3.));\n#9002=IFCCARTESIANPOINT((1.,2.,3.)); */\nENDSEC;\nEND"
    path.write_text(text.replace("ENDSEC;\nEND", extra))
    drawing = read(path, Selection())

    assert [("commented-out", True)] == [(f.code, "2 instances" in f.message) for f in drawing.findings]


def test_instance_given_twice_is_told(path):
    """Of two instances of one number the last counts; that is a finding."""
    text = path.read_text()
    again = re.search(r"#\d+=IFCCARTESIANPOINT.*\n", text)[0]
    path.write_text(text.replace("ENDSEC;\nEND", f"{again}ENDSEC;\nEND"))

    assert ["instance-doubled"] == codes(read(path, Selection()))


def test_texts_that_look_like_instances_are_texts(path):
    """An instance, a comment or an end written inside a name is only a name."""
    name = "Waterstop /* #7=IFCWALL(1); ENDSEC; =IFC"
    drawing = read(changed(path, ("Waterstop one", name)), Selection())

    assert (7.0, ()) == (drawing.length_m, drawing.findings)


def test_blanks_around_the_sign_are_no_loss(path):
    """Instances may be written with blanks and line ends around the equals sign."""
    drawing = read(changed(path, ("=IFC", " =\n IFC")), Selection())

    assert (7.0, ()) == (drawing.length_m, drawing.findings)


def test_model_without_a_project_is_refused(path):
    """Without a project there are no units; much must be missing."""
    text = re.sub(r"#\d+=IFCPROJECT\(.*\n", "", path.read_text())
    path.write_text(text)

    with pytest.raises(UnreadableDrawingError, match="holds no IfcProject"):
        read(path, Selection())


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.99])
def test_cut_off_file_is_refused(path, share):
    """A file that ends before its end is one sentence."""
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])

    with pytest.raises(UnreadableDrawingError, match="is cut off before its end"):
        read(path, Selection())


def test_reference_into_nowhere_is_told(path):
    """An element whose placement is not in the file is read at the origin, with findings for both."""
    text = re.sub(r"#\d+=IFCLOCALPLACEMENT\(.*\n", "", path.read_text(), count=1)
    path.write_text(text)
    drawing = read(path, Selection())

    assert ["no-placement", "reference-missing"] == codes(drawing)
    assert 7.0 == drawing.length_m


@pytest.mark.parametrize("word", ["NAN", "nan", "-nan(ind)", "1.#QNAN", "-1.#IND", "inf", "-INF", "1.E999"])
def test_word_in_a_numbers_place_spoils_its_element_only(path, word):
    """The library drops a coordinate that is a word; the reader counts the element as spoilt and reads the other."""
    drawing = read(changed(path, ("(3.,0.,0.)", f"(3.,{word},0.)")), Selection())

    assert (4.0, 2, 1) == (drawing.length_m, drawing.selected, sum(drawing.skipped.values()))
    assert {"damaged", "not-finite"} >= set(drawing.skipped)
    assert any("IfcBuildingElementProxy" in f.message for f in drawing.findings if f.code == "entity-skipped")


def test_missing_coordinate_is_a_finding(path):
    """A point that lacks a coordinate, whatever the reason, is not taken for a flat one."""
    drawing = read(changed(path, ("(3.,0.,0.)", "(3.,$,0.)")), Selection())

    assert {"damaged": 1} == drawing.skipped


def test_xml_is_refused(tmp_path):
    """IFC as XML is told apart."""
    (tmp_path / "model.ifcxml").write_text('<?xml version="1.0"?><ifcXML/>')

    with pytest.raises(UnreadableDrawingError, match=r"^model\.ifcxml is neither a DXF drawing nor an IFC model"):
        read(tmp_path / "model.ifcxml", Selection())


def answer_of(path):
    try:
        return read(path, Selection())
    except DrawingError as refusal:
        return str(refusal)


def counted(drawing):
    return len(drawing.lines) + sum(drawing.skipped.values())


@pytest.mark.parametrize("seed", range(60))
def test_damaged_file_never_ends_in_a_traceback(path, seed):
    """
    Bytes cut, changed, or lines left out at random: a drawing whose counts add up, or one sentence.

    Damage may leave a file that the library still takes for sound, so only the form of the answer can be told.
    """
    chance = random.Random(seed)
    data = bytearray(path.read_bytes())
    if seed % 3 == 0:
        for _ in range(chance.randrange(1, 12)):
            data[chance.randrange(len(data))] = chance.choice(b"();,'$#*=.0123456789EAZ/\n")
    elif seed % 3 == 1:
        lines = bytes(data).split(b"\n")
        data = bytearray(b"\n".join(line for line in lines if chance.random() > 0.06))
    else:
        start = chance.randrange(len(data))
        del data[start : start + chance.randrange(1, 120)]
    path.write_bytes(data)
    answer = answer_of(path)

    assert "\n" not in answer if isinstance(answer, str) else answer.selected == counted(answer)
