"""Every type of line a DXF can hold, read from small drawings."""

import math
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from ezdxf.layouts.layout import Modelspace

from splicewright.extract.drawing import Drawing
from splicewright.extract.dxf import read_dxf
from splicewright.extract.line import JointLine
from splicewright.extract.selection import Selection

WS = {"layer": "WS"}
ELLIPSE_10_5 = 48.4422411
"""Perimeter 4 a E(e) of the ellipse with half-axes 10 and 5 (complete elliptic integral of the second kind)."""


@pytest.fixture
def drawn(tmp_path: Path):
    """Save what a function draws as R2018 in metres, and read layer WS back."""

    def draw_and_read(draw) -> Drawing:
        document = ezdxf.new("R2018", units=6)
        draw(document.modelspace())
        path = tmp_path / "shape.dxf"
        document.saveas(path)
        return read_dxf(path, Selection(patterns=("WS",)))

    return draw_and_read


def only(drawing: Drawing) -> JointLine:
    (line,) = drawing.lines
    return line


def end_turn_deg(line: JointLine, first: tuple[float, float, float], last: tuple[float, float, float]) -> float:
    """Largest angle between the line's end chords and the true tangents there."""
    chords = np.diff(line.points_m, axis=0)[[0, -1]]
    chords /= np.linalg.norm(chords, axis=1)[:, np.newaxis]
    true = np.array([first, last], dtype=float)
    true /= np.linalg.norm(true, axis=1)[:, np.newaxis]
    across = np.linalg.norm(np.cross(chords, true), axis=1)
    return float(np.degrees(np.arctan2(across, (chords * true).sum(axis=1))).max())


def test_line_keeps_its_ends_in_space(drawn):
    """A LINE is in world coordinates whatever its extrusion says."""
    drawing = drawn(lambda m: m.add_line((1, 2, 3), (4, 6, 3), dxfattribs=WS | {"extrusion": (0, 0, -1)}))

    assert [[1, 2, 3], [4, 6, 3]] == only(drawing).points_m.tolist()


@pytest.mark.outside(
    what="lengths of bulged segments",
    against="the published DXF reference: the bulge is the tangent of a quarter of the sweep",
    result="within 1e-6 of the length",
)
@pytest.mark.parametrize(
    ("chord", "bulge", "length"),
    [
        (2, 1, math.pi),
        (2, -1, math.pi),
        (10, math.tan(math.radians(22.5)), 11.1072073),
        (10, 1e-6, 10.0),
        (10, 3.0, 10 / 2 * (1 + 9) / (2 * 3) * 4 * math.atan(3.0)),
    ],
)
def test_bulge_is_an_arc_of_the_right_length(drawn, chord, bulge, length):
    """
    A bulge is the tangent of a quarter of the sweep: length = radius * 4 atan(b), right to 1e-6.

          .--.
        a'    'b        chord a-b, b > 0 turns counter-clockwise from a to b
    """
    line = only(drawn(lambda m: m.add_lwpolyline([(0, 0, 0, 0, bulge), (chord, 0, 0, 0, 0)], dxfattribs=WS)))

    assert length == pytest.approx(line.length_m, rel=1e-6)
    assert [[0, 0, 0], [chord, 0, 0]] == line.points_m[[0, -1]].tolist()


@pytest.mark.parametrize("bulge", [1.0, -1.0])
def test_positive_bulge_lies_right_of_its_chord(drawn, bulge):
    """
    Counter-clockwise from a to b, the arc dips to the right-hand side of the way from a to b.

        a---->b
         '._.'    b = +1
    """
    line = only(drawn(lambda m: m.add_lwpolyline([(0, 0, 0, 0, bulge), (2, 0, 0, 0, 0)], dxfattribs=WS)))

    lowest = line.points_m[np.abs(line.points_m[:, 1]).argmax()]
    assert [1.0, -bulge, 0.0] == pytest.approx(lowest.tolist(), abs=1e-9)


def test_closed_lwpolyline_with_bulges_is_a_ring(drawn):
    """Two half circles close exactly; only the two vertices are drawn."""
    points = [(0, 0, 0, 0, 1), (2, 0, 0, 0, 1)]
    line = only(drawn(lambda m: m.add_lwpolyline(points, close=True, dxfattribs=WS)))

    assert line.closed
    assert math.tau == pytest.approx(line.length_m, rel=1e-6)
    assert line.drawn is not None
    assert [[0, 0, 0], [2, 0, 0], [0, 0, 0]] == pytest.approx(line.points_m[line.drawn])


