"""Rules file: the TOML text a job states its rules in, read over the defaults, and what is wrong with it in words."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

from splicewright.extract.errors import RulesError

from .basis import RulePath, Shipped, path_text

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

__all__ = ["Layers", "Problem", "nearest", "nested", "problems_of", "read_rulefile", "refusal", "shown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong with a rules file.

    Attributes
    ----------
    path : RulePath
        Way to the field.
    text : str
        What is wrong, without the path.
    unknown : bool
        Whether the field itself is unknown.
    guess : str
        Nearest valid name of an unknown field, else "".
    """

    path: RulePath
    text: str
    unknown: bool = False
    guess: str = ""


def read_rulefile(path: Path) -> dict[str, Any]:
    """Read a rules file as plain tables.

    Raises
    ------
    RulesError
        The file is absent, no file, not UTF-8 or not TOML; one sentence with the file's name and the line.
    """
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n"))
    except FileNotFoundError:
        raise RulesError(f"{path.name}: there is no such rules file; check the path") from None
    except IsADirectoryError:
        raise RulesError(f"{path.name}: is a folder; name the rules file itself") from None
    except OSError as error:
        raise RulesError(f"{path.name}: cannot be read ({error.strerror}); check its permissions") from None
    except UnicodeDecodeError as error:
        raise RulesError(f"{path.name}: byte {error.start + 1} is not UTF-8; save the rules file as UTF-8") from None
    except RecursionError:
        raise RulesError(f"{path.name}: is nested too deeply; a rules file needs no more than four levels") from None
    except ValueError as error:
        raise RulesError(f"{path.name}: {_toml_fault(str(error))}") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Layers:
    """Rules by where they come from, as plain tables; later layers win.

    Attributes
    ----------
    defaults : Mapping
        The shipped values.
    file : Mapping
        The job's rules file.
    options : Mapping
        What the command line sets.
    """

    defaults: Mapping[str, Any]
    file: Mapping[str, Any]
    options: Mapping[str, Any]

    def origin(self, path: RulePath) -> str:
        """Tell who set a field: ``"command line"``, ``"rules file"`` or, for defaults, ""."""
        if _holds(self.options, path):
            return "command line"
        return "rules file" if _holds(self.file, path) else ""

    def blame(self, *paths: RulePath) -> RulePath:
        """Return the first of several fields that the user set, else the first."""
        return next((path for path in paths if self.origin(path)), paths[0])

    def values(self, every_profile: Mapping[str, Any]) -> dict[str, Any]:
        """Lay the layers over one another.

        Parameters
        ----------
        every_profile : Mapping
            Values of every profile that states none itself.
        """
        own = _laid_over(self.file, self.options)
        values = _laid_over(self.defaults, own)
        _choose_profile(values, own)
        if isinstance(values["profiles"], dict):
            values["profiles"] = {
                name: _laid_over(every_profile, table) if isinstance(table, dict) else table
                for name, table in values["profiles"].items()
                if name in _kept_profiles(values, own)
            }
        return values


def nested(options: Mapping[str, object]) -> dict[str, Any]:
    """Turn full paths with dots into tables within tables."""
    tables: dict[str, Any] = {}
    for path, value in options.items():
        *parents, name = path.split(".")
        table = tables
        for parent in parents:
            table = table.setdefault(parent, {})
        table[name] = value
    return tables


def refusal(file: str, layers: Layers, problems: Iterable[Problem]) -> RulesError:
    """Word the first problem and say how many more there are; unknown fields come first.

    Parameters
    ----------
    file : str
        Name of the rules file.
    layers : Layers
        Who set what; what the command line set is laid to it.
    problems : iterable of Problem
        At least one.

    Returns
    -------
    RulesError
    """
    known = sorted(problems, key=lambda problem: not problem.unknown)
    guessed = {(*problem.path[:-1], problem.guess) for problem in known if problem.guess}
    first, *others = [problem for problem in known if problem.unknown or problem.path not in guessed]
    tail = f" (and {len(others)} more {'problem' if len(others) == 1 else 'problems'})" if others else ""
    place = "command line" if layers.origin(first.path) == "command line" else file
    return RulesError(f"{place}: {path_text(first.path)}: {first.text}{tail}")


def nearest(name: str, valid: Iterable[str]) -> str:
    """Return the valid name most like another, whatever the letter case, or ""."""
    folded = {candidate.casefold(): candidate for candidate in valid}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.65)
    return folded[close[0]] if close else ""


