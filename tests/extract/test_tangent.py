"""Runs on curves head along the curve's tangent, not along its first chord."""

import math

import numpy as np
import pytest

from splicewright.extract.curve import flatten_arc, flatten_polyline, flatten_spline
from splicewright.extract.linework import Linework
from splicewright.extract.tangent import tangents


def along(angle_rad, radius_m, centre):
    return np.array([centre[0] + radius_m * math.cos(angle_rad), centre[1] + radius_m * math.sin(angle_rad)])


def turns(network):
    return [node.turn_deg for node in network.nodes() if node.kind in {"tee", "cross"}]


@pytest.fixture
def ring(line):
    """Make a circle as a reader flattens it."""

    def make(centre, radius_m):
        x, y = np.eye(3)[:2] * radius_m
        points = flatten_arc(np.array([*centre, 0.0]), x, y, 0.0, math.tau)
        return line(points, 1, curved=True)

    return make


@pytest.mark.parametrize("spokes", [3, 5, 7, 12, 16, 360])
@pytest.mark.parametrize("centre", [(0.0, 0.0), (2_345_678.5, 5_432_109.25)], ids=["near", "survey"])
def test_all_tees_on_a_ring_of_spokes_are_square(build, drawing_of, ring, spokes, centre):
    r"""
    Spokes that stand square on a ring make tees of 90 degrees wherever they meet its chords.

          \ | /
         -(   )-
          / | \
    """
    angles = 0.1 + np.arange(spokes) * math.tau / spokes
    lines = [[along(a, 5.0, centre), along(a, 8.0, centre)] for a in angles]

    assert [pytest.approx(90.0, abs=1e-3)] * spokes == turns(build(drawing_of(ring(centre, 5.0), *lines)))


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 0.9])
def test_node_anywhere_on_a_chord_heads_along_the_arc(build, drawing_of, ring, share):
    """
    A line that crosses a ring square does so at a vertex, in the middle of a chord and between them alike.

        ----(--
    """
    a = math.radians(40.0 + 0.2 * share)
    network = build(drawing_of(ring((0, 0), 5.0), [along(a, 4.0, (0, 0)), along(a, 6.0, (0, 0))]))

    assert [pytest.approx(90.0, abs=1e-3)] == turns(network)


def test_node_where_the_ring_is_closed_heads_along_the_arc(build, drawing_of, ring):
    """
    A line that meets a ring at its first vertex, which is its last, stands square on it.

        (   )----
    """
    network = build(drawing_of(ring((0, 0), 5.0), [(5, 0), (8, 0)]))

    assert [pytest.approx(90.0, abs=1e-3)] == turns(network)


def test_end_of_an_arc_heads_along_the_arc(build, drawing_of, line):
    """
    A quarter of a circle that meets the end of a line makes a corner of exactly the angle between line and tangent.

            .-
          /
         |
        -+        b = (0, 0); the arc leaves it upwards
    """
    points = flatten_arc(np.array([3.0, 0, 0]), np.array([-3.0, 0, 0]), np.array([0, 3.0, 0]), 0.0, math.pi / 2)
    network = build(drawing_of([(-4, 0), (0, 0)], line(points, 2, curved=True)))

    assert [pytest.approx(90.0, abs=1e-3)] == [node.turn_deg for node in network.nodes() if node.kind == "corner"]


def test_bulged_polyline_heads_along_its_arcs(build, drawing_of, line):
    """
    A round-ended ring has straight sides and arcs, and tees on each of them, and where they join, are square.

           |      |
        .--+------+--.
       (              )--
        '------------'
    """
    vertices = np.array([[-2.0, 1, 0], [-2, -1, 0], [2, -1, 0], [2, 1, 0]])
    shape = flatten_polyline(vertices, np.array([1.0, 0, 1.0, 0]), None, closed=True)
    oblong = line(shape.points, 1, curved=True)
    oblong = type(oblong)(source=oblong.source, points_m=shape.points, drawn=shape.drawn)
    slant = math.radians(17.3)
    foot = np.array([2 + math.cos(slant), math.sin(slant)])
    stems = [[(-2, 1), (-2, 4)], [(1.3, 1), (1.3, 4)], [(3, 0), (6, 0)], [foot, foot * 2 - (2, 0)]]
    stems = [line(stem, number, profile=None) for number, stem in enumerate(stems, start=2)]

    assert [pytest.approx(90.0, abs=1e-3)] * 4 == turns(build(drawing_of(oblong, *stems)))


