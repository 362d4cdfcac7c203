"""A curve and another line that only touch meet once, where they touch."""

import math

import numpy as np
import pytest

from splicewright.extract.curve import flatten_arc


@pytest.fixture
def circle(line):
    """Make a circle as a reader flattens it."""

    def make(centre, radius_m, number=1):
        x, y = np.eye(3)[:2] * radius_m
        return line(flatten_arc(np.array([*centre, 0.0])[:3], x, y, 0.0, math.tau), number, curved=True)

    return make


def codes(network):
    return [finding.code for finding in network.findings if finding.code not in {"lay-unknown", "free-end"}]


@pytest.mark.parametrize("radius_m", [0.1, 1.0, 5.0, 60.0])
@pytest.mark.parametrize("beside_m", [0.0, 0.001, 0.0049, -0.0002, -0.001, -0.0049])
def test_line_that_touches_a_circle_meets_it_once(build, drawing_of, circle, radius_m, beside_m):
    """
    A line that passes a circle within the tolerance, outside it or cutting off a sliver, meets it once, at its top.

        ----.---+---.----     the strips lie on each other, which is an error
          (         )
    """
    height = radius_m + beside_m
    network = build(drawing_of(circle((0, 0), radius_m), [(-2 * radius_m, height), (2.1 * radius_m, height)]))
    (cross,) = (node for node in network.nodes() if node.kind == "cross")

    assert {"end": 2, "cross": 1} == network.count_kinds()
    assert pytest.approx((0, radius_m, 0), abs=0.005) == cross.at_m
    assert ["sharp-angle"] == codes(network)


@pytest.mark.parametrize(("beside_m", "kinds"), [(0.0051, {"end": 2, "closure": 1}), (-0.0051, {"end": 2, "cross": 2})])
def test_line_that_passes_a_circle_further_than_the_tolerance(build, drawing_of, circle, beside_m, kinds):
    r"""
    Further out than the tolerance a line does not meet the circle; further in it crosses it twice.

        ------------        ---+-----+---
          .-----.             /       \
    """
    height = 5 + beside_m
    network = build(drawing_of(circle((0, 0), 5.0), [(-9, height), (9, height)]))

    assert kinds == network.count_kinds()


@pytest.mark.parametrize(("centre", "radius_m"), [((0, 8.002), 3.0), ((0, 2.0), 3.0), ((0, 1.999), 3.0)])
def test_circles_that_touch_meet_once(build, drawing_of, circle, centre, radius_m):
    """
    Two circles that touch from outside or from inside are two rings with one node.

        (    )(   )       ((  ) )
    """
    network = build(drawing_of(circle((0, 0), 5.0), circle(centre, radius_m, 2)))

    assert {"cross": 1} == network.count_kinds()
    assert 2 == network.graph.number_of_edges()
    assert pytest.approx(2 * math.pi * (5 + radius_m), abs=0.005) == network.length_m


def test_line_that_crosses_a_curve_at_one_of_its_vertices_meets_it_there(build, drawing_of, circle):
    """
    A slanting line through a vertex between two chords crosses both chords and the circle once.

             /
        ----+----
           /
    """
    a = math.radians(40.0)
    foot = np.array([math.cos(a), math.sin(a)]) * 0.3
    way = np.array([math.cos(a + 0.4), math.sin(a + 0.4)])
    network = build(drawing_of(circle((0, 0), 0.3), [foot - way * 0.1, foot + way]))
    (cross,) = (node for node in network.nodes() if node.kind == "cross")

    assert pytest.approx((*foot, 0), abs=1e-6) == cross.at_m


@pytest.mark.parametrize("beside_m", [-0.003, 0.003])
def test_plumb_line_beside_a_ring_meets_it(build, drawing_of, circle, beside_m):
    """
    A wall joint that passes 3 mm inside or outside a ring, at a vertex between two chords, meets it.

         | .-
         |(        seen from above the joint is a point
    """
    a = math.radians(40.0)
    x, y = (5 + beside_m) * math.cos(a), (5 + beside_m) * math.sin(a)
    network = build(drawing_of(circle((0, 0), 5.0), [(x, y, -1), (x, y, 3)]))

    assert {"end": 2, "cross": 1} == network.count_kinds()


def test_end_on_the_tangent_of_a_circle_is_a_sharp_tee(build, drawing_of, circle):
    """
    A line that starts where it touches a circle leaves it in the direction of one side: no fitting parts the two.

        .---+-------
      (       )
    """
    network = build(drawing_of(circle((0, 0), 5.0), [(0, 5), (8, 5)]))

    assert {"tee": 1, "end": 1} == network.count_kinds()
    assert ["sharp-angle"] == codes(network)


@pytest.mark.parametrize(("stem_deg", "expected"), [(14.0, ["sharp-angle"]), (20.0, [])])
def test_strips_less_than_the_bend_limit_apart_are_an_error(build, drawing_of, stem_deg, expected):
    """
    A stem at 14 degrees lies on the through piece, since the strip yields as far; at 20 degrees it does not.

               .-'
        a----+-----b
    """
    tip = (5 + 4 * math.cos(math.radians(stem_deg)), 4 * math.sin(math.radians(stem_deg)))
    network = build(drawing_of([(0, 0), (10, 0)], [(5, 0), tip]))

    assert {"end": 3, "tee": 1} == network.count_kinds()
    assert expected == codes(network)


def test_spline_that_swings_along_a_line_meets_it_once(build, drawing_of, line):
    """
    A wave of 2 mm about a line crosses it three times within the tolerance, and leaves it at both ends: one meeting.

        '-.__  .-.  __.-'
             ''   ''
    """
    x = np.linspace(-1, 1, 4001)
    wave = np.stack((x, 0.002 * np.sin(3 * math.pi * x) + 0.5 * x**9, 0 * x), axis=1)
    network = build(drawing_of(line(wave, 1, curved=True), [(-1, 0), (1, 0)]))

    assert {"end": 4, "cross": 1} == network.count_kinds()
