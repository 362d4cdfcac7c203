"""The inspection log."""


def test_the_log_holds_sample_welds_field_splices_and_seams(schedule_of):
    """
    An ell: the day's sample weld, its two butts, then the seam that came from the factory.

        ------+
              |
    """
    schedule = schedule_of([(0, 0), (5, 0), (5, -5)])

    assert [
        ("W1-1", "sample weld, destructive", 1, 1),
        ("S1", "butt, leg to strip", 1, 1),
        ("S2", "butt, leg to strip", 1, 1),
        ("S3", "factory seam, on delivery", None, None),
    ] == [(entry.mark, entry.what, entry.crew, entry.day) for entry in schedule.log]


def test_every_crew_and_day_starts_with_its_sample_weld(schedule_of):
    """Of two crews that need three shifts for their splices of 30 min each starts its day with a sample weld."""
    courses = [[(0, y), (15, y)] for y in range(30)]
    schedule = schedule_of(*courses, options={"crew.crews": 2})
    marks = [entry.mark for entry in schedule.log]

    assert ["W1-1", "W2-1", "W1-2"] == [mark for mark in marks if mark.startswith("W")]
    assert (0, 14, 28) == (marks.index("W1-1"), marks.index("W2-1"), marks.index("W1-2"))


def test_every_splice_is_in_the_log_once(schedule_of):
    """Nothing welded goes unseen."""
    schedule = schedule_of([(0, 0), (50, 0)], [(25, -9), (25, 9)], [(10, 0), (10, -5)])
    logged = [entry.mark for entry in schedule.log if entry.mark.startswith("S")]

    assert [splice.mark for splice in schedule.splices] == logged
