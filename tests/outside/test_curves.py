"""Lengths of curves and of blocks against what ezdxf and scipy make of the same drawing."""

import math

import ezdxf
import numpy as np
import pytest
from ezdxf import disassemble
from ezdxf.math import BSpline, Matrix44
from scipy.integrate import quad
from scipy.interpolate import BSpline as ScipySpline
from scipy.special import ellipe

from splicewright.extract.dxf import read_dxf
from splicewright.extract.selection import Selection

WS = {"layer": "WATERSTOP"}
FINE_M = 1e-6


def arcs(space, random):
    for _ in range(10):
        start, sweep = random.uniform(0, 360), random.uniform(5, 350)
        space.add_arc(random.uniform(-50, 50, 2), random.uniform(1, 20), start, start + sweep, dxfattribs=WS)


def ellipses(space, random):
    for _ in range(10):
        start, sweep = random.uniform(0, 6), random.uniform(0.2, 6)
        major = (*random.uniform(2, 20, 2), 0)
        space.add_ellipse((0, 0), major, random.uniform(0.1, 1), start, start + sweep, dxfattribs=WS)


def bulged(space, random):
    for _ in range(5):
        points = np.column_stack([random.uniform(-30, 30, (6, 2)), random.uniform(-2, 2, 6)])
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs=WS)


def splines(space, random):
    for _ in range(5):
        space.add_open_spline(random.uniform(-20, 20, (7, 3)), degree=3, dxfattribs=WS)


def polylines(space, random):
    space.add_polyline3d(random.uniform(-20, 20, (9, 3)), dxfattribs=WS)
    space.add_polyline2d(random.uniform(-20, 20, (9, 2)), close=True, dxfattribs=WS)


def nested(space, random):
    """Blocks in blocks, turned, stretched, mirrored and in arrays, with arcs and bulges in them."""
    inner, outer = (space.doc.blocks.new(name) for name in ("INNER", "OUTER"))
    arcs(inner, random)
    bulged(inner, random)
    scale = {"xscale": 2.0, "yscale": 0.5, "zscale": 1.0, "rotation": 30}
    outer.add_blockref("INNER", (3, 4), dxfattribs=scale)
    outer.add_blockref("INNER", (-3, 4, 2), dxfattribs={"xscale": -1})
    space.add_blockref("OUTER", (10, 10), dxfattribs={"rotation": 111, "xscale": 1.5, "yscale": 1.5, "zscale": 1.5})
    space.add_blockref(
        "INNER", (0, 0), dxfattribs={"row_count": 2, "column_count": 3, "row_spacing": 90, "column_spacing": 80}
    )


def length_of(part):
    """Length of an entity as ezdxf flattens it; a polyline's segments one by one."""
    if part.dxftype() in {"LWPOLYLINE", "POLYLINE"}:
        return sum(length_of(segment) for segment in part.virtual_entities())
    flat = part.flattening(FINE_M) if hasattr(part, "flattening") else (part.dxf.start, part.dxf.end)
    points = np.array([tuple(point) for point in flat])
    return np.linalg.norm(np.diff(points, axis=0), axis=1).sum()


@pytest.mark.outside(
    what="lengths of arcs, ellipses, bulged polylines, splines, polylines and nested, stretched, mirrored blocks",
    against="ezdxf's own disassembly and flattening of the same random drawing",
    result="within 2e-6 of the length",
)
@pytest.mark.parametrize("draw", [arcs, ellipses, bulged, splines, polylines, nested])
def test_lengths_agree_with_ezdxfs_own_flattening(tmp_path, draw):
    """The length of all lines of a drawing is the length that ezdxf gives them, flattened to a micrometre."""
    document = ezdxf.new("R2018", units=6)
    draw(document.modelspace(), np.random.default_rng(11))
    document.saveas(tmp_path / "curves.dxf")
    parts = disassemble.recursive_decompose(ezdxf.readfile(tmp_path / "curves.dxf").modelspace())
    theirs = sum(length_of(part) for part in parts)

    assert theirs == pytest.approx(read_dxf(tmp_path / "curves.dxf", Selection()).length_m, rel=2e-6)


@pytest.mark.outside(
    what="perimeters of ellipses, from round to slim",
    against="scipy.special.ellipe: 4 a E(e), the complete elliptic integral of the second kind",
    result="within 1e-6 of the perimeter",
)
@pytest.mark.parametrize("ratio", [1.0, 0.9, 0.5, 0.2, 0.05])
def test_perimeters_of_ellipses(tmp_path, ratio):
    """An ellipse with half-axes 7 and 7 r measures 28 E(1 - r squared)."""
    document = ezdxf.new("R2018", units=6)
    document.modelspace().add_ellipse((1, 2), (7, 0), ratio, dxfattribs=WS)
    document.saveas(tmp_path / "ellipse.dxf")

    assert 28 * ellipe(1 - ratio**2) == pytest.approx(
        read_dxf(tmp_path / "ellipse.dxf", Selection()).length_m, rel=1e-6
    )


@pytest.mark.outside(
    what="lengths of B-splines of degree 2 to 5",
    against="scipy: its BSpline, differentiated and integrated by quad",
    result="within 1e-6 of the length",
)
@pytest.mark.parametrize("degree", [2, 3, 4, 5])
def test_lengths_of_splines(tmp_path, degree):
    """A spline is as long as the integral of its speed."""
    control = np.random.default_rng(degree).uniform(-20, 20, (9, 3))
    document = ezdxf.new("R2018", units=6)
    spline = document.modelspace().add_spline(dxfattribs=WS)
    spline.apply_construction_tool(BSpline(control.tolist(), order=degree + 1))
    document.saveas(tmp_path / "spline.dxf")
    knots = np.array(spline.knots)
    speed = ScipySpline(knots, control, degree).derivative()
    spans = zip(np.unique(knots)[:-1], np.unique(knots)[1:], strict=True)
    theirs = sum(quad(lambda t: np.linalg.norm(speed(t)), *span, epsabs=1e-9)[0] for span in spans)

    assert theirs == pytest.approx(read_dxf(tmp_path / "spline.dxf", Selection()).length_m, rel=1e-6)


@pytest.mark.outside(
    what="lines of a drawing turned, moved and scaled in space as a block",
    against="ezdxf.math.Matrix44, applied to the same points",
    result="within 1e-9 m",
)
def test_places_in_blocks(tmp_path):
    """A block's line lies where ezdxf's own matrix brings it."""
    document = ezdxf.new("R2018", units=6)
    points = np.random.default_rng(2).uniform(-5, 5, (6, 3))
    document.blocks.new("PART").add_polyline3d(points, dxfattribs=WS)
    document.modelspace().add_blockref("PART", (7, -3, 2), dxfattribs={"rotation": 40, **dict.fromkeys(SCALES, 2.5)})
    document.saveas(tmp_path / "block.dxf")
    matrix = Matrix44.chain(Matrix44.scale(2.5), Matrix44.z_rotate(math.radians(40)), Matrix44.translate(7, -3, 2))
    theirs = np.array([tuple(point) for point in matrix.transform_vertices(points.tolist())])
    (line,) = read_dxf(tmp_path / "block.dxf", Selection()).lines

    assert pytest.approx(theirs, abs=1e-9) == line.points_m


SCALES = ("xscale", "yscale", "zscale")
