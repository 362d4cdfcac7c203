"""Rules files that cannot be used: each ends in one sentence with the file's name and the full path to the field."""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from splicewright.extract.errors import RulesError
from splicewright.schedule.basis import shipped
from splicewright.schedule.rulefile import nearest
from splicewright.schedule.rules import load_rules

JOB = (Path(__file__).parent / "two_profiles.toml").read_text(encoding="utf-8")


FAULTS = [
    ('width = "9 in"', 'widht = "9 in"', "profiles.ribbed-9.widht: unknown; did you mean 'width'?"),
    ("[fittings]", "[fitings]", "fitings: unknown; did you mean 'fittings'?"),
    ("price = 480", "prize = 480", "profiles.ribbed-9.rolls[1].prize: unknown; did you mean 'price'?"),
    ('match = "WS-WALL*"', 'mtch = "WS-WALL*"', "lines[2].mtch: unknown; did you mean 'match'?"),
    ("[crew]\n", '[crew]\nminutes.but = "9 min"\n', "crew.minutes.but: unknown; did you mean 'butt'?"),
    ("[crew]\n", "[crew]\nzzz = 1\n", "crew.zzz: unknown; valid here: crews, people, people_large, large_from, shift"),
    ("[crew]", "[notes]\na = 1\n[crew]", "notes: unknown; valid here: drawing, material, profiles, lines"),
    (
        'profile = "bulb-6"',
        'profile = "bulb6"',
        "lines[2].profile: there is no profile 'bulb6'; did you mean 'bulb-6'?",
    ),
    ('profile = "bulb-6"', 'profile = "zz"', "lines[2].profile: there is no profile 'zz'; add [profiles.zz] or use"),
    ("[drawing]", '[drawing]\nprofile = "bulb"', "drawing.profile: there is no profile 'bulb'; did you mean 'bulb-6'?"),
    ('unit = "ft"', 'unit = "furlong"', "drawing.unit: must be one of um, mm, cm,"),
    (
        'joint = "slab"',
        'joint = "slabs"',
        "lines[1].joint: must be one of slab, wall-base, wall, base-seal, not 'slabs'; did you mean 'slab'?",
    ),
    (
        '"site shop"',
        '"factry"',
        "fittings.policy: must be one of factory, site shop, field, not 'factry'; did you mean 'factory'?",
    ),
    ('width = "9 in"\n', "", "profiles.ribbed-9.width: missing; state it: width from edge to edge"),
    ('match = "WS-WALL*"\n', "", "lines[2].match: missing; state it: names of the lines"),
    ('width = "9 in"', "width = 9", "profiles.ribbed-9.width: must be a text with a unit, such as '9 in', not 9"),
    ('width = "9 in"', "width = true", "profiles.ribbed-9.width: must be a text with a unit, such as '9 in', not true"),
    ('width = "9 in"', 'width = "9"', "profiles.ribbed-9.width: '9' is not a length with a unit"),
    ('width = "9 in"', 'width = "-9 in"', "profiles.ribbed-9.width: '-9 in' is not a length with a unit"),
    ('width = "9 in"', 'width = "0 in"', "profiles.ribbed-9.width: must be more than 0, not '0 in'"),
    ('width = "9 in"', 'width = "1/0 in"', "profiles.ribbed-9.width: '1/0 in' divides by zero"),
    ('width = "9 in"', 'width = "9999 mi"', "profiles.ribbed-9.width: '9999 mi' is more than any job needs"),
    (
        'thickness = "3/8 in"',
        'thickness = "10 in"',
        "profiles.ribbed-9.thickness: the thickness (254 mm) must be no more than the width (228.6 mm)",
    ),
    ('mass = "1.8 lb/ft"', 'mass = "1.8 lb"', "profiles.ribbed-9.mass: '1.8 lb' is not a mass per length"),
    ("price = 480", "price = nan", "profiles.ribbed-9.rolls[1].price: must be a finite number, not nan"),
    ("price = 480", "price = -1", "profiles.ribbed-9.rolls[1].price: must be at least 0, not -1"),
    ("price = 480", 'price = "480"', "profiles.ribbed-9.rolls[1].price: must be a number, not '480'"),
    (", price = 310.5", "", "profiles.ribbed-9.rolls: state a price for every roll length or for none"),
    ('length = "50 ft"', 'length = "25000 mm"', "profiles.ribbed-9.rolls[2].length: this roll length is listed twice"),
    (
        'length = "100 ft"',
        'length = "10 in"',
        "profiles.bulb-6.rolls[1].length: a roll of 254 mm is shorter than the least piece (304.8 mm)",
    ),
    ('[{ length = "100 ft" }]', "[]", "profiles.bulb-6.rolls: must hold at least one item"),
    ('[{ length = "100 ft" }]', '"100 ft"', "profiles.bulb-6.rolls: must be a list, not '100 ft'"),
    ('[{ length = "100 ft" }]', '["100 ft"]', "profiles.bulb-6.rolls[1]: must be a table, not '100 ft'"),
    ("centre_bulb = true", 'centre_bulb = "yes"', "profiles.bulb-6.centre_bulb: must be true or false, not 'yes'"),
    ("centre_bulb = true", "people = 4", "profiles.bulb-6.people: must be at most 3, not 4"),
    ("centre_bulb = true", "people = 2.5", "profiles.bulb-6.people: must be a whole number, not 2.5"),
    (
        "[profiles.bulb-6]",
        '[profiles.RIBBED-9]\nwidth = "1 m"\nthickness = "9 mm"\nrolls = [{ length = "9 m" }]\n\n[profiles.bulb-6]',
        "profiles.RIBBED-9: differs from profile 'ribbed-9' in letter case only",
    ),
    ("WS-WALL*", "ws-slab*", "lines[2].match: 'ws-slab*' is matched by lines[1] already; keep one"),
    (
        'tolerance = "3 mm"',
        'tolerance = "200 mm"',
        "drawing.tolerance: the reach (150 mm) must be no less than the tolerance (200 mm)",
    ),
    ("[drawing]", "[drawing]\nbend_limit_deg = 60", "drawing.bend_limit_deg: must be at most 45, not 60"),
    ('leg = "18 in"', 'leg = "5 m"', "fittings.leg: the leg (5000 mm) is longer than the largest assembly (3657.6 mm)"),
    (
        'shift = "10 h"',
        'shift = "1.5 h"',
        "crew.shift: a day leaves 10 min for splices, the longest (other) takes 60 min",
    ),
    ("[crew]\n", "[crew]\ncrews = 0\n", "crew.crews: must be at least 1, not 0"),
    ("[crew]\n", "[crew]\nwidth_share = 1.5\n", "crew.width_share: must be at most 1, not 1.5"),
    ('currency = "USD"', 'currency = ""', "prices.currency: must be a text that is not empty, not ''"),
    ("[crew]\n", "[splices]\nmelt = 6\n[crew]\n", "splices.melt: must be a text with a unit, such as '9 in', not 6"),
    ("[crew]\nshift", "[[crew]]\nshift", "crew: must be a table, not a list"),
]


