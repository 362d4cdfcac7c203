"""The survey: what a drawing holds, layer by layer."""

import ezdxf
import pytest

from splicewright.extract.errors import UnreadableDrawingError
from splicewright.extract.survey import LayerSurvey, Survey, survey
from splicewright.extract.unit import LengthUnit


@pytest.fixture
def path(tmp_path):
    """
    A drawing in feet.

        WATERSTOP   a line of 30, a ring in a block (2 copies), a text
        WS-OLD      a line of 5, frozen
        GRID        a line of 100
        0           a point, nothing else
    """
    document = ezdxf.new("R2018", units=2)
    model = document.modelspace()
    document.layers.add("WS-OLD").freeze()
    document.blocks.new("SUMP").add_lwpolyline([(0, 0), (4, 0), (4, 3), (0, 3)], close=True)
    model.add_line((0, 0), (30, 0), dxfattribs={"layer": "WATERSTOP"})
    model.add_blockref("SUMP", (0, 0), dxfattribs={"layer": "WATERSTOP", "column_count": 2, "column_spacing": 9})
    model.add_text("weld", dxfattribs={"layer": "WATERSTOP"})
    model.add_line((0, 0), (5, 0), dxfattribs={"layer": "WS-OLD"})
    model.add_line((0, 0), (100, 0), dxfattribs={"layer": "GRID"})
    model.add_point((0, 0))
    document.saveas(tmp_path / "basin.dxf")
    return tmp_path / "basin.dxf"


def layer(found: Survey, name: str) -> LayerSurvey:
    return next(layer for layer in found.layers if layer.name == name)


def test_layers_are_listed_by_name(path):
    """Every layer in use is listed, whether it holds lines or not."""
    assert ["0", "GRID", "WATERSTOP", "WS-OLD"] == [layer.name for layer in survey(path).layers]


def test_lines_are_counted_and_measured(path):
    """A layer tells its lines, blocks opened up, their length in feet and in metres, and all that is no line."""
    found = layer(survey(path), "WATERSTOP")

    assert 3 == found.lines
    assert 30 + 2 * 14 == found.length
    assert 58 * 0.3048 == pytest.approx(found.length_m)
    assert {"TEXT": 1} == found.others
    assert found.usual
    assert None is found.hidden


def test_hidden_layer_is_measured_and_marked(path):
    """A frozen layer is measured too, and says that it is frozen."""
    found = layer(survey(path), "WS-OLD")

    assert (1, 5.0, "layer-frozen", False) == (found.lines, found.length, found.hidden, found.usual)


def test_survey_tells_the_unit(path):
    """The unit is the one the file states; a given one goes before it."""
    assert LengthUnit.FOOT is survey(path).unit
    assert 100.0 == layer(survey(path, unit=LengthUnit.METRE), "GRID").length_m


def test_survey_works_without_a_unit(tmp_path):
    """A drawing that states no unit is surveyed in drawing units, with a finding that asks for one."""
    document = ezdxf.new("R2018", units=0)
    document.modelspace().add_line((0, 0), (7, 0), dxfattribs={"layer": "WS"})
    document.saveas(tmp_path / "plain.dxf")
    found = survey(tmp_path / "plain.dxf")

    assert None is found.unit
    assert (7.0, None) == (found.layers[0].length, found.layers[0].length_m)
    assert ["unit-missing"] == [finding.code for finding in found.findings]


def test_survey_tells_what_is_odd(tmp_path):
    """Lines without length and lines on a sheet are findings; entities that are no lines are only counted."""
    document = ezdxf.new("R2018", units=6)
    document.modelspace().add_line((1, 1), (1, 1), dxfattribs={"layer": "WS"})
    document.modelspace().add_hatch(dxfattribs={"layer": "WS"})
    document.paperspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "WS"})
    document.saveas(tmp_path / "odd.dxf")
    found = survey(tmp_path / "odd.dxf")

    assert {"paper-space", "zero-length"} == {finding.code for finding in found.findings}
    assert {"HATCH": 1, "LINE (paper-space)": 1, "LINE (zero-length)": 1} == layer(found, "WS").others


def test_survey_of_no_drawing_is_one_sentence(tmp_path):
    """What is no drawing is refused as the reader does."""
    (tmp_path / "letter.dxf").write_text("Dear all\n")

    with pytest.raises(UnreadableDrawingError, match=r"^letter\.dxf is neither"):
        survey(tmp_path / "letter.dxf")