def shown(value: object) -> str:
    """Write a value as the rules file has it, shortened."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    text = repr(value) if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}…"


def problems_of(details: Iterable["ErrorDetails"], rules: Shipped) -> list[Problem]:
    """Put the complaints of the validation into words.

    A list whose items are all faulty is also called too short; that says nothing new.
    """
    return [_problem(detail, rules) for detail in details if detail["type"] != "too_short" or not detail["input"]]


def _problem(detail: "ErrorDetails", rules: Shipped) -> Problem:
    loc = tuple(part for part in detail["loc"] if part != "[key]")
    kind, value, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind in _UNKNOWN or "[key]" in detail["loc"]:
        return _unknown_field(loc, rules)
    if kind == "missing":
        rule = rules.rule(loc)
        return Problem(path=loc, text=f"missing; state it: {rule.meaning}" if rule else "missing")
    if kind == "enum":
        return Problem(path=loc, text=_wrong_choice(value, str(context["expected"])))
    if kind == "value_error":
        return Problem(path=loc, text=str(context["error"]))
    if kind == "too_short":
        return Problem(path=loc, text="must hold at least one item")
    needed = next((text for start, text in _NEEDED.items() if kind.startswith(start)), detail["msg"])
    return Problem(path=loc, text=f"must be {needed.format(**context)}, not {shown(value)}")


_UNKNOWN = frozenset({"unexpected_keyword_argument", "extra_forbidden"})

_NEEDED = {
    "dataclass": "a table",
    "dict": "a table",
    "mapping": "a table",
    "tuple": "a list",
    "list": "a list",
    "string_too_short": "a text that is not empty",
    "string": "a text in quotes",
    "bool": "true or false",
    "int": "a whole number",
    "float": "a number",
    "finite_number": "a finite number",
    "greater_than_equal": "at least {ge:g}",
    "greater_than": "more than {gt:g}",
    "less_than_equal": "at most {le:g}",
    "less_than": "less than {lt:g}",
}


def _choose_profile(values: dict[str, Any], own: Mapping[str, Any]) -> None:
    """Let lines without a profile carry the only one that the user defines."""
    profiles, drawing = own.get("profiles"), own.get("drawing", {})
    if isinstance(profiles, dict) and len(profiles) == 1 and isinstance(drawing, dict) and "profile" not in drawing:
        values["drawing"] = values["drawing"] | {"profile": next(iter(profiles))}


def _kept_profiles(values: Mapping[str, Any], own: Mapping[str, Any]) -> set[str]:
    """Name the profiles in force: a shipped one only where something names it."""
    lists = [own.get(name) for name in ("lines", "risers")]
    profiles, drawing = own.get("profiles"), values["drawing"]
    tables = [*(table for tables in lists if isinstance(tables, list) for table in tables), drawing]
    named = [table.get("profile") for table in tables if isinstance(table, dict)]
    return {*(profiles if isinstance(profiles, dict) else ()), *(name for name in named if isinstance(name, str))}


def _holds(tables: object, path: RulePath) -> bool:
    if not path:
        return True
    name, rest = path[0], path[1:]
    if isinstance(tables, list):
        return isinstance(name, int) and name < len(tables) and _holds(tables[name], rest)
    return isinstance(tables, dict) and name in tables and _holds(tables[name], rest)


def _laid_over(under: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    result = dict(under)
    for name, value in over.items():
        below = result.get(name)
        result[name] = _laid_over(below, value) if isinstance(below, dict) and isinstance(value, dict) else value
    return result


def _unknown_field(path: RulePath, rules: Shipped) -> Problem:
    valid = rules.names(path[:-1])
    guess = nearest(str(path[-1]), valid)
    choice = f"did you mean {guess!r}?" if guess else f"valid here: {', '.join(valid)}"
    return Problem(path=path, text=f"unknown; {choice}", unknown=True, guess=guess)


def _wrong_choice(value: object, expected: str) -> str:
    choices = expected.replace(" or ", ", ").replace("'", "").split(", ")
    guess = nearest(value, choices) if isinstance(value, str) else ""
    hint = f"; did you mean {guess!r}?" if guess else ""
    return f"must be one of {', '.join(choices)}, not {shown(value)}{hint}"


def _toml_fault(message: str) -> str:
    """Put the place first: ``"line 3, column 5: expected '=' …; the file is not valid TOML"``."""
    place = re.search(r"\s*\((?:at )?(line \d+, column \d+|end of document)\)\s*", message)
    fault = message.replace(place[0], "") if place else message
    at = place[1].removeprefix("at ") if place else "TOML"
    return f"{at}: {fault[:1].lower()}{fault[1:]}; mend the TOML there"
