"""The order in which splices are made: pours, storeys, tours, covers."""

from datetime import date
from pathlib import Path

import pytest

from splicewright.extract.errors import RulesError
from splicewright.schedule.rules import load_rules

POURS = """
[calendar]
start = 2026-03-02

[[pours]]
name = "east"
day = 2026-03-09
x = "13 m to 40 m"

[[pours]]
name = "west"
day = 2026-03-11
"""


def made(schedule):
    """Zone and x of every splice on site, in the order they are made."""
    return [(s.zone, round(s.at_m[0], 1)) for s in schedule.splices if s.made == "field"]


def test_a_splice_belongs_to_the_first_pour_it_lies_in(schedule_of):
    """
    A run of 35 m with splices at 10, 20 and 30 m; the eastern pour comes first and takes what lies beyond 13 m.

        ==========|==========|==========|=====
                    | east
    """
    schedule = schedule_of([(0, 0), (35, 0)], more=POURS)

    assert [("east", 20.0), ("east", 30.0), ("west", 10.0)] == made(schedule)
    assert [date(2026, 3, 9), date(2026, 3, 11)] == [zone.pour_date for zone in schedule.crew.zones]


def test_a_joint_on_the_border_of_two_pours_goes_to_the_first(schedule_of):
    """Both boxes hold the splice at x = 9.995 m; it must be there when the first of them is cast."""
    boxes = '\n[[pours]]\nname = "b"\nx = "9.995 m to 30 m"\n[[pours]]\nname = "a"\nx = "0 m to 9.995 m"\n'

    assert [("b", 10.0)] == made(schedule_of([(0, 0), (15, 0)], more=boxes))


def test_layers_name_pours_too(schedule_of):
    """Lines on the layer of wall joints belong to the pour that matches it."""
    more = '\n[[pours]]\nname = "walls"\nmatch = "WALL*"\n[[pours]]\nname = "rest"\n'
    schedule = schedule_of([(0, 0), (15, 0)], more=more, joint="wall")

    assert ["walls"] == [zone.name for zone in schedule.crew.zones]
    assert ["empty-pour"] == [f.code for f in schedule.findings if f.code == "empty-pour"]


def test_splices_in_no_pour_are_made_last_and_reported(schedule_of):
    """A box that holds the last splice only leaves the first two for the end, with one warning."""
    schedule = schedule_of([(0, 0), (35, 0)], more='\n[[pours]]\nname = "east"\nx = "25 m to 40 m"\n')
    (finding,) = (finding for finding in schedule.findings if finding.code == "no-pour")

    assert [("east", 30.0), ("in no pour", 10.0), ("in no pour", 20.0)] == made(schedule)
    assert finding.message.startswith("2 splices lie in no pour")


def test_without_pours_storeys_are_made_from_below(schedule_of):
    """Three runs at levels 0, 0.4 and 5 m: the first two are one storey, since they lie closer than 1 m."""
    runs = [[(0, 9 * i, z), (15, 9 * i, z)] for i, z in enumerate((5.0, 0.4, 0.0))]

    assert ["level +0.00 m to +0.40 m", "level +5.00 m"] == [z.name for z in schedule_of(*runs).crew.zones]


def test_ways_between_splices_are_reported(schedule_of):
    """Splices 9.99 m apart with a detour of 1.3: 12.987 m walked, at 40 m/min 0.325 min."""
    (day,) = schedule_of([(0, 0), (25, 0)]).crew.days

    assert (pytest.approx(12.987), pytest.approx(0.324675), 0.0) == (day.walked_m, day.move_min, day.climbed_m)


def test_climbing_takes_its_own_time(schedule_of):
    """A plumb run of 25 m with splices 9.99 m apart: nothing walked, 9.99 m climbed at 4 m/min."""
    (day,) = schedule_of([(0, 0, 0), (0, 0, 25)], joint="wall").crew.days

    assert (0.0, pytest.approx(9.99), pytest.approx(2.4975)) == (day.walked_m, day.climbed_m, day.move_min)


def test_a_cover_is_changed_after_its_life(schedule_of):
    """Covers that last two splices: of five splices the third and the fifth wait for a new one."""
    options = {"crew.cover_life": 2, "crew.cover_change": "12 min"}
    schedule = schedule_of([(0, 0), (55, 0)], options=options)

    assert [0.0, 0.0, 12.0, 0.0, 12.0] == [s.cover_min for s in schedule.splices if s.made == "field"]
    assert 24.0 == sum(day.cover_min for day in schedule.crew.days)


def test_splices_in_walls_and_overhead_take_longer(schedule_of):
    """30 min on the floor are 37.5 min in a wall and 45 min overhead."""
    overhead = '\n[crew]\noverhead = ["SLAB*"]\n'
    minutes = [
        {s.minutes for s in schedule_of([(0, 0), (15, 0)], joint=joint, more=more).splices if s.made == "field"}
        for joint, more in (("slab", ""), ("wall-base", ""), ("base-seal", ""), ("slab", overhead))
    ]

    assert [{30.0}, {37.5}, {30.0}, {45.0}] == minutes


def load(folder: Path, csv: str, rules: str = ""):
    (folder / "rules.toml").write_text(rules, encoding="utf-8")
    (folder / "pours.csv").write_text(csv, encoding="utf-8")
    return load_rules(folder / "rules.toml", pours=folder / "pours.csv")


