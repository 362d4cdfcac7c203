"""Starter: a commented rules file for a drawing, to be checked and filled in."""

import re
from collections.abc import Iterator, Mapping, Sequence
from glob import escape
from textwrap import wrap
from typing import Any

from splicewright.extract.cluster import WindowProposal
from splicewright.extract.layer import LayerSurvey, Survey
from splicewright.extract.unit import LengthUnit

from .basis import RulePath, RuleText, shipped

__all__ = ["STARTER_PROFILE", "propose_joint", "starter"]

STARTER_PROFILE = "waterstop-1"
"""Name of the one profile that the starter asks to fill in."""


_HEAD = """\
# Rules for {files}
#
# A starting point: check every value. Lines that begin with "#" and no blank are rules at their default; take the
# "#" off to set one. Lengths, durations and masses are texts with units: "9 in", "3/8 in", "1.2 m", "8 h",
# "1.8 lb/ft". After each meaning stands its source; "assumed" means that nobody vouches for the value.
"""

_PROFILE_HEAD = """\

# ---- profiles: fill in from the product data of the waterstop to be used -----------------------------------------
# One table a profile; copy it for a second one under another name.

[profiles.{name}]
"""

_LINES_HEAD = """\

# ---- lines: which names in the drawing are waterstop, and what they carry ----------------------------------------
# joint is "slab", "wall-base", "wall" or "base-seal"; it decides how the strip lies. The first entry that matches a
# name counts; * and ? stand for any text and any character.
"""

_VIEWS_HEAD = """\

# ---- views: where this is a flat set of plans and unrolled walls -------------------------------------------------
# Take the # off and fill in what is marked, to have the views put together in space. Points are [x, y] on the sheet, in
# drawing units. Look at the result with 'splicewright survey DRAWING --rules FILE --picture FILE.svg'.

#[[levels]]
#name = "kicker"
#height = "0.15 m"        # fill in
#match = ["*BASE*"]       # layers whose lines on plans lie on it

#[[risers]]
#match = "*JOINT-MARK*"   # layers whose points, circles, ticks and blocks on plans are joints that climb
#foot = "kicker"
#top = "4.6 m"            # fill in
"""

_RULES_HEAD = """\

# ---- everything else, at its default -----------------------------------------------------------------------------
"""


def starter(surveys: Sequence[Survey], *, unit: LengthUnit | None = None) -> str:
    """Write a commented rules file for drawings; it runs unchanged.

    Parameters
    ----------
    surveys : sequence of Survey
        What is in each drawing of the job.
    unit : LengthUnit or None
        Unit that the user gives the drawings, which the file then states for those without one.

    Returns
    -------
    str
        TOML text: layers that look like waterstop, with a joint kind proposed from their names; the other layers
        with lines, commented out; one profile to fill in; every other rule, commented out at its default; an example
        of each table that may be there several times.
    """
    files = _comment(", ".join(survey.file for survey in surveys) or "a drawing")
    parts = [_HEAD.format(files=files), _PROFILE_HEAD.format(name=STARTER_PROFILE), *_profile(), _LINES_HEAD]
    parts += _lines(_merged_layers(surveys))
    parts += _views(surveys)
    parts.append(_RULES_HEAD)
    for name, table in shipped().tree.items():
        if "*" not in table:
            parts += _table((name,), table, _unit_note(surveys, unit) if name == "drawing" else "")
    parts += _inspection()
    for heading, name, example in _ENTRIES:
        parts += _entry(heading, name, example)
    return "".join(parts)


def propose_joint(name: str) -> str:
    """Propose a joint kind from the words in a layer's name, or "" where none tells.

    Parameters
    ----------
    name : str
        Name of a layer or element type.

    Returns
    -------
    str
        ``"slab"``, ``"wall-base"``, ``"wall"``, ``"base-seal"`` or "".

    Examples
    --------
    >>> propose_joint("WS-KICKER"), propose_joint("C-WATERSTOP-SLABS"), propose_joint("WATERSTOP")
    ('wall-base', 'slab', '')
    """
    words = {word.lower().removesuffix("s") for word in re.findall(r"[A-Z]?[a-z]+|[A-Z]+", name)}
    return next((joint for needed, joint in _JOINT_WORDS if needed <= words), "")


# The first set whose words all stand in the name decides, so the more telling words come first.
_JOINT_WORDS: tuple[tuple[frozenset[str], str], ...] = tuple(
    (frozenset(words.split()), joint)
    for words, joint in (
        ("seal", "base-seal"),
        ("baseseal", "base-seal"),
        ("kicker", "wall-base"),
        ("wallbase", "wall-base"),
        ("wall base", "wall-base"),
        ("slab", "slab"),
        ("floor", "slab"),
        ("raft", "slab"),
        ("wall", "wall"),
        ("base", "wall-base"),
    )
)


