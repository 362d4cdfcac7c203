"""The crews' days as iCalendar and CSV."""

import csv
from datetime import date
from io import StringIO

import icalendar
import pytest

from splicewright.extract.errors import OutputError
from splicewright.schedule.agenda import to_csv, to_ics

DATED = """
[calendar]
start = 2026-03-06
holidays = [2026-03-10]

[[pours]]
name = "first"
day = 2026-03-12
x = "0 m to 15 m"

[[pours]]
name = "=second"
day = 2026-03-20
"""
# Friday 6 March, Monday 9, Wednesday 11: one splice of 300 min a day.
SLOW = {"crew.minutes.butt": "300 min"}


@pytest.fixture(scope="module")
def schedule(schedule_of):
    return schedule_of([(0, 0), (35, 0)], more=DATED, options=SLOW)


@pytest.mark.outside(
    what="crew days and pours in the calendar",
    against="icalendar, reading it back",
    result="dates and names as planned",
)
def test_every_crew_day_and_pour_is_an_event(schedule):
    """Days skip weekend and holiday; pours stand on their own days; nothing depends on the hour of writing."""
    calendar = icalendar.Calendar.from_ical(to_ics(schedule))
    events = [(event.decoded("dtstart"), str(event["summary"])) for event in calendar.walk("VEVENT")]

    assert [
        (date(2026, 3, 6), "test: crew 1, 1 splice"),
        (date(2026, 3, 9), "test: crew 1, 1 splice"),
        (date(2026, 3, 11), "test: crew 1, 1 splice"),
        (date(2026, 3, 12), "test: first"),
        (date(2026, 3, 20), "test: =second"),
    ] == events
    assert len({str(event["uid"]) for event in calendar.walk("VEVENT")}) == len(events)
    assert to_ics(schedule) == to_ics(schedule)


def test_pours_are_tasks_that_follow_one_another(schedule):
    """Start, finish, duration in working days, predecessor and deadline; a name is no formula."""
    rows = list(csv.DictReader(StringIO(to_csv(schedule).decode("utf-8-sig"))))

    assert [("2026-03-06", "2026-03-06", "1", ""), ("2026-03-09", "2026-03-11", "2", "1")] == [
        (row["Start"], row["Finish"], row["Duration [days]"], row["Predecessors"]) for row in rows
    ]
    assert ["2026-03-12", "2026-03-20"] == [row["Deadline"] for row in rows]
    assert ["Weld waterstop, first", "Weld waterstop, =second"] == [row["Name"] for row in rows]


def test_a_task_that_starts_on_the_day_the_one_before_ends_has_no_predecessor(schedule_of):
    """A link from finish to start would move it on a day: all splices of both pours are made on one day here."""
    schedule = schedule_of([(0, 0), (35, 0)], more=DATED)
    rows = list(csv.DictReader(StringIO(to_csv(schedule).decode("utf-8-sig"))))

    assert [("2026-03-06", "2026-03-06", "")] * 2 == [
        (row["Start"], row["Finish"], row["Predecessors"]) for row in rows
    ]


@pytest.mark.parametrize("write", [to_ics, to_csv])
def test_without_a_start_there_are_no_dates_to_write(schedule_of, write):
    """The sentence names the rule that gives the start."""
    with pytest.raises(OutputError, match=r"^a calendar needs dates; give calendar\.start in the rules file"):
        write(schedule_of([(0, 0), (35, 0)]))
