"""Crew: the days of the welding crews."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from splicewright.extract.errors import RulesError

from .rules import Rules

__all__ = ["CrewDay", "CrewPlan", "Shift", "plan_crews", "plan_shifts"]

_SLACK_MIN = 1e-6
"""A day that is full to the minute is not over-full by rounding [min]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewDay:
    """One day of one crew.

    Attributes
    ----------
    crew, day : int
        Crew and its working day, from 1.
    people : int
        People in the crew that day.
    splices : tuple of str
        Marks of the field splices made, in order.
    warm_up_min, sample_weld_min, splice_min, cool_down_min, idle_min : float
        How the day is spent [min]; the cool-down is unattended.
    """

    crew: int
    day: int
    people: int
    splices: tuple[str, ...]
    warm_up_min: float
    sample_weld_min: float
    splice_min: float
    cool_down_min: float
    idle_min: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewPlan:
    """All days of all crews.

    Attributes
    ----------
    crews : int
        Number of crews.
    people : int
        People in one crew: the most that any of its profiles needs, since the same people stay for the whole job.
    days : tuple of CrewDay
        By day, then crew.
    sample_welds : int
        Destructive sample welds, one a crew and day.
    """

    crews: int
    people: int
    days: tuple[CrewDay, ...]
    sample_welds: int

    @property
    def crew_days(self) -> int:
        """Days worked, summed over crews."""
        return len(self.days)

    @property
    def working_days(self) -> int:
        """Days until the last crew is done."""
        return max((day.day for day in self.days), default=0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """What one crew welds in one day: splices one after the other in the order they are made.

    Attributes
    ----------
    crew, day : int
        From 1.
    first, stop : int
        Positions of its first splice and of the one after its last.
    minutes : float
        Time they take [min].
    """

    crew: int
    day: int
    first: int
    stop: int
    minutes: float


def plan_shifts(minutes: Sequence[float], rules: Rules) -> list[Shift]:
    """Fill days with splices in their order, never splitting one over two days.

    With several crews each day's first crew takes what fits into its day, the next goes on from there.

    Parameters
    ----------
    minutes : sequence of float
        Time of each splice [min], in the order they are made.
    rules : Rules
        Shift, warm-up, sample weld and number of crews.

    Returns
    -------
    list of Shift
        By day, then crew; empty without splices.

    Raises
    ------
    RulesError
        A splice takes longer than a day leaves for it.
    """
    welding_min = rules.crew.welding_min
    if minutes and max(minutes) > welding_min + _SLACK_MIN:
        raise RulesError(
            f"crew.shift: a splice of {max(minutes):g} min does not fit into the {max(welding_min, 0):g} min that a "
            f"shift of {rules.crew.shift_min:g} min leaves for welding; lengthen crew.shift or shorten crew.minutes"
        )
    shifts: list[Shift] = []
    first, spent = 0, 0.0
    for i, needed in enumerate(minutes):
        if spent + needed > welding_min + _SLACK_MIN:
            shifts.append(_shift(len(shifts), first, i, spent, rules.crew.crews))
            first, spent = i, 0.0
        spent += needed
    if minutes:
        shifts.append(_shift(len(shifts), first, len(minutes), spent, rules.crew.crews))
    return shifts


def plan_crews(shifts: Sequence[Shift], marks: Sequence[str], profiles: Iterable[str], rules: Rules) -> CrewPlan:
    """Lay out the days of all crews.

    Parameters
    ----------
    shifts : sequence of Shift
        What is welded when.
    marks : sequence of str
        Marks of the splices, in the order they are made.
    profiles : iterable of str
        Profiles of the job; the one that needs the most people sets the size of the crews.
    rules : Rules
        How a day goes.

    Returns
    -------
    CrewPlan
    """
    crew = rules.crew
    people = max((rules.profiles[name].people for name in profiles), default=crew.people)
    days = tuple(
        CrewDay(
            crew=shift.crew,
            day=shift.day,
            people=people,
            splices=tuple(marks[shift.first : shift.stop]),
            warm_up_min=crew.warm_up_min,
            sample_weld_min=crew.sample_weld_min,
            splice_min=shift.minutes,
            cool_down_min=crew.cool_down_min,
            idle_min=max(0.0, crew.welding_min - shift.minutes),
        )
        for shift in shifts
    )
    return CrewPlan(crews=crew.crews, people=people, days=days, sample_welds=len(days))


def _shift(number: int, first: int, stop: int, minutes: float, crews: int) -> Shift:
    return Shift(crew=number % crews + 1, day=number // crews + 1, first=first, stop=stop, minutes=minutes)
