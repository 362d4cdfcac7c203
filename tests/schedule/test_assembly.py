"""Assemblies: nodes gathered, and the pieces of strip they are made of."""

import pytest

from splicewright.schedule.assembly import gather, strand_letters
from splicewright.schedule.stretch import lay_out


@pytest.fixture
def gathered(drawing_of, build, rules_of):
    """Gather the assemblies of a drawing."""

    def make(*courses, options=None):
        rules = rules_of(options=options)
        return gather(lay_out([build(drawing_of(*courses))], rules), rules)

    return make


def test_short_runs_gather_nodes_and_long_runs_part_them(gathered):
    """
    Four tees on one line: two 1 m apart, then 5 m, then two 1 m apart.

        ---+-+-----+-+---
           | |     | |
    """
    stems = [[(x, 0), (x, -9)] for x in (0, 1, 6, 7)]

    assert [2, 2] == [len(a.junctions) for a in gathered([(-9, 0), (16, 0)], *stems)]


def test_a_run_through_an_assembly_is_one_piece_with_its_stems_beside_it(gathered):
    """
    Two tees 1 m apart: the through piece runs from leg to leg, each stem is a piece of its own.

        --A--+--A--+--A--
             B     C
    """
    (assembly,) = gathered([(-9, 0), (9, 0)], [(0, 0), (0, -9)], [(1, 0), (1, -9)])
    pieces = sorted(piece for arms in strand_letters(assembly) for piece in arms)

    assert [0, 0, 0, 0, 1, 2] == pieces


def test_strip_that_would_be_a_ring_is_cut_once(gathered, arc):
    """
    Two stems on a ring of 0.2 m radius: of the two through pieces one is cut, or the strip would be endless.

        ---(  )---
    """
    (assembly,) = gathered(arc((0, 0), 0.2, 0, 360), [(0.2, 0), (9, 0)], [(-0.2, 0), (-9, 0)])

    assert (2, 4, 1) == (len(assembly.junctions), assembly.seam_count - assembly.square_count, assembly.square_count)


def test_in_the_field_every_node_stands_alone_and_nothing_stays_whole(gathered):
    """Strips that run from node to node meet at a tee on two mitred seams and a square one."""
    assemblies = gathered([(-9, 0), (9, 0)], [(0, 0), (0, -9)], [(1, 0), (1, -9)], options={"fittings.policy": "field"})

    assert [(1, 3, 1), (1, 3, 1)] == [(len(a.junctions), a.seam_count, a.square_count) for a in assemblies]