def complaint(path: Path | None, options: dict[str, object] | None = None) -> str:
    """Return the sentence that a rules file is refused with."""
    with pytest.raises(RulesError) as caught:
        load_rules(path, options=options)
    return str(caught.value)


def test_the_file_that_the_faults_are_put_into_is_sound(write):
    """Without a fault the file is accepted, so each refusal below is owed to its fault alone."""
    assert {"ribbed-9", "bulb-6", "assumed-9in"} == set(load_rules(write(JOB)).profiles)


@pytest.mark.parametrize(("sound", "fault", "sentence"), FAULTS, ids=[fault[2].split(":")[0] for fault in FAULTS])
def test_each_fault_is_named_with_its_path_and_remedy(write, sound: str, fault: str, sentence: str):
    """One fault in a sound file gives one sentence: file, full path, what is wrong, nearest valid name."""
    assert 1 == JOB.count(sound)

    said = complaint(write(JOB.replace(sound, fault)))

    assert said.startswith(f"rules.toml: {sentence}")
    assert "\n" not in said
    assert "more problem" not in said


def test_several_faults_give_the_first_and_the_number_of_the_others(write):
    """Of three faults the first is told; unknown fields come first, being the likely cause of others."""
    text = (
        JOB.replace('shift = "10 h"', "shift = 10")
        .replace("leg =", "lg =")
        .replace("crew_hour = 150", "crew_hour = -1")
    )

    said = complaint(write(text))

    assert "rules.toml: fittings.lg: unknown; did you mean 'leg'? (and 2 more problems)" == said


def test_a_misspelt_required_field_is_one_fault(write):
    """A misspelt field is not also reported as missing."""
    text = JOB.replace('width = "9 in"', 'widht = "9 in"')

    assert "rules.toml: profiles.ribbed-9.widht: unknown; did you mean 'width'?" == complaint(write(text))


def test_a_quoted_name_stays_readable_in_the_path(write):
    """A profile name with blanks is quoted in the path."""
    text = JOB.replace("bulb-6", "bulb 6").replace("[profiles.bulb 6]", '[profiles."bulb 6"]').replace('"6 in"', "6")

    assert complaint(write(text)).startswith("rules.toml: profiles.'bulb 6'.width: must be")


def test_what_the_command_line_sets_is_laid_to_it(write):
    """A fault in an option names the command line, not the file."""
    path = write(JOB)

    assert complaint(path, {"drawing.tolerance": "5"}).startswith(
        "command line: drawing.tolerance: '5' is not a length"
    )
    assert complaint(path, {"drawing.tolerence": "5 mm"}).startswith(
        "command line: drawing.tolerence: unknown; did you"
    )
    assert complaint(None, {"drawing.tolerance": "1 m"}).startswith(
        "command line: drawing.tolerance: the reach (150 mm)"
    )


# ---- files that are no rules files


