"""What becomes of runs of every length."""

import pytest

from splicewright.schedule.stretch import Role, Use, lay_out, place_along


def only_run(layout, length_m: float):
    """Find the run of that length."""
    (found,) = [s for s in layout.stretches if abs(s.run.length_m - length_m) < 1e-6]
    return found


@pytest.mark.parametrize(
    ("length_m", "use", "legs_m", "made_m", "net_m"),
    [
        (1.0, Use.INNER, 0.0, 0.0, 0.0),
        (1.199, Use.INNER, 0.0, 0.0, 0.0),
        (1.2, Use.MEETING, 0.6, 0.605, 0.0),
        (1.499, Use.MEETING, 0.7495, 0.7545, 0.0),
        (1.5, Use.STRIP, 0.6, 0.6, 0.3),
        (5.0, Use.STRIP, 0.6, 0.6, 3.8),
    ],
)
def test_a_run_between_two_fittings(drawing_of, build, rules, length_m, use, legs_m, made_m, net_m):
    """
    With legs of 600 mm and a least piece of 300 mm: under 1.2 m one assembly, under 1.5 m the legs meet.

        |        |
        +--------+
        |        |        both uprights are long; a leg that meets a leg brings half of the 10 mm melt
    """
    network = build(drawing_of([(0, -9), (0, 9)], [(0, 0), (length_m, 0)], [(length_m, -9), (length_m, 9)]))

    stretch = only_run(lay_out([network], rules), length_m)

    assert (use, pytest.approx((legs_m, legs_m)), pytest.approx((made_m, made_m)), pytest.approx(net_m)) == (
        stretch.use,
        stretch.legs_m,
        stretch.legs_made_m,
        stretch.net_m,
    )


@pytest.mark.parametrize(
    ("length_m", "use", "leg_m", "net_m"),
    [
        (0.2, Use.LEG, 0.2, 0.0),
        (0.899, Use.LEG, 0.899, 0.0),
        (0.9, Use.STRIP, 0.6, 0.3),
        (4.0, Use.STRIP, 0.6, 3.4),
    ],
)
def test_a_run_from_a_fitting_to_a_free_end(drawing_of, build, rules, length_m, use, leg_m, net_m):
    """
    With a leg of 600 mm and a least piece of 300 mm: under 0.9 m the leg takes it all.

        ------+------
              |  free end below
    """
    network = build(drawing_of([(-9, 0), (9, 0)], [(0, 0), (0, -length_m)]))

    stretch = only_run(lay_out([network], rules), length_m)

    assert (use, pytest.approx(leg_m), pytest.approx(net_m)) == (stretch.use, sum(stretch.legs_m), stretch.net_m)


def test_a_leg_that_runs_to_a_change_of_profile_brings_half_a_melt(drawing_of, build, rules, line):
    """
    The stem is too short for a piece, so the leg goes on to the transition and loses half of its 10 mm weld.

        ----+----
            |        0.5 m of ribbed
            X        transition
            |        bulb
    """
    courses = [
        line([(-9, 0), (9, 0)], 1),
        line([(0, 0), (0, -0.5)], 2),
        line([(0, -0.5), (0, -9)], 3, profile="bulb"),
    ]
    stretch = only_run(lay_out([build(drawing_of(*courses))], rules), 0.5)

    assert (Use.LEG, 0.5, pytest.approx(0.505)) == (stretch.use, sum(stretch.legs_m), sum(stretch.legs_made_m))


def test_a_ring_without_nodes_keeps_its_whole_length_and_one_melt(drawing_of, build, rules, arc):
    """A circle of 2 m radius is closed by one splice, which takes half its melt from either end."""
    (stretch,) = lay_out([build(drawing_of(arc((0, 0), 2, 0, 360)))], rules).stretches

    assert (Use.STRIP, pytest.approx(12.566, abs=1e-3), (0.005, 0.005)) == (
        stretch.use,
        stretch.net_m,
        stretch.melts_m,
    )


@pytest.mark.parametrize("away_m", [0.0, 2.0e6])
def test_a_run_of_exactly_two_legs_is_not_inside_an_assembly(drawing_of, build, rules_of, away_m: float):
    """Legs of 24 in meet in a run of 48 in, also at survey coordinates where the drawn length is off by rounding."""
    courses = [[(0, -9), (0, 9)], [(0, 0), (1.2192, 0)], [(1.2192, -9), (1.2192, 9)]]
    moved = [[(x + away_m, y + away_m) for x, y in course] for course in courses]

    layout = lay_out([build(drawing_of(*moved))], rules_of(options={"fittings.leg": "24 in"}))

    assert 1 == sum(stretch.use is Use.MEETING for stretch in layout.stretches)


@pytest.mark.parametrize(
    ("policy", "role"), [("factory", Role.FITTING), ("site shop", Role.FITTING), ("field", Role.WELDED)]
)
def test_the_policy_decides_what_a_tee_is(drawing_of, build, rules_of, policy: str, role: Role):
    """Shop and site shop make a fitting of a tee; the field welds its strips in place."""
    layout = lay_out(
        [build(drawing_of([(0, 0), (9, 0)], [(5, 0), (5, 9)]))], rules_of(options={"fittings.policy": policy})
    )

    assert {role, Role.FREE} == set(layout.roles)


def test_places_lie_along_the_line():
    """Distances count along the polyline; past its end the place is its end."""
    course = [(0.0, 0.0, 0.0), (3.0, 0.0, 0.0), (3.0, 4.0, 0.0)]

    assert [(0.0, 0.0, 0.0), (3.0, 1.0, 0.0), (3.0, 4.0, 0.0)] == place_along(course, [0.0, 4.0, 99.0])
