"""Basis: every rule in force, what it means and where it comes from."""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

__all__ = ["BasisRow", "RulePath", "RuleText", "Shipped", "path_text", "rows_of", "shipped", "value_text"]

RulePath: TypeAlias = tuple[str | int, ...]
"""Way to a rule: names of tables, and numbers of items from 0."""

_ITEMS = {"rolls", "offcuts"}
"""Lists of tables within a profile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisRow:
    """One rule in force.

    Attributes
    ----------
    path : str
        Full path to the field of the rules file, items counted from 1.
    value : str
        Value as text with its unit; ``"not given"`` where the rules leave it open.
    meaning : str
        What it decides.
    source : str
        A published source, ``"common practice"``, ``"assumed"``, ``"estimate"``, ``"rules file"`` or
        ``"command line"``.
    by_user : bool
        Whether the user set it; otherwise it is the default.
    """

    path: str
    value: str
    meaning: str
    source: str
    by_user: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleText:
    """What the shipped rules say about one rule.

    Attributes
    ----------
    meaning : str
        What it decides.
    source : str
        Where its default comes from.
    unit : str
        Unit of a plain number, else "".
    value : object or None
        Default, None where there is none.
    example : object or None
        Value to show where there is no default.
    """

    meaning: str
    source: str
    unit: str = ""
    value: object = None
    example: object = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shipped:
    """The shipped rules.

    Attributes
    ----------
    tree : Mapping
        Tables within tables; a rule is a `RuleText`; ``"*"`` stands for any name or item.
    lists : Mapping of str to tuple of Mapping
        The lists of texts: inspection, notes, cautions.
    """

    tree: Mapping[str, Any]
    lists: Mapping[str, tuple[Mapping[str, str], ...]]

    def values(self) -> dict[str, Any]:
        """Return the defaults as a rules file would state them."""
        return _values(self.tree)

    def every_profile(self) -> dict[str, Any]:
        """Return the values of every profile that states none itself."""
        return _values(self.tree["profiles"]["*"])

    def rule(self, path: RulePath) -> RuleText | None:
        """Return what is said about a rule, or None where there is no such rule."""
        node = self._node(path)
        return node if isinstance(node, RuleText) else None

    def names(self, path: RulePath) -> tuple[str, ...]:
        """Return the names that a rules file may use in the table at a path."""
        if path and path[0] in self.lists:
            return tuple(self.lists[str(path[0])][0])
        node = self._node(path)
        if not isinstance(node, Mapping):
            return ()
        names = [name for name in node if name != "*"]
        return (*(n for n in names if path or n not in _ITEMS), *(() if path else ("inspection",)))

    def _node(self, path: RulePath) -> object:
        """Follow a path, taking ``"*"`` where the name itself is not there."""
        if len(path) > 3 and path[0] == "profiles" and path[2] in _ITEMS:
            path = path[2:]
        found: object = None
        for way in _ways(path):
            found = self.tree
            for name in way:
                found = found.get(name) if isinstance(found, Mapping) else None
            if found is not None:
                break
        return found


@cache
def shipped() -> Shipped:
    """Read the rules that the package carries."""
    data = tomllib.loads(Path(__file__).with_name("rules.toml").read_text(encoding="utf-8"))
    lists = {name: tuple(items) for name, items in data.items() if isinstance(items, list)}
    return Shipped(tree={name: _tree(table) for name, table in data.items() if name not in lists}, lists=lists)


def rows_of(
    values: Mapping[str, Any], *, rules: Shipped, origin: Callable[[RulePath], str], derived: Mapping[RulePath, str]
) -> tuple[BasisRow, ...]:
    """List every rule in force.

    Parameters
    ----------
    values : Mapping
        The rules in force as plain tables.
    rules : Shipped
        What the shipped rules say about each.
    origin : callable
        Who set the field at a path; "" for nobody.
    derived : Mapping of RulePath to str
        Values that other rules decide where nobody set them.

    Returns
    -------
    tuple of BasisRow
        In the order of the shipped rules; fields without value are listed as not given.
    """

    def _user(path: RulePath) -> str:
        """Name who set a field, with the source that the field's profile states."""
        stated = values["profiles"][path[1]].get("source") if path[0] == "profiles" and path[-1] != "source" else None
        return f"{origin(path)}: {stated}" if stated and origin(path) else origin(path)

    currency = str(values.get("prices", {}).get("currency", ""))
    return tuple(
        _row(path, derived.get(path) if value is None else value, rules, user=_user(path), currency=currency)
        for path, value in _leaves(values, rules)
    )


