"""The shipped job, drawing to schedule, equals what was worked out by hand."""

import tomllib
from collections import Counter
from pathlib import Path

import pytest

from splicewright.schedule.job import schedule_job
from splicewright.schedule.rules import load_rules

JOB = Path(__file__).parents[2] / "fixtures" / "settling-basin"


@pytest.fixture(scope="module")
def expected():
    return tomllib.loads((JOB / "expected.toml").read_text())


@pytest.fixture(scope="module")
def schedule():
    return schedule_job([JOB / "settling-basin.dxf"], load_rules(JOB / "rules.toml"), name="settling-basin")


def rounded(place):
    return tuple(round(value, 3) + 0.0 for value in place)


def test_single_fittings_stand_where_they_should(schedule, expected):
    """Every node made as a piece of its own is one, of the right kind and lay."""
    at = {node.mark: rounded(node.at_m) for node in schedule.nodes}
    singles = Counter(
        (fitting.kind, fitting.orientation, at[copy[0]])
        for fitting in schedule.fittings
        for copy in fitting.nodes
        if len(copy) == 1
    )

    assert singles == Counter(
        (row["kind"], row["orientation"], rounded(place))
        for row in expected["fittings"]["singles"]
        for place in row["at_m"]
    )


def test_assemblies_join_the_right_nodes(schedule, expected):
    """Nodes too close to part are one piece."""
    at = {node.mark: rounded(node.at_m) for node in schedule.nodes}
    assemblies = {
        frozenset(at[mark] for mark in copy) for fitting in schedule.fittings for copy in fitting.nodes if len(copy) > 1
    }

    assert assemblies == {
        frozenset(rounded(place) for place in row["nodes_at_m"]) for row in expected["fittings"]["assembled"]
    }


def test_pieces_seams_and_legs(schedule, expected):
    """Shop-made pieces, their seams, cuts and legs are as counted by hand."""
    fittings, splices, totals = expected["fittings"], expected["splices"], schedule.totals

    assert fittings["pieces"] == totals["fittings"]
    assert fittings["legs"] == sum(fitting.quantity * len(fitting.legs_m) for fitting in schedule.fittings)
    assert splices["factory"] == totals["factory_splices"]
    assert splices["miter_cuts"] == totals["miter_cuts"]
    assert splices["square_cuts"] == totals["square_cuts"]


def test_field_splices_by_kind_and_profile(schedule, expected):
    """Every weld on site has the reason worked out by hand."""
    field = [splice for splice in schedule.splices if splice.made == "field"]

    assert expected["splices"]["field"] == len(field) == schedule.totals["field_splices"]
    assert expected["splices"]["field_by_kind"] == Counter(splice.kind.value for splice in field)
    assert expected["splices"]["field_by_profile"] == Counter(splice.profile for splice in field)


def test_rolls(schedule, expected):
    """Rolls by profile, their lower bound and the length to order."""
    orders = {order.profile: order for order in schedule.orders}
    pieces = Counter(roll.profile for roll in schedule.rolls for _ in roll.pieces)

    assert expected["pieces"] == pieces
    assert expected["rolls"]["total"] == schedule.totals["rolls"]
    assert pytest.approx(expected["rolls"]["order_length_m"], abs=0.001) == schedule.totals["order_length_m"]
    for profile in ("wide-bulb", "narrow-ribbed"):
        assert expected["rolls"][profile]["quantity"] == orders[profile].quantity
        assert expected["rolls"][profile]["lower_bound"] == orders[profile].least_quantity
        whole = [
            roll for roll in schedule.rolls if roll.profile == profile and roll.length_m == roll.pieces[0].length_m
        ]
        assert expected["rolls"][profile]["whole"] == len(whole)


def test_the_plan_of_the_rolls_is_proven(schedule, expected):
    """Cost, least cost, what cuts take, what is left and spare rolls are as worked by hand."""
    footage = {row.profile: row for row in schedule.footage}
    spare = {line.profile: line.spare for line in schedule.order_list if line.item == "roll"}
    for plan in schedule.roll_plans:
        own, row = expected["rolls"][plan.profile], footage[plan.profile]
        assert own["cost"] == pytest.approx(plan.cost)
        assert own["least_cost"] == pytest.approx(plan.least_cost)
        assert own["trimmed_m"] == pytest.approx(row.trimmed_m, abs=0.001)
        assert own["left_m"] == pytest.approx(row.left_m, abs=0.001)
        assert own["spare"] == spare[plan.profile]


@pytest.mark.parametrize("profile", ["wide-bulb", "narrow-ribbed"])
@pytest.mark.parametrize("entry", ["measured_m", "in_fittings_m", "in_pieces_m", "lost_in_welds_m"])
def test_ledger(schedule, expected, profile, entry):
    """Each entry of the ledger is as worked by hand, and the ledger balances to a millimetre."""
    (row,) = (row for row in schedule.footage if row.profile == profile)

    assert pytest.approx(expected["ledger"][profile][entry], abs=0.001) == getattr(row, entry)
    assert abs(row.difference_m) < 0.001


def test_findings(schedule, expected):
    """The planted slips are found, and nothing else."""
    assert expected["findings"] == Counter(finding.code for finding in schedule.findings)


def test_crew_days(schedule, expected):
    """Minutes, people, days for one crew to four, and storeys are as worked by hand."""
    crew, hand = schedule.crew, expected["crew"]
    field = [splice for splice in schedule.splices if splice.made == "field"]

    assert hand["minutes"] == sum(splice.minutes for splice in field)
    assert hand["by_position"] == Counter(splice.position.value for splice in field)
    assert (hand["people"], hand["crew_days"], hand["crew_days"]) == (crew.people, crew.crew_days, crew.sample_welds)
    assert hand["least_crew_days"] == crew.least_crew_days
    assert hand["working_days"] == [choice.working_days for choice in crew.choices]
    assert hand["zones"] == [zone.splices for zone in crew.zones]


def test_power(schedule, expected):
    """Irons, current, generator and the one power point are as worked by hand."""
    power, hand = schedule.crew.power, expected["crew"]["power"]
    (point,) = power.points

    for name in ("large_irons", "small_irons", "amperes", "circuits", "generator_kw", "least_points"):
        assert hand[name] == getattr(power, name)
    assert hand["points"] == len(power.points)
    assert tuple(hand["at_m"]) == rounded(point.at_m)
    assert hand["farthest_m"] == round(point.farthest_m, 3)


def test_placing(expected):
    """Person-days to place and tie the strip by profile."""
    rules = load_rules(JOB / "rules.toml", options={"placing.counted": True})
    crew = schedule_job([JOB / "settling-basin.dxf"], rules, name="settling-basin").crew

    assert expected["crew"]["placing"] == {row.profile: round(row.person_days, 3) for row in crew.placing}