def test_straight_polyline_is_all_drawn(drawn):
    """
    Without a curve every vertex is the drafter's; a repeated one is dropped, and elevation is kept.

        a----b,b
             |
             c
    """
    points = [(0, 0), (2, 0), (2, 0), (2, -1)]
    attributes = WS | {"elevation": 7}
    line = only(drawn(lambda m: m.add_lwpolyline(points, dxfattribs=attributes)))

    assert line.drawn is None
    assert [[0, 0, 7], [2, 0, 7], [2, -1, 7]] == line.points_m.tolist()


def test_mirrored_plane_turns_x_and_z_round(drawn):
    """With extrusion (0, 0, -1) the object's x runs to the west and its elevation downwards."""
    attributes = WS | {"extrusion": (0, 0, -1), "elevation": 5}
    line = only(drawn(lambda m: m.add_lwpolyline([(1, 2), (4, 2)], dxfattribs=attributes)))

    assert [[-1, 2, -5], [-4, 2, -5]] == line.points_m.tolist()


def test_arc_stands_upright_in_a_wall(drawn):
    """An ARC with extrusion (1, 0, 0) lies in the plane x = elevation: its x is world y, its y world z."""
    attributes = WS | {"extrusion": (1, 0, 0)}
    line = only(drawn(lambda m: m.add_arc((0, 0, 3), 2, 0, 90, dxfattribs=attributes)))

    assert [[3, 2, 0], [3, 0, 2]] == pytest.approx(line.points_m[[0, -1]], abs=1e-12)
    assert math.pi == pytest.approx(line.length_m, rel=1e-6)


@pytest.mark.parametrize(("start", "end", "sweep"), [(0, 90, 90), (350, 10, 20), (-90, 90, 180), (30, 29, 359)])
def test_arc_runs_counter_clockwise(drawn, start, end, sweep):
    """An ARC goes counter-clockwise from its start angle, over 0 where need be; tangents right to 0.2 degree."""
    line = only(drawn(lambda m: m.add_arc((0, 0), 10, start, end, dxfattribs=WS)))
    tangents = [(-math.sin(math.radians(a)), math.cos(math.radians(a)), 0) for a in (start, end)]

    assert math.radians(sweep) * 10 == pytest.approx(line.length_m, rel=1e-6)
    assert end_turn_deg(line, *tangents) < 0.2


def test_circle_is_one_bend_ring(drawn):
    """A CIRCLE closes exactly and has one drawn vertex, where it starts."""
    line = only(drawn(lambda m: m.add_circle((5, 5, 2), 3, dxfattribs=WS)))

    assert line.closed
    assert math.tau * 3 == pytest.approx(line.length_m, rel=1e-6)
    assert [0, len(line.points_m) - 1] == list(line.drawn)
    assert [8, 5, 2] == line.points_m[0].tolist()


def test_ellipse_has_its_published_perimeter(drawn):
    """The 10 x 5 ellipse measures 48.4422411."""
    line = only(drawn(lambda m: m.add_ellipse((0, 0), (10, 0), 0.5, dxfattribs=WS)))

    assert line.closed
    assert ELLIPSE_10_5 == pytest.approx(line.length_m, rel=1e-6)


def test_quarter_ellipse_and_slim_ellipse(drawn):
    """A quarter is a quarter; an ellipse 1000 times as long as wide still measures 4.0000... a."""
    quarter = only(drawn(lambda m: m.add_ellipse((0, 0), (10, 0), 0.5, 0, math.pi / 2, dxfattribs=WS)))
    slim = only(drawn(lambda m: m.add_ellipse((0, 0), (10, 0), 0.001, dxfattribs=WS)))

    assert ELLIPSE_10_5 / 4 == pytest.approx(quarter.length_m, rel=1e-6)
    # For a flat ellipse the perimeter is 4a (1 + b²/2a² (ln(4a/b) - 1/2)) to that order (from memory).
    assert 40 * (1 + 0.5e-6 * (math.log(4000) - 0.5)) == pytest.approx(slim.length_m, rel=1e-6)
    assert end_turn_deg(quarter, (0, 1, 0), (-1, 0, 0)) < 0.2


def test_rational_spline_of_a_quarter_circle(drawn):
    """Three control points with the middle weight cos 45 degrees are a quarter circle exactly."""

    def draw(m: Modelspace) -> None:
        m.add_rational_spline([(1, 0), (1, 1), (0, 1)], [1, math.sqrt(0.5), 1], degree=2, dxfattribs=WS)

    line = only(drawn(draw))

    assert math.pi / 2 == pytest.approx(line.length_m, rel=1e-6)
    assert np.linalg.norm(line.points_m, axis=1) == pytest.approx(1.0)
    assert end_turn_deg(line, (0, 1, 0), (-1, 0, 0)) < 0.2


