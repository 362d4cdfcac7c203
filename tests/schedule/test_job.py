"""One job: several drawings, marks unique across them, units where drawings state none."""

import pytest
from ezdxf.filemanagement import new

from splicewright.extract.errors import DrawingError, MissingUnitError
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.job import schedule_job
from splicewright.schedule.rules import load_rules


@pytest.fixture
def draw(tmp_path):
    """Draw a tee of two lines and save it."""

    def _draw(name, unit=6):
        document = new("R2018", units=unit)
        for line in (((0, 0), (10, 0)), ((5, 0), (5, 4))):
            document.modelspace().add_line(*line, dxfattribs={"layer": "WATERSTOP"})
        document.saveas(tmp_path / name)
        return tmp_path / name

    return _draw


def test_marks_go_on_from_drawing_to_drawing(draw):
    """
    The second drawing's marks go on where the first's end: 4 nodes and 3 runs each.

        +---+---+
            |        twice
            +
    """
    made = schedule_job([draw("a.dxf"), draw("b.dxf")], load_rules(None), name="job")

    assert [f"N{number}" for number in range(1, 9)] == [node.mark for node in made.nodes]
    assert [f"R{number}" for number in range(1, 7)] == [run.mark for run in made.runs]


def test_drawings_are_not_joined(draw):
    """Each drawing is its own network, even where both have lines in the same place."""
    made = schedule_job([draw("a.dxf"), draw("b.dxf")], load_rules(None), name="job")

    assert (2, 0) == (made.totals["tees"], made.totals["crosses"])
    assert 28.0 == pytest.approx(made.totals["length_m"])


def test_progress_is_told(draw):
    """Whoever asks is told what is being done, drawing by drawing."""
    told = []
    schedule_job([draw("a.dxf")], load_rules(None), name="job", tell=told.append)

    assert ["Reading a.dxf", "Tracing a.dxf", "Planning"] == told


def test_a_drawing_given_twice_is_refused(draw, tmp_path):
    """A drawing given twice under whatever spelling would be ordered twice, so it is refused."""
    path = draw("a.dxf")
    with pytest.raises(DrawingError, match=r"a\.dxf is given twice"):
        schedule_job([path, tmp_path / "." / ".." / tmp_path.name / "a.dxf"], load_rules(None), name="job")


@pytest.mark.parametrize(("rule", "option", "metres"), [("ft", None, 0.3048), ("ft", LengthUnit.INCH, 0.0254)])
def test_unit_of_a_drawing_without_one(draw, rule, option, metres):
    """A drawing without a unit takes the option's before the rules'."""
    rules = load_rules(None, options={"drawing.unit": rule, "drawing.tolerance": "1 mm", "drawing.reach": "2 mm"})
    made = schedule_job([draw("a.dxf", unit=0)], rules, name="job", unit=option)

    assert 14 * metres == pytest.approx(made.totals["length_m"])


def test_a_drawing_without_unit_is_refused_where_nobody_says(draw):
    """Where neither file, option nor rules state a unit there is no schedule."""
    with pytest.raises(MissingUnitError):
        schedule_job([draw("a.dxf", unit=0)], load_rules(None), name="job")
