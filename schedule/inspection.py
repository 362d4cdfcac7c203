"""Inspection: when to reject a splice, and the log to fill in."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

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
    """

    mark: str
    what: str
    crew: int | None
    day: int | None


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
    for splice in splices:
        field, crew, day = splice.made is Made.FIELD, splice.crew, splice.day
        if field and (crew, day) != shift:
            shift = (crew, day)
            yield LogEntry(mark=f"W{crew}-{day}", what="sample weld, destructive", crew=crew, day=day)
        what = _FIELD[splice.kind] if field else "factory seam, on delivery"
        yield LogEntry(mark=splice.mark, what=what, crew=crew, day=day)


_FIELD = {
    SpliceKind.SEAM: "mitred seam made on site",
    SpliceKind.LEG: "butt, leg to strip",
    SpliceKind.LEG_TO_LEG: "butt, leg to leg",
    SpliceKind.PIECE: "butt, strip to strip",
    SpliceKind.CLOSURE: "butt, closes a ring",
    SpliceKind.TRANSITION: "butt, change of profile or lay",
}
