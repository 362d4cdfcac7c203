"""Every curve that an IFC axis may be, against lengths and ends worked by hand."""

import math

import numpy as np
import pytest

from splicewright.extract.errors import NothingSelectedError

SCHEMAS = ["IFC2X3", "IFC4", "IFC4X3_ADD2"]
QUARTER = math.pi / 2
ELLIPSE_10_5 = 48.4422411
"""Perimeter 4 a E(e) of the ellipse with half-axes 10 and 5 (complete elliptic integral of the second kind)."""


def line_of(model, curve):
    model.axis(curve)
    (line,) = model.read().lines
    return line


def circle(model, radius, origin=(0, 0, 0), z=None, x=None):
    return model.make("IfcCircle", model.axes(origin, z, x), float(radius))


def trimmed(model, basis, start, end, *, forward=True, master="PARAMETER"):
    trims = [
        [model.make("IfcParameterValue", float(at))] if isinstance(at, int | float) else [model.point(*at)]
        for at in (start, end)
    ]
    return model.make("IfcTrimmedCurve", basis, *trims, forward, master)


def segment(model, curve, *, same=True):
    return model.make("IfcCompositeCurveSegment", "CONTINUOUS", same, curve)


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize(("unit", "metres"), [("m", 1), ("mm", 0.001), ("ft", 0.3048), ("in", 0.0254)])
def test_polyline_in_every_version_and_unit(model, schema, unit, metres):
    """
    A polyline of 3, 4 and 12 units is 19 units long, and every vertex was drawn.

        a---b        a-b 3, b-c 4 square to it, c-d 12 upwards
            |
            c,d
    """
    made = model(schema, unit)
    line = line_of(made, made.polyline((0, 0, 0), (3, 0, 0), (3, -4, 0), (3, -4, 12)))

    assert pytest.approx(19 * metres, abs=1e-12) == line.length_m
    assert None is line.drawn
    assert pytest.approx([3 * metres, -4 * metres, 12 * metres], abs=1e-12) == line.points_m[-1].tolist()


def test_flat_polyline_lies_in_the_plane_of_its_placement(model):
    """A Curve2D axis lies at height 0 of the element, which stands at 7 and is turned to the north."""
    made = model()
    axis = made.shape(made.polyline((0, 0), (2, 0)), name="Axis", kind="Curve2D")
    made.element(axis, at=made.place((1, 1, 7), None, (0, 1, 0)))
    (line,) = made.read().lines

    assert pytest.approx(np.array([[1, 1, 7], [1, 3, 7]])) == line.points_m


def test_repeated_points_are_dropped(model):
    """A point given twice is one vertex."""
    made = model()
    line = line_of(made, made.polyline((0, 0, 0), (0, 0, 0), (5, 0, 0), (5, 0, 0)))

    assert [[0, 0, 0], [5, 0, 0]] == line.points_m.tolist()


def test_circle_is_a_closed_bend(model):
    """A circle of radius 2 is 4 pi long, closes exactly, and has no drawn vertex but its ends."""
    made = model()
    line = line_of(made, circle(made, 2))

    assert line.closed
    assert pytest.approx(4 * math.pi, rel=1e-6) == line.length_m
    assert [0, len(line.points_m) - 1] == line.drawn.tolist()


def test_ellipse_has_its_perimeter(model):
    """An ellipse with half-axes 10 and 5 is 48.4422411 round."""
    made = model()
    line = line_of(made, made.make("IfcEllipse", made.axes(), 10.0, 5.0))

    assert pytest.approx(ELLIPSE_10_5, rel=1e-6) == line.length_m


@pytest.mark.parametrize(
    ("start", "end", "forward", "first", "last", "sweep"),
    [
        (0, 90, True, (2, 0), (0, 2), 90),
        (90, 0, False, (0, 2), (2, 0), 90),
        (90, 0, True, (0, 2), (2, 0), 270),
        (0, 90, False, (2, 0), (0, 2), 270),
        (350, 370, True, (1.969616, -0.347296), (1.969616, 0.347296), 20),
        (-90, 90, True, (0, -2), (0, 2), 180),
        (30, 30, True, (1.732051, 1), (1.732051, 1), 360),
    ],
)
def test_circle_trimmed_by_parameter(model, start, end, forward, first, last, sweep):
    """
    A trimmed circle runs from its first trim to its second, counter-clockwise when the senses agree.

          b
        .'          trims at 0 and 90 degrees: a quarter with, three quarters against the sense
        a---
    """
    made = model(angle="deg")
    line = line_of(made, trimmed(made, circle(made, 2), start, end, forward=forward))

    assert pytest.approx(math.radians(sweep) * 2, rel=1e-6) == line.length_m
    assert pytest.approx([*first, 0], abs=1e-6) == line.points_m[0].tolist()
    assert pytest.approx([*last, 0], abs=1e-6) == line.points_m[-1].tolist()


