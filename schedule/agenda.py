"""Agenda: the crews' days for calendars (iCalendar) and for planning programs (CSV)."""

import csv
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from io import StringIO

from splicewright.extract.errors import OutputError

from .crew import CrewDay, ZoneDays
from .measure import count_text, marks_text
from .plan import Schedule

__all__ = ["to_csv", "to_ics"]

_HEAD = ("ID", "Name", "Start", "Finish", "Duration [days]", "Predecessors", "Resources", "Deadline", "Notes")


def to_ics(schedule: Schedule) -> bytes:
    """Write every day of every crew, and every pour, as an all-day event.

    The same schedule gives the same bytes: no event bears the hour of writing.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    bytes
        iCalendar, UTF-8.

    Raises
    ------
    OutputError
        The job has no start date.

    References
    ----------
    RFC 5545, Internet Calendaring and Scheduling Core Object Specification, 2009.
    """
    from icalendar import Calendar, Event  # noqa: PLC0415 (only where a calendar is written)

    _refuse_undated(schedule)
    calendar = Calendar()
    calendar.add("prodid", "-//Splicewright//Fabrication schedule//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", schedule.job)
    for uid, on, title, text in _events(schedule):
        event = Event()
        event.add("uid", uid)
        event.add("dtstamp", datetime(on.year, on.month, on.day, tzinfo=UTC))
        event.add("dtstart", on)
        event.add("dtend", on + timedelta(days=1))
        event.add("summary", title)
        event.add("description", text)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def to_csv(schedule: Schedule) -> bytes:
    """Write the pours or storeys as tasks one after the other, for planning programs.

    Dates are ISO 8601; a task's predecessor is the ID of the task before it, where that is done on an earlier day: a
    task that starts on the day the other ends would be moved by a program that lets it start after.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    bytes
        CSV with a heading row, UTF-8 with its mark, commas, lines ended as RFC 4180 asks.

    Raises
    ------
    OutputError
        The job has no start date.
    """
    _refuse_undated(schedule)
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(_HEAD)
    done = [0, *(zone.finish_day for zone in schedule.crew.zones)]
    for number, zone in enumerate(schedule.crew.zones, 1):
        follows = number > 1 and done[number - 1] < zone.start_day
        writer.writerow([_plain(value) for value in _task(number, zone, schedule, follows=follows)])
    return out.getvalue().encode("utf-8-sig")


def _task(number: int, zone: ZoneDays, schedule: Schedule, *, follows: bool) -> tuple[object, ...]:
    crew = schedule.crew
    spare = "" if zone.float_days is None else f"; float {zone.float_days} working days"
    return (
        number,
        f"Weld waterstop, {zone.name}",
        zone.start,
        zone.finish,
        zone.finish_day - zone.start_day + 1,
        number - 1 if follows else "",
        f"{count_text(crew.crews, 'welding crew')} of {crew.people}",
        zone.pour_date or "",
        f"{count_text(zone.splices, 'splice')}, {zone.minutes:.0f} min{spare}",
    )


def _events(schedule: Schedule) -> Iterator[tuple[str, date, str, str]]:
    for day in schedule.crew.days:
        if day.on is not None:
            title = f"{schedule.job}: crew {day.crew}, {count_text(len(day.splices), 'splice')}"
            yield f"{_name(schedule)}-c{day.crew}-d{day.day}@splicewright", day.on, title, _day_text(day)
    for number, zone in enumerate(schedule.crew.zones, 1):
        if zone.pour_date is not None:
            text = f"{count_text(zone.splices, 'splice')} are done by working day {zone.finish_day}"
            yield f"{_name(schedule)}-p{number}@splicewright", zone.pour_date, f"{schedule.job}: {zone.name}", text


def _day_text(day: CrewDay) -> str:
    return (
        f"Working day {day.day}, {count_text(day.people, 'person', 'people')}: {', '.join(day.zones)}. "
        f"Sample weld first, then {marks_text(day.splices)}."
    )


def _name(schedule: Schedule) -> str:
    return "".join(sign if sign.isalnum() and sign.isascii() else "-" for sign in schedule.job)


def _plain(value: object) -> object:
    """Keep a spreadsheet from taking a name for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in {"=", "+", "-", "@"} else value


def _refuse_undated(schedule: Schedule) -> None:
    if any(day.on is None for day in schedule.crew.days):
        raise OutputError("a calendar needs dates; give calendar.start in the rules file, such as 2026-03-02")