def test_spline_corner_is_drawn(drawn):
    r"""
    A knot repeated as often as the degree is a corner, and the only drawn vertex inside.

             b
            / \
           a   c      degree 2: a-b and b-c straight
    """

    def draw(m: Modelspace) -> None:
        points = [(0, 0), (1, 1), (2, 2), (3, 1), (4, 0)]
        m.add_open_spline(points, degree=2, knots=[0, 0, 0, 1, 1, 2, 2, 2], dxfattribs=WS)

    line = only(drawn(draw))

    assert [[0, 0, 0], [2, 2, 0], [4, 0, 0]] == pytest.approx(line.points_m[line.drawn])
    assert 4 * math.sqrt(2) == pytest.approx(line.length_m)


def test_spline_through_fit_points(drawn):
    """A SPLINE with fit points only passes through them."""
    fit = [(0, 0), (1, 1), (3, 0), (4, 2)]
    line = only(drawn(lambda m: m.add_spline(fit, dxfattribs=WS)))

    for x, y in fit:
        assert np.linalg.norm(line.points_m - (x, y, 0), axis=1).min() < 1e-3


def test_damaged_spline_is_counted(drawn):
    """A SPLINE whose knots do not fit its points is counted; the line beside it is read."""

    def draw(m: Modelspace) -> None:
        m.add_line((0, 0), (1, 0), dxfattribs=WS)
        spline = m.add_open_spline([(0, 0), (1, 1), (2, 0), (3, 1)], dxfattribs=WS)
        spline.knots = [0, 1, 2]

    drawing = drawn(draw)

    assert {"damaged": 1} == drawing.skipped
    assert ["entity-skipped"] == [finding.code for finding in drawing.findings]


def test_polyline_2d_and_3d(drawn):
    """A 2D POLYLINE takes its elevation and bulges, a 3D one its own heights."""

    def draw(m: Modelspace) -> None:
        m.add_polyline2d([(0, 0, 1), (2, 0, 0)], format="xyb", dxfattribs=WS | {"elevation": (0, 0, 4)})
        m.add_polyline3d([(0, 0, 0), (3, 0, 4)], dxfattribs=WS)

    flat, steep = drawn(draw).lines

    assert math.pi == pytest.approx(flat.length_m, rel=1e-6)
    assert {4.0} == set(flat.points_m[:, 2].tolist())
    assert 5.0 == steep.length_m


def test_closed_polyline_3d(drawn):
    """
    A closed 3D POLYLINE comes back to its first vertex.

        d---c
        |   |
        a---b
    """
    points = [(0, 0, 1), (4, 0, 1), (4, 3, 1), (0, 3, 1)]
    line = only(drawn(lambda m: m.add_polyline3d(points, close=True, dxfattribs=WS)))

    assert line.closed
    assert 14.0 == line.length_m


def test_spline_fit_polyline_leaves_its_frame_out(drawn):
    """
    Of a spline-fit POLYLINE the frame (vertex flag 16) is no line; the vertices on the curve (flag 8) are.

              F
             . .         F: frame vertex, not on the curve
           .-c-.
        a '     ' b
    """

    def draw(m: Modelspace) -> None:
        polyline = m.add_polyline2d([(0, 0), (2, 4), (4, 0), (0, 0), (2, 2), (4, 0)], dxfattribs=WS)
        polyline.dxf.flags |= 4
        for vertex, flag in zip(polyline.vertices, [16, 16, 16, 8, 8, 8], strict=True):
            vertex.dxf.flags |= flag

    line = only(drawn(draw))

    assert [[0, 0, 0], [2, 2, 0], [4, 0, 0]] == line.points_m.tolist()
    assert [0, 2] == list(line.drawn)


def test_curve_fit_vertices_are_not_drawn(drawn):
    """The vertex that a curve fit added (flag 1) lies on the line, but is no corner that the drafter set."""

    def draw(m: Modelspace) -> None:
        polyline = m.add_polyline2d([(0, 0, 0.2), (2, 1, 0.2), (4, 0, 0)], format="xyb", dxfattribs=WS)
        polyline.dxf.flags |= 2
        polyline.vertices[1].dxf.flags |= 1

    line = only(drawn(draw))

    assert [[0, 0, 0], [4, 0, 0]] == line.points_m[line.drawn].tolist()
    assert (line.points_m == [2, 1, 0]).all(axis=1).any()


