"""Carryover: what people filled into an earlier inspection log, on the lines of the new one it belongs to."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import product
from math import dist, floor
from typing import TypeAlias

from splicewright.extract.finding import Finding, Severity, place_text

from .inspection import LogEntry
from .log_form import HEADING, LOG_SHEET, RESULTS, LogKey, heading_mark

__all__ = ["Carryover", "EarlierLog", "EarlierRow", "Entry", "LeftOver", "Typed", "carry"]

_MOST_PLACES = 25
"""Splices that are gone, after which they get one finding together."""

_MOST_MARKS = 12
_LEAST_M = 0.0005  # keys are rounded

_GONE = "splices that are not in this schedule any more, or whose place, kind or profile has changed"
_TWICE = "second lines of splices that already have their entry"
_NO_DAY = "days and crews that this schedule has not"
_BY_HAND = "lines that were added by hand, or lost their key"
_REASONS = (_GONE, _TWICE, _NO_DAY, _BY_HAND)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What stands in a cell.

    Attributes
    ----------
    value : str, int, float or bool
        Dates and times are numbers, as a spreadsheet counts them.
    form : str
        Number format.
    """

    value: str | int | float | bool
    form: str = "General"


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierRow:
    """A line of the earlier log in which someone has filled in something.

    Attributes
    ----------
    where : str
        Its row, for sentences.
    key : LogKey or None
        None where it is lost, or the line was added by hand.
    own : Mapping of str to Typed
        What stands in the program's own columns, by heading.
    typed : Mapping of str to Typed
        What people filled in, by heading.
    """

    where: str
    key: LogKey | None
    own: Mapping[str, Typed]
    typed: Mapping[str, Typed]

    @property
    def result(self) -> str:
        """The result, where it is one of those to choose from, else nothing."""
        said = str(self.typed["Result"].value).strip().lower() if "Result" in self.typed else ""
        return said if said in RESULTS else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierLog:
    """The inspection log of an earlier workbook.

    Attributes
    ----------
    file : str
        Name of the workbook.
    rows : tuple of EarlierRow
        Lines with entries, from the top down.
    extras : tuple of str
        Headings of columns that people added.
    """

    file: str
    rows: tuple[EarlierRow, ...]
    extras: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What belongs on one line of the new log.

    Attributes
    ----------
    typed : Mapping of str to Typed
        By heading.
    earlier : str
        Marks that the splice had before, those that its line told already among them.
    """

    typed: Mapping[str, Typed]
    earlier: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOver:
    """Lines of the earlier log that have no line in the new one, for one reason."""

    reason: str
    rows: tuple[EarlierRow, ...]

    @property
    def title(self) -> str:
        """What stands over them on the sheet."""
        return f"Left over: {self.reason}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Carryover:
    """All that was filled in before.

    Attributes
    ----------
    file : str
        Name of the earlier workbook.
    entries : Mapping of str to Entry
        By the mark of the new line, which may be the heading of a day.
    left : tuple of LeftOver
    extras : tuple of str
        Headings of columns that people added.
    findings : tuple of Finding
        What has been carried over, and what is left.
    """

    file: str
    entries: Mapping[str, Entry]
    left: tuple[LeftOver, ...]
    extras: tuple[str, ...]
    findings: tuple[Finding, ...]


def carry(log: EarlierLog, entries: Iterable[LogEntry], *, tolerance_m: float) -> Carryover:
    """Carry what was filled into an earlier log over to a new one.

    A splice is known again by its place, kind and profile, whatever its mark is now; where several lie within the
    tolerance, the one that has kept its mark comes first. Sample welds and headings are known by crew and day.

    Parameters
    ----------
    log : EarlierLog
    entries : iterable of LogEntry
        The new log.
    tolerance_m : float
        Distance at which two places are one [m], >= 0.

    Returns
    -------
    Carryover
    """
    porter = _Porter(entries, max(tolerance_m, _LEAST_M))
    for row in log.rows:
        porter.place(row, by_mark=True)
    for row in porter.waiting:
        porter.place(row, by_mark=False)
    left = tuple(LeftOver(reason=reason, rows=tuple(rows)) for reason, rows in porter.left.items() if rows)
    return Carryover(
        file=log.file,
        entries=porter.taken,
        left=left,
        extras=log.extras,
        findings=(*_carried(log.file, porter), *_left_over(log.file, left)),
    )


_Class: TypeAlias = tuple[str, str, int, int]
_Cell: TypeAlias = tuple[_Class, int, int, int]


@dataclass(slots=True)
class _Porter:
    """Brings lines to their places; first those that have kept their marks, so that none takes the place of another."""

    entries: Iterable[LogEntry]
    tolerance_m: float
    taken: dict[str, Entry] = field(default_factory=dict)
    moved: list[tuple[str, str]] = field(default_factory=list)
    waiting: list[EarlierRow] = field(default_factory=list)
    left: dict[str, list[EarlierRow]] = field(default_factory=lambda: {reason: [] for reason in _REASONS})
    _days: set[tuple[str, str]] = field(default_factory=set)
    _near: dict[_Cell, list[LogKey]] = field(default_factory=lambda: defaultdict(list))

    def __post_init__(self) -> None:
        for entry in self.entries:
            self._days.add((HEADING, heading_mark(entry.crew, entry.day)))
            if entry.key is None:
                continue
            if entry.key.at_m is None:
                self._days.add((entry.key.kind, entry.key.mark))
            else:
                self._near[self._cell(entry.key)].append(entry.key)

    def place(self, row: EarlierRow, *, by_mark: bool) -> None:
        """Bring one line to its place, or, where marks count, let it wait for those that have kept theirs."""
        key = row.key
        if key is None:
            self.left[_BY_HAND].append(row)
        elif key.at_m is None:
            self._take(row, [key.mark] if (key.kind, key.mark) in self._days else [], _NO_DAY)
        else:
            near = self._around(key)
            if by_mark and key.mark not in near:
                self.waiting.append(row)
            else:
                self._take(row, [key.mark] if by_mark else near, _GONE)

    def _take(self, row: EarlierRow, marks: Sequence[str], reason: str) -> None:
        """Put a line at the first of some marks that is still free."""
        free = next((mark for mark in marks if mark not in self.taken), None)
        if free is not None:
            self.taken[free] = Entry(typed=row.typed, earlier=_earlier(row, free))
            if row.key is not None and row.key.mark != free:
                self.moved.append((row.key.mark, free))
        elif not any(self.taken[mark].typed == row.typed for mark in marks):  # the same once more adds nothing
            self.left[_TWICE if marks else reason].append(row)

    def _around(self, key: LogKey) -> list[str]:
        """Return the marks of the splices of a kind within the tolerance of a place, the nearest first."""
        kind, *at = self._cell(key)
        place = key.at_m or (0.0, 0.0, 0.0)
        found: list[tuple[float, str]] = []
        for step in product((-1, 0, 1), repeat=3):
            x, y, z = (int(a) + b for a, b in zip(at, step, strict=True))
            for one in self._near.get((kind, x, y, z), ()):
                away_m = dist(one.at_m or place, place)
                if away_m <= self.tolerance_m:
                    found.append((away_m, one.mark))
        return [mark for _, mark in sorted(found)]

    def _cell(self, key: LogKey) -> _Cell:
        x, y, z = (floor(value / self.tolerance_m) for value in key.at_m or (0.0, 0.0, 0.0))
        return (key.kind, key.profile, key.number, key.of), x, y, z


def _earlier(row: EarlierRow, mark: str) -> str:
    """List the marks that a splice had before."""
    told = str(row.own["Earlier marks"].value) if "Earlier marks" in row.own else ""
    marks = [one.strip() for one in told.split(",") if one.strip()]
    if row.key is not None:
        marks.append(row.key.mark)
    return ", ".join(one for one in dict.fromkeys(marks) if one != mark)


def _carried(file: str, porter: _Porter) -> Iterator[Finding]:
    if not porter.taken:
        return
    moved = [f"{old} is now {new}" for old, new in porter.moved]
    said = f"; {len(moved):,} under a new mark: {_listed(moved)}" if moved else ""
    lines = "line was" if len(porter.taken) == 1 else "lines were"
    yield Finding(
        code="entry-carried",
        severity=Severity.NOTE,
        message=f"{len(porter.taken):,} filled-in {lines} carried over from the inspection log of {file}{said}.",
    )


def _left_over(file: str, left: Iterable[LeftOver]) -> Iterator[Finding]:
    for group in left:
        if group.reason == _GONE and len(group.rows) <= _MOST_PLACES:
            yield from (_gone(file, row) for row in group.rows)
            continue
        lines = "One line" if len(group.rows) == 1 else f"{len(group.rows):,} lines"
        rows = [f"{row.key.mark} in {row.where}" if row.key else row.where for row in group.rows]
        yield _warning(
            f"{lines} of the inspection log of {file} found no place in the new one: {_listed(rows)}; {_where(group)}."
        )


def _where(group: LeftOver) -> str:
    return f"what was filled in stands on the sheet {LOG_SHEET} under {group.title!r}: settle it by hand"


def _gone(file: str, row: EarlierRow) -> Finding:
    key = row.key or LogKey(mark="", kind="")
    said = f"{row.result} in" if row.result else "filled in on"
    place = place_text(key.at_m or (0.0, 0.0, 0.0))
    return _warning(
        f"{key.mark} ({key.kind}, {key.profile}) at {place} is {said} the inspection log of {file}, {row.where}, but "
        f"this schedule has no such splice there; {_where(LeftOver(reason=_GONE, rows=(row,)))}.",
        key.at_m,
    )


def _warning(message: str, at_m: tuple[float, float, float] | None = None) -> Finding:
    return Finding(code="entry-left-over", severity=Severity.WARNING, message=message, at_m=at_m)


def _listed(texts: Sequence[str]) -> str:
    more = f" and {len(texts) - _MOST_MARKS:,} more" if len(texts) > _MOST_MARKS else ""
    return ", ".join(texts[:_MOST_MARKS]) + more
