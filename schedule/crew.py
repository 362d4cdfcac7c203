"""Crew: the days of the welding crews."""

from dataclasses import dataclass

__all__ = ["CrewDay", "CrewPlan"]


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
