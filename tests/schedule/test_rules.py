"""The rules file: what it says, what holds where it is silent, and what it may not say."""

import operator
import subprocess
import sys
from collections.abc import Iterator, Mapping
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import pytest

from splicewright.extract.limits import Limits
from splicewright.extract.line import JointKind
from splicewright.extract.selection import Carrier, Selection
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.basis import BasisRow, RuleText, shipped, value_text
from splicewright.schedule.profile import Iron, StockRoll
from splicewright.schedule.rules import Criterion, Policy, Weld, load_rules

JOB = (Path(__file__).parent / "two_profiles.toml").read_text(encoding="utf-8")


# ---- what a rules file says


def test_values_come_out_in_metres_minutes_and_kilograms(write):
    """Lengths, durations and masses written with units are held in SI, and money as it stands."""
    rules = load_rules(write(JOB))

    ribbed = rules.profiles["ribbed-9"]
    assert (pytest.approx(0.2286), pytest.approx(0.009525)) == (ribbed.width_m, ribbed.thickness_m)
    assert pytest.approx(1.8 * 0.45359237 / 0.3048) == ribbed.mass_kg_per_m
    assert not ribbed.mass_estimated
    assert (StockRoll(length_m=15.24, price=310.5), StockRoll(length_m=25.0, price=480.0)) == ribbed.rolls
    assert (LengthUnit.FOOT, 0.003) == (rules.drawing.unit, rules.drawing.tolerance_m)
    assert (Policy.SITE_SHOP, 0.4572) == (rules.fittings.policy, rules.fittings.leg_m)
    assert 600.0 == rules.crew.shift_min
    assert ("USD", 150.0, None) == (rules.prices.currency, rules.prices.crew_hour, rules.prices.field_splice)


def test_lines_become_carriers_in_order(write):
    """Each [[lines]] entry is a carrier; a joint that is not stated stays open."""
    expected = (
        Carrier(match="WS-SLAB*", profile="ribbed-9", joint=JointKind.SLAB),
        Carrier(match="WS-WALL*", profile="bulb-6", joint=None),
    )

    assert expected == load_rules(write(JOB)).lines


def test_selection_takes_patterns_from_the_call_and_carriers_from_the_file(write):
    """Patterns of the command line decide what is read; the file still says what it carries."""
    rules = load_rules(write(JOB))

    assert Selection(patterns=("X*",), carriers=rules.lines) == rules.selection(("X*",))
    assert ("WS-SLAB*", "WS-WALL*") == rules.selection().effective_patterns


def test_limits_hold_the_drawing_rules(write):
    """What the network is built with comes from the drawing table, defaults filled in."""
    assert Limits(tolerance_m=0.003, reach_m=0.15, rise_m=1.0, bend_limit_deg=15.0) == load_rules(write(JOB)).limits()


@pytest.mark.parametrize("joint", list(JointKind))
def test_every_joint_kind_can_be_stated(write, joint: JointKind):
    """The rules file knows every joint kind of the drawing side."""
    rules = load_rules(write(f'[[lines]]\nmatch = "a"\njoint = "{joint}"\n'))

    assert joint == rules.lines[0].joint


# ---- what holds where it is silent


def test_without_a_file_one_assumed_profile_stands_in():
    """The defaults alone schedule a drawing: lines without profile count as one assumed profile."""
    rules = load_rules(None)

    assert ["assumed-9in"] == list(rules.profiles)
    assert rules.profiles["assumed-9in"] == rules.profile_of(None) == rules.profile_of("nowhere defined")
    assert () == rules.lines
    assert Selection() == rules.selection()


def test_an_empty_file_changes_nothing(write):
    """An empty rules file gives the defaults."""
    assert load_rules(None) == load_rules(write(""))


def test_the_only_profile_of_the_file_serves_lines_without_one(write):
    """With exactly one profile defined, lines without a profile carry it, and the assumed one is gone."""
    rules = load_rules(write('[profiles.a]\nwidth = "6 in"\nthickness = "1/4 in"\nrolls = [{ length = "50 ft" }]\n'))

    assert ["a"] == list(rules.profiles)
    assert "a" == rules.profile_of(None).name


def test_among_several_profiles_the_assumed_one_stays_until_the_file_chooses(write):
    """With several profiles defined, lines without one stay assumed unless drawing.profile names one."""
    chosen = JOB.replace("[drawing]", '[drawing]\nprofile = "bulb-6"')

    assert "assumed-9in" == load_rules(write(JOB)).profile_of(None).name
    assert "bulb-6" == load_rules(write(chosen)).profile_of(None).name
    assert {"ribbed-9", "bulb-6"} == set(load_rules(write(chosen)).profiles)