@pytest.mark.parametrize(("angle", "quarter"), [("rad", QUARTER), ("deg", 90)])
def test_parameters_are_in_the_models_angle_unit(model, angle, quarter):
    """A quarter of a circle of radius 2 is pi long, its trims in degrees or in radians."""
    made = model(angle=angle)
    line = line_of(made, trimmed(made, circle(made, 2), 0, quarter))

    assert pytest.approx(math.pi, rel=1e-6) == line.length_m


@pytest.mark.parametrize("master", ["CARTESIAN", "UNSPECIFIED", "PARAMETER"])
def test_circle_trimmed_by_points(model, master):
    """Trims given as points alone cut at these points, whatever the master representation."""
    made = model()
    line = line_of(made, trimmed(made, circle(made, 2), (2, 0, 0), (0, 2, 0), master=master))

    assert pytest.approx(math.pi, rel=1e-6) == line.length_m


@pytest.mark.parametrize(
    ("master", "sweep"), [("PARAMETER", QUARTER), ("CARTESIAN", math.pi), ("UNSPECIFIED", math.pi)]
)
def test_master_representation_decides_between_two_trims(model, master, sweep):
    """Where both a point and a parameter are given and differ, the master representation says which counts."""
    made = model()
    basis = circle(made, 1)
    first = [made.point(1, 0, 0), made.make("IfcParameterValue", 0.0)]
    second = [made.point(-1, 0, 0), made.make("IfcParameterValue", QUARTER)]
    line = line_of(made, made.make("IfcTrimmedCurve", basis, first, second, True, master))

    assert pytest.approx(sweep, rel=1e-6) == line.length_m


@pytest.mark.parametrize(("start", "end"), [(1, 3), (3, 1)])
def test_line_trimmed_by_parameter(model, start, end):
    """A line's parameter counts in lengths of its vector, here of 2; it runs from trim to trim."""
    made = model()
    basis = made.make("IfcLine", made.point(1, 0, 0), made.make("IfcVector", made.direction(0, 5, 0), 2.0))
    line = line_of(made, trimmed(made, basis, start, end))

    assert [[1, 2 * start, 0], [1, 2 * end, 0]] == line.points_m.tolist()


def test_polyline_trimmed_by_parameter(model):
    """A polyline's parameter counts its points: from 0.5 to 2.25 of pieces of 4, 2 and 8 are 2 + 2 + 2."""
    made = model()
    basis = made.polyline((0, 0, 0), (4, 0, 0), (4, 2, 0), (12, 2, 0))
    line = line_of(made, trimmed(made, basis, 0.5, 2.25))

    assert [[2, 0, 0], [4, 0, 0], [4, 2, 0], [6, 2, 0]] == line.points_m.tolist()


def test_closed_polyline_trimmed_through_its_start(model):
    """
    A square of side 4 trimmed from 3.5 to 0.5 in its sense runs through its first point: 2 + 2.

        +---+
        |   |      a on the west side, b on the south one, the corner between them
        a   |
        +-b-+
    """
    made = model()
    basis = made.polyline((0, 0, 0), (4, 0, 0), (4, 4, 0), (0, 4, 0), (0, 0, 0))
    line = line_of(made, trimmed(made, basis, 3.5, 0.5))

    assert [[0, 2, 0], [0, 0, 0], [2, 0, 0]] == line.points_m.tolist()


@pytest.mark.parametrize("same", [True, False])
def test_composite_joins_its_segments(model, same):
    """
    A line of 3, a quarter of radius 2 and a line of 4 are 7 + pi, whichever way the quarter was drawn.

        a-----b.
                'c
                 |
                 d
    """
    made = model()
    ends = (QUARTER, 0) if same else (0, QUARTER)
    bend = trimmed(made, circle(made, 2, (3, -2, 0)), *ends, forward=not same)
    parts = [
        segment(made, made.polyline((0, 0, 0), (3, 0, 0))),
        segment(made, bend, same=same),
        segment(made, made.polyline((5, -2, 0), (5, -6, 0))),
    ]
    line = line_of(made, made.make("IfcCompositeCurve", parts, False))

    assert pytest.approx(7 + math.pi, rel=1e-6) == line.length_m
    assert (
        pytest.approx(np.array([[0, 0, 0], [3, 0, 0], [5, -2, 0], [5, -6, 0]]), abs=1e-9) == line.points_m[line.drawn]
    )