def test_a_missing_file_is_named(tmp_path: Path):
    """A path to nothing says so."""
    assert complaint(tmp_path / "job.toml").startswith("job.toml: there is no such rules file")


def test_a_folder_is_no_rules_file(tmp_path: Path):
    """A folder in place of the file says so."""
    assert complaint(tmp_path).startswith(f"{tmp_path.name}: is a folder")


def test_bytes_that_are_no_utf8_are_placed(tmp_path: Path):
    """A file saved in another encoding names the first bad byte and the remedy."""
    path = tmp_path / "rules.toml"
    path.write_bytes("[drawing]\n# Höhe\n".encode("latin-1"))

    assert "rules.toml: byte 14 is not UTF-8; save the rules file as UTF-8" == complaint(path)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("[drawing]\ntolerance 5\n", "line 2, column 11: "),
        ("[drawing]\nreach = 5 mm\n", "line 2, column 11: "),
        ("[profiles.a]\n[profiles.a]\n", "line 2, column 12: "),
        ("[drawing]\nreach = '1 m'\nreach = '2 m'\n", "line 3, column 14: "),
        ("[drawing", "end of document: "),
    ],
)
def test_bad_toml_names_line_and_column(write, text: str, place: str):
    """What is no TOML, the same profile twice and the same field twice included, is refused with its place."""
    said = complaint(write(text))

    assert said.startswith(f"rules.toml: {place}")
    assert said.endswith("; mend the TOML there")


def test_deep_nesting_is_refused(write):
    """Brackets nested beyond all reason end in a sentence."""
    assert "rules.toml: is nested too deeply" in complaint(write("a = " + "[" * 20_000))


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path):
    """A file from a plain Windows editor is read like any other."""
    path = tmp_path / "rules.toml"
    path.write_bytes(JOB.replace("\n", "\r\n").encode("utf-8-sig"))

    assert {"ribbed-9", "bulb-6", "assumed-9in"} == set(load_rules(path).profiles)


# ---- whatever is put in


VALUES = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(10**20), 10**20),
        st.floats(),
        st.text(
            st.characters(codec="ascii", exclude_characters='\\"', min_codepoint=32, max_codepoint=126), max_size=8
        ),
        st.sampled_from(["9 in", "50 ft", "-1 m", "0 m", "1/0 in", "8 h", "0 min", "slab", "field", "ribbed-9"]),
    ),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(["length", "price", "x"]), inner, max_size=2)
    ),
    max_leaves=4,
)
PATHS = st.sampled_from(
    [
        *(
            f"{table}.{name}"
            for table in ("drawing", "fittings", "splices", "crew", "iron", "prices", "material")
            for name in shipped().tree[table]
        ),
        *(f"profiles.ribbed-9.{name}" for name in shipped().tree["profiles"]["*"]),
        "profiles",
        "profiles.x",
        "lines",
        "inspection",
        "crew",
        "drawing",
        "x",
        "crew.minutes.butt",
    ]
)


@settings(max_examples=300, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(path=PATHS, value=VALUES)
def test_any_value_anywhere_gives_rules_or_one_sentence(write, path: str, value: Any):
    """Whatever a field is set to, the rules load or are refused in one sentence; nothing else is raised."""
    try:
        rules = load_rules(write(JOB), options={path: value})
    except RulesError as error:
        said = str(error)
    else:
        said = "command line: "
        assert rules.profile_of(None).rolls
        assert rules.crew.welding_min > 0
        assert all(row.value for row in rules.basis())

    assert said.startswith(("command line: ", "rules.toml: "))
    assert "\n" not in said


@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(at=st.integers(0, len(JOB)), cut=st.integers(0, 12), junk=st.text(max_size=4))
def test_a_damaged_file_gives_rules_or_one_sentence(write, at: int, cut: int, junk: str):
    """A file with characters lost or put in is read or refused in one sentence; nothing else is raised."""
    text = (JOB[:at] + junk + JOB[at + cut :]).encode("utf-8", "surrogatepass")
    path = write("")
    path.write_bytes(text)

    try:
        said = f"rules.toml: {load_rules(path).drawing.profile}"
    except RulesError as error:
        said = str(error)

    assert said.startswith("rules.toml: ")


# ---- the nearest name


@pytest.mark.parametrize(
    ("name", "guess"), [("widht", "width"), ("WIDTH", "width"), ("thickness_m", "thickness"), ("qqq", "")]
)
def test_nearest_name_ignores_letter_case_and_far_names(name: str, guess: str):
    """The nearest name is found whatever the case; nothing is guessed for a name like none."""
    assert guess == nearest(name, ["width", "thickness", "rolls"])


@given(st.text(min_size=1, max_size=12), st.lists(st.text(min_size=1, max_size=12), max_size=6))
def test_nearest_name_is_one_of_the_valid_ones(name: str, valid: list[str]):
    """A guess is never an invented name, and a valid name is its own nearest."""
    assert nearest(name, valid) in {"", *valid}
    assert name.casefold() == nearest(name, [*valid, name]).casefold()
