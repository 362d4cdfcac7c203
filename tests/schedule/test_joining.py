"""Joining: assemblies on purpose and parted ones, against optima known by hand and by trying everything."""

from itertools import combinations
from math import cos, radians, sin

import numpy as np
import pytest

from splicewright.schedule.box import Limits
from splicewright.schedule.parting import _conflicts, _hit, _part_by_piece, _part_by_run, _weights, part_runs
from splicewright.schedule.stretch import lay_out
from splicewright.schedule.tie import Bench, Tie, group_ties

# Rules of the tests: legs 0.6 m, strip 0.2286 m wide of 2 kg/m, boxes up to 4 x 2.4384 x 1.2192 m, 49.9 kg.
ON = {"assemblies.join": True}


def rectangle(x, y, wide, high):
    """Draw a closed rectangle."""
    return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high), (x, y)]


def joined(schedule):
    """Return field splices between fittings, the least number, what joining saves, runs joined and runs parted."""
    made = schedule.joining
    return (made.field_splices, made.least_field_splices, made.saved, len(made.joined), len(made.partings))


def test_without_the_rule_nothing_is_joined_on_purpose(schedule_of):
    """A tank of 3 x 2 m keeps its four ells: two field splices on each side."""
    schedule = schedule_of(rectangle(0, 0, 3, 2))

    assert (8, 8, 0, 0, 0) == joined(schedule)
    assert 4 == schedule.totals["fittings"]


def test_a_small_rectangular_tank_becomes_one_piece(schedule_of):
    """
    A tank of 3 x 2 m fits the box of 4 x 2.44 m, strip width counted: one ring without a field splice.

        +------+
        |      |
        +------+
    """
    schedule = schedule_of(rectangle(0, 0, 3, 2), options=ON)

    assert (0, 0, 8, 4, 0) == joined(schedule)
    assert [("4 corners", 4)] == [(f.contents, f.factory_seams) for f in schedule.fittings]
    assert (3.2286, 2.2286, 0.009525) == pytest.approx(schedule.works[0].box_m, abs=1e-6)
    assert abs(schedule.footage[0].difference_m) < 1e-3


def test_a_long_tank_is_joined_across_its_short_sides(schedule_of):
    """A tank of 6 x 2 m: sides of 6 m fit no box and keep two field splices each, ends of 2 m are joined."""
    schedule = schedule_of(rectangle(0, 0, 6, 2), options=ON)

    assert (4, 4, 4, 2, 0) == joined(schedule)
    assert [(2, "2 corners")] == [(f.quantity, f.contents) for f in schedule.fittings]


def test_a_two_cell_tank_is_parted_across_its_long_walls(schedule_of):
    """
    Cells of 3 x 2 m: one cell is one piece, the other's end another; both long walls are parted once.

        +-----+-----+
        |     |     |
        +-----+-----+
    """
    schedule = schedule_of(rectangle(0, 0, 6, 2), [(3, 0), (3, 2)], options=ON)

    assert (4, 4, 10, 5, 0) == joined(schedule)
    assert ["2 corners", "2 corners + 2 tees"] == sorted(f.contents for f in schedule.fittings)


def spoked(arc):
    """Draw a ring of 1 m radius with four spokes from its hub."""
    spokes = [[(0, 0), (cos(radians(a)), sin(radians(a)))] for a in (0, 90, 180, 270)]
    return [arc((0, 0), 1.0, 0, 360), *spokes]


def test_a_ring_with_spokes_is_one_piece_where_it_can_be_shipped(schedule_of, arc):
    """A ring of 2 m with its spokes, 2.23 m with the strip's width, fits the box whole."""
    schedule = schedule_of(*spoked(arc), options=ON | {"drawing.bend_limit_deg": 15})

    assert (0, 0, 8, 4, 0) == joined(schedule)
    assert ["4 tees + cross"] == [f.contents for f in schedule.fittings]


