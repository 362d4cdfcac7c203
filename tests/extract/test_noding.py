"""Lines are cut wherever they end, turn, touch or cross; doubled stretches count once."""

import math

import numpy as np
import pytest

from splicewright.extract.curve import flatten_arc
from splicewright.extract.errors import CrowdedError


def codes(network):
    return [finding.code for finding in network.findings if finding.code not in {"lay-unknown", "free-end"}]


def test_stem_snapped_onto_wall_makes_a_tee(build, drawing_of):
    """
    A stem that stops 3 mm short of a line, within the 5 mm tolerance, splits it and makes a tee.

        a-----+-----b
              |          a-b is one LINE; the stem ends 3 mm below it
              c
    """
    network = build(drawing_of([(0, 0), (10, 0)], [(5, -4), (5, -0.003)]))

    assert {"end": 3, "tee": 1} == network.count_kinds()
    assert ["gap-closed"] == codes(network)
    assert "3.0 mm" in network.findings[0].message
    assert pytest.approx(14.0) == network.length_m


def test_overshoot_within_the_tolerance_is_trimmed(build, drawing_of):
    """
    A stem that runs 4 mm past a line still makes a tee, not a cross with a 4 mm stub.

              |
        a-----+-----b
              c
    """
    network = build(drawing_of([(0, 0), (10, 0)], [(5, -4), (5, 0.004)]))

    assert {"end": 3, "tee": 1} == network.count_kinds()
    assert ["overshoot-trimmed"] == codes(network)
    assert pytest.approx(14.0) == network.length_m


def test_end_beside_and_beyond_a_corner_joins_it(build, drawing_of):
    """
    An end 4 mm beyond and 4 mm beside another end is nearer than the tolerance to that line's end only along it.

        a----------b
                   . c     c is 4 mm below the line and 3 mm before its end
                   |
    """
    network = build(drawing_of([(0, 0), (10, 0)], [(9.997, -0.004), (9.997, -5)]))

    assert {"end": 2, "corner": 1} == network.count_kinds()


@pytest.mark.parametrize(("height_m", "expected"), [(0.5, {"end": 4}), (0.004, {"end": 4, "cross": 1})])
def test_lines_over_each_other_stay_apart(build, drawing_of, height_m, expected):
    """
    Two lines that cross in plan meet only where their levels are within the tolerance.

            d
            |
        a---+---b
            |
            c
    """
    network = build(drawing_of([(0, 0, 0), (10, 0, 0)], [(5, -5, height_m), (5, 5, height_m)]))

    assert expected == network.count_kinds()


def test_plumb_line_meets_level_lines_on_its_way(build, drawing_of):
    """
    A wall joint, a single point in plan, meets the base joint at its foot and a lift joint on its way up.

              | top
        ------+------   lift
              |
        ------+------   base
    """
    network = build(drawing_of([(5, 0, 0), (5, 0, 4)], [(0, 0, 0), (10, 0, 0)], [(0, 0, 2), (10, 0, 2)]))

    assert {"end": 5, "tee": 1, "cross": 1} == network.count_kinds()


@pytest.mark.parametrize(
    ("second", "doubled_m"),
    [
        ([(0, 0), (10, 0)], 10.0),
        ([(10, 0), (0, 0)], 10.0),
        ([(4, 0), (7, 0)], 3.0),
        ([(8, 0), (15, 0)], 2.0),
        ([(-3, 0), (13, 0)], 10.0),
        ([(0, 0.003), (10, 0.003)], 10.0),
    ],
    ids=["same", "reversed", "inside", "overlapping", "covering", "3 mm beside"],
)
def test_doubled_stretch_counts_once(build, drawing_of, second, doubled_m):
    """
    What two lines share is counted once, and reported with its length.

        a==========b
    """
    first = [(0, 0), (10, 0)]
    network = build(drawing_of(first, second))
    union = max(10, *(x for x, _ in second)) - min(0, *(x for x, _ in second))

    assert {"end": 2} == network.count_kinds()
    assert pytest.approx(union, abs=0.001) == network.length_m
    assert [pytest.approx(doubled_m, abs=0.01)] == [
        float(finding.message.split(" for ")[1].split(" m;")[0])
        for finding in network.findings
        if finding.code == "doubled-line"
    ]


def test_lines_that_part_after_a_shared_stretch(build, drawing_of):
    """
    Two lines that share a stretch and part at a drawn vertex make a tee where they part.

                  c
                  |
        a=========+-----b
    """
    network = build(drawing_of([(0, 0), (10, 0), (10, 5)], [(0, 0), (15, 0)]))

    assert {"end": 3, "tee": 1} == network.count_kinds()
    assert pytest.approx(20.0) == network.length_m


