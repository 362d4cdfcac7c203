"""Almanac: which days are worked, and which date a working day has."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

__all__ = ["Almanac"]

_LONGEST_BREAK = 3700
"""Days without work in a row after which nobody works at all: some ten years."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Almanac:
    """The working days of a job.

    Attributes
    ----------
    start : date
        Day on which work starts at the earliest.
    weekdays : frozenset of int
        Days of the week that are worked, Monday 0 to Sunday 6.
    holidays : frozenset of date
        Days that are not.
    """

    start: date
    weekdays: frozenset[int]
    holidays: frozenset[date]

    def dates(self) -> Iterator[date]:
        """Yield the working days from the start on; ends after ten years without one.

        Examples
        --------
        >>> week = Almanac(start=date(2026, 3, 6), weekdays=frozenset(range(5)), holidays=frozenset())
        >>> [str(day) for _, day in zip(range(2), week.dates())]
        ['2026-03-06', '2026-03-09']
        """
        day, idle = self.start, 0
        while idle < _LONGEST_BREAK:
            if self.works(day):
                yield day
                idle = 0
            else:
                idle += 1
            if day == date.max:
                return
            day += timedelta(days=1)

    def works(self, day: date) -> bool:
        """Tell whether a day is worked."""
        return day.weekday() in self.weekdays and day not in self.holidays

    def dates_of(self, count: int) -> list[date]:
        """Return the first working days, as many as there are up to a count."""
        return [day for _, day in zip(range(count), self.dates(), strict=False)]

    def days_before(self, day: date, *, ahead: int) -> int:
        """Count the working days on which work for a pour can be done.

        Parameters
        ----------
        day : date
            Day of the pour.
        ahead : int
            Working days before it by which the work is done; 0 for the day itself.

        Returns
        -------
        int
            Number of the last such working day, from 1; 0 or less where there is none.
        """
        works = self.works(day)
        early = day < self.start
        passed = -self._count(day, self.start) if early else self._count(self.start, day)
        return passed + works - ahead + (not works and ahead > 0)

    def _count(self, first: date, stop: date) -> int:
        return sum(self.works(first + timedelta(days=n)) for n in range((stop - first).days))
