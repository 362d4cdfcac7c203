"""Lead: the places where power can be taken, and which splices a lead reaches from each along the structure."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import Vector
from splicewright.extract.nearness import find_groups

from .splice import Draft
from .stretch import Layout

__all__ = ["Reach", "Web"]

_LARGE = 1000
"""Places from which on only some are tried as power points, so that time grows with the job and not its square."""

_SPACING = 0.4
"""Share of the lead that places tried then stand apart, about."""

_FEW = 300
"""Places up to which all distances are measured, without a library that takes longer to load."""

_COURSES = ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, -1.0), (1.0, 0.4), (0.4, 1.0), (1.0, -0.4), (-0.4, 1.0))
"""Directions in which the ground is swept, east and north."""
_UPWARD = 0.2

_NEAR = 8
_SLACK_M = 1e-6

_Ints = NDArray[np.intp]
_Floats = NDArray[np.float64]


class Reach(NamedTuple):
    """What leads reach, as three columns sorted by place, then by site.

    Attributes
    ----------
    place : NDArray of intp
        A place that is tried as a power point.
    site : NDArray of intp
        Position of a site that a lead reaches from it.
    way_m : NDArray of float64
        Way between the two along the structure [m].
    """

    place: _Ints
    site: _Ints
    way_m: _Floats

    @classmethod
    def joined(cls, parts: Sequence["Reach"]) -> "Reach":
        """Put several together, each with places of its own."""
        place, site, way_m = (np.concatenate(column) for column in zip(*parts, strict=True))
        order = np.argsort(place, kind="stable")
        return cls(place[order], site[order], way_m[order])


class Web:
    """Nodes and splices as places, and the ways between them along the structure.

    Parameters
    ----------
    drafts : sequence of Draft
        Splices in the order they are made.
    layout : Layout
        The structure.

    Attributes
    ----------
    sites : NDArray of intp
        Places that hold a splice, ascending.
    demand : NDArray of intp
        For each splice the position of its site.
    """

    def __init__(self, drafts: Sequence[Draft], layout: Layout) -> None:
        nodes = len(layout.nodes)
        along = [i for i, draft in enumerate(drafts) if draft.along_m is not None and draft.run is not None]
        place_of = np.array([layout.node_at.get(draft.node or "", 0) for draft in drafts], dtype=np.intp)
        place_of[along] = nodes + np.arange(len(along))
        self._places = np.array([node.at_m for node in layout.nodes] + [drafts[i].at_m for i in along]).reshape(-1, 3)
        self.sites, self.demand = np.unique(place_of, return_inverse=True)
        self.demand = self.demand.reshape(-1)
        runs = np.array([layout.run_at[drafts[i].run or ""] for i in along], dtype=np.intp)
        distances = np.array([drafts[i].along_m or 0.0 for i in along])
        self._links, self._lengths = _links(layout, self._places, runs, distances)

    def at(self, place: int) -> Vector:
        """Return where a place is [m]."""
        x, y, z = self._places[place].tolist()
        return (x, y, z)

    def reach(self, lead_m: float) -> Reach:
        """Find what leads reach; every site is reached from some place.

        Up to 1,000 places all are tried; of more, those nearest to the middles of cubes of two fifths of the lead, and
        so again for the sites that none of these reaches.

        Parameters
        ----------
        lead_m : float
            Longest lead [m], > 0.

        Returns
        -------
        Reach
        """
        tried = np.arange(len(self._places))
        if len(tried) > _LARGE:
            tried = _thinned(tried, self._places, lead_m * _SPACING, 1)
        parts, unreached, each = list(self._tiles(tried, lead_m)), np.ones(len(self.sites), dtype=bool), 1
        for part in parts:
            unreached[part.site] = False
        while unreached.any():
            more = _thinned(self.sites[unreached], self._places, lead_m * _SPACING, each)
            for part in self._tiles(more, lead_m):
                parts.append(part)
                unreached[part.site] = False
            each *= 2
        return Reach.joined(parts)

    def sweeps(self) -> Iterator[list[int]]:
        """Yield orders of the sites that run over the ground from side to side, along its axes and across them."""
        places = self._places[self.sites].round(3)
        for east, north in _COURSES:
            way = places @ np.array([east, north, _UPWARD])
            yield np.lexsort((*places.T, way.round(6))).tolist()

    def _tiles(self, tried: _Ints, lead_m: float) -> Iterator[Reach]:
        """Reach from places cube by cube: no way is shorter than the straight line, so a lead ends in the next cube."""
        cubes = np.floor(self._places / (lead_m + 1e-3)).astype(np.int64)
        held = _by_cube(cubes, np.arange(len(cubes)))
        steps = [(i, j, k) for i in (-1, 0, 1) for j in (-1, 0, 1) for k in (-1, 0, 1)]
        for (x, y, z), own in _by_cube(cubes, tried).items():
            near = [held[x + i, y + j, z + k] for i, j, k in steps if (x + i, y + j, z + k) in held]
            yield self._reach_from(own, np.sort(np.concatenate(near)), lead_m)

    def _reach_from(self, tried: _Ints, near: _Ints, lead_m: float) -> Reach:
        """Reach from places by ways that pass only places near them, both ascending."""
        site_of = np.flatnonzero(np.isin(near, self.sites))
        site = np.searchsorted(self.sites, near[site_of])
        ways = self._ways(np.searchsorted(near, tried), near, lead_m + _SLACK_M)[:, site_of]
        row, column = np.nonzero(ways <= lead_m + _SLACK_M)
        return Reach(tried[row], site[column], ways[row, column])

    def _ways(self, start: _Ints, near: _Ints, most_m: float) -> _Floats:
        """Lengths of the shortest ways from some of the near places to all of them, as far as they are no longer.

        All ways grow by one link at a time until none gets shorter; there are few links within a lead.
        """
        ways = np.full((len(near), len(start)), np.inf)  # sources side by side, so that links work on whole rows
        ways[start, np.arange(len(start))] = 0.0
        source, target, length = self._links_among(near)
        first = np.flatnonzero(_firsts(target[:, np.newaxis]))
        targets, shorter = target[first], len(first) > 0
        while shorter:
            found = np.minimum.reduceat(ways[source] + length[:, np.newaxis], first)
            found[found > most_m] = np.inf
            known = ways[targets]
            shorter = bool((found < known).any())
            ways[targets] = np.minimum(found, known)
        return ways.T

    def _links_among(self, near: _Ints) -> tuple[_Ints, _Ints, _Floats]:
        """Links between some places, from either end, by the place they lead to; places as positions among these."""
        at = np.full(len(self._places), -1)
        at[near] = np.arange(len(near))
        one, two = at[self._links].T
        both = (one >= 0) & (two >= 0)
        source, target = np.concatenate((one[both], two[both])), np.concatenate((two[both], one[both]))
        order = np.argsort(target, kind="stable")
        return source[order], target[order], np.tile(self._lengths[both], 2)[order]


def _links(layout: Layout, places: _Floats, runs: _Ints, along: _Floats) -> tuple[_Ints, _Floats]:
    """Join the places of each run in their order along it, and parts that do not touch over the gaps between."""
    count, nodes = len(layout.stretches), len(layout.nodes)
    whole = [stretch.run for stretch in layout.stretches]
    run = np.concatenate((np.arange(count), runs, np.arange(count)))
    way = np.concatenate((np.zeros(count), along, [one.length_m for one in whole]))
    starts = np.array([layout.node_at[one.start] for one in whole], dtype=np.intp)
    ends = np.array([layout.node_at[one.end] for one in whole], dtype=np.intp)
    place = np.concatenate((starts, nodes + np.arange(len(runs)), ends))
    order = np.lexsort((way, run))
    same = run[order][1:] == run[order][:-1]
    links = np.stack((place[order][:-1][same], place[order][1:][same]), axis=1)
    gaps, widths = _gaps(links, places)
    return _shortest(np.concatenate((links, gaps)), np.concatenate((np.diff(way[order])[same], widths)))


def _shortest(links: _Ints, lengths: _Floats) -> tuple[_Ints, _Floats]:
    """Keep of several links between the same places the shortest; none has no length at all."""
    links = np.sort(links, axis=1)
    order = np.lexsort((lengths, links[:, 1], links[:, 0]))
    links, lengths = links[order], np.maximum(lengths[order], 1e-9)
    first = _firsts(links)
    return links[first], lengths[first]


def _gaps(links: _Ints, places: _Floats) -> tuple[_Ints, _Floats]:
    """Find the gap from each place to the nearest place of every other part of the structure near it."""
    part = find_groups(links, len(places))
    if not part.any():
        return np.zeros((0, 2), dtype=np.intp), np.zeros(0)
    widths, near = _nearby(places)
    links = np.stack((np.repeat(np.arange(len(places)), near.shape[1]), near.ravel()), axis=1)
    across = part[links[:, 0]] != part[links[:, 1]]
    links, lengths = links[across], widths.ravel()[across]
    target = np.stack((links[:, 0], part[links[:, 1]]), axis=1)
    order = np.lexsort((links[:, 1], lengths.round(6), target[:, 1], target[:, 0]))
    first = _firsts(target[order])
    return links[order][first], lengths[order][first]


def _nearby(places: _Floats) -> tuple[_Floats, _Ints]:
    """Find the few places nearest to each, itself among them, and how far they are."""
    most = min(_NEAR, len(places))
    if len(places) <= _FEW:
        apart = np.sqrt(((places[:, np.newaxis] - places) ** 2).sum(axis=2))
        near = np.argsort(apart, axis=1, kind="stable")[:, :most]
        return np.take_along_axis(apart, near, axis=1), near
    from scipy.spatial import KDTree  # noqa: PLC0415 (slow to import)

    widths, near = KDTree(places).query(places, k=most)
    return widths, near


def _firsts(rows: _Ints) -> NDArray[np.bool_]:
    """Tell which of sorted rows differ from the row before."""
    return np.concatenate(([True], (rows[1:] != rows[:-1]).any(axis=1)))[: len(rows)]


def _by_cube(cubes: NDArray[np.int64], places: _Ints) -> dict[tuple[int, int, int], _Ints]:
    """Sort places into their cubes; each lists its own ascending."""
    own = cubes[places]
    order = np.lexsort(own.T)
    own, places = own[order], places[order]
    first = _firsts(own)
    parts = np.split(places, np.flatnonzero(first)[1:])
    return {(x, y, z): np.sort(part) for (x, y, z), part in zip(own[first].tolist(), parts, strict=True)}


def _thinned(candidates: _Ints, places: _Floats, side_m: float, each: int) -> _Ints:
    """Keep of each cube of that side the few places nearest to its middle, ascending."""
    steps = places[candidates] / side_m
    cubes = np.floor(steps)
    off = ((steps - cubes - 0.5) ** 2).sum(axis=1).round(6)
    order = np.lexsort((candidates, off, *cubes.T))
    own = cubes[order]
    first = _firsts(own)
    starts = np.flatnonzero(first)
    rank = np.arange(len(order)) - np.repeat(starts, np.diff(np.append(starts, len(order))))
    return np.sort(candidates[order][rank < each])
