"""The geometry kernel in its own process: whatever becomes of it, the reader goes on."""

import gzip
import math
import sys

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.shape
import numpy as np
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


WIDTH_M, THICKNESS_M, RADIUS_M = 0.2, 0.01, 0.05


def extruded(made):
    """Two boxes, one of them oblique."""
    strip = made.rectangle(WIDTH_M, THICKNESS_M)
    yield made.extruded(strip, 4.5), WIDTH_M * THICKNESS_M
    yield made.extruded(strip, 3.0, made.axes((1, 2, 3), (1, 2, 2), (2, 1, -2))), WIDTH_M * THICKNESS_M


def revolved(made):
    pivot = made.make("IfcAxis1Placement", made.point(2, 0, 0), made.direction(0, 1, 0))
    strip = made.rectangle(THICKNESS_M, WIDTH_M)
    for turn in (0.4, math.pi / 2, 4.0):
        yield made.make("IfcRevolvedAreaSolid", strip, made.axes(), pivot, turn), WIDTH_M * THICKNESS_M


def swept(made):
    """Sections along bent directrices, mitred at each corner, so that volume is section times length."""
    strip = made.rectangle(WIDTH_M, THICKNESS_M)
    up = made.direction(0, 0, 1)
    for course in ([(0, 0, 0), (4, 0, 0), (4, -3, 0)], [(0, 0, 0), (3, 0, 0), (5, 2, 0), (5, 6, 0)]):
        curve = made.polyline(*course)
        solid = made.make("IfcFixedReferenceSweptAreaSolid", strip, made.axes(), curve, None, None, up)
        yield solid, WIDTH_M * THICKNESS_M


def disks(made):
    curve = made.polyline((0, 0, 0), (4, 0, 0))
    yield made.make("IfcSweptDiskSolid", curve, RADIUS_M, None, None, None), math.pi * RADIUS_M**2


def mesh(element):
    """An element's mesh in space, in metres, as finely as the kernel is asked for."""
    settings = ifcopenshell.geom.settings()
    settings.set("use-world-coords", True)
    settings.set("mesher-linear-deflection", 1e-6)
    settings.set("mesher-angular-deflection", 0.01)
    return ifcopenshell.geom.create_shape(settings, element).geometry


@pytest.mark.outside(
    what="lengths of extruded, revolved and swept bodies",
    against="ifcopenshell's geometry kernel: volume of the mesh over the area of the section",
    result="within 1e-4 of the length",
)
@pytest.mark.parametrize("bodies", [extruded, revolved, swept, disks])
def test_lengths_are_volumes_over_sections(model, bodies):
    """Strip is as long as the body that the kernel makes is large, divided by its section."""
    made = model()
    pairs = [(made.body(solid, name=f"Waterstop {number}"), area) for number, (solid, area) in enumerate(bodies(made))]
    theirs = [ifcopenshell.util.shape.get_volume(mesh(element)) / area for element, area in pairs]

    assert theirs == pytest.approx([line.length_m for line in made.read().lines], rel=1e-4)


@pytest.mark.outside(
    what="place, lay and section of extruded strips, turned and moved in space",
    against="ifcopenshell's geometry kernel: the box round the mesh",
    result="within 1e-6 m",
)
@pytest.mark.parametrize("seed", range(4))
def test_boxes_are_those_of_the_kernel(model, seed):
    """The strip's ends, half its width and half its thickness to either side, fill the box of the kernel's mesh."""
    random = np.random.default_rng(seed)
    made = model()
    z, x = random.normal(size=3), random.normal(size=3)
    element = made.body(
        made.extruded(made.rectangle(WIDTH_M, THICKNESS_M), random.uniform(1, 5)),
        at=made.place(random.normal(size=3), z, x),
    )
    body = ifcopenshell.util.shape.get_bbox(ifcopenshell.util.shape.get_vertices(mesh(element)))
    (line,) = made.read().lines
    across = np.array(line.across).reshape(-1, 3)[0]
    normal = np.cross(across, np.diff(line.points_m, axis=0)[0] / line.length_m)
    sides = [a * across * WIDTH_M / 2 + b * normal * THICKNESS_M / 2 for a in (-1, 1) for b in (-1, 1)]
    corners = np.array([end + side for end in line.points_m[[0, -1]] for side in sides])

    assert pytest.approx(np.array(body), abs=1e-6) == np.array([corners.min(axis=0), corners.max(axis=0)])