def _profile() -> Iterator[str]:
    own, every = shipped().tree["profiles"]["assumed-9in"], shipped().tree["profiles"]["*"]
    for name, rule in every.items():
        if name in own:
            yield f"# {rule.meaning}: fill in\n{name} = {_toml(own[name].value)}\n"
        elif name == "source":
            yield f'# {rule.meaning}\nsource = "assumed"\n'
        else:
            yield from _off(name, rule)


def _merged_layers(surveys: Sequence[Survey]) -> list[list[LayerSurvey]]:
    """Bring layers of the same name together, waterstop first, then by name."""
    groups: dict[str, list[LayerSurvey]] = {}
    for layer in (layer for survey in surveys for layer in survey.layers):
        if layer.lines and layer.name:
            groups.setdefault(_match(layer).casefold(), []).append(layer)
    return [groups[name] for name in sorted(groups, key=lambda name: (not _active(groups[name]), name))]


def _active(group: list[LayerSurvey]) -> bool:
    return any(layer.usual and not layer.hidden for layer in group)


def _lines(groups: Sequence[list[LayerSurvey]]) -> Iterator[str]:
    if not any(_active(group) for group in groups):
        yield "# No name looks like waterstop: take the # off the entries that are.\n"
    for group in groups:
        yield "\n" + _line_entry(group)


def _line_entry(group: list[LayerSurvey]) -> str:
    name, off = group[0].name, "" if _active(group) else "#"
    joint = propose_joint(name)
    told = f'{off}joint = "{joint}"  # proposed from the name: check'
    untold = '#joint = "slab"  # the name does not tell: state it'
    rows = [
        f"# {_comment(_what(group))}",
        f"{off}[[lines]]",
        f"{off}match = {_toml(_match(group[0]))}",
        f'{off}profile = "{STARTER_PROFILE}"',
        told if joint else untold,
    ]
    return "\n".join(rows) + "\n"


def _views(surveys: Sequence[Survey]) -> Iterator[str]:
    """Write the windows that a survey proposes, commented out: where walls stand only the drafter knows."""
    several = len(surveys) > 1
    if any(survey.windows for survey in surveys):
        yield _VIEWS_HEAD
    number = 0
    for survey in surveys:
        for one in survey.windows:
            number += 1
            yield "\n" + _view(one, number, survey.file if several else "")


def _view(one: WindowProposal, number: int, file: str) -> str:
    name, lines = f"{one.title or 'View'} ({number})", "1 line" if one.lines == 1 else f"{one.lines} lines"
    rows = [
        f"#[[views]]  # {lines} of waterstop",
        f"#name = {_toml(name)}",
        f"#kind = {_toml(one.kind or 'plan')}" + ("" if one.kind else "  # the title does not tell: state it"),
        f"#scale = {_toml(one.scale or '1:1')}" + ("" if one.scale else "  # no scale is written: state it"),
        f"#window = {_toml(list(one.window))}",
        *([f"#drawing = {_toml(_pattern(file))}"] if file else []),
    ]
    foot = _toml(list(one.foot))
    if one.kind in {"plan", ""}:
        rows += [f"#origin = {foot}  # check: what is x = 0, y = 0", '#level = "kicker"  # of layers without one']
    else:
        wall = "#wall = [[0, 0], [1, 0]]  # fill in: its two ends, picked on a plan"
        rows.append(wall if one.kind == "elevation" else '#path = "PATH"  # fill in: layer of its line on a plan')
        rows.append(f"#seen_from = {_toml(one.seen_from or 'outside')}" + ("" if one.seen_from else '  # or "inside"'))
        rows += [f"#datum = {foot}  # check: where the wall's left end meets the level", '#level = "kicker"']
    return "\n".join(rows) + "\n"


def _what(group: list[LayerSurvey]) -> str:
    lines = sum(layer.lines for layer in group)
    count = f"{lines} {'line' if lines == 1 else 'lines'}"
    hidden = "; hidden in the drawing, so not read" if all(layer.hidden for layer in group) else ""
    return f"{group[0].name}: {count}{_length(group)}{hidden}"


def _length(group: list[LayerSurvey]) -> str:
    """Add the layers up where they have a unit in common."""
    lengths = [layer.length_m for layer in group if layer.length_m is not None]
    if len(lengths) == len(group):
        return f", {sum(lengths):.1f} m"
    return f", {group[0].length:.6g} drawing units" if len(group) == 1 else ""