def test_segments_with_a_wrong_sense_are_turned_round(model):
    """A segment that meets the one before only with its end is taken the other way round."""
    made = model()
    parts = [
        segment(made, made.polyline((0, 0, 0), (3, 0, 0))),
        segment(made, made.polyline((3, 4, 0), (3, 0, 0))),
    ]
    line = line_of(made, made.make("IfcCompositeCurve", parts, False))

    assert [[0, 0, 0], [3, 0, 0], [3, 4, 0]] == line.points_m.tolist()


def test_segments_that_do_not_meet_are_a_finding(model):
    """A composite curve with a gap is no line; the element is counted as damaged."""
    made = model()
    parts = [segment(made, made.polyline((0, 0, 0), (3, 0, 0))), segment(made, made.polyline((9, 0, 0), (12, 0, 0)))]
    made.axis(made.make("IfcCompositeCurve", parts, False))
    made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    drawing = made.read()

    assert {"damaged": 1} == drawing.skipped
    assert (2, 1) == (drawing.selected, len(drawing.lines))


def indexed(model, points, segments):
    listed = model.make("IfcCartesianPointList3D", [tuple(map(float, point)) for point in points])
    return model.make("IfcIndexedPolyCurve", listed, segments, False)


@pytest.mark.parametrize("schema", SCHEMAS[1:])
def test_indexed_poly_curve_with_an_arc(model, schema):
    """
    A line of 3, an arc through (5, 0, 2) that stands upright, and a line of 1: 3 + half of 2 pi times 1 + 1.

        a---b( )d---e      the half circle b-d rises to a height of 1 at its middle
    """
    made = model(schema)
    points = [(0, 0, 0), (3, 0, 0), (4, 0, 1), (5, 0, 0), (6, 0, 0)]
    segments = [
        made.make("IfcLineIndex", (1, 2)),
        made.make("IfcArcIndex", (2, 3, 4)),
        made.make("IfcLineIndex", (4, 5)),
    ]
    line = line_of(made, indexed(made, points, segments))

    assert pytest.approx(4 + math.pi, rel=1e-6) == line.length_m
    assert pytest.approx(1, abs=1e-5) == line.points_m[:, 2].max()
    assert pytest.approx(np.array([[0, 0, 0], [3, 0, 0], [5, 0, 0], [6, 0, 0]])) == line.points_m[line.drawn]


def test_indexed_poly_curve_without_segments(model):
    """Without segments the points are joined in order."""
    made = model()
    line = line_of(made, indexed(made, [(0, 0, 0), (3, 0, 0), (3, 4, 0)], None))

    assert 7.0 == line.length_m


def test_b_spline_is_the_curve_of_its_knots(model):
    """A quadratic B-spline on three points is a parabola: here of length sqrt(5) + asinh(2) / 2."""
    made = model()
    points = [made.point(*point) for point in ((-1, 0, 0), (0, 2, 0), (1, 0, 0))]
    knots = ([3, 3], [0.0, 1.0], "UNSPECIFIED")
    spline = made.make("IfcBSplineCurveWithKnots", 2, points, "UNSPECIFIED", False, False, *knots)
    line = line_of(made, spline)
    # y = 1 - x², so dy/dx = -2x: the integral of sqrt(1 + 4x²) from -1 to 1 is sqrt(5) + asinh(2) / 2.

    assert pytest.approx(math.sqrt(5) + math.asinh(2) / 2, rel=1e-6) == line.length_m


def test_b_spline_trimmed_by_parameter(model):
    """Half of the parabola's parameters is half its length, and ends at its top."""
    made = model()
    points = [made.point(*point) for point in ((-1, 0, 0), (0, 2, 0), (1, 0, 0))]
    knots = ([3, 3], [0.0, 1.0], "UNSPECIFIED")
    spline = made.make("IfcBSplineCurveWithKnots", 2, points, "UNSPECIFIED", False, False, *knots)
    line = line_of(made, trimmed(made, spline, 0, 0.5))

    assert pytest.approx(math.sqrt(5) / 2 + math.asinh(2) / 4, rel=1e-6) == line.length_m
    assert pytest.approx([0, 1, 0], abs=1e-12) == line.points_m[-1].tolist()