@pytest.mark.parametrize(
    ("fields", "people", "iron"),
    [
        ('width = "5 in"', 2, Iron.SMALL),
        ('width = "6 in"', 2, Iron.LARGE),
        ('width = "5 in"\ncentre_bulb = true', 2, Iron.LARGE),
        ('width = "5 in"\nsymmetric = false', 3, Iron.LARGE),
        ('width = "12 in"', 3, Iron.LARGE),
        ('width = "12 in"\npeople = 2\niron = "small"', 2, Iron.SMALL),
    ],
)
def test_people_and_iron_follow_from_the_profile(write, fields: str, people: int, iron: Iron):
    """
    Large or asymmetric strips take three people; wide, bulbed or special ones the large iron; the file may differ.

    Common practice; the widths from which a strip counts as large are assumed.
    """
    rules = load_rules(write(f'[profiles.a]\n{fields}\nthickness = "1/4 in"\nrolls = [{{ length = "50 ft" }}]\n'))

    assert (people, iron) == (rules.profiles["a"].people, rules.profiles["a"].iron)


def test_mass_is_estimated_from_the_density_rule(write):
    """A profile without mass weighs width x thickness x the density in force, and says that it is an estimate."""
    rules = load_rules(write(JOB + "\n[material]\nspecific_gravity = 1.4\n"))

    assert pytest.approx(0.1524 * 0.00635 * 1400) == rules.profiles["bulb-6"].mass_kg_per_m
    assert rules.profiles["bulb-6"].mass_estimated


def test_a_shipped_profile_can_be_amended(write):
    """A file may set single fields of the assumed profile and keep the rest."""
    profile = load_rules(write('[profiles.assumed-9in]\nwidth = "6 in"\n')).profile_of(None)

    assert (0.1524, 0.009525) == (pytest.approx(profile.width_m), pytest.approx(profile.thickness_m))


# ---- the day


def test_minutes_grow_with_the_width_by_the_share(write):
    """Of 30 min at 9 in, half grows with the width: 45 min at 18 in, 15 min + 15 min * 1/3 at 3 in."""
    crew = load_rules(write('[crew]\nwidth = "9 in"\nwidth_share = 0.5\n[crew.minutes]\nbutt = "30 min"\n')).crew

    assert pytest.approx(30) == crew.splice_min(Weld.BUTT, width_m=9 * 0.0254)
    assert pytest.approx(45) == crew.splice_min(Weld.BUTT, width_m=18 * 0.0254)
    assert pytest.approx(20) == crew.splice_min(Weld.BUTT, width_m=3 * 0.0254)


@pytest.mark.parametrize(("in_shift", "left_min"), [("false", 400.0), ("true", 370.0)])
def test_cool_down_costs_welding_time_only_where_it_must_end_in_the_shift(write, in_shift: str, left_min: float):
    """8 h less 60 min warm-up and 20 min sample weld leave 400 min, and 370 where 30 min of cooling count."""
    text = f"""[crew]
shift = "8 h"
warm_up = "60 min"
sample_weld = "20 min"
cool_down = "30 min"
cool_down_in_shift = {in_shift}
"""

    assert left_min == load_rules(write(text)).crew.welding_min


# ---- the basis


def test_basis_tells_default_from_user(write):
    """What the file sets has source "rules file"; the rest keeps the source of its default."""
    rows = {row.path: row for row in load_rules(write(JOB)).basis()}

    assert ("3 mm", "rules file", True) == _shown(rows["drawing.tolerance"])
    assert ("150 mm", "assumed", False) == _shown(rows["drawing.reach"])
    assert ("60 min", "common practice", False) == _shown(rows["crew.warm_up"])
    assert ("480 USD", "rules file", True) == _shown(rows["profiles.ribbed-9.rolls[1].price"])
    assert ("not given", "to be stated", False) == _shown(rows["prices.field_splice"])
    assert ("about 1.33 kg/m", "estimate", False) == _shown(rows["profiles.bulb-6.mass"])
    assert ("WS-WALL*", "rules file", True) == _shown(rows["lines[2].match"])


def test_basis_tells_what_the_command_line_set(write):
    """Options win over the file, and the basis names the command line as their source."""
    rules = load_rules(write(JOB), options={"drawing.tolerance": "8 mm"})
    rows = {row.path: row for row in rules.basis()}

    assert 0.008 == rules.drawing.tolerance_m
    assert ("8 mm", "command line", True) == _shown(rows["drawing.tolerance"])


def test_basis_repeats_the_source_that_a_profile_states(write):
    """A profile's own source stands beside each of its numbers."""
    rows = {row.path: row for row in load_rules(write(JOB.replace("mass =", 'source = "assumed"\nmass ='))).basis()}

    assert "rules file: assumed" == rows["profiles.ribbed-9.width"].source
    assert "rules file" == rows["profiles.bulb-6.width"].source


