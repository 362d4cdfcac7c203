"""Strands: pieces of strip followed from end to end through the nodes of an assembly."""

import pytest

from splicewright.schedule.assembly import gather
from splicewright.schedule.strand import strands_of
from splicewright.schedule.stretch import lay_out


@pytest.fixture
def strands(build, drawing_of, rules):
    """Follow the strands of the only assembly of a drawing."""

    def follow(*courses, **carried):
        layout = lay_out([build(drawing_of(*courses, **{"joint": "slab", **carried}))], rules)
        (assembly,) = gather(layout, rules)
        return strands_of(assembly)

    return follow


def test_a_leg_is_a_strand_with_one_node(strands):
    """Each leg of an ell starts at its square end and comes to the node."""
    found = strands([(-9, 0), (0, 0), (0, 9)])

    assert [(0.6, True, False), (0.6, True, False)] == [(s.length_m, s.left_free, s.right_free) for s in found]
    assert [(0.6, False, False)] * 2 == [(v.at_m, v.onward, v.through) for s in found for v in s.visits]


def test_a_through_piece_is_one_strand_over_two_tees(strands):
    """
    Two tees 1 m apart: the whole piece passes both, 0.6 + 1 + 0.6 m long.

        ---+---+---
           |   |
    """
    through = strands([(-9, 0), (9, 0)], [(0, 0), (0, -9)], [(1, 0), (1, -9)])[0]

    assert pytest.approx(2.2) == through.length_m
    assert [0.6, 0.6, 1.6, 1.6] == pytest.approx([visit.at_m for visit in through.visits])
    assert [False, True, False, True] == [visit.onward for visit in through.visits]
    assert all(visit.through for visit in through.visits)


def test_a_strand_between_two_ells_is_free_at_neither_end(strands):
    """The piece between two ells begins at one node and ends at the other."""
    found = strands([(-9, 0), (0, 0), (0, 0.8), (9, 0.8)])
    (between,) = [s for s in found if not s.left_free and not s.right_free]

    assert (pytest.approx(0.8), 2) == (between.length_m, len(between.visits))


def test_strands_have_the_length_of_the_assembly(strands, arc):
    """A short ring with a stem: the strands' lengths add up to ring and leg."""
    found = strands(arc((0, 0), 0.15, 0, 360), [(0.15, 0), (9, 0)])

    assert pytest.approx(2 * 3.14159265 * 0.15 + 0.6, abs=1e-4) == sum(s.length_m for s in found)


def test_the_width_is_carried_round_a_bend(strands):
    """
    A run of two ells whose strip bends by 12 degrees between them keeps one face up: neither visit is turned against
    the other by the bend.

        +--._
        |    +---
    """
    found = strands([(0, -9), (0, 0), (0.5, 0), (0.9, -0.085), (0.9, -9)])
    (between,) = [s for s in found if not s.left_free and not s.right_free]
    first, last = between.visits

    assert [True, False] == [first.onward, last.onward]
    assert first.turned != last.turned  # the level across of either end is drawn to the left of its own heading
