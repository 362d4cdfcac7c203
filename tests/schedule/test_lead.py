"""Which splices a lead reaches from which places."""

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from splicewright.schedule import lead
from splicewright.schedule.assembly import gather
from splicewright.schedule.fitting import group_alike
from splicewright.schedule.lead import Web
from splicewright.schedule.splice import draft_splices
from splicewright.schedule.stretch import lay_out


@pytest.fixture
def job_of(build, drawing_of, rules):
    """Lay out a drawing of lines, with every strip from the roll in two pieces."""

    def _job_of(*lines):
        layout = lay_out([build(drawing_of(*lines, joint="slab"))], rules)
        pieces = [(stretch.net_m / 2,) * 2 if stretch.net_m else () for stretch in layout.stretches]
        types = group_alike(gather(layout, rules), rules)
        return draft_splices(layout, pieces, types, [], rules), layout

    return _job_of


def lattice(rows, columns, side):
    """Draw whole lines both ways."""
    across = [[(0, side * y), (side * (columns - 1), side * y)] for y in range(rows)]
    return across + [[(side * x, 0), (side * x, side * (rows - 1))] for x in range(columns)]


def ways_of(drafts, layout):
    """Find all ways between nodes and splices another way: a graph of named places, walked by a graph library."""
    graph = nx.Graph()
    for stretch in layout.stretches:
        run = stretch.run
        own = sorted((d.along_m, d.at_m) for d in drafts if d.run == run.mark and d.along_m is not None)
        places = [
            (0.0, layout.nodes[layout.node_at[run.start]].at_m),
            *own,
            (run.length_m, layout.nodes[layout.node_at[run.end]].at_m),
        ]
        for (a_m, a), (b_m, b) in pairwise(places):
            graph.add_edge(a, b, weight=b_m - a_m)
    return dict(nx.all_pairs_dijkstra_path_length(graph))


def told(web, lead_m):
    """Return what a web says, by places."""
    reach = web.reach(lead_m)
    return {
        (web.at(place), web.at(web.sites[site])): way_m
        for place, site, way_m in zip(reach.place.tolist(), reach.site.tolist(), reach.way_m.tolist(), strict=True)
    }


@pytest.mark.parametrize(("few", "large"), [(10_000, 10_000), (0, 10_000), (0, 0)], ids=["few", "whole", "cubes"])
def test_a_lead_reaches_what_a_walk_along_the_structure_does(job_of, monkeypatch, few, large):
    """
    On a lattice of 5 x 4 lines 6 m apart a lead of 10 m reaches the splices that a graph library finds within 10 m.

        +--+--+--+--+
        |  |  |  |  |      each way as long, whichever of the three ways of looking is used;
        +--+--+--+--+      cube by cube only some places are tried, but every splice is reached
        |  |  |  |  |
    """
    monkeypatch.setattr(lead, "_FEW", few)
    monkeypatch.setattr(lead, "_LARGE", large)
    drafts, layout = job_of(*lattice(4, 5, 6.0))
    found, ways = told(Web(drafts, layout), 10.0), ways_of(drafts, layout)
    tried = {place for place, _ in found}
    sites = {draft.at_m for draft in drafts}
    within = {(a, b): ways[a][b] for a in tried for b in sites if ways[a][b] <= 10.0 + 1e-6}

    assert sites == {site for _, site in found}
    assert within == pytest.approx(found)
    assert (len(tried) == len(ways)) == (large > 0)


def test_every_splice_is_reached_though_strips_lie_on_one_another(job_of, monkeypatch):
    """
    Twelve runs 5 mm over one another share their cubes, so that one place a cube is not enough to reach them all.

        ========|=======      twelve times, joined only over the gaps from place to place
    """
    monkeypatch.setattr(lead, "_LARGE", 0)
    monkeypatch.setattr(lead, "_FEW", 0)
    drafts, layout = job_of(*[[(0, 0, 0.03 * k), (15, 0, 0.03 * k)] for k in range(12)])
    web = Web(drafts, layout)

    assert list(range(12)) == np.unique(web.reach(0.02).site).tolist()


def test_sweeps_hold_every_site_once(job_of):
    """Every order in which the ground is swept is an order of all sites."""
    web = Web(*job_of(*lattice(3, 3, 6.0)))
    orders = list(web.sweeps())

    assert len(orders) > 1
    assert all(list(range(len(web.sites))) == sorted(order) for order in orders)
