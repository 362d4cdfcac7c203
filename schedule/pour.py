"""Pours: which part of the job is cast when, and which strips each needs."""

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fnmatch import fnmatchcase
from itertools import pairwise
from pathlib import Path

from splicewright.extract.errors import RulesError

from .rulefile import nearest

__all__ = ["Pour", "PourPlan", "Span", "natural_key", "read_members"]

Span = tuple[float, float]

_KEYS = ("run", "layer", "entity")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pour:
    """One pour; what it states must all hold for a splice to belong to it.

    Attributes
    ----------
    name : str
        Unique in the job.
    day : date or None
        Day on which it is poured.
    match : str or None
        Names of the lines in it, with ``*`` and ``?``, in any letter case.
    x, y, level : tuple of float or None
        Lower and upper end in the drawing's own coordinates [m], both included.
    """

    name: str
    day: date | None = None
    match: str | None = None
    x: Span | None = None
    y: Span | None = None
    level: Span | None = None

    @property
    def bounds(self) -> tuple[Span | None, Span | None, Span | None]:
        """Where it reaches along x, y and z [m]."""
        return (self.x, self.y, self.level)

    @property
    def stated(self) -> bool:
        """Whether it says itself what belongs to it."""
        return self.match is not None or any(span is not None for span in self.bounds)

    def names(self, layers: Iterable[str]) -> bool:
        """Tell whether lines on any of the layers may belong to it."""
        if self.match is None:
            return True
        pattern = self.match.casefold()
        return any(fnmatchcase(layer.casefold(), pattern) for layer in layers)


@dataclass(frozen=True, slots=True, kw_only=True)
class PourPlan:
    """The pours of a job in their order.

    Attributes
    ----------
    pours : tuple of Pour
    members : Mapping of (str, str) to int
        What a CSV assigns: ``("run" or "entity", mark)`` or ``("layer", pattern)`` to the pour's position.
    """

    pours: tuple[Pour, ...] = ()
    members: Mapping[tuple[str, str], int] = field(default_factory=dict)

    def member(self, run: str, layers: Iterable[str], entities: Iterable[str]) -> int | None:
        """Return the position of the first pour that the CSV gives a run, None where it says nothing."""
        found = [self.members.get(("run", run.casefold()))]
        found += [self.members.get(("entity", entity.casefold())) for entity in entities]
        found += [self.members.get(("entity", entity.casefold().rpartition(" ")[2])) for entity in entities]
        patterns = [(text, place) for (kind, text), place in self.members.items() if kind == "layer"]
        found += [place for text, place in patterns for layer in layers if fnmatchcase(layer.casefold(), text)]
        return min((place for place in found if place is not None), default=None)


def read_members(path: Path, pours: Sequence[Pour]) -> PourPlan:
    """Read which pour runs, layers or entities belong to.

    The first row names the columns: ``pour`` and one or several of ``run``, ``layer`` and ``entity``; ``day`` where
    the file itself introduces the pours. Each row gives what it names to its pour; columns of other names are left
    alone.

    Parameters
    ----------
    path : Path
        CSV, UTF-8, commas or semicolons.
    pours : sequence of Pour
        Pours of the rules file; where there are none, those of the CSV, in the order of their first rows.

    Returns
    -------
    PourPlan

    Raises
    ------
    RulesError
        The file cannot be read, a column is missing, a pour is not known, or days make no sense; one sentence with
        file and row.
    """
    rows = _rows(path)
    own: dict[str, Pour] = {}
    known = {pour.name.casefold(): place for place, pour in enumerate(pours)}
    members: dict[tuple[str, str], int] = {}
    for number, row in rows:
        where, name = f"{path.name}: row {number}", row.get("pour", "")
        if not name:
            raise RulesError(f"{where}: the pour is empty; name it in column 'pour'")
        if not pours:
            _introduce(own, name, row.get("day", ""), where)
            known.setdefault(name.casefold(), len(known))
        place = known.get(name.casefold())
        if place is None:
            guess = nearest(name, [pour.name for pour in pours])
            hint = f"did you mean {guess!r}?" if guess else f"the rules know {', '.join(p.name for p in pours)}"
            raise RulesError(f"{where}: there is no pour {name!r}; {hint}")
        for kind in _KEYS:
            if row.get(kind):
                key = (kind, row[kind].casefold())
                members[key] = min(members.get(key, place), place)
    chosen = tuple(pours) or tuple(own.values())
    _refuse_backward(chosen, path.name)
    return PourPlan(pours=chosen, members=members)


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Order names as people do, numbers by their value.

    Examples
    --------
    >>> sorted(["Pour 10", "Pour 9"], key=natural_key)
    ['Pour 9', 'Pour 10']
    """
    parts = re.findall(r"\d+|\D+", name.casefold())
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts)


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise RulesError(f"{path.name}: cannot be read ({why}); check the path given with --pours") from None
    except UnicodeDecodeError as error:
        raise RulesError(f"{path.name}: byte {error.start + 1} is not UTF-8; save the CSV as UTF-8") from None
    head = text.partition("\n")[0]
    table = list(csv.reader(text.splitlines(), delimiter=";" if head.count(";") > head.count(",") else ","))
    names = [name.strip().casefold() for name in table[0]] if table else []
    if "pour" not in names or not set(_KEYS) & set(names):
        raise RulesError(f"{path.name}: row 1: needs a column 'pour' and one of {', '.join(map(repr, _KEYS))}")
    rows = [(number, [cell.strip() for cell in row]) for number, row in enumerate(table[1:], 2)]
    return [(number, dict(zip(names, row, strict=False))) for number, row in rows if any(row)]


def _introduce(own: dict[str, Pour], name: str, text: str, where: str) -> None:
    """Note a pour that only the CSV knows."""
    try:
        day = date.fromisoformat(text) if text else None
    except ValueError:
        raise RulesError(f"{where}: day {text!r} is no date, such as 2026-03-02") from None
    known = own.get(name.casefold())
    if known and day and known.day and known.day != day:
        raise RulesError(f"{where}: pour {name!r} is on {day} here and on {known.day} above; give it one day")
    own[name.casefold()] = Pour(name=known.name if known else name, day=day or (known.day if known else None))


def _refuse_backward(pours: Sequence[Pour], file: str) -> None:
    dated = [pour for pour in pours if pour.day]
    for before, after in pairwise(dated):
        if after.day and before.day and after.day < before.day:
            raise RulesError(
                f"{file}: pour {after.name!r} on {after.day} stands after {before.name!r} on {before.day}; "
                "list pours in the order of their days"
            )