def _row(path: RulePath, value: object, rules: Shipped, *, user: str, currency: str) -> BasisRow:
    rule = rules.rule(path) or RuleText(meaning="", source="")
    stock = rules.rule(path[:3]) if _ITEMS & set(path) and value is not None else None
    follows = rule.value is not None and value != rule.value
    default = "follows from the rules file" if follows else (stock or rule).source
    return BasisRow(
        path=path_text(path),
        value=value_text(value, currency if rule.unit == "currency" else rule.unit),
        meaning=rule.meaning,
        source=user or default,
        by_user=bool(user),
    )


def path_text(path: RulePath) -> str:
    """Write a path as the user would look for it.

    Examples
    --------
    >>> path_text(("profiles", "ribbed-9", "rolls", 0, "length"))
    'profiles.ribbed-9.rolls[1].length'
    """
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            bare = part.replace("-", "").replace("_", "").isalnum() and part.isascii()
            text += ("." if text else "") + (part if bare else repr(part))
    return text


def value_text(value: object, unit: str = "") -> str:
    """Write a rule's value for people.

    Examples
    --------
    >>> value_text(15, "degrees")
    '15 degrees'
    >>> value_text(True)
    'yes'
    """
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "none"
    return f"{value} {unit}".rstrip()


def _leaves(values: Mapping[str, Any], rules: Shipped) -> Iterator[tuple[RulePath, object]]:
    for name, node in rules.tree.items():
        if name in {"profiles", "lines", "legs", "policies", "pours", "levels", "views", "risers"}:
            held = values.get(name, {})
            items = held.items() if isinstance(held, Mapping) else enumerate(held)
            for key, table in items:
                yield from _leaves_under((name, key), node["*"], table)
        elif name not in _ITEMS:
            yield from _leaves_under((name,), node, values.get(name, {}))


def _leaves_under(
    path: RulePath, tree: Mapping[str, Any], table: Mapping[str, Any]
) -> Iterator[tuple[RulePath, object]]:
    for name, node in tree.items():
        value = table.get(name)
        if isinstance(value, list) and name in _ITEMS:
            fields = shipped().tree[name]["*"]
            for i, item in enumerate(value):
                yield from _leaves_under((*path, name, i), fields, item)
        elif isinstance(node, RuleText):
            yield (*path, name), value
        else:
            yield from _leaves_under((*path, name), node, value or {})


def _ways(path: RulePath) -> Iterator[tuple[str, ...]]:
    """Yield the literal path, then the one with ``"*"`` for its second name."""
    literal = tuple(str(part) for part in path)
    yield literal
    if len(path) > 1:
        yield (literal[0], "*", *literal[2:])


def _tree(data: Mapping[str, Any]) -> "RuleText | dict[str, Any]":
    if "meaning" in data:
        return RuleText(**data)
    return {name: _tree(node) for name, node in data.items()}


def _values(tree: Mapping[str, Any]) -> dict[str, Any]:
    values: dict[str, Any] = {}
    for name, node in tree.items():
        if isinstance(node, RuleText):
            if node.value is not None:
                values[name] = node.value
        elif name != "*" and "*" not in node:
            values[name] = _values(node)
        elif name != "*":
            values[name] = {inner: _values(table) for inner, table in node.items() if inner != "*"}
    return {name: value for name, value in values.items() if value != {}}
