"""The picture of the network on the first page of the workbook."""

from dataclasses import replace
from io import BytesIO

import numpy as np
from PIL import Image

from splicewright.schedule.network_picture import network_picture

SLAB, SITE = (0xB5, 0x56, 0x2A), (0xE6, 0x9F, 0x00)


def dots(drawn, colour):
    """How many dots of a picture have a colour, or nearly so where edges are smoothed."""
    pixels = np.asarray(Image.open(BytesIO(drawn)).convert("RGB"), int)
    return int((np.abs(pixels - colour).max(axis=2) < 25).sum())


def test_lines_and_splices_are_drawn(schedule_of):
    """
    A slab joint is drawn in its colour, site splices as dots in theirs, open findings as rings.

    o---s---+---s---o     the left half of it as long as the right
            |
            o
    """
    made = schedule_of([(0, 0), (40, 0)], [(20, 0), (20, -15)])
    bare = network_picture(replace(made, splices=(), nodes=(), findings=()))

    assert 1000 < dots(bare, SLAB)
    assert 0 == dots(bare, SITE)
    assert 100 < dots(network_picture(made), SITE)


def test_the_same_schedule_gives_the_same_picture(schedule_of):
    """Nothing of the hour or of chance is in it."""
    made = schedule_of([(0, 0), (40, 0), (40, 30)])

    assert network_picture(made) == network_picture(made)


def test_without_runs_there_is_none(schedule_of):
    """Nothing to draw gives no picture, not an empty one."""
    made = replace(schedule_of([(0, 0), (40, 0)]), runs=())

    assert network_picture(made) is None


def test_a_single_upright_line_has_room(schedule_of):
    """A network without any width on the picture is drawn all the same."""
    made = schedule_of([(5, 5, 0), (5, 5, 12)])

    assert 500 < dots(network_picture(made), SLAB)
