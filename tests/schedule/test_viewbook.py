"""Views, levels and risers in a rules file: what they say, and what they may not say."""

from pathlib import Path

import pytest

from splicewright.extract.errors import RulesError
from splicewright.extract.view import SeenFrom, ViewKind
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
SET = """\
[[levels]]
name = "kicker"
height = "-6 in"
match = ["WS-BASE"]

[[views]]
name = "Plan"
kind = "plan"
scale = "1/4 in = 1 ft"
window = [0, 0, 40, 30]
level = "kicker"

[[views]]
name = "South"
kind = "elevation"
scale = "1:50"
outline = "FRAME"
wall = [[1, 2], [9, 2]]
seen_from = "inside"
datum = [50, 5.5]
level = "1 m"

[[risers]]
match = "MARK*"
foot = "kicker"
top = "4.6 m"
"""


@pytest.fixture
def load(tmp_path):
    def _load(text):
        (tmp_path / "job.toml").write_text(text, encoding="utf-8")
        return load_rules(tmp_path / "job.toml")

    return _load


def test_without_views_there_is_no_sheet():
    """Where the rules give no view, drawings stand in space as they are."""
    assert load_rules(None).sheet is None


def test_a_set_is_taken_as_written(load):
    """Scales are ratios or lengths, levels are names or heights, in metres; the file and the fields are known."""
    sheet = load(SET).sheet
    plan, south = sheet.views

    assert ("job.toml", 0.005, 0.15, 1.0) == (sheet.file, sheet.tolerance_m, sheet.match_m, sheet.tick_m)
    assert ("views[1]", ViewKind.PLAN, (0.0, 0.0, 40.0, 30.0)) == (plan.field, plan.kind, plan.window)
    assert pytest.approx((48.0, -0.1524)) == (plan.scale, plan.levels_m[0])
    assert (50.0, "FRAME", SeenFrom.INSIDE, 1.0) == (south.scale, south.outline, south.seen_from, south.datum_m)
    assert (((1.0, 2.0), (9.0, 2.0)), (50.0, 5.5)) == (south.wall, south.datum)
    assert pytest.approx((-0.1524, 4.6)) == (sheet.risers[0].from_m, sheet.risers[0].to_m)


def test_views_stand_in_the_basis(load):
    """Every field of every view, level and riser is listed with the rules in force."""
    rows = {row.path: row for row in load(SET).basis()}

    assert "1:50" == rows["views[2].scale"].value
    assert ("-6 in", True) == (rows["levels[1].height"].value, rows["levels[1].height"].by_user)
    assert ("150 mm", "assumed") == (rows["sheet.match"].value, rows["sheet.match"].source)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('scale = "1:50"', 'scale = "1:0"', "views[2].scale: a scale of zero"),
        ('scale = "1:50"', 'scale = "0 in = 1 ft"', "views[2].scale: a scale of zero"),
        ('scale = "1:50"', 'scale = "fifty"', "views[2].scale: must be a scale such as '1:50'"),
        ('scale = "1:50"', "scale = 50", "views[2].scale: must be a text such as '1:50'"),
        ("wall = [[1, 2], [9, 2]]", "wall = [[1, 2], [1, 2]]", "views[2].wall: the wall has no length"),
        ("wall = [[1, 2], [9, 2]]", "wall = [[1, 2]]", "views[2].wall"),
        ("wall = [[1, 2], [9, 2]]\n", "", "views[2].wall: missing"),
        ("datum = [50, 5.5]\n", "", "views[2].datum: missing"),
        ('outline = "FRAME"\n', "", "views[2].window: missing"),
        (
            'outline = "FRAME"',
            'outline = "F"\nwindow = [0, 0, 1, 1]',
            "views[2].outline: the window is given by window",
        ),
        ("window = [0, 0, 40, 30]", "window = [0, 0, 0, 30]", "views[1].window[3]: must be more than 0"),
        ('level = "1 m"', 'level = "kiker"', "views[2].level: 'kiker' is neither a level nor a height"),
        ('level = "1 m"', 'level = "1 m"\norigin = [0, 0]', "views[2].origin: has no meaning"),
        ('level = "1 m"', 'level = "1 m"\npath = "P"', "views[2].path: has no meaning"),
        ('kind = "elevation"', 'kind = "developed elevation"', "views[2].wall: has no meaning"),
        ('kind = "elevation"', 'kind = "elevaton"', "did you mean 'elevation'?"),
        ('kind = "elevation"', 'kind = "plan"', "views[1].origin: missing; with several plans"),
        ('name = "South"', 'name = "plan"', "views[2].name: 'plan' is the name of views[1] already"),
        (
            'name = "South"',
            'name = "South"\nseenfrom = "inside"',
            "views[2].seenfrom: unknown; did you mean 'seen_from'?",
        ),
        ('top = "4.6 m"', 'top = "-1 m"', "risers[1].top: '-1 m' must be above the foot"),
        ('top = "4.6 m"\n', "", "risers[1].top: missing"),
        ('top = "4.6 m"', 'top = "roof"', "risers[1].top: 'roof' is neither"),
        ('top = "4.6 m"', 'top = "4.6 m"\nprofile = "none"', "risers[1].profile: there is no profile 'none'"),
        ('height = "-6 in"', "height = -6", "levels[1].height: must be a text with a unit"),
    ],
)
def test_what_makes_no_sense_is_refused(load, old, new, told):
    """A wrong field is refused in one sentence with the rules file and the full path to it."""
    assert 1 <= SET.count(old)
    with pytest.raises(RulesError) as refused:
        load(SET.replace(old, new))

    assert str(refused.value).startswith("job.toml: ")
    assert told in str(refused.value)


def test_the_basins_set_is_scheduled(tmp_path, capsys):
    """The flat set of the settling basin goes through the whole command and gives the hand-worked splices."""
    from splicewright.schedule.cli import run  # noqa: PLC0415

    drawing, rules = BASIN / "settling-basin-sheet.dxf", BASIN / "rules-sheet.toml"
    status = run(["schedule", str(drawing), "--rules", str(rules), "--out", str(tmp_path), "--write", "json"])

    assert (0, "") == (status, capsys.readouterr().err)
    assert (tmp_path / "settling-basin-sheet.schedule.json").is_file()


def test_a_view_that_does_not_fit_is_refused_by_the_command(tmp_path, capsys):
    """A view whose wall stands on no plan ends the command with 2 and one sentence, and nothing is written."""
    from splicewright.schedule.cli import run  # noqa: PLC0415

    text = (BASIN / "rules-sheet.toml").read_text(encoding="utf-8").replace("[692.8, 320]]", "[1692.8, 320]]")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    status = run(
        ["schedule", str(BASIN / "settling-basin-sheet.dxf"), "--rules", str(tmp_path / "job.toml"), "--out", str(out)]
    )

    assert 2 == status
    assert "job.toml: views[2].wall: the end (1692.8, 320) lies in the window of no plan" in capsys.readouterr().err
    assert not out.exists()
