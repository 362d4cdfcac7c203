"""Networks in a plane against libraries that others wrote: GEOS through shapely, and networkx.

The lines are strewn at random. Four views of the same drawing must agree with the program's network: GEOS's union, its
polygonizer, what is left when a place is taken out of the drawing, and the rank of its cycles.
"""

from collections import Counter

import networkx as nx
import numpy as np
import pytest
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

SEEDS = range(6)
FINE_M = 1e-7  # random crossings lie further apart than this


def strewn(seed):
    """Straight lines of 5 to 50 m, strewn over a square of 50 m; every third starts on the middle of an earlier one.

    Coordinates are whole multiples of 2**-10 m and middles of them, so that a line starts exactly on the other.
    """
    random = np.random.default_rng(seed)
    lines = []
    for number in range(45):
        start = random.integers(0, 50 * 1024, 2) / 1024
        if number % 3 == 2:
            start = (lines[number // 2][0] + lines[number // 2][1]) / 2
        angle, length = random.uniform(0, 2 * np.pi), random.uniform(5, 50)
        lines.append((start, start + np.round(length * np.array([np.cos(angle), np.sin(angle)]) * 1024) / 1024))
    return lines


@pytest.fixture(params=SEEDS)
def pair(request, build, drawing_of):
    """The program's network of strewn lines, and GEOS's."""
    lines = strewn(request.param)
    return build(drawing_of(*lines), tolerance_m=FINE_M), shapely.union_all(
        [shapely.LineString(line) for line in lines]
    )


def place(point):
    """Coordinates to 0.01 mm, moved a little, so that no multiple of 2**-11 lies half-way."""
    return tuple(np.round(np.add(point[:2], 1.7e-6), 5).tolist())


@pytest.mark.outside(
    what="nodes, their arms, and lengths of runs of random drawings in a plane",
    against="GEOS through shapely: union_all nodes the lines anew",
    result="same places and arms; lengths within 1e-6 m",
)
def test_every_node_has_the_arms_that_geos_gives_it(pair):
    r"""
    Each place where lines meet, end, or cross has as many arms as GEOS's union has segments there.

         \  /
        --\/----+
          /\    |
    """
    network, union = pair
    parts = [np.array(part.coords) for part in shapely.get_parts(union)]
    theirs = Counter(place(end) for part in parts for end in (part[0], part[-1]))
    ours = {place(node.at_m): len(node.arms) for node in network.nodes()}
    lengths = sorted(float(np.linalg.norm(part[-1] - part[0])) for part in parts)

    assert {at: arms for at, arms in theirs.items() if arms != 2} == {
        at: arms for at, arms in ours.items() if arms != 2
    }
    assert sum(theirs.values()) == sum(ours.values()) > 150
    assert pytest.approx(sorted(run.length_m for run in network.runs()), abs=1e-6) == lengths


@pytest.mark.outside(
    what="runs without which a drawing falls apart or a free end is lost, in length",
    against="GEOS's polygonizer (dangles and cuts) against networkx.bridges on the program's network",
    result="within 1e-5 m",
)
def test_bridges_are_what_encloses_nothing(pair):
    """Runs that networkx calls bridges are the dangles and cuts that GEOS's polygonizer leaves over."""
    network, union = pair
    _, cuts, dangles, rings = shapely.polygonize_full(list(shapely.get_parts(union)))
    bridges = sum(
        data["run"].length_m for start, end in nx.bridges(network.graph) for data in network.graph[start][end].values()
    )

    assert rings.is_empty
    assert bridges > 100
    assert dangles.length + cuts.length == pytest.approx(bridges, abs=1e-5)


@pytest.mark.outside(
    what="rings that a drawing encloses",
    against="GEOS's polygonizer, and Euler's formula for plane graphs: faces = edges - nodes + parts",
    result="equal",
)
def test_faces_are_counted_by_euler(pair):
    """The network has as many independent rings as GEOS finds faces."""
    network, union = pair
    faces = len(shapely.get_parts(shapely.polygonize(list(shapely.get_parts(union)))))
    graph = network.graph
    parts = nx.number_connected_components(graph)

    assert faces == graph.number_of_edges() - graph.number_of_nodes() + parts > 10


@pytest.mark.outside(
    what="nodes at which alone a drawing hangs together",
    against="scipy's connected_components of GEOS's segments without each place in turn; networkx.articulation_points",
    result="same nodes",
)
def test_cut_vertices_part_the_drawing(pair):
    """Without a place, the drawing has more parts just where networkx calls the program's node a cut vertex."""
    network, union = pair
    parts = [part.coords for part in shapely.get_parts(union)]
    ends = np.array([[place(part[0]), place(part[-1])] for part in parts])
    places, number = np.unique(ends.reshape(-1, 2), axis=0, return_inverse=True)
    edges = number.reshape(-1, 2)
    whole = count_parts(edges, len(places))
    parting = {
        at for at in range(len(places)) if count_parts(edges[(edges != at).all(axis=1)], len(places)) > whole + 1
    }
    theirs = {tuple(places[at].tolist()) for at in parting}

    assert theirs == {place(network.node(mark).at_m) for mark in nx.articulation_points(network.graph)}
    assert 10 < len(theirs) < len(places)


def count_parts(edges, count):
    """Count what hangs together; a place on its own is a part."""
    table = coo_array((np.ones(len(edges)), edges.T), shape=(count, count))
    return connected_components(table, directed=False)[0]