def test_drawn_corners_of_a_polygon_stay_corners(build, drawing_of):
    r"""
    A ring drawn as a polygon of 24 sides is one: a stem at a vertex stands 82.5 degrees from both sides.

        /
       +----
        \
    """
    angle = np.arange(25) * math.tau / 24
    polygon = np.stack((np.cos(angle), np.sin(angle)), axis=1) * 5
    polygon[-1] = polygon[0]
    network = build(drawing_of(polygon, [(5, 0), (8, 0)]))

    assert [pytest.approx(82.5, abs=1e-6)] == turns(network)


def test_straight_that_leads_into_a_curve_stays_straight(line):
    """
    A coarse bend whose first vertex nobody drew does not turn the long straight before it.

        --------------.      2 m, then chords of 0.1 m that turn 6 degrees each
                       '.
    """
    headings = np.radians(-6.0 * np.arange(11))
    steps = np.stack((np.cos(headings), np.sin(headings)), axis=1) * np.array([2.0, *[0.1] * 10])[:, None]
    course = line(np.vstack(([0.0, 0.0], np.cumsum(steps, axis=0))), 1, curved=True)
    found = tangents(Linework.of([course]), np.array([0, 0, 0]), np.array([0.0, 1.0, 2.0]), 15.1)

    assert pytest.approx(np.tile([1.0, 0, 0], (3, 1)), abs=1e-9) == found


def test_cusp_of_a_spline_is_no_smooth_curve(line):
    """A vertex that turns by more than the limit is a corner even if nobody drew it: each side keeps its own chord."""
    course = line([(0, 0), (1, 0), (2, 0), (2, 1), (2, 2)], 1, curved=True)
    found = tangents(Linework.of([course]), np.array([1, 2]), np.array([2.0, 2.0]), 15.1)

    assert pytest.approx(np.array([[1.0, 0, 0], [0, 1, 0]]), abs=1e-9) == found


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("limit_deg", [15.1, 180.0])
def test_curve_that_turns_right_back_has_no_tangent_there(line, limit_deg):
    """A curve that runs out and back on itself, as a spline may, keeps the chords at its turn, without a warning."""
    course = line([(0, 0), (1, 0), (2, 0), (1, 0), (0, 0)], 1, curved=True)
    found = tangents(Linework.of([course]), np.array([1, 2]), np.array([2.0, 2.0]), limit_deg)

    assert pytest.approx(np.array([[1.0, 0, 0], [-1, 0, 0]]), abs=1e-9) == found


def test_tangents_of_a_spline_are_those_of_its_formula(line):
    """Along a cubic Bezier curve the tangents agree with its derivative to a hundredth of a degree, ends included."""
    control = np.array([[0.0, 0, 0], [1, 3, 0], [4, -1, 1], [6, 2, 0]])
    shape = flatten_spline(control, np.array([0.0] * 4 + [1.0] * 4), None, 3)
    work = Linework.of([line(shape.points, 1, curved=True)])
    segment = np.append(np.arange(0, len(shape.points) - 1, 7), len(shape.points) - 2)
    vertex = np.append(segment[:-1], len(shape.points) - 1)
    t = shape.at[vertex][:, None]
    legs = np.diff(control, axis=0)
    exact = (1 - t) ** 2 * legs[0] + 2 * t * (1 - t) * legs[1] + t**2 * legs[2]
    exact /= np.linalg.norm(exact, axis=1)[:, None]
    found = tangents(work, segment, work.station_m[vertex], 15.1)

    assert np.degrees(np.linalg.norm(found - exact, axis=1)).max() < 0.01
