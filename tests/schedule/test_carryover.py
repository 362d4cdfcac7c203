"""Entries of an earlier log on the lines of a new one: by place, kind and profile, whatever the marks are."""

import re

import pytest

from splicewright.extract.finding import Severity
from splicewright.schedule.carryover import EarlierLog, EarlierRow, Typed, carry
from splicewright.schedule.log_form import HEADING, SAMPLE_WELD, LogKey
from splicewright.schedule.plan import carry_over

TOLERANCE_M = 0.005


def row(key, *, where="row 9", own=(), **typed):
    """A line of an earlier log in which something was filled in."""
    return EarlierRow(
        where=where,
        key=key,
        own={title: Typed(value=value) for title, value in dict(own).items()},
        typed={title: Typed(value=value) for title, value in typed.items()},
    )


def earlier(schedule, **results):
    """The earlier log of a schedule, with results typed on lines by their marks."""
    keys = {entry.mark: entry.key for entry in schedule.log}
    return EarlierLog(file="old.xlsx", rows=tuple(row(keys[mark], Result=said) for mark, said in results.items()))


def results(carried):
    return {mark: entry.typed["Result"].value for mark, entry in carried.entries.items()}


def places(schedule):
    return {splice.mark: splice.at_m for splice in schedule.splices}


@pytest.fixture(scope="module")
def ell(schedule_of):
    """
    An ell, 5 m each way: sample weld W1-1, butts S1 and S2, seam S3.

        ------+
              |
    """
    return schedule_of([(0, 0), (5, 0), (5, -5)])


def test_the_same_schedule_takes_every_entry(ell):
    """A run on the same drawing puts every entry back where it was, without a word of changed marks."""
    typed = {entry.mark: f"said of {entry.mark}" for entry in ell.log}
    carried = carry(earlier(ell, **typed), ell.log, tolerance_m=TOLERANCE_M)

    assert typed == results(carried)
    assert () == carried.left
    assert {""} == {entry.earlier for entry in carried.entries.values()}
    assert ["entry-carried"] == [finding.code for finding in carried.findings]


def test_entries_follow_their_splices_to_new_marks(ell, schedule_of):
    """
    A line drawn elsewhere makes S1 and S2 of the ell other marks; each entry stays at its place.

          |
        --+       ------+      the new ell lies lower, so it is welded first
                        |
    """
    new = schedule_of([(0, 0), (5, 0), (5, -5)], [(-9, -20, -3), (-5, -20, -3), (-5, -16, -3)])
    old_at, new_at = places(ell), places(new)
    carried = carry_over(new, earlier(ell, S1="accepted", S2="rejected", S3="accepted")).carried

    assert {"S1": "accepted", "S2": "rejected", "S3": "accepted"} != results(carried)
    assert {old_at["S1"]: "accepted", old_at["S2"]: "rejected", old_at["S3"]: "accepted"} == {
        new_at[mark]: said for mark, said in results(carried).items()
    }
    assert ["S1", "S2", "S3"] == sorted(entry.earlier for entry in carried.entries.values())
    assert all(f"S{n} is now S" in carried.findings[0].message for n in (1, 2, 3))


@pytest.mark.parametrize(
    ("courses", "options"),
    [
        ([[(0, 0), (5.02, 0), (5.02, -5)]], None),  # moved by 20 mm
        ([[(0, 0), (5, 0)]], None),  # the corner is gone
        ([[(0, 0), (5, 0), (5, -5)]], {"drawing.profile": "bulb"}),  # of another profile
        ([[(0, 0), (5, 0), (5, -5)]], {"fittings.policy": "field"}),  # the seam is made on site, the butts are gone
    ],
)
def test_what_has_moved_or_changed_is_left_over(ell, schedule_of, courses, options):
    """A splice that moves, goes, or changes its kind or profile keeps no entry, which is left over and told."""
    profile = {"profile": None} if options and "drawing.profile" in options else {}
    new = carry_over(schedule_of(*courses, options=options, **profile), earlier(ell, S2="accepted", S3="rejected"))
    told = [finding for finding in new.findings if finding.code == "entry-left-over"]

    assert {} == dict(new.carried.entries)
    assert ["accepted", "rejected"] == [one.typed["Result"].value for group in new.carried.left for one in group.rows]
    assert {entry.key.at_m for entry in ell.log if entry.mark in {"S2", "S3"}} == {finding.at_m for finding in told}
    assert {Severity.WARNING} == {finding.severity for finding in told}
    assert any("S3" in finding.message and "rejected" in finding.message for finding in told)


def test_within_the_tolerance_a_place_is_the_same(ell, schedule_of):
    """A drawing redrawn 3 mm off keeps its entries at a tolerance of 5 mm, and loses them at 1 mm."""
    new = schedule_of([(0, 0), (5.003, 0), (5.003, -5)])
    log = earlier(ell, S1="accepted", S2="accepted", S3="accepted")

    assert 3 == len(carry(log, new.log, tolerance_m=0.005).entries)
    assert 0 == len(carry(log, new.log, tolerance_m=0.001).entries)