def test_arc_drawn_twice_with_different_chords_counts_once(build, drawing_of, line, arc):
    """Two flattenings of one arc cross each other at every chord, and are still one arc."""
    coarse, fine = arc((0, 0), 3, 0, 90, 0.25), arc((0, 0), 3, 90, 0, 0.21)
    network = build(drawing_of(line(coarse, 1, curved=True), line(fine, 2, curved=True)))

    assert {"end": 2} == network.count_kinds()
    assert ["doubled-line"] == codes(network)
    assert pytest.approx(3 * math.pi / 2, rel=1e-6) == network.length_m


def test_ring_drawn_twice_from_different_starts_counts_once(build, drawing_of, line, arc):
    """Two circles in the same place are one ring with one closure."""
    network = build(
        drawing_of(line(arc((0, 0), 2, 0, 360), 1, curved=True), line(arc((0, 0), 2, 77, 437), 2, curved=True))
    )

    assert {"closure": 1} == network.count_kinds()
    assert pytest.approx(4 * math.pi, rel=1e-6) == network.length_m


def test_arc_and_its_tangents_are_one_bend(build, drawing_of, line, arc):
    """
    A corner rounded by an arc, drawn as line, arc, line, has no node on its way.

        a-----.
               '.
                |
                b
    """
    network = build(drawing_of([(0, 2), (5, 2)], line(arc((5, 0), 2, 90, 0), 2, curved=True), [(7, 0), (7, -5)]))

    assert {"end": 2} == network.count_kinds()
    assert pytest.approx(10 + math.pi, rel=1e-6) == network.length_m


def test_line_that_crosses_itself(build, drawing_of):
    """
    A polyline that comes back over itself makes a cross, and keeps its corners.

           c
          /|
         / |
        a--+---b      a-b goes on to c's left, then down through a-b
           |
           d
    """
    network = build(drawing_of([(0, 0), (10, 0), (5, 5), (5, -5)]))

    assert {"end": 2, "corner": 2, "cross": 1} == network.count_kinds()


def test_line_that_ends_on_itself(build, drawing_of):
    """
    A polyline whose end comes back onto its own course makes a tee.

        d------c
        |      |
        e      |
     a--+------b        the course is a-b-c-d-e; e ends 2 mm over a-b
    """
    network = build(drawing_of([(-3, 0), (4, 0), (4, 4), (0, 4), (0, 0.002)]))

    assert {"end": 1, "corner": 3, "tee": 1} == network.count_kinds()


@pytest.mark.parametrize(
    ("turn_deg", "expected"), [(14.9, {"end": 2}), (15.05, {"end": 2}), (15.3, {"end": 2, "corner": 1})]
)
def test_turns_up_to_the_limit_are_bent(build, drawing_of, turn_deg, expected):
    """A strip bends through 15 degrees, with a tenth of slack; more is a corner."""
    far = (5 + 5 * math.cos(math.radians(turn_deg)), 5 * math.sin(math.radians(turn_deg)))

    assert expected == build(drawing_of([(0, 0), (5, 0), far])).count_kinds()


@pytest.mark.parametrize(("sides", "expected"), [(24, {"closure": 1}), (23, {"corner": 23}), (4, {"corner": 4})])
def test_polygon_ring(build, drawing_of, sides, expected):
    """A ring of 24 sides turns 15 degrees at each vertex and is one bend; of 23 sides it is all corners."""
    angle = np.linspace(0, 2 * np.pi, sides + 1)
    ring = np.stack((np.cos(angle), np.sin(angle)), axis=1) * 5
    ring[-1] = ring[0]

    assert expected == build(drawing_of(ring)).count_kinds()


def test_scrap_in_a_straight_line_is_no_corner(build, drawing_of):
    """A stray vertex 1 mm aside, 1 mm before the next, turns by 45 degrees twice and means nothing."""
    network = build(drawing_of([(0, 0), (10, 0), (10.001, 0.001), (20, 0.001)]))

    assert {"end": 2} == network.count_kinds()


def test_repeated_vertices_mean_nothing(build, drawing_of):
    """A vertex that repeats the one before has no direction and is dropped."""
    network = build(drawing_of([(0, 0), (0, 0), (5, 0), (5, 0), (5, 5), (5, 5)]))

    assert {"end": 2, "corner": 1} == network.count_kinds()
    assert pytest.approx(10.0) == network.length_m