def test_a_ring_with_spokes_too_large_to_ship_is_parted(schedule_of, arc):
    """
    With boxes of at most 2.2 m no two opposite tees are in one piece: the hub keeps two neighbouring spokes and parts
    two, 1 splice each; of the four arcs of 1.57 m two are joined and two keep their 2 splices.

         _+_
        + | +
        |-+-|
        +_|_+
    """
    schedule = schedule_of(*spoked(arc), options=ON | {"fittings.largest": "2.2 m"})

    assert (6, 6, 4, 2, 2) == joined(schedule)
    assert {"as one piece they would be"} == {p.reason.partition(" 2.")[0] for p in schedule.joining.partings}
    assert 2 == sum(f.code == "assembly-parted" for f in schedule.findings)
    assert abs(schedule.footage[0].difference_m) < 1e-3


def test_a_ladder_of_short_runs_is_parted_into_equal_boxes(schedule_of):
    """
    Rails 1 m apart, rungs every 2 m: rungs are too short to part, a piece holds two of them (0.6 + 2 + 0.6 m), so of
    the three bays the middle one keeps two splices on either rail.

        --+---+---+---+--
          |   |   |   |
        --+---+---+---+--
    """
    rails = [[(-9, y), (15, y)] for y in (0, 1)]
    rungs = [[(x, 0), (x, 1)] for x in (0, 2, 4, 6)]
    schedule = schedule_of(*rails, *rungs, options=ON)

    assert (4, 4, 8, 4, 0) == joined(schedule)
    assert [(2, "4 tees")] == [(f.quantity, f.contents) for f in schedule.fittings]


def test_an_assembly_too_long_is_parted_where_it_is_least(schedule_of):
    """
    Six crosses 1 m apart would be 6.2 m: one run is parted in the middle, three crosses a piece, and welded on site.

        |  |  |  |  |  |
        +--+--+--+--+--+
        |  |  |  |  |  |
    """
    schedule = schedule_of([(-9, 0), (14, 0)], *([(x, -9), (x, 9)] for x in range(6)))
    (finding,) = [f for f in schedule.findings if f.code == "assembly-parted"]
    (parted,) = [s for s in schedule.splices if s.kind.value == "leg to leg"]

    assert (1, 1, 0, 0, 1) == joined(schedule)
    assert (2.5, 0, 0) == pytest.approx(parted.at_m)
    assert "as one piece they would be 6.20 m long, more than the 4.00 m that can be delivered" in parted.reason
    assert "legs of 0.50 and 0.50 m are welded on site" in finding.message
    assert abs(schedule.footage[0].difference_m) < 1e-3


def test_mass_parts_an_assembly_too(schedule_of):
    """Six crosses 1 m apart weigh (5 + 14 x 0.6) x 2 = 26.8 kg: 20 kg are the most, so one run is parted."""
    large = {"fittings.largest": "9 m", "assemblies.heaviest": "20 kg"}
    schedule = schedule_of([(-9, 0), (14, 0)], *([(x, -9), (x, 9)] for x in range(6)), options=large)

    assert (1, 1, 0, 0, 1) == joined(schedule)
    assert "26.8 kg, more than the 20.0 kg" in schedule.joining.partings[0].reason


def random_ties(seed, build, drawing_of, rules):
    """Draw a few lines of a lattice with uneven spacing and return the groups of runs that may be joined."""
    random = np.random.default_rng(seed)
    xs, ys = (np.cumsum(random.choice([0.7, 1.0, 1.4, 1.9, 2.3], 3)) for _ in range(2))
    lines = [[(-9, y), (20, y)] for y in ys] + [[(x, -9), (x, 20)] for x in xs]
    layout = lay_out([build(drawing_of(*lines, joint="slab"))], rules)
    kinds = {node.mark for node in layout.nodes if len(node.arms) > 2}
    ties = [
        Tie(i, stretch, rules)
        for i, stretch in enumerate(layout.stretches)
        if {stretch.run.start, stretch.run.end} <= kinds
    ]
    return layout, group_ties(ties)