def test_a_csv_gives_runs_their_pours(tmp_path):
    """Pours come in the order of their first rows, with their days; semicolons and other columns do no harm."""
    plan = load(tmp_path, "Run;Pour;Day;Note\nR2;slab;2026-03-09;x\nR1;walls;2026-03-11;y\n", START).pours

    assert [("slab", date(2026, 3, 9)), ("walls", date(2026, 3, 11))] == [(p.name, p.day) for p in plan.pours]
    assert (1, 0, None) == tuple(plan.member(run, [], []) for run in ("R1", "R2", "R3"))


START = "[calendar]\nstart = 2026-03-02\n"
TWO = START + '[[pours]]\nname = "slab west"\n[[pours]]\nname = "walls"\n'
WRONG = [
    ("run,pour\nR1,slab wets\n", TWO, "pours.csv: row 2: there is no pour 'slab wets'; did you mean 'slab west'?"),
    ("run,pour\nR1,\n", TWO, "pours.csv: row 2: the pour is empty; name it in column 'pour'"),
    ("run,day\nR1,x\n", TWO, "pours.csv: row 1: needs a column 'pour' and one of 'run', 'layer', 'entity'"),
    ("", TWO, "pours.csv: row 1: needs a column 'pour'"),
    ("run,pour,day\nR1,a,soon\n", START, "pours.csv: row 2: day 'soon' is no date, such as 2026-03-02"),
    (
        "run,pour,day\nR1,a,2026-03-09\nR2,b,2026-03-05\n",
        START,
        "pours.csv: pour 'b' on 2026-03-05 stands after 'a' on 2026-03-09; list pours in the order of their days",
    ),
    (
        "run,pour,day\nR1,a,2026-03-09\nR2,a,2026-03-05\n",
        START,
        "pours.csv: row 3: pour 'a' is on 2026-03-05 here and on 2026-03-09 above; give it one day",
    ),
    ("run,pour,day\nR1,a,2026-03-09\n", "", "rules.toml: calendar.start: missing, but pour 'a' has a day"),
]


@pytest.mark.parametrize(("csv", "rules", "sentence"), WRONG, ids=[wrong[2] for wrong in WRONG])
def test_a_wrong_csv_is_refused_in_one_sentence(tmp_path, csv: str, rules: str, sentence: str):
    """File and row, what is wrong, and the remedy."""
    with pytest.raises(RulesError) as caught:
        load(tmp_path, csv, rules)

    assert str(caught.value).startswith(sentence)
    assert "\n" not in str(caught.value)


def test_a_csv_that_is_not_there_is_refused(tmp_path):
    """The sentence names the option that gave the path."""
    with pytest.raises(RulesError, match=r"^none\.csv: cannot be read \(no such file or directory\); .*--pours"):
        load_rules(None, pours=tmp_path / "none.csv")


FAULTS = [
    ('[[pours]]\nname = "a"\nday = 2026-03-09\n', "calendar.start: missing, but pour 'a' has a day"),
    (
        START + '[[pours]]\nname = "a"\nday = 2026-03-09\n[[pours]]\nname = "b"\nday = 2026-03-05\n',
        "pours[2].day: 2026-03-05 is before 2026-03-09, the day of 'a'",
    ),
    ('[[pours]]\nname = "a"\n[[pours]]\nname = "A"\n', "pours[2].name: 'A' is the name of pour 1 already"),
    ('[[pours]]\nname = "a"\nx = "4 m to 2 m"\n', "pours[1].x: '4 m to 2 m' runs downwards"),
    ('[[pours]]\nname = "a"\nx = "4 m"\n', "pours[1].x: '4 m' is not a span, such as '0 m to 14 m'"),
    ('[[pours]]\nname = "a"\nday = "soon"\n', "pours[1].day: must be a date, such as 2026-03-02, not 'soon'"),
    ("[calendar]\nstart = 2026-03-02T07:00:00\n", "calendar.start: must be a date, such as 2026-03-02"),
    ('[calendar]\nweekdays = ["Monday"]\n', "calendar.weekdays[1]: must be one of Mon, Tue"),
    ("[calendar]\nweekdays = []\n", "calendar.weekdays: must hold at least one item"),
    ('[crew]\nwalking = "40"\n', "crew.walking: '40' is not a speed with units, such as '40 m/min'"),
    ('[crew]\noverlap = "2 h"\n', "crew.overlap: the overlap (120 min) is longer than the warm-up (60 min)"),
    ("[chance]\npace_least = 1.2\n", "chance.pace_least: 1 must lie between the least (1.2) and the most (1.3)"),
]


@pytest.mark.parametrize(("text", "sentence"), FAULTS, ids=[fault[1] for fault in FAULTS])
def test_rules_that_cannot_be_are_refused_in_one_sentence(tmp_path, text: str, sentence: str):
    """File, full path to the field, what is wrong."""
    path = tmp_path / "rules.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(RulesError) as caught:
        load_rules(path)

    assert str(caught.value).startswith(f"rules.toml: {sentence}")


def test_a_holiday_on_every_day_is_refused(tmp_path):
    """A calendar of Mondays whose Mondays are holidays for eleven years has no working day."""
    mondays = ", ".join(date.fromordinal(date(2026, 3, 2).toordinal() + 7 * n).isoformat() for n in range(580))
    path = tmp_path / "rules.toml"
    path.write_text(f'[calendar]\nstart = 2026-03-02\nweekdays = ["Mon"]\nholidays = [{mondays}]\n', encoding="utf-8")
    with pytest.raises(
        RulesError, match=r"^rules\.toml: calendar\.holidays: from 2026-03-02 on every day is a holiday"
    ):
        load_rules(path)
