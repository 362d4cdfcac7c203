"""Inspection: the log to fill in, a line a splice and a line a sample weld."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from .log_form import SAMPLE_WELD, LogKey
from .splice import Made, Splice, SpliceKind

__all__ = ["LogEntry", "open_log"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One line of the log: a field or factory splice, or a crew's sample weld of the day.

    Attributes
    ----------
    mark : str
        Mark of the splice, or ``"W<crew>-<day>"`` for a sample weld.
    what : str
        What is looked at, in words.
    crew, day : int or None
        Who made it and when; None for factory splices.
    key : LogKey or None
        What a later run knows the line by; None where no later run is to know it.
    """

    mark: str
    what: str
    crew: int | None
    day: int | None
    key: LogKey | None = None


def open_log(splices: Iterable[Splice]) -> Iterator[LogEntry]:
    """Open the log: day by day each crew's sample weld and its splices, then the factory's seams.

    Parameters
    ----------
    splices : iterable of Splice
        All splices, field splices first, in the order they are made.

    Yields
    ------
    LogEntry
    """
    shift = None
    splices = list(splices)
    for splice, key in zip(splices, _keys(splices), strict=True):
        field, crew, day = splice.made is Made.FIELD, splice.crew, splice.day
        if field and (crew, day) != shift:
            shift = (crew, day)
            weld = LogKey(mark=f"W{crew}-{day}", kind=SAMPLE_WELD)
            yield LogEntry(mark=weld.mark, what="sample weld, destructive", crew=crew, day=day, key=weld)
        what = _FIELD[splice.kind] if field else "factory seam, on delivery"
        yield LogEntry(mark=splice.mark, what=what, crew=crew, day=day, key=key)


def _keys(splices: list[Splice]) -> Iterator[LogKey]:
    """Yield the key of every splice; those alike at one place are told apart by their number."""
    keys = [LogKey.of_splice(s.mark, f"{s.made.value} {s.kind.value}", s.at_m, s.profile) for s in splices]
    count = Counter((key.kind, key.at_m, key.profile) for key in keys)
    seen: Counter[tuple[object, ...]] = Counter()
    for key in keys:
        alike = (key.kind, key.at_m, key.profile)
        seen[alike] += 1
        yield replace(key, number=seen[alike], of=count[alike])


_FIELD = {
    SpliceKind.SEAM: "mitred seam made on site",
    SpliceKind.LEG: "butt, leg to strip",
    SpliceKind.LEG_TO_LEG: "butt, leg to leg",
    SpliceKind.PIECE: "butt, strip to strip",
    SpliceKind.CLOSURE: "butt, closes a ring",
    SpliceKind.TRANSITION: "butt, change of profile or lay",
}
