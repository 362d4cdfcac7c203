"""The starter: a commented rules file for a drawing that runs unchanged."""

import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.layer import LayerSurvey, Survey
from splicewright.extract.line import JointKind
from splicewright.extract.selection import Carrier
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.basis import shipped
from splicewright.schedule.rules import Policy, Rules, load_rules
from splicewright.schedule.starter import STARTER_PROFILE, propose_joint, starter


def layer(
    name: str, *, lines: int = 3, length_m: float | None = 12.5, usual: bool = False, hidden: str | None = None
) -> LayerSurvey:
    """Survey a layer; its lengths are in metres unless the unit is unknown."""
    length = 12.5 if length_m is None else length_m
    return LayerSurvey(name=name, lines=lines, length=length, length_m=length_m, others={}, hidden=hidden, usual=usual)


def drawing(*layers: LayerSurvey, file: str = "basin.dxf", unit: LengthUnit | None = LengthUnit.METRE) -> Survey:
    """Survey a drawing."""
    return Survey(file=file, kind=DrawingKind.DXF, unit=unit, layers=layers, findings=())


BASIN = drawing(
    layer("A-GRID", lines=240),
    layer("C-WATERSTOP-WALL", usual=True),
    layer("C-WATERSTOP-SLAB", lines=1, usual=True),
    layer("C-WATERSTOP-OLD", usual=True, hidden="layer-frozen"),
    layer("TEXT", lines=0, length_m=0.0),
)


@pytest.fixture
def load(tmp_path: Path) -> Callable[[str], Rules]:
    """Load rules from a text."""

    def _load(text: str) -> Rules:
        path = tmp_path / "rules.toml"
        path.write_bytes(text.encode("utf-8"))
        return load_rules(path)

    return _load


def test_starter_runs_unchanged(load):
    """The starter loads as it is printed: its lines carry its one profile, everything else is at its default."""
    rules, defaults = load(starter([BASIN])), load_rules(None)

    assert [STARTER_PROFILE] == list(rules.profiles)
    assert {STARTER_PROFILE} == {line.profile for line in rules.lines}
    assert (defaults.crew, defaults.fittings, defaults.splices) == (rules.crew, rules.fittings, rules.splices)
    assert (defaults.material, defaults.iron, defaults.prices) == (rules.material, rules.iron, rules.prices)
    assert defaults.limits() == rules.limits()


def test_visible_layers_that_look_like_waterstop_are_the_lines(load):
    """Waterstop that is read becomes an entry with the proposed joint; hidden and other layers stay commented out."""
    expected = (
        Carrier(match="C-WATERSTOP-SLAB", profile=STARTER_PROFILE, joint=JointKind.SLAB),
        Carrier(match="C-WATERSTOP-WALL", profile=STARTER_PROFILE, joint=JointKind.WALL),
    )

    assert expected == load(starter([BASIN])).lines


def test_other_layers_with_lines_are_offered():
    """Layers with lines that do not look like waterstop stand ready behind "#"; layers without lines are left out."""
    text = starter([BASIN])

    assert '# A-GRID: 240 lines, 12.5 m\n#[[lines]]\n#match = "A-GRID"\n' in text
    assert "# C-WATERSTOP-SLAB: 1 line, 12.5 m\n[[lines]]\n" in text
    assert "# C-WATERSTOP-OLD: 3 lines, 12.5 m; hidden in the drawing, so not read\n#[[lines]]\n" in text
    assert "TEXT" not in text


def test_proposals_are_marked_for_checking():
    """A joint taken from a name says so beside the value."""
    assert 'joint = "slab"  # proposed from the name: check\n' in starter([BASIN])


def test_a_drawing_without_waterstop_still_gives_a_starter(load):
    """With nothing that looks like waterstop, no line is active and the text says what to do."""
    text = starter([drawing(layer("0"))])

    assert () == load(text).lines
    assert "No name looks like waterstop: take the # off the entries that are." in text