def test_meshes_are_counted_not_read(drawn):
    """A POLYLINE that is a mesh is no line."""

    def draw(m: Modelspace) -> None:
        m.add_line((0, 0), (1, 0), dxfattribs=WS)
        m.add_polymesh((3, 3), dxfattribs=WS)

    assert {"POLYLINE": 1} == drawn(draw).skipped


@pytest.mark.parametrize(("justification", "offset"), [(0, -0.5), (1, 0.0), (2, 0.5)])
def test_mline_is_read_at_its_middle(drawn, justification, offset):
    """
    An MLINE is a strip of parallel lines: the middle of the outermost is the centreline, however it was picked.

        ------------  top        picked along the top: the middle lies half the width below
        - - - - - -  middle
        ------------  bottom
    """

    def draw(m: Modelspace) -> None:
        m.add_mline([(0, 0), (10, 0)], dxfattribs=WS | {"justification": justification, "scale_factor": 1})

    line = only(drawn(draw))

    assert [[0, offset, 0], [10, offset, 0]] == pytest.approx(line.points_m)


def test_other_entities_are_counted_by_type(drawn):
    """What cannot be a line is counted by its type, with one finding each for layer and type."""

    def draw(m: Modelspace) -> None:
        m.add_line((0, 0), (1, 0), dxfattribs=WS)
        m.add_ray((0, 0), (1, 0), dxfattribs=WS)
        m.add_xline((0, 0), (1, 0), dxfattribs=WS)
        m.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs=WS)
        m.add_hatch(dxfattribs=WS)
        m.add_hatch(dxfattribs=WS)
        m.add_text("weld here", dxfattribs=WS)
        m.add_point((0, 0), dxfattribs=WS)

    drawing = drawn(draw)

    assert {"3DFACE": 1, "HATCH": 2, "POINT": 1, "RAY": 1, "TEXT": 1, "XLINE": 1} == drawing.skipped
    assert 8 == drawing.selected
    assert {"entity-skipped"} == {finding.code for finding in drawing.findings}
    expected = "layer 'WS': 2 HATCH left out, no line; draw one along the strip if it stands for waterstop"
    assert expected in [finding.message for finding in drawing.findings]


def test_lines_without_length_or_number_are_counted(drawn):
    """Lines from a point to itself, and lines that lead nowhere, are left out and counted."""

    def draw(m: Modelspace) -> None:
        m.add_line((0, 0), (1, 0), dxfattribs=WS)
        m.add_line((1, 1), (1, 1), dxfattribs=WS)
        m.add_lwpolyline([(2, 2), (2, 2)], dxfattribs=WS)
        m.add_lwpolyline([(2, 2)], dxfattribs=WS)
        m.add_circle((0, 0), 0, dxfattribs=WS)
        m.add_line((0, 0), (math.nan, 0), dxfattribs=WS)
        m.add_line((0, 0), (1e300, 1e300), dxfattribs=WS)
        m.add_lwpolyline([(0, 0), (math.inf, 0)], dxfattribs=WS)

    drawing = drawn(draw)

    assert {"not-finite": 3, "zero-length": 4} == drawing.skipped
    assert 8 == drawing.selected
    assert 1 == len(drawing.lines)


def test_survey_coordinates_keep_their_precision(tmp_path):
    """
    At 4.5 million metres east, drawn in millimetres, two ends 1 mm apart stay 1 mm apart to a micrometre.

        a----b c----d     b-c: 1 mm
    """
    document = ezdxf.new("R2018", units=4)
    east = 4_500_000_000.0
    document.modelspace().add_line((east, 5.4e9), (east + 1000, 5.4e9), dxfattribs=WS)
    document.modelspace().add_line((east + 1001, 5.4e9), (east + 2000, 5.4e9), dxfattribs=WS)
    document.saveas(tmp_path / "far.dxf")
    first, second = read_dxf(tmp_path / "far.dxf", Selection(patterns=("WS",))).lines

    assert 0.001 == pytest.approx(second.points_m[0, 0] - first.points_m[1, 0], abs=2e-9)
    assert 1.0 == pytest.approx(first.length_m, abs=2e-9)


def test_arc_at_survey_coordinates_keeps_its_shape(drawn):
    """A quarter circle of 2 m radius around (4.5e6, 5.4e6) is as long as at the origin."""
    line = only(drawn(lambda m: m.add_arc((4.5e6, 5.4e6), 2, 0, 90, dxfattribs=WS)))

    assert math.pi == pytest.approx(line.length_m, rel=1e-6)