def box_fits(bench, part, limits):
    """Tell from the drawing whether runs make a piece that fits, for lines along the axes; worked out afresh."""
    ties = [bench.ties[i] for i in part]
    nodes = {mark for tie in ties for mark in (tie.start, tie.end)}
    low, high, mass = np.full(2, np.inf), np.full(2, -np.inf), 0.0
    inside = {tie.stretch.run.mark for tie in ties}
    mass += sum(tie.stretch.run.length_m for tie in ties) * 2
    for mark in nodes:
        for run, at_start, heading, leg_m in bench.arms[mark]:
            node = np.array(run.points_m[0 if at_start else -1][:2])
            reach = 0.0 if run.mark in inside else leg_m
            mass += reach * 2
            for along in (0.0, reach):
                for side in (-0.1143, 0.1143):
                    place = node + along * np.array(heading[:2]) + side * np.array([-heading[1], heading[0]])
                    low, high = np.minimum(low, place), np.maximum(high, place)
    sides = sorted(high - low, reverse=True)
    return sides[0] <= limits[0] + 1e-6 and sides[1] <= limits[1] + 1e-6 and mass <= limits[2] + 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_the_optimum_agrees_with_trying_everything(seed, build, drawing_of, rules_of):
    """On small random lattices no choice parts fewer short runs, or then fewer others, and none beats the bound."""
    rules = rules_of("", ON | {"fittings.largest": "3.2 m", "assemblies.second_side": "2.4 m"})
    layout, groups = random_ties(seed, build, drawing_of, rules)
    limits = (3.2, 2.4, 110 * 0.45359237)
    for group in groups:
        bench = Bench(group, layout, rules)
        bench_arms = arms_of(bench, layout)

        cut, bound = part_runs(bench)

        def price(chosen, bench=bench):
            return (
                sum(bench.ties[i].forced for i in chosen),
                sum(bench.ties[i].cost for i in chosen if not bench.ties[i].forced),
            )

        def sound(chosen, bench=bench, arms=bench_arms):
            kept = [i for i in range(len(bench.ties)) if i not in chosen]
            held = Held(bench.ties, arms)
            return all(box_fits(held, part, limits) for part in bench.parts(kept))

        assert sound(cut)
        assert bound <= sum(bench.ties[i].cost for i in cut)
        better = (
            chosen
            for count in range(len(bench.ties) + 1)
            for chosen in map(set, combinations(range(len(bench.ties)), count))
            if price(chosen) < price(cut) or sum(bench.ties[i].cost for i in chosen) < bound
        )
        assert not any(sound(chosen) for chosen in better)
        assert any(
            sound(set(chosen))
            for count in range(len(bench.ties) + 1)
            for chosen in combinations(range(len(bench.ties)), count)
            if sum(bench.ties[i].cost for i in chosen) == bound
        )


class Held:
    """Runs of a group and the arms of its nodes, as `box_fits` wants them."""

    def __init__(self, ties, arms):
        self.ties, self.arms = ties, arms


def arms_of(bench, layout):
    """List run, end, heading and leg of every arm at the nodes of a group."""
    legs = {tie.stretch.run.mark: tie.legs_m for tie in bench.ties}
    arms = {}
    for mark in {mark for tie in bench.ties for mark in (tie.start, tie.end)}:
        node = layout.nodes[layout.node_at[mark]]
        arms[mark] = [
            (
                layout.stretch(arm.run).run,
                arm.at_start,
                arm.heading,
                legs.get(arm.run, layout.stretch(arm.run).legs_m)[0 if arm.at_start else 1],
            )
            for arm in node.arms
        ]
    return arms


def test_growing_keeps_within_the_limits_and_above_the_bound(build, drawing_of, rules_of):
    """In a large lattice pieces grown run by run all fit, and need no fewer splices than are proven."""
    rules = rules_of("", ON)
    lines = [[(-9, 1.0 * y), (30, 1.0 * y)] for y in range(9)] + [[(1.3 * x, -9), (1.3 * x, 30)] for x in range(9)]
    layout = lay_out([build(drawing_of(*lines, joint="slab"))], rules)
    kinds = {node.mark for node in layout.nodes if len(node.arms) > 2}
    ties = [Tie(i, s, rules) for i, s in enumerate(layout.stretches) if {s.run.start, s.run.end} <= kinds]
    (group,) = group_ties(ties)
    bench = Bench(group, layout, rules)

    cut, bound = part_runs(bench)
    kept = [i for i in range(len(bench.ties)) if i not in cut]

    assert 144 == len(bench.ties)
    assert cut in (_part_by_run(bench), _part_by_piece(bench))
    assert all(bench.fits(part) for part in bench.parts(kept))
    assert 0 < bound <= sum(bench.ties[i].cost for i in cut)


