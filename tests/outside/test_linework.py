"""Networks whose counts have been published or follow from a formula."""

import math

import ezdxf
import numpy as np
import pytest

from splicewright.extract.dxf import read_dxf
from splicewright.extract.noding import cut_lines
from splicewright.extract.selection import Selection

# pgRouting manual, chapter "Sample Data": the 18 edges of the sample network, and its results for dead ends, isolated
# segments, gaps and crossings.
PGROUTING = """
    2,0 2,1 | 2,1 3,1 | 3,1 4,1 | 2,1 2,2 | 3,1 3,2 | 0,2 1,2 | 1,2 2,2 | 2,2 3,2 | 3,2 4,2 | 2,2 2,3 | 3,2 3,3
    2,3 3,3 | 3,3 4,3 | 2,3 2,4 | 4,2 4,3 | 4,1 4,2 | 0.5,3.5 1.999999999999,3.5 | 3.5,2.3 3.5,4
"""

# JTS Topology Suite, TestUnaryUnion.xml: input lines; number of lines in the result; length. The last case's nodes are
# at 30 70 and 80 30.
JTS = [
    ([[(0, 0), (10, 0), (5, -5), (5, 5)]], 3, 10 + 5 * math.sqrt(2) + 10),
    ([[(0, 0), (10, 10)], [(0, 10), (10, 0)]], 4, 20 * math.sqrt(2)),
    ([[(0, 0), (10, 10)], [(5, 5), (15, 15)]], 3, 21.2132),
    ([[(0, 0), (0, 70), (80, 70), (80, 0), (0, 0)], [(30, 110), (30, 30), (100, 30)]], None, 300 + 150),
]

INCH_M = 0.0254
MOVES = {
    "as it is": (0.0, (0.0, 0.0)),
    "turned": (33.7, (0.0, 0.0)),
    "survey coordinates": (0.0, (431_020.5, 5_412_345.25)),
    "turned at survey coordinates": (211.3, (-431_020.5, 5_412_345.25)),
}


def edges(text):
    for edge in text.replace("\n", "|").split("|"):
        if edge.strip():
            yield [tuple(float(value) for value in end.split(",")) for end in edge.split()]


def moved(points, angle_deg, shift):
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array(points, float) @ np.array([[c, s], [-s, c]]) + shift


def lattice(columns, rows, spacing):
    width, depth = (columns - 1) * spacing, (rows - 1) * spacing
    upright = [[(i * spacing, 0), (i * spacing, depth)] for i in range(columns)]
    return upright + [[(0, j * spacing), (width, j * spacing)] for j in range(rows)]


@pytest.mark.outside(
    what="kinds of nodes, runs and length of a sample network, also turned, scaled and at survey coordinates",
    against="pgRouting manual, chapter Sample Data: 18 edges, three of them split, 6 dead ends",
    result="equal; length within 1e-6",
)
@pytest.mark.parametrize("move", MOVES.values(), ids=MOVES.keys())
@pytest.mark.parametrize("scale", [1.0, 7.62])
def test_pgrouting_sample_network(build, drawing_of, move, scale):
    """
    The pgRouting sample network, noded at its published tolerance of 0.001.

    Published: edges 13, 14 and 18 are split (one crossing, one gap) and 6 dead ends remain. Counted from the data
    after noding: 21 edges and 18 nodes: 6 ends, 6 tees, 3 crosses, 2 corners and one place where two edges go straight
    on, which is no node here; length 19.2.
    """
    lines = [moved(edge, *move) * scale for edge in edges(PGROUTING)]
    network = build(drawing_of(*lines), tolerance_m=0.001)

    assert {"end": 6, "tee": 6, "cross": 3, "corner": 2} == network.count_kinds()
    assert 21 - 1 == network.graph.number_of_edges()
    assert pytest.approx(19.2 * scale, abs=1e-6 * scale) == network.length_m


@pytest.mark.outside(
    what="lines cut where they cross, touch and overlap",
    against="JTS Topology Suite, TestUnaryUnion.xml, four cases",
    result="same number of lines; length within 1e-4",
)
@pytest.mark.parametrize(("lines", "count", "length"), JTS)
def test_jts_unary_union(drawing_of, lines, count, length):
    """Noding agrees with JTS on its own test cases; there a turn is no node."""
    pieces, _ = cut_lines(drawing_of(*lines).lines, tolerance_m=1e-6, corner_turn_deg=180.0)

    assert count is None or count == len(pieces)
    assert pytest.approx(length, abs=1e-4) == pieces.length_m.sum()


@pytest.mark.outside(
    what="places where a line crosses a ring",
    against="JTS Topology Suite, TestUnaryUnion.xml: nodes at 30 70 and 80 30",
    result="equal",
)
def test_jts_ring_crossed_by_a_hook(build, drawing_of):
    """JTS TestUnaryUnion, ring and line: nodes at 30 70 and 80 30."""
    network = build(drawing_of(*JTS[-1][0]))
    crosses = {node.at_m[:2] for node in network.nodes() if node.kind == "cross"}

    assert {(30, 70), (80, 30)} == crosses


@pytest.mark.outside(
    what="corners, tees and crosses of m x n lattices, to 200 x 200, turned and at survey coordinates",
    against="counting: 4, 2(m - 2) + 2(n - 2) and (m - 2)(n - 2)",
    result="equal; length within 1e-9",
)
@pytest.mark.parametrize(
    ("columns", "rows", "move"),
    [(m, n, move) for m, n in [(2, 2), (3, 2), (7, 5), (31, 17)] for move in MOVES]
    + [(200, 200, "turned at survey coordinates")],
)
def test_lattice_of_whole_lines(build, drawing_of, move, columns, rows):
    """An m x n lattice has 4 corners, 2(m - 2) + 2(n - 2) tees and (m - 2)(n - 2) crosses, by counting."""
    network = build(drawing_of(*(moved(line, *MOVES[move]) for line in lattice(columns, rows, 3.05))))
    kinds = {"corner": 4, "tee": 2 * (columns - 2) + 2 * (rows - 2), "cross": (columns - 2) * (rows - 2)}

    assert {kind: count for kind, count in kinds.items() if count} == network.count_kinds()
    length = 3.05 * (columns * (rows - 1) + rows * (columns - 1))
    assert pytest.approx(length, rel=1e-9) == network.length_m


@pytest.mark.outside(
    what="the same lattice drawn in inches, feet, millimetres and metres",
    against="the published DXF reference, header variable $INSUNITS, codes 1, 2, 4 and 6",
    result="same nodes; length within 0.01 mm",
)
@pytest.mark.parametrize(("code", "unit_m"), [(1, INCH_M), (2, 0.3048), (4, 0.001), (6, 1.0)])
def test_lattice_in_inches_and_millimetres(tmp_path, build, code, unit_m):
    """The same lattice drawn in another unit and at survey coordinates is the same network."""
    document = ezdxf.new("R2018", units=code)
    for line in lattice(9, 6, 3.05):
        start, end = moved(line, 12.5, (431_020.5, 5_412_345.25)) / unit_m
        document.modelspace().add_line(start, end, dxfattribs={"layer": "WATERSTOP"})
    path = tmp_path / "lattice.dxf"
    document.saveas(path)
    network = build(read_dxf(path, Selection()))

    assert {"corner": 4, "tee": 22, "cross": 28} == network.count_kinds()
    assert pytest.approx(3.05 * (9 * 5 + 6 * 8), abs=1e-5) == network.length_m
