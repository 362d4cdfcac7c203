"""Which drawings are handed back, and under which names."""

from dataclasses import replace
from pathlib import Path

import pytest

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.errors import OutputError
from splicewright.schedule.handback import handbacks, require


@pytest.fixture
def job_of(schedule_of):
    """A schedule of as many drawings as kinds are given."""
    schedule = schedule_of([(0, 0), (4, 0)])

    def made(*kinds):
        return replace(schedule, drawings=tuple(replace(schedule.drawings[0], kind=kind) for kind in kinds))

    return made


DXF, IFC = DrawingKind.DXF, DrawingKind.IFC


def names(schedule, *paths, kinds=tuple(DrawingKind)):
    return list(handbacks(schedule, [Path(path) for path in paths], Path("out"), kinds))


def test_drawings_and_models_keep_their_kind(job_of):
    """A drawing and a model of one name give a marked file each."""
    assert ["basin.marked.dxf", "basin.marked.ifc"] == names(job_of(DXF, IFC), "basin.dxf", "basin.ifczip")


def test_only_what_is_asked_for_is_handed_back(job_of):
    """Of a job with both kinds only the models are handed back where only those are asked for."""
    assert ["basin.marked.ifc"] == names(job_of(DXF, IFC), "basin.dxf", "basin.ifc", kinds=[IFC])


def test_drawings_of_one_name_are_told_apart(job_of):
    """Two drawings of one name, in any case, from two folders give two marked files."""
    assert ["plan.marked.dxf", "PLAN-2.marked.dxf"] == names(job_of(DXF, DXF), "a/plan.dxf", "b/PLAN.dxf")


def test_no_drawing_given_is_written_over(job_of):
    """A drawing that has the name of another's mark-up keeps it."""
    paths = ("out/plan.dxf", "out/plan.marked.dxf")

    assert ["plan-2.marked.dxf", "plan.marked.marked.dxf"] == names(job_of(DXF, DXF), *paths)


@pytest.mark.parametrize(("kind", "said"), [(IFC, "'ifc' cannot be written"), (DXF, "'dxf' cannot be written")])
def test_what_the_job_has_not_is_refused(job_of, kind, said):
    """To ask for models of a job of drawings, or the other way round, is refused in one sentence."""
    other = DXF if kind is IFC else IFC

    with pytest.raises(OutputError, match=said):
        require(job_of(other), [kind])