def test_basis_does_not_call_a_chosen_default_assumed(write):
    """Where the only profile of the file stands in for lines without one, the basis says why."""
    text = '[profiles.a]\nwidth = "6 in"\nthickness = "1/4 in"\nrolls = [{ length = "50 ft" }]\n'
    rows = {row.path: row for row in load_rules(write(text)).basis()}

    assert ("a", "follows from the rules file", False) == _shown(rows["drawing.profile"])


def test_every_row_of_the_basis_has_value_meaning_and_source(write):
    """No rule is in force without a value in words, a meaning and a source, and no path stands twice."""
    for rules in (load_rules(None), load_rules(write(JOB))):
        rows = rules.basis()

        assert [] == [row for row in rows if not (row.path and row.value and row.meaning and row.source)]
        assert len(rows) == len({row.path for row in rows})


def test_every_shipped_number_is_in_the_basis():
    """Each default that the package ships is listed with its own text."""
    texts = {row.path: row.value for row in load_rules(None).basis()}
    defaults = {path: text for path, text in _leaves(shipped().values(), "") if "rolls" not in path}

    assert [] == [path for path, text in defaults.items() if not texts[path].startswith(text)]


def test_every_shipped_number_names_its_source():
    """A default is assumed, common practice, an estimate or from a source named in full; never blank."""
    plain = {"assumed", "common practice", "estimate", "to be stated"}
    published = {rule.source for rule in _rules(shipped().tree)} - plain

    assert {
        "UFGS-03150A 3.2.3.3 (3)",
        "UFGS-03151A 2.2.2: three of each size and type, by factory and by contractor",
        "Reclamation 03156 1.04 C: 2 ft of each size and type",
        "CRD-C 572-74 4.1: at least 12 in from each 200 ft, 4 ft in all at least",
        "CRD-C 572-74 4.1",
        "UFGS-03150A 2.4: intersections and changes of direction are shop fabricated",
        "a state-filed project specification 03251, February 2017: specific gravity about 1.37",
        "Indonesian public-works unit-price guideline (AHSP), item B.42",
        "Indonesian public-works unit-price guideline (AHSP), item B.43",
        "Indonesian public-works unit-price guideline (AHSP), items B.42 and B.43",
    } == published


# ---- inspection, notes, cautions


def test_a_job_adds_its_own_criteria(write):
    """Criteria in the file come after the published ones."""
    rules = load_rules(write('[[inspection]]\ntext = "Bead"\nlimit = "missing"\n'))

    assert 11 == len(rules.inspection)
    assert Criterion(text="Bead", limit="missing", source="rules file") == rules.inspection[-1]


def test_notes_carry_the_values_in_force(write):
    """The crew's notes repeat the rules, so a changed rule changes the note."""
    rules = load_rules(write('[iron]\nlead = "20 m"\n[crew]\nwarm_up = "45 min"\n'))
    notes = " ".join(note.text for note in rules.notes)

    assert "leads of at most 20 m" in notes
    assert "Heat the iron for 45 min" in notes
    assert "{" not in notes


def test_cautions_name_the_hot_iron_and_who_decides():
    """Every output can warn of the hot iron (500 °F, 30 min) and say that the specification decides."""
    cautions = " ".join(load_rules(None).cautions)

    assert "500 °F (260 °C)" in cautions
    assert "30 min" in cautions
    assert "engineer of record" in cautions


# ---- the module


def test_rules_cannot_be_changed(write):
    """Neither a table nor the mappings of the rules in force can be changed afterwards."""
    rules = load_rules(write(JOB))

    with pytest.raises(FrozenInstanceError):
        rules.drawing.__setattr__("tolerance_m", 1.0)
    for mapping in (rules.profiles, rules.crew.minutes):
        with pytest.raises(TypeError):
            operator.setitem(mapping, "other", None)


def test_reading_rules_without_lines_loads_no_geometry_library():
    """The rules alone load neither numpy nor networkx, so that help and faults in rules appear at once."""
    program = (
        "import sys; from splicewright.schedule.rules import load_rules; load_rules(None);"
        "print({'numpy', 'networkx', 'scipy', 'shapely', 'ezdxf'} & set(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert "set()" == done.stdout.strip()


# ---- helpers


def _shown(row: BasisRow) -> tuple[str, str, bool]:
    return row.value, row.source, row.by_user


def _leaves(tables: Mapping[str, Any], parent: str) -> Iterator[tuple[str, str]]:
    for name, value in tables.items():
        path = f"{parent}.{name}" if parent else name
        if isinstance(value, dict):
            yield from _leaves(value, path)
        else:
            yield path, value_text(value)


def _rules(tree: Mapping[str, Any]) -> Iterator[RuleText]:
    for node in tree.values():
        if isinstance(node, RuleText):
            yield node
        else:
            yield from _rules(node)