def test_curve_exploded_into_scraps_stays_one_run(build, drawing_of, arc):
    """An arc drawn as lines of 2 mm, each shorter than the tolerance, is still one run."""
    points = arc((0, 0), 0.3, 0, 90, 90 / 236)
    network = build(drawing_of(*(points[i : i + 2] for i in range(len(points) - 1))))

    assert {"end": 2} == network.count_kinds()
    assert pytest.approx(0.3 * math.pi / 2, rel=0.01) == network.length_m


def test_line_within_the_tolerance_is_reported(build, drawing_of):
    """A line of 2 mm is left out and reported."""
    network = build(drawing_of([(0, 0), (5, 0)], [(8, 8), (8.002, 8)]))

    assert ["zero-length"] == codes(network)
    assert {"end": 2} == network.count_kinds()


def test_lines_at_a_tiny_angle_cross(build, drawing_of):
    """
    Two long lines at 0.6 degrees are a cross, since 50 m on they are half a metre apart.

        a________........b
        c''''''''--------d
    """
    network = build(drawing_of([(0, 0), (100, 0)], [(0, -0.5), (100, 0.5)]))

    assert {"end": 4, "cross": 1} == network.count_kinds()


def test_survey_coordinates_lose_nothing(build, drawing_of):
    """At 5 000 km from the origin a 3 mm gap is still 3 mm."""
    x, y = 5_123_456.0, 4_321_987.0
    network = build(drawing_of([(x, y), (x + 10, y)], [(x + 5, y - 4), (x + 5, y - 0.003)]))

    assert {"end": 3, "tee": 1} == network.count_kinds()
    assert pytest.approx(14.0, abs=1e-6) == network.length_m


def test_two_runs_between_the_same_corners_survive(build, drawing_of, line, arc):
    """
    A chord and its arc join the same two nodes and are two runs.

         .--.
        a----b
    """
    network = build(drawing_of([(-1, 0), (1, 0)], line(arc((0, 0), 1, 0, 180), 2, curved=True)))

    assert {"corner": 2} == network.count_kinds()
    assert 2 == network.graph.number_of_edges()


def test_ring_with_one_branch_comes_back_to_its_tee(build, drawing_of, line, arc):
    """
    A ring met by one line has a tee and no closure; its run starts and ends there.

        ( )----
    """
    network = build(drawing_of(line(arc((0, 0), 1, 180, 540), 1, curved=True), [(1, 0), (5, 0)]))

    assert {"tee": 1, "end": 1} == network.count_kinds()
    assert 2 == network.graph.number_of_edges()
    assert [True, False] == sorted((run.start == run.end for run in network.runs()), reverse=True)


@pytest.mark.parametrize("beside_m", [0.0, 0.001, 0.004, -0.004])
def test_plumb_line_at_the_vertex_where_a_circle_closes(build, drawing_of, line, beside_m):
    """
    A plumb line at or near the first vertex of a circle, whose chords are shorter than the tolerance, stays plumb.

          | top
        .-+-.
       (     )    seen from above the plumb line is a point at the right of the circle
    """
    x, y = np.eye(3)[:2]
    ring = line(flatten_arc(np.zeros(3), x, y, 0.0, math.tau), 1, curved=True)
    at = (math.cos(beside_m), math.sin(beside_m))
    network = build(drawing_of(ring, [(*at, 0), (*at, 3)]))
    (tee,) = (node for node in network.nodes() if node.kind == "tee")

    assert pytest.approx((*at, 0), abs=1e-5) == tee.at_m
    assert pytest.approx(90.0, abs=1e-3) == tee.turn_deg
    assert [] == codes(network)


def test_line_that_ends_where_a_polyline_starts_does_not_move_it(build, drawing_of):
    """
    A line that ends on the start of a polyline of 3 mm steps meets it there, not a step further on.

        a-----+-+-+-+ ...
    """
    steps = [(0.003 * i, 0) for i in range(400)]
    network = build(drawing_of(steps, [(0, 0), (0, -4)]))
    (corner,) = (node for node in network.nodes() if node.kind == "corner")

    assert (0, 0, 0) == corner.at_m
    assert [] == codes(network)


def test_drawing_in_a_wrong_unit_is_refused_before_it_fills_the_memory(build, drawing_of):
    """
    Ten thousand segments in 1 mm, as of a site drawn in metres and read as micrometres: one sentence, no schedule.

        +-+-+-+ ... +   all of it is smaller than the tolerance
    """
    step = 1e-7
    lines = [[(i * step, 0), ((i + 1) * step, step)] for i in range(10_000)]

    with pytest.raises(CrowdedError, match=r"stand in 0.001 m by 0.000 m.*tolerance of 5 mm; check its unit"):
        build(drawing_of(*lines))