def test_rational_b_spline_is_a_quarter_circle(model):
    """Weights 1, sqrt(1/2), 1 on a square corner make a quarter of a circle of radius 3."""
    made = model()
    points = [made.point(*point) for point in ((3, 0, 0), (3, 3, 0), (0, 3, 0))]
    knots = ([3, 3], [0.0, 1.0], "UNSPECIFIED", [1.0, math.sqrt(0.5), 1.0])
    spline = made.make("IfcRationalBSplineCurveWithKnots", 2, points, "UNSPECIFIED", False, False, *knots)
    line = line_of(made, spline)

    assert pytest.approx(3 * QUARTER, rel=1e-6) == line.length_m


def test_bezier_curve_of_the_older_version(model):
    """An IFC2X3 Bézier curve on three points is the same parabola as the B-spline."""
    made = model("IFC2X3")
    points = [made.point(*point) for point in ((-1, 0, 0), (0, 2, 0), (1, 0, 0))]
    line = line_of(made, made.make("IfcBezierCurve", 2, points, "UNSPECIFIED", False, False))

    assert pytest.approx(math.sqrt(5) + math.asinh(2) / 2, rel=1e-6) == line.length_m


def test_offset_curve_moves_corners_with_it(model):
    """
    A right angle of 4 and 3, moved by 1 to its left, is 3 and 2 long.

            c'c
        a'--b' |
        a------b
    """
    made = model()
    basis = made.polyline((0, 0), (4, 0), (4, 3))
    line = line_of(made, made.make("IfcOffsetCurve2D", basis, 1.0, False))

    assert pytest.approx(np.array([[0, 1, 0], [3, 1, 0], [3, 3, 0]])) == line.points_m


def test_gradient_curve_is_evaluated(model):
    """
    A straight alignment of 100 that climbs by 10 in 100: its length in space is sqrt(100² + 10²).

    What is given by its distance along is evaluated by the library.
    """
    made = model("IFC4X3_ADD2")
    ahead = made.make("IfcLine", made.point(0, 0), made.make("IfcVector", made.direction(1, 0), 1.0))
    size = [made.make("IfcLengthMeasure", value) for value in (0.0, 100.0)]
    level = made.make("IfcCurveSegment", "CONTINUOUS", made.axes2(), *size, ahead)
    base = made.make("IfcCompositeCurve", [level], False)
    slope = made.axes2((0, 5), (10, 1))
    reach = [made.make("IfcLengthMeasure", value) for value in (0.0, math.hypot(100, 10))]
    climb = made.make("IfcCurveSegment", "CONTINUOUS", slope, *reach, ahead)
    line = line_of(made, made.make("IfcGradientCurve", [climb], False, base))

    assert pytest.approx(math.hypot(100, 10), rel=1e-6) == line.length_m
    assert pytest.approx([0, 0, 5], abs=1e-9) == line.points_m[0].tolist()
    assert pytest.approx([100, 0, 15], abs=1e-6) == line.points_m[-1].tolist()


@pytest.mark.parametrize(
    ("curve", "reason"),
    [
        (lambda m: m.polyline((1, 1, 1), (1, 1, 1)), "zero-length"),
        (lambda m: m.polyline((0, 0, 0), (1, 0)), "damaged"),
        (lambda m: m.make("IfcLine", m.point(0, 0, 0), m.make("IfcVector", m.direction(1, 0, 0), 1.0)), "unread-curve"),
        (lambda m: m.make("IfcCircle", m.axes(), 0.0), "damaged"),
        (lambda m: m.make("IfcCompositeCurve"), "damaged"),
        (lambda m: m.make("IfcTrimmedCurve", m.make("IfcCircle", m.axes(), 1.0)), "damaged"),
        (lambda m: indexed(m, [(0, 0, 0), (1, 0, 0)], [m.make("IfcLineIndex", (1, 7))]), "damaged"),
    ],
)
def test_bad_curve_is_counted_by_reason(model, curve, reason):
    """A curve that makes no line is counted, and its finding names the element's GlobalId."""
    made = model()
    bad = made.axis(curve(made))
    made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    drawing = made.read()

    assert {reason: 1} == drawing.skipped
    assert drawing.selected == len(drawing.lines) + 1
    assert any(bad.GlobalId in finding.message for finding in drawing.findings)


def test_curve_made_of_itself(model):
    """A composite curve that is its own segment ends in a finding, not in recursion."""
    made = model()
    part = segment(made, made.polyline((0, 0, 0), (1, 0, 0)))
    curve = made.make("IfcCompositeCurve", [part], False)
    part.ParentCurve = curve
    made.axis(curve)

    with pytest.raises(NothingSelectedError, match=r"1 IfcBuildingElementProxy \(damaged\)"):
        made.read()
