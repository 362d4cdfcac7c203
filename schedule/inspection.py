"""Inspection: when to reject a splice, and the log to fill in."""

from dataclasses import dataclass

__all__ = ["LogEntry"]


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
