"""Clusters: windows that a flat sheet proposes for its views."""

from pathlib import Path

import numpy as np
import pytest

from splicewright.extract.cluster import propose_windows
from splicewright.extract.sheet_part import SheetText
from splicewright.extract.survey import survey

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"


def text(words, at, height=1.0):
    return SheetText(text=words, at_m=np.array([*at, 0.0]), height_m=height)


@pytest.fixture
def sheet(line):
    """
    Two views in a frame, a note of one line beside them, no waterstop in it.

        +------------------------------------+
        |  +-----+      +-----+              |
        |  |  A  |      |  B  |      ====    |     A (10, 10) to (40, 40), B (60, 10) to (90, 40)
        |  +-----+      +-----+              |     frame 0 to 200, note at x = 150
        +------------------------------------+
    """
    squares = [
        line([(x, y), (x + w, y), (x + w, y + w), (x, y + w), (x, y)])
        for x, y, w in ((0, 0, 200), (10, 10, 30), (60, 10, 30))
    ]
    return [*squares, line([(150, 20), (170, 20)]), line([(12, 15), (38, 15)]), line([(62, 20), (88, 20)])]


def test_views_are_told_apart_by_white_space(sheet):
    """What stands apart is a window with a margin; frames and notes without waterstop are none."""
    usual = [False, False, False, False, True, True]
    found = propose_windows(sheet, usual, [text("PLAN 1:50", (25, 6)), text("West wall, from INSIDE", (75, 6))])

    assert [("PLAN", "plan", "1:50", ""), ("West wall, from INSIDE", "elevation", "", "inside")] == [
        (one.title, one.kind, one.scale, one.seen_from) for one in found
    ]
    assert [(9.0, 9.0, 32.0, 32.0), (59.0, 9.0, 32.0, 32.0)] == [one.window for one in found]
    assert [(12.0, 15.0), (62.0, 20.0)] == [one.foot for one in found]


def test_the_tallest_text_is_the_title(sheet):
    """Of several texts at a view the tallest names it, wherever it stands."""
    texts = [text("drain", (20, 20)), text("Base", (25, 6), 3.0), text("see note", (25, 4))]

    assert "Base" == propose_windows(sheet, [True] * 6, texts)[0].title


def test_what_has_heights_is_no_sheet(sheet, line):
    """A drawing in space proposes no windows."""
    assert () == propose_windows([*sheet, line([(0, 0, 0), (0, 0, 3)])], [True] * 7, [])


def test_one_cluster_is_no_set(line):
    """A drawing without white space through it proposes no windows, nor does an empty one."""
    assert () == propose_windows([line([(0, 0), (9, 0)]), line([(9, 0), (9, 9)])], [True, True], [])
    assert () == propose_windows([], [], [])


def test_the_basins_sheet_proposes_its_views():
    """The survey of the settling basin's set finds its six views with their kinds and scales."""
    found = survey(BASIN / "settling-basin-sheet.dxf").windows

    assert [
        ("PLAN OF JOINTS", "plan", "1:50", ""),
        ("SUMP WALL UNROLLED, SEEN FROM INSIDE", "developed elevation", "1:20", "inside"),
        ("NORTH WALL, SEEN FROM INSIDE", "elevation", "1:50", "inside"),
        ("SOUTH WALL, SEEN FROM OUTSIDE", "elevation", "1:50", "outside"),
        ("EAST WALL, SEEN FROM OUTSIDE", "elevation", "1:50", "outside"),
        ("WEST WALL, SEEN FROM INSIDE", "elevation", "1:50", "inside"),
    ] == [(one.title, one.kind, one.scale, one.seen_from) for one in found]
    assert () == survey(BASIN / "settling-basin.dxf").windows
