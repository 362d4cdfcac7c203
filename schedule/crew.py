"""Crew: the days of the welding crews."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import accumulate

from splicewright.extract.finding import Finding, Severity

from .chance import Odds
from .day import even_out, refuse_long, split_days, ticks
from .placing import Placing
from .power import PowerPlan
from .rules import Rules
from .sequence import Course, Zone

__all__ = ["CrewChoice", "CrewDay", "CrewPlan", "Roster", "Shift", "ZoneDays", "plan_crews", "plan_shifts", "staff"]


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
    overlap_min : float
        Part of the warm-up that is used for cutting and laying out [min].
    move_min, cover_min : float
        Moving from splice to splice, and changing the iron's cover [min].
    walked_m, climbed_m : float
        Ways between the day's splices [m].
    zones : tuple of str
        Pours or storeys worked on.
    on : date or None
        Its date, None where no start is given.
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
    overlap_min: float = 0.0
    move_min: float = 0.0
    cover_min: float = 0.0
    walked_m: float = 0.0
    climbed_m: float = 0.0
    zones: tuple[str, ...] = ()
    on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewChoice:
    """What a number of crews would mean.

    Attributes
    ----------
    crews : int
    working_days : int
        Days until the last crew is done.
    shortfall_days : int
        Working days by which the worst date is missed, 0 where all are kept.
    """

    crews: int
    working_days: int
    shortfall_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneDays:
    """When the splices of one pour or storey are made.

    Attributes
    ----------
    name : str
    pour : bool
        Whether it is a pour.
    splices : int
    minutes : float
        Time of its splices [min].
    start_day, finish_day : int
        Working days on which its first and its last splice are made, from 1.
    start, finish : date or None
        The same as dates.
    pour_date : date or None
        Day of the pour.
    due_day : int or None
        Working day by which it must be done.
    float_days : int or None
        Working days by which it may slip without it or a later pour missing its date; less than 0 where one does.
    latest_start_day : int or None
        Working day on which it must be begun at the latest.
    latest_start : date or None
        The same as a date, None where it would be before the start.
    kept : float or None
        Share of the random draws in which its date is kept, 0 to 1.
    """

    name: str
    pour: bool
    splices: int
    minutes: float
    start_day: int
    finish_day: int
    start: date | None = None
    finish: date | None = None
    pour_date: date | None = None
    due_day: int | None = None
    float_days: int | None = None
    latest_start_day: int | None = None
    latest_start: date | None = None
    kept: float | None = None


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
    least_crew_days : int
        Crew-days that no order of the splices can go below: all minutes over the minutes a day leaves.
    least_crews : int or None
        Least number of crews that keeps all dates, None where no number does.
    choices : tuple of CrewChoice
        One crew, two, three…
    zones : tuple of ZoneDays
        Pours or storeys in the order they are made.
    odds : Odds or None
        How sure the days are.
    power : PowerPlan or None
        Irons, circuits, generator and power points.
    placing : tuple of Placing
        Labour to place and tie the strip, where it is counted.
    """

    crews: int
    people: int
    days: tuple[CrewDay, ...]
    sample_welds: int
    least_crew_days: int = 0
    least_crews: int | None = None
    choices: tuple[CrewChoice, ...] = ()
    zones: tuple[ZoneDays, ...] = ()
    odds: Odds | None = None
    power: PowerPlan | None = None
    placing: tuple[Placing, ...] = ()

    @property
    def crew_days(self) -> int:
        """Days worked, summed over crews."""
        return len(self.days)

    @property
    def working_days(self) -> int:
        """Days until the last crew is done."""
        return max((day.day for day in self.days), default=0)

    @property
    def walked_m(self) -> float:
        """Ways between splices, all days together [m]."""
        return sum(day.walked_m for day in self.days)


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
        Time they take [min], moves and covers not counted.
    """

    crew: int
    day: int
    first: int
    stop: int
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Roster:
    """Who is there when.

    Attributes
    ----------
    crews : int
        Crews at work.
    shifts : tuple of Shift
        By day, then crew.
    due : tuple of (int, int)
        Position of the last splice of every pour with a date, and the working day by which it must be made.
    least_crews : int or None
        Least number of crews that keeps all dates, None where no number does.
    choices : tuple of CrewChoice
        One crew, two, three…
    findings : tuple of Finding
        Dates that are missed.
    """

    crews: int
    shifts: tuple[Shift, ...]
    due: tuple[tuple[int, int], ...]
    least_crews: int | None
    choices: tuple[CrewChoice, ...]
    findings: tuple[Finding, ...]


def plan_shifts(
    minutes: Sequence[float],
    rules: Rules,
    *,
    crews: int = 1,
    move_min: Sequence[float] = (),
    cover_min: Sequence[float] = (),
    due: Sequence[tuple[int, int]] = (),
) -> list[Shift]:
    """Fill days with splices in their order, never splitting one over two days.

    With several crews each day's first crew takes what fits into its day, the next goes on from there.

    Parameters
    ----------
    minutes : sequence of float
        Time of each splice [min], in the order they are made.
    rules : Rules
        Shift, warm-up, sample weld, and whether days are evened out.
    crews : int
        Crews at work.
    move_min, cover_min : sequence of float
        Time to come to each splice from the one before it, and for a new cover before it [min]; empty for none.
    due : sequence of (int, int)
        Position of a splice and the working day by which it must be made; evening out keeps what can be kept.

    Returns
    -------
    list of Shift
        By day, then crew; empty without splices.

    Raises
    ------
    RulesError
        A splice takes longer than a day leaves for it.
    """
    needed, moves = _times(minutes, move_min, cover_min, rules)
    room = ticks(rules.crew.welding_min)
    starts = split_days(needed, moves, room)
    if rules.crew.evened:
        at_best = [(at, max(by * crews, sum(start <= at for start in starts))) for at, by in due]
        starts = even_out(needed, moves, room, at_best)
    stops = [*starts[1:], len(minutes)]
    return [
        Shift(
            crew=number % crews + 1,
            day=number // crews + 1,
            first=first,
            stop=stop,
            minutes=sum(minutes[first:stop]),
        )
        for number, (first, stop) in enumerate(zip(starts, stops, strict=False))
    ]


def _times(
    minutes: Sequence[float], move_min: Sequence[float], cover_min: Sequence[float], rules: Rules
) -> tuple[list[int], list[int]]:
    covers = cover_min or [0.0] * len(minutes)
    with_covers = [time + cover for time, cover in zip(minutes, covers, strict=True)]
    refuse_long(with_covers, rules)
    return [ticks(time) for time in with_covers], [ticks(time) for time in move_min] or [0] * len(minutes)


def staff(course: Course, rules: Rules) -> Roster:
    """Find the least number of crews that keeps the dates, and give each its days.

    A pour's splices are made by the working day that lies `sequence.ahead` before its own. Since every number of crews
    works through the same crew-days in the same order, only faster, the least number follows at once: as many as
    the crew-days until each date need on the days there are.

    Parameters
    ----------
    course : Course
        Splices in the order they are made.
    rules : Rules
        Crews, shift and calendar.

    Returns
    -------
    Roster

    Raises
    ------
    RulesError
        A splice takes longer than a day leaves for it.
    """
    minutes = [draft.minutes for draft in course.drafts]
    due = _due(course.zones, rules)
    needed, moves = _times(minutes, course.move_min, course.cover_min, rules)
    starts = split_days(needed, moves, ticks(rules.crew.welding_min))
    needs = [(sum(start <= at for start in starts), by) for at, by in due]
    possible = all(by > 0 for _, by in needs)
    least = max((-(-days // by) for days, by in needs), default=1) if possible else None
    most = rules.crew.most_crews
    crews = rules.crew.crews or (min(least, most) if least is not None else most)
    choices = tuple(
        CrewChoice(
            crews=count,
            working_days=-(-len(starts) // count),
            shortfall_days=max((max(0, -(-days // count) - by) for days, by in needs), default=0),
        )
        for count in range(1, max(crews, most) + 1)
    )
    shifts = plan_shifts(minutes, rules, crews=crews, move_min=course.move_min, cover_min=course.cover_min, due=due)
    return Roster(
        crews=crews,
        shifts=tuple(shifts),
        due=due,
        least_crews=least,
        choices=choices,
        findings=tuple(_missed(course.zones, needs, crews, least)),
    )


def plan_crews(
    roster: Roster,
    course: Course,
    profiles: Iterable[str],
    rules: Rules,
    *,
    odds: Odds | None = None,
    power: PowerPlan | None = None,
    placing: Sequence[Placing] = (),
) -> CrewPlan:
    """Lay out the days of all crews.

    Parameters
    ----------
    roster : Roster
        What is welded when.
    course : Course
        Splices in the order they are made; the first is marked S1, and so on.
    profiles : iterable of str
        Profiles of the job; the one that needs the most people sets the size of the crews.
    rules : Rules
        How a day goes.
    odds, power, placing
        As in `CrewPlan`.

    Returns
    -------
    CrewPlan
    """
    crew = rules.crew
    people = max((rules.profiles[name].people for name in profiles), default=crew.people)
    almanac = rules.almanac()
    days = max((shift.day for shift in roster.shifts), default=0)
    dates = almanac.dates_of(days) if almanac else []
    total = sum(ticks(draft.minutes) for draft in course.drafts) + sum(ticks(cover) for cover in course.cover_min)
    return CrewPlan(
        crews=roster.crews,
        people=people,
        days=tuple(_day(shift, course, people, rules, dates) for shift in roster.shifts),
        sample_welds=len(roster.shifts),
        least_crew_days=-(-total // (ticks(crew.welding_min) + 1000)) if total else 0,
        least_crews=roster.least_crews,
        choices=roster.choices,
        zones=tuple(_zone_days(roster, course, rules, dates, odds)),
        odds=odds,
        power=power,
        placing=tuple(placing),
    )


def _due(zones: Iterable[Zone], rules: Rules) -> tuple[tuple[int, int], ...]:
    almanac = rules.almanac()
    if almanac is None:
        return ()
    dated = ((zone.stop - 1, zone.day) for zone in zones if zone.day)
    return tuple((at, almanac.days_before(day, ahead=rules.sequence.ahead)) for at, day in dated)


def _missed(
    zones: Iterable[Zone], needs: Iterable[tuple[int, int]], crews: int, least: int | None
) -> Iterable[Finding]:
    dated = [zone for zone in zones if zone.day]
    for zone, (days, by) in zip(dated, needs, strict=False):
        late = -(-days // crews) - by
        if late <= 0:
            continue
        if by <= 0:
            remedy = "no number of crews can; start earlier or pour later"
        elif least is None:
            remedy = f"{-(-days // by)} crews would"
        else:
            remedy = f"{least} crews would keep every date"
        count = f"{crews} crew{'s' * (crews > 1)}"
        yield Finding(
            code="date-missed",
            severity=Severity.ERROR,
            message=(
                f"Pour {zone.name!r} on {zone.day} cannot be kept: {count} finish its splices "
                f"{late} working day{'s' * (late > 1)} too late; {remedy}."
            ),
        )


def _day(shift: Shift, course: Course, people: int, rules: Rules, dates: Sequence[date]) -> CrewDay:
    crew, inside = rules.crew, slice(shift.first + 1, shift.stop)
    move_min = sum(course.move_min[inside])
    cover_min = sum(course.cover_min[shift.first : shift.stop])
    return CrewDay(
        crew=shift.crew,
        day=shift.day,
        people=people,
        splices=tuple(f"S{number + 1}" for number in range(shift.first, shift.stop)),
        warm_up_min=crew.warm_up_min,
        sample_weld_min=crew.sample_weld_min,
        splice_min=shift.minutes,
        cool_down_min=crew.cool_down_min,
        idle_min=max(0.0, crew.welding_min - shift.minutes - move_min - cover_min),
        overlap_min=crew.overlap_min,
        move_min=move_min,
        cover_min=cover_min,
        walked_m=sum(course.walked_m[inside]),
        climbed_m=sum(course.climbed_m[inside]),
        zones=tuple(zone.name for zone in course.zones if zone.first < shift.stop and zone.stop > shift.first),
        on=dates[shift.day - 1] if dates else None,
    )


def _zone_days(
    roster: Roster, course: Course, rules: Rules, dates: Sequence[date], odds: Odds | None
) -> list[ZoneDays]:
    day_of = [shift.day for shift in roster.shifts for _ in range(shift.first, shift.stop)]
    due = dict(roster.due)
    kept = dict(zip(due, odds.kept, strict=True)) if odds else {}
    spans = [(day_of[zone.first], day_of[zone.stop - 1], due.get(zone.stop - 1)) for zone in course.zones]
    slack = [None if by is None else by - finish for _, finish, by in spans]
    floats = [*accumulate(reversed(slack), _less)][::-1]
    made = []
    for zone, (start, finish, by), spare in zip(course.zones, spans, floats, strict=True):
        latest = None if spare is None else start + spare
        row = ZoneDays(
            name=zone.name,
            pour=zone.pour,
            splices=zone.stop - zone.first,
            minutes=sum(draft.minutes for draft in course.drafts[zone.first : zone.stop]),
            start_day=start,
            finish_day=finish,
            pour_date=zone.day,
            due_day=by,
            float_days=spare,
            latest_start_day=latest,
            kept=kept.get(zone.stop - 1),
        )
        made.append(_dated(row, rules, dates))
    return made


def _dated(row: ZoneDays, rules: Rules, dates: Sequence[date]) -> ZoneDays:
    almanac = rules.almanac()
    if almanac is None:
        return row
    latest = row.latest_start_day
    date_of = almanac.dates_of(latest)[-1] if latest is not None and latest > 0 else None
    return replace(row, start=dates[row.start_day - 1], finish=dates[row.finish_day - 1], latest_start=date_of)


def _less(one: int | None, other: int | None) -> int | None:
    known = [value for value in (one, other) if value is not None]
    return min(known, default=None)