def lattice_of(side, build, drawing_of, rules):
    """Gather the runs of a lattice with lines 1 m apart both ways, all too short for both legs, into one group."""
    lines = [[(-9, y), (side + 9, y)] for y in range(side)] + [[(x, -9), (x, side + 9)] for x in range(side)]
    layout = lay_out([build(drawing_of(*lines, joint="slab"))], rules)
    kinds = {node.mark for node in layout.nodes if len(node.arms) > 2}
    ties = [Tie(i, s, rules) for i, s in enumerate(layout.stretches) if {s.run.start, s.run.end} <= kinds]
    (group,) = group_ties(ties)
    return Bench(group, layout, rules)


def test_filling_piece_by_piece_keeps_within_the_limits(build, drawing_of, rules):
    """Pieces filled one after the other all fit, hold every node once, and part no run that would still fit in one."""
    bench = lattice_of(9, build, drawing_of, rules)
    cut = _part_by_piece(bench)
    parts = bench.parts(i for i in range(len(bench.ties)) if i not in cut)
    part_of = {i: part for part in parts for i in part}

    assert all(bench.fits(part) for part in parts)
    assert 0 < len(cut) < len(bench.ties)
    for number in cut:
        near = {i for node in (bench.ties[number].start, bench.ties[number].end) for i in bench.near(node)} - cut
        assert not any(bench.fits([*part_of[i], number]) for i in near if len({id(part_of[j]) for j in near}) == 1)


def test_the_better_of_two_ways_to_grow_counts(build, drawing_of, rules):
    """In a large group the choice weighs as little as the better of growing run by run and piece by piece."""
    bench = lattice_of(8, build, drawing_of, rules)
    weights = _weights(bench)
    cut, _ = part_runs(bench)

    assert sum(weights[i] for i in cut) == min(
        sum(weights[i] for i in chosen) for chosen in (_part_by_run(bench), _part_by_piece(bench))
    )


def test_conflicts_are_too_large_and_have_no_run_in_common(build, drawing_of, rules):
    """Every set that proves the bound makes too large a piece, and no run counts twice."""
    bench = lattice_of(8, build, drawing_of, rules)
    conflicts = list(_conflicts(bench, range(len(bench.ties))))
    runs = [number for conflict in conflicts for number in conflict]

    assert conflicts
    assert not any(bench.fits(conflict) for conflict in conflicts)
    assert len(runs) == len(set(runs))


def test_work_grows_with_the_number_of_runs_and_not_its_square(build, drawing_of, rules, monkeypatch):
    """With four times the runs, boxes are compared with the limits some four times as often, and not sixteen times."""
    asked = []
    hold_any = Limits.hold_any
    monkeypatch.setattr(Limits, "hold_any", lambda *args: asked.append(1) or hold_any(*args))
    counts = []
    for side in (9, 17):  # 144 and 544 runs
        asked.clear()
        bench = lattice_of(side, build, drawing_of, rules)
        cut, _ = part_runs(bench)
        for number in cut:
            assert bench.reason(number, cut).startswith("as one piece they would be")
        counts.append(len(asked))

    assert counts[1] < 1.5 * counts[0] * 544 / 144


def test_sets_without_a_run_in_common_are_hit_one_by_one():
    """Of each set the lightest run is parted, of equals the first; where sets overlap one run may do for two."""
    assert {1, 2} == _hit([[0, 1], [3, 2]], [2, 1, 1, 1])
    assert {1} == _hit([[0, 1], [1, 2]], [1, 1, 1])
    assert {0, 2} == _hit([[0, 1], [1, 2]], [1, 3, 1])