def _unit_note(surveys: Sequence[Survey], unit: LengthUnit | None) -> str:
    """State the unit that the user gave, or ask for it: the schedule cannot do without."""
    if unit is not None:
        return f"# as given with --drawing-unit; it counts where a drawing states no unit\nunit = {_toml(unit.value)}\n"
    lacking = [survey.file for survey in surveys if survey.unit is None]
    verb = "states" if len(lacking) == 1 else "state"
    return f"# NEEDED: {_comment(', '.join(lacking))} {verb} no length unit; set unit below.\n" if lacking else ""


def _table(path: RulePath, table: Mapping[str, Any], note: str = "") -> Iterator[str]:
    yield f"\n[{'.'.join(str(part) for part in path)}]\n{note}"
    for name, node in table.items():
        if isinstance(node, RuleText):
            yield from _off(name, node, STARTER_PROFILE if (*path, name) == ("drawing", "profile") else None)
    for name, node in table.items():
        if not isinstance(node, RuleText):
            yield from _table((*path, name), node)


def _off(name: str, rule: RuleText, value: object = None) -> Iterator[str]:
    """Write a rule that is commented out."""
    shown = value if value is not None else rule.value if rule.value is not None else rule.example
    note = "" if rule.value is not None else "; an example"
    yield from (f"# {line}\n" for line in wrap(f"{rule.meaning} ({rule.source}{note})", 112))
    yield f"#{name} = {_toml(shown)}\n"


def _inspection() -> Iterator[str]:
    yield "\n# Reasons to reject a splice beyond the published ones; one table each.\n"
    yield '#[[inspection]]\n#text = "Bead around the weld"\n#limit = "missing or uneven"\n'
    yield '#source = "job specification"\n'


_ENTRIES: tuple[tuple[str, str, dict[str, object]], ...] = (
    (
        "Legs of their own for a kind of node, a profile, or both; one table each. The first that fits counts; without "
        "one legs are as long as [fittings] leg says, by default {leg} ({leg_source}).",
        "legs",
        {"kind": "cross", "profile": STARTER_PROFILE, "leg": "30 in"},
    ),
    (
        "Who makes the intersections of some lines; one table each. The first that fits counts; without one it is as "
        "[fittings] policy says, by default {policy}. Where lines under several policies meet, the first of factory, "
        "site shop and field that any of them has makes the node.",
        "policies",
        {"match": "*RAMP*", "profile": STARTER_PROFILE, "policy": "site shop"},
    ),
    (
        "What is cast when; one table a pour, in their order. A splice belongs to the first pour that it lies in: all "
        "that a pour states must hold, and one that states nothing takes what is left. Days need a start in "
        "[calendar]; without pours the work goes storey by storey. x, y and level are in the drawing's coordinates.",
        "pours",
        {
            "name": "Base slab",
            "day": "2026-03-16",
            "match": "*SLAB*",
            "x": "0 m to 12 m",
            "y": "0 m to 8 m",
            "level": "-1 m to 0.5 m",
        },
    ),
)


def _entry(heading: str, name: str, example: Mapping[str, object]) -> Iterator[str]:
    """Write one table that may be there several times, with an example of every rule in it."""
    every, fittings = shipped().tree[name]["*"], shipped().tree["fittings"]
    told = heading.format(leg=fittings["leg"].value, leg_source=fittings["leg"].source, policy=fittings["policy"].value)
    yield "\n" + "".join(f"# {line}\n" for line in wrap(told, 112)) + f"#[[{name}]]\n"
    for rule, shown in example.items():
        yield f"#{rule} = {_toml(shown)}  # {every[rule].meaning}\n"


def _match(layer: LayerSurvey) -> str:
    """Return the pattern that selects a layer or element type."""
    return layer.match or _pattern(layer.name)


def _pattern(name: str) -> str:
    """Turn a name into a pattern that matches it; a character no text file can hold becomes ``?``."""
    return re.sub(r"[\ud800-\udfff]", "?", escape(name))


def _comment(text: str) -> str:
    """Replace what a comment cannot hold."""
    return re.sub(r"[\x00-\x1f\x7f\ud800-\udfff]", "�", text)


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + _TO_ESCAPE.sub(_escaped, value) + '"'
    if isinstance(value, list):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{name} = {_toml(item)}' for name, item in value.items())} }}"
    return str(value)


_TO_ESCAPE = re.compile(r'["\\\x00-\x1f\x7f]')


def _escaped(found: re.Match[str]) -> str:
    return f"\\{found[0]}" if found[0] in '"\\' else f"\\u{ord(found[0]):04x}"