def test_a_missing_unit_is_asked_for(load):
    """A drawing without a unit has its lengths in drawing units, and the starter asks for the unit."""
    text = starter([BASIN, drawing(layer("WS", length_m=None), file="sump.dxf", unit=None)])

    assert "# WS: 3 lines, 12.5 drawing units\n" in text
    assert "[drawing]\n# NEEDED: sump.dxf states no length unit; set unit below.\n" in text
    assert "NEEDED" not in starter([BASIN])
    assert load(text).drawing.unit is None


def test_a_unit_that_is_given_is_kept(load):
    """A unit given for drawings without one stands in the starter, which then runs unchanged."""
    text = starter([drawing(layer("WS"), file="sump.dxf", unit=LengthUnit.INCH)], unit=LengthUnit.INCH)

    assert load(text).drawing.unit == LengthUnit.INCH


def test_several_drawings_share_one_entry_a_layer(load):
    """The same layer in two drawings, whatever the letter case, is one entry with both lengths."""
    more = drawing(layer("c-waterstop-slab", lines=2, usual=True), file="sump.dxf")
    text = starter([BASIN, more])

    assert "# Rules for basin.dxf, sump.dxf\n" in text
    assert "# C-WATERSTOP-SLAB: 3 lines, 25.0 m\n" in text
    assert 2 == len(load(text).lines)


def test_taking_every_rule_out_of_its_comment_changes_no_default(load):
    """Every rule behind "#" is spelt so that it loads, and at the value that holds without it."""
    text = starter([BASIN])
    on = re.sub(r"^#(?=\S)", "", _without_examples(text), flags=re.MULTILINE)
    rules, unchanged = load(on), load(text)

    assert rules.lines != unchanged.lines
    assert (unchanged.drawing, unchanged.material, unchanged.fittings) == (
        rules.drawing,
        rules.material,
        rules.fittings,
    )
    assert (unchanged.splices, unchanged.crew, unchanged.iron) == (rules.splices, rules.crew, rules.iron)
    assert unchanged.profiles == rules.profiles


def test_every_example_behind_a_comment_loads(load):
    """What is shown as an example, where there is no default, is a value that the rules accept."""
    rules = load(re.sub(r"^#(?=\S)", "", starter([BASIN]), flags=re.MULTILINE))

    assert "USD" == rules.prices.currency
    assert not rules.profiles[STARTER_PROFILE].mass_estimated
    assert "Bead around the weld" == rules.inspection[-1].text


@pytest.mark.parametrize("name", ["legs", "policies", "pours"])
def test_a_table_that_may_be_there_several_times_stands_ready_with_all_its_rules(load, name: str):
    """Taken out of its comment alone, an example of legs, policies or pours loads; it holds every rule of its table."""
    text = starter([BASIN])
    first = text.index(f"#[[{name}]]")
    entry = text[first:].partition("\n\n")[0]
    on = text[:first] + re.sub(r"^#(?=\S)", "", entry, flags=re.MULTILINE) + text[first + len(entry) :]
    start = "\n[calendar]\n"
    rules = load(on.replace(start, f'{start}start = "2026-03-02"\n'))

    counts = {"legs": len(rules.legs), "policies": len(rules.policies), "pours": len(rules.pours.pours)}

    assert {"legs": 0, "policies": 0, "pours": 0} | {name: 1} == counts
    assert set(shipped().tree[name]["*"]) == set(tomllib.loads(on)[name][0])


def test_examples_of_legs_policies_and_pours_are_read_as_they_stand(load):
    """With every comment taken off, the leg, the policy and the pour of the examples are in force, units turned."""
    rules = load(re.sub(r"^#(?=\S)", "", starter([BASIN]), flags=re.MULTILINE))
    (pour,) = rules.pours.pours

    assert 0.762 == pytest.approx(rules.leg_m("cross", STARTER_PROFILE))
    assert 0.6096 == pytest.approx(rules.leg_m("tee", STARTER_PROFILE))
    assert (Policy.SITE_SHOP, Policy.FACTORY) == tuple(rules.policy_of(n, STARTER_PROFILE) for n in ("A-RAMP-1", "A"))
    assert ("Base slab", "2026-03-16", (0, 12), (-1, 0.5)) == (pour.name, str(pour.day), pour.x, pour.level)