def test_seams_at_one_node_are_told_apart(schedule_of):
    """
    A cross has four seams at one place; each keeps its own entry. Where it becomes a tee, their entries are left over.

           |                  |
        ---+---    then    ---+
           |                  |
    """
    arms = [[(-5, 0), (0, 0)], [(0, 0), (0, 5)], [(0, 0), (0, -5)], [(0, 0), (5, 0)]]
    cross, tee = schedule_of(*arms), schedule_of(*arms[:3])
    seams = [splice.mark for splice in cross.splices if splice.kind.value == "seam"]
    log = earlier(cross, **{mark: f"said of {mark}" for mark in seams})

    assert 4 == len(seams)
    assert {mark: f"said of {mark}" for mark in seams} == results(carry(log, cross.log, tolerance_m=TOLERANCE_M))
    assert 4 == sum(len(group.rows) for group in carry(log, tee.log, tolerance_m=TOLERANCE_M).left)


def test_of_two_splices_close_together_each_keeps_its_mark(ell):
    """Two alike splices within the tolerance: an entry goes to the one with its mark though the other is nearer."""
    (one,) = (entry for entry in ell.log if entry.mark == "S1")
    x, y, z = one.key.at_m
    twin = LogKey.of_splice("S9", one.key.kind, (x + 0.003, y, z), one.key.profile)
    typed = LogKey.of_splice("S9", one.key.kind, (x + 0.001, y, z), one.key.profile)
    log = EarlierLog(file="old.xlsx", rows=(row(typed, Result="accepted"),))
    entries = [*ell.log, type(one)(mark="S9", what="", crew=1, day=1, key=twin)]

    assert {"S9": "accepted"} == results(carry(log, entries, tolerance_m=TOLERANCE_M))


def test_a_second_line_for_a_splice_is_left_over(ell):
    """A copied line with another result is kept beside the first; one with the same entries adds nothing."""
    key = next(entry.key for entry in ell.log if entry.mark == "S1")
    rows = (row(key, Result="rejected"), row(key, Result="rejected"), row(key, Result="made again", where="row 10"))
    carried = carry(EarlierLog(file="old.xlsx", rows=rows), ell.log, tolerance_m=TOLERANCE_M)

    assert {"S1": "rejected"} == results(carried)
    assert [["made again"]] == [[one.typed["Result"].value for one in group.rows] for group in carried.left]
    assert "S1 in row 10" in carried.findings[-1].message


def test_days_that_are_gone_and_lines_by_hand_are_left_over(ell):
    """The sample weld of a ninth day, a heading of it and a line without a key have no place; the first day's have."""
    rows = (
        row(LogKey(mark="W1-9", kind=SAMPLE_WELD), Result="accepted"),
        row(LogKey(mark="D1-9", kind=HEADING), Remarks="rain"),
        row(LogKey(mark="D1-1", kind=HEADING), Remarks="sun"),
        row(None, own={"Mark": "drain"}, where="row 30", Result="accepted"),
    )
    carried = carry(EarlierLog(file="old.xlsx", rows=rows), ell.log, tolerance_m=TOLERANCE_M)

    assert ["D1-1"] == list(carried.entries)
    assert [2, 1] == [len(group.rows) for group in carried.left]
    assert any("row 30" in finding.message for finding in carried.findings)


def test_marks_of_several_runs_are_kept(ell):
    """A line that told an earlier mark tells it again, with the one it had in between."""
    one = next(entry for entry in ell.log if entry.mark == "S1")
    key = LogKey.of_splice("S7", one.key.kind, one.key.at_m, one.key.profile)
    log = EarlierLog(file="old.xlsx", rows=(row(key, own={"Earlier marks": "S4"}, Result="accepted"),))

    assert "S4, S7" == carry(log, ell.log, tolerance_m=TOLERANCE_M).entries["S1"].earlier


def test_many_left_over_entries_make_one_finding(ell):
    """A thousand splices that are gone do not bury the other findings; they are counted, the first ones named."""
    keys = [LogKey.of_splice(f"S{n}", "field leg", (float(n), 99.0, 0.0), "ribbed") for n in range(1, 1001)]
    log = EarlierLog(file="old.xlsx", rows=tuple(row(key, Result="accepted") for key in keys))
    (told,) = carry(log, ell.log, tolerance_m=TOLERANCE_M).findings

    assert told.message.startswith("1,000 lines of the inspection log of old.xlsx")
    assert re.search(r"S1 in row 9, .* and 988 more", told.message)


def test_findings_stay_ranked(ell):
    """What the carryover tells stands among the other findings by severity."""
    made = carry_over(ell, earlier(ell, S1="accepted"))
    order = ["error", "warning", "note"]
    ranks = [order.index(finding.severity.value) for finding in made.findings]

    assert sorted(ranks) == ranks
    assert "entry-carried" in {finding.code for finding in made.findings}
