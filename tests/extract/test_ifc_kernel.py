"""The geometry kernel in its own process: whatever becomes of it, the reader goes on."""

import gzip
import sys

import ifcopenshell
import pytest

from splicewright.extract import ifc_kernel
from splicewright.extract.ifc_fault import IfcFault
from splicewright.extract.ifc_worker import answer
from splicewright.extract.reader import read
from splicewright.extract.selection import Selection


@pytest.fixture
def path(model):
    """A strip of 3 m along its axis, and a strip of 2 m that only the kernel can make out."""
    made = model()
    made.axis(made.polyline((0, 0, 0), (3, 0, 0)))
    made.body(brep(made))
    return made.save()


def brep(model):
    """A box of 2 x 0.2 x 0.01 whose faces are planes bounded by edges."""
    corners = [(float(x), y, z) for x in (0, 2) for y in (0.0, 0.2) for z in (0.0, 0.01)]
    points = [model.point(*corner) for corner in corners]
    vertices = [model.make("IfcVertexPoint", point) for point in points]
    edges = {}

    def edge(a, b):
        low, high = sorted((a, b))
        if (low, high) not in edges:
            line = model.make("IfcPolyline", [points[low], points[high]])
            edges[low, high] = model.make("IfcEdgeCurve", vertices[low], vertices[high], line, True)
        return model.make("IfcOrientedEdge", None, None, edges[low, high], a < b)

    def face(loop, z, x):
        bound = model.make("IfcEdgeLoop", [edge(a, b) for a, b in zip(loop, loop[1:] + loop[:1], strict=True)])
        plane = model.make("IfcPlane", model.axes(corners[loop[0]], z, x))
        return model.make("IfcAdvancedFace", [model.make("IfcFaceOuterBound", bound, True)], plane, True)

    x, y, z = (1, 0, 0), (0, 1, 0), (0, 0, 1)
    west, south, down = ((-i for i in way) for way in (x, y, z))
    faces = [
        face((0, 1, 3, 2), tuple(west), y),
        face((4, 6, 7, 5), x, y),
        face((0, 4, 5, 1), tuple(south), x),
        face((2, 3, 7, 6), y, x),
        face((0, 2, 6, 4), tuple(down), x),
        face((1, 5, 7, 3), z, x),
    ]
    return model.make("IfcAdvancedBrep", model.make("IfcClosedShell", faces))


def test_kernel_makes_out_what_the_reader_cannot(path):
    """Both strips are read, one with a note that it was meshed."""
    drawing = read(path, Selection())

    assert [3.0, 2.0] == pytest.approx([line.length_m for line in drawing.lines])
    assert ["long-axis"] == [finding.code for finding in drawing.findings]


def test_kernel_reads_packed_models(path, tmp_path):
    """The kernel is given the unpacked copy of a packed model."""
    (tmp_path / "packed.gz").write_bytes(gzip.compress(path.read_bytes()))

    assert 5.0 == pytest.approx(read(tmp_path / "packed.gz", Selection()).length_m)


@pytest.mark.parametrize(
    "fate", ["import os; os._exit(139)", "print('nonsense', flush=True)", "import time; time.sleep(60)"]
)
def test_kernel_that_fails_spoils_its_element_only(path, monkeypatch, fate):
    """A kernel that crashes, talks nonsense or never answers leaves a finding; all else is read."""
    monkeypatch.setattr(ifc_kernel, "_COMMAND", (sys.executable, "-c", fate))
    monkeypatch.setattr(ifc_kernel, "_PATIENCE_S", 1.0)
    drawing = read(path, Selection())

    assert (3.0, {"no-centre-line": 1}) == (drawing.length_m, drawing.skipped)


def test_kernel_is_started_only_when_needed(model, monkeypatch):
    """What can be read directly starts no process."""
    monkeypatch.setattr(ifc_kernel, "_COMMAND", ("no such program",))
    made = model()
    made.body(made.extruded(made.rectangle(0.2, 0.01), 3))

    assert 3.0 == made.read().length_m


def test_worker_says_what_is_wrong(path):
    """Asked for a number that is not there, or for a mesh of what is no body, the worker answers with a fault."""
    model = ifcopenshell.open(path)

    assert {"fault"} == set(answer(model, "mesh", 999_999))
    assert {"fault"} == set(answer(model, "course", model.by_type("IfcAdvancedBrep")[0].id()))


def test_fault_of_a_kernel_is_the_elements(path, tmp_path):
    """A kernel whose model is not there makes nothing of any item."""
    item = ifcopenshell.open(path).by_type("IfcAdvancedBrep")[0]
    kernel = ifc_kernel.Kernel(path=tmp_path / "gone.ifc", metres=1.0)

    with pytest.raises(IfcFault, match="no-centre-line: IfcAdvancedBrep"):
        kernel.mesh(item)