def test_every_rule_of_the_basis_stands_in_the_starter():
    """A user finds each rule that is in force without a file, with its meaning, in the starter."""
    text = " ".join(line.removeprefix("# ") for line in starter([BASIN]).splitlines())
    rows = [row for row in load_rules(None).basis() if not row.path.startswith("profiles.")]

    assert len(rows) >= 40
    assert [] == [row.path for row in rows if row.meaning not in text]


def test_unfilled_profile_is_called_assumed(load):
    """Run unchanged, the starter's profile does not pass for the job's own data: the basis calls it assumed."""
    rows = {row.path: row for row in load(starter([BASIN])).basis()}

    assert "rules file: assumed" == rows[f"profiles.{STARTER_PROFILE}.width"].source
    assert "rules file: assumed" == rows[f"profiles.{STARTER_PROFILE}.rolls[1].length"].source


@pytest.mark.parametrize(
    ("name", "joint"),
    [
        ("C-WATERSTOP-SLAB", "slab"),
        ("ws_floor_joints", "slab"),
        ("Waterstop Base Slab", "slab"),
        ("WS-KICKER", "wall-base"),
        ("WS-WALL-BASE", "wall-base"),
        ("WallBaseWaterstop", "wall-base"),
        ("WS-BASE", "wall-base"),
        ("WS-WALLS", "wall"),
        ("WS-BASE-SEAL", "base-seal"),
        ("WS-SEALANT", ""),
        ("WS-BASEMENT", ""),
        ("WATERSTOP", ""),
        ("", ""),
    ],
)
def test_joint_is_proposed_from_whole_words(name: str, joint: str):
    """Words of the trade in a name propose a joint; parts of other words do not."""
    assert joint == propose_joint(name)


def test_proposed_joints_are_joint_kinds():
    """Whatever is proposed is a joint kind that the drawing side knows."""
    proposed = {propose_joint(word) for word in ("slab", "kicker", "wall", "seal")}

    assert proposed == {kind.value for kind in JointKind}


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    names=st.lists(st.text(min_size=1, max_size=15), min_size=1, max_size=4, unique_by=str.casefold),
    file=st.text(max_size=15),
)
def test_any_name_gives_a_starter_that_selects_it(load, names: list[str], file: str):
    """Whatever characters names hold, glob signs and control characters included, the starter loads and reads them."""
    rules = load(starter([drawing(*(layer(name, usual=True) for name in names), file=file)]))

    assert all(rules.selection().selects([name]) for name in names)


def test_glob_signs_in_a_name_match_only_themselves(load):
    """A name with * ? [ ] is matched as written, not as a pattern."""
    rules = load(starter([drawing(layer("WATERSTOP [A*]?", usual=True))]))

    assert rules.selection().selects(["waterstop [a*]?"])
    assert not rules.selection().selects(["waterstop [ab]c"])


def test_starter_is_the_same_whatever_the_order_of_layers():
    """The order in which a reader lists layers does not change the starter."""
    assert starter([BASIN]) == starter([drawing(*BASIN.layers[::-1])])


def test_starter_text_is_plain_toml():
    """Without anything else, the text parses as TOML whose tables are those of the rules file."""
    tables = tomllib.loads(starter([BASIN]))

    site = {"crew", "iron", "sequence", "calendar", "chance", "placing", "sheet", "cutting", "orders"}
    shop = {"fittings", "assemblies", "saw", "shop"}
    assert {"profiles", "lines", "drawing", "material", "splices", "prices"} | site | shop == set(tables)


def _without_examples(text: str) -> str:
    """Drop the rules that are shown with an example instead of a default."""
    text = text[: text.index("# Reasons to reject")]
    return re.sub(r"(?:^# .*\n)*?^# [^#]*?example\)\n#.*\n", "", text, flags=re.MULTILINE)
