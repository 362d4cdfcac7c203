"""Shares: what of a schedule belongs to a drawing, and what lies where along its runs."""

import numpy as np
import pytest

from splicewright.schedule.mark_list import mark_lists
from splicewright.schedule.share import cut_out, share_of


def parts_of(schedule):
    return [
        (part.run.mark, round(part.from_m, 4), round(part.to_m, 4), part.copy and part.copy.fitting.mark, part.piece)
        for part in share_of(schedule, 0).parts()
    ]


def test_runs_part_into_legs_and_pieces(schedule_of):
    """
    An ell of 8 m and 25 m with legs of 600 mm and rolls of 10 m: legs, one piece, and three pieces.

        +----------- 25 m
        | 8 m
    """
    found = parts_of(schedule_of([(0, 8), (0, 0), (25, 0)]))
    legs = [part for part in found if part[3]]
    lengths = {}
    for run, low, high, _, piece in found:
        if piece:
            lengths.setdefault(run, []).append(high - low)

    assert [0.6, 0.6] == sorted(round(high - low, 4) for _, low, high, _, _ in legs)
    assert {1, 3} == {len(pieces) for pieces in lengths.values()}
    assert sorted([7.4, 24.4]) == sorted(round(sum(pieces), 3) for pieces in lengths.values())


def test_parts_cover_every_run(schedule_of):
    """Parts of a run follow on one another from its start to its end, whatever becomes of it."""
    schedule = schedule_of([(0, 0), (30, 0)], [(12, 0), (12, 9)], [(12.9, 0), (12.9, 5)], [(0, 0), (0, 0.3)])
    parts = parts_of(schedule)
    for run in schedule.runs:
        own = [(low, high) for mark, low, high, _, _ in parts if mark == run.mark]

        assert own[0][0] == 0.0
        assert own[-1][1] == pytest.approx(run.length_m, abs=1e-4)
        assert [high for _, high in own[:-1]] == [low for low, _ in own[1:]]


def test_short_runs_lie_inside_their_fitting(schedule_of):
    """
    Two stems 0.9 m apart are one fitting: the run between them is part of it whole.

        --+--+--
          |  |
    """
    schedule = schedule_of([(0, 0), (20, 0)], [(10, 0), (10, 5)], [(10.9, 0), (10.9, 5)])
    inner = [part for part in parts_of(schedule) if part[2] == pytest.approx(0.9) and part[1] == 0]

    assert [("F1", None)] == [part[3:] for part in inner]


def test_parts_are_cut_out_along_bends(schedule_of, arc):
    """A leg along a bend of 10 m radius is as long as it is along the run."""
    schedule = schedule_of(arc((0, 0), 10, 0, 90), [(10, 0), (10, -5)], [(10, 0), (15, 0)])
    legs = [part for part in share_of(schedule, 0).parts() if part.copy]

    assert [0.6, 0.6, 0.6] == pytest.approx(
        [float(np.linalg.norm(np.diff(cut_out(leg), axis=0), axis=1).sum()) for leg in legs], abs=1e-3
    )


def test_marks_are_listed_by_entity(schedule_of):
    """
    A run drawn as two lines: its leg is on the one at the tee, its pieces on those they lie along.

        +-----+-----+     two LINEs of 10 m end to end, a stem at the left end
        |
    """
    schedule = schedule_of([(-10, 0), (0, 0)], [(0, 0), (14, 0)], [(14, 0), (28, 0)], [(0, 0), (0, -5)])
    lists = {source.entity: dict(marks.values()) for source, marks in mark_lists(share_of(schedule, 0)).items()}

    assert "Fittings" in lists["LINE 2"]
    assert "Fittings" not in lists["LINE 3"]
    assert lists["LINE 2"]["Runs"] == lists["LINE 3"]["Runs"]
