"""Strip planned with the section that a model draws."""

from dataclasses import replace

import pytest

from splicewright.schedule.profile import Iron
from splicewright.schedule.rules import load_rules
from splicewright.schedule.section import take_sections


@pytest.fixture
def strips(line, drawing_of):
    """Draw one strip after another with the sections given, in metres."""

    def draw(*sections, profile=None):
        lines = [
            replace(line([(0, y), (10, y)]), width_m=width, thickness_m=thickness, profile=profile)
            for y, (width, thickness) in enumerate(sections)
        ]
        return drawing_of(*lines)

    return draw


def test_drawn_section_is_planned_with(strips):
    """Strip of 300 x 12 mm without a profile has the width, thickness, mass and iron that follow from the drawing."""
    drawing, rules = take_sections(strips((0.3, 0.012)), load_rules(None))
    profile = rules.profile_of(drawing.lines[0].profile)

    assert "drawn-300x12mm" == profile.name
    assert (0.3, 0.012, Iron.LARGE) == (profile.width_m, profile.thickness_m, profile.iron)
    assert 0.3 * 0.012 * 1370 == pytest.approx(profile.mass_kg_per_m)
    assert load_rules(None).profile_of(None).rolls == profile.rolls
    assert ["section-taken"] == [finding.code for finding in drawing.findings]


def test_basis_says_where_the_section_comes_from(strips):
    """The drawn width stands among the rules in force, with its source."""
    _, rules = take_sections(strips((0.3, 0.012)), load_rules(None))
    (row,) = [row for row in rules.basis() if row.path == "profiles.drawn-300x12mm.width"]

    assert ("300.0 mm", "as drawn in the model") == (row.value, row.source)


def test_each_section_is_a_profile_of_its_own(strips):
    """Two sections among three strips make two profiles and two findings."""
    drawing, rules = take_sections(strips((0.3, 0.012), (0.15, 0.006), (0.3, 0.012)), load_rules(None))

    assert ["drawn-300x12mm", "drawn-150x6mm", "drawn-300x12mm"] == [one.profile for one in drawing.lines]
    assert {"drawn-300x12mm", "drawn-150x6mm"} <= set(rules.profiles)
    assert 2 == len(drawing.findings)


@pytest.mark.parametrize("section", [(0.2286, 0.009525), (None, 0.01), (0.3, None)])
def test_assumed_section_or_none_changes_nothing(strips, section):
    """A section of 9 x 3/8 in is what is assumed anyway; half a section tells nothing."""
    drawing, rules = strips(section), load_rules(None)

    assert (drawing, rules) == take_sections(drawing, rules)


def test_profile_of_the_rules_file_wins(strips, tmp_path):
    """Where the job's rules file states its one profile, the drawing is held against it and does not overrule it."""
    path = tmp_path / "rules.toml"
    path.write_text('[profiles.own]\nwidth = "6 in"\nthickness = "1/4 in"\nrolls = [{ length = "50 ft" }]\n')
    drawing, rules = strips((0.3, 0.012)), load_rules(path)

    assert (drawing, rules) == take_sections(drawing, rules)


def test_named_profile_is_kept(strips):
    """A strip whose profile is named keeps it."""
    drawing, rules = strips((0.3, 0.012), profile="wide"), load_rules(None)

    assert drawing is take_sections(drawing, rules)[0]
