"""Power: irons, circuits, the generator, and the fewest power points that reach every splice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import Vector

from .cover import cover_all
from .profile import Iron
from .rules import Rules
from .splice import Draft
from .stretch import Layout

if TYPE_CHECKING:
    from scipy.sparse import csr_array

__all__ = ["PowerPlan", "PowerPoint", "plan_power"]

_LARGE = 2500
"""Places from which on only some are tried as power points, so that time grows with the job and not its square."""
_TRIED = 400
_BATCH = 128
_NEAR = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerPoint:
    """One place where a lead is plugged in.

    Attributes
    ----------
    mark : str
        ``"P1"``, ``"P2"``…
    at_m : Vector
        Place [m], on the structure.
    splices : tuple of int
        Positions of the splices it serves, in the order they are made.
    farthest_m : float
        Way along the structure to the farthest of them [m].
    """

    mark: str
    at_m: Vector
    splices: tuple[int, ...]
    farthest_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerPlan:
    """What the irons need.

    Attributes
    ----------
    large_irons, small_irons : int
        Irons hot at the same time at most, by size.
    amperes : float
        What they draw together [A].
    circuits : int
        Circuits they need.
    generator_kw : float
        Generator that carries them, reserve included [kW].
    lead_m : float
        Longest lead [m].
    points : tuple of PowerPoint
        The fewest found, by the order of the splices.
    least_points : int
        Number that no choice of points among the places tried can go below.
    """

    large_irons: int
    small_irons: int
    amperes: float
    circuits: int
    generator_kw: float
    lead_m: float
    points: tuple[PowerPoint, ...]
    least_points: int


def plan_power(drafts: Sequence[Draft], layout: Layout, shifts: Iterable[tuple[int, int]], rules: Rules) -> PowerPlan:
    """Find what the irons need.

    Power points stand at nodes or splices; a lead runs along the structure and, between parts that do not touch,
    straight over the gap from a node or splice to the nearest of the other part. Jobs with more than 2,500 such
    places try 400 of them, evenly spread, and any splice that none of these reaches.

    Parameters
    ----------
    drafts : sequence of Draft
        Splices in the order they are made.
    layout : Layout
        The structure.
    shifts : iterable of (int, int)
        Crew and day of each splice.
    rules : Rules
        Irons, leads, circuits.

    Returns
    -------
    PowerPlan
    """
    irons = [rules.profiles[draft.profile].iron for draft in drafts]
    large, small = _peak(irons, shifts, rules)
    iron = rules.iron
    amperes = large * iron.amperes_large + small * iron.amperes_small
    load = iron.circuit_amperes * iron.circuit_share
    circuits = _circuits(large, iron.amperes_large, load) + _circuits(small, iron.amperes_small, load)
    points, least = _points(drafts, layout, iron.lead_m)
    return PowerPlan(
        large_irons=large,
        small_irons=small,
        amperes=amperes,
        circuits=circuits,
        generator_kw=ceil(amperes * iron.volts * (1 + iron.reserve) / 100 - 1e-9) / 10,
        lead_m=iron.lead_m,
        points=points,
        least_points=least,
    )


def _peak(irons: Sequence[Iron], shifts: Iterable[tuple[int, int]], rules: Rules) -> tuple[int, int]:
    """Irons hot on the day that draws most: every crew heats each size that it needs that day."""
    used = {(day, crew, size) for (crew, day), size in zip(shifts, irons, strict=True)}
    days: dict[int, list[Iron]] = {}
    for day, _, size in used:
        days.setdefault(day, []).append(size)
    counts = [(sizes.count(Iron.LARGE), sizes.count(Iron.SMALL)) for sizes in days.values()]
    amperes = (rules.iron.amperes_large, rules.iron.amperes_small)
    return max(counts, key=lambda n: (n[0] * amperes[0] + n[1] * amperes[1], n), default=(0, 0))


def _circuits(irons: int, amperes: float, load: float) -> int:
    return ceil(irons / max(1, floor(load / amperes + 1e-9)))


def _points(drafts: Sequence[Draft], layout: Layout, lead_m: float) -> tuple[tuple[PowerPoint, ...], int]:
    if not drafts:
        return (), 0
    web = _Web(drafts, layout)
    ways, tried = web.reach(lead_m)
    cover = cover_all(np.isfinite(ways))
    chosen = ways[list(cover.chosen)]
    nearest = chosen.argmin(axis=0)
    served: dict[int, list[int]] = {}
    for draft, place in enumerate(nearest[web.demand].tolist()):
        served.setdefault(place, []).append(draft)
    points = tuple(
        PowerPoint(
            mark=f"P{number}",
            at_m=web.at(int(tried[cover.chosen[place]])),
            splices=tuple(positions),
            farthest_m=max(float(chosen[place, web.demand[i]]) for i in positions),
        )
        for number, (place, positions) in enumerate(served.items(), start=1)
    )
    return points, cover.least


class _Web:
    """Nodes and splices as places, and the ways between them along the structure."""

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
        self._graph = _graph(layout, self._places, runs, distances)

    def at(self, place: int) -> Vector:
        x, y, z = self._places[place].tolist()
        return (x, y, z)

    def reach(self, lead_m: float) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
        """Ways no longer than the lead from the places tried to the splices' places; inf where there is none."""
        count = len(self._places)
        tried = np.arange(count)
        if count > _LARGE:
            order = np.lexsort(self._places.round(3).T)
            tried = np.sort(order[np.linspace(0, count - 1, _TRIED).astype(np.intp)])
        ways = self._ways(tried, lead_m)
        unreached = self.sites[~np.isfinite(ways).any(axis=0)]
        while len(unreached):
            more = unreached[:: max(1, len(unreached) // _TRIED)]
            tried, ways = np.concatenate((tried, more)), np.concatenate((ways, self._ways(more, lead_m)))
            unreached = self.sites[~np.isfinite(ways).any(axis=0)]
        return ways, tried

    def _ways(self, places: NDArray[np.intp], lead_m: float) -> NDArray[np.float64]:
        from scipy.sparse.csgraph import dijkstra  # noqa: PLC0415 (only where there is something to weld)

        parts = [
            dijkstra(self._graph, directed=False, indices=places[i : i + _BATCH], limit=lead_m + 1e-6)[:, self.sites]
            for i in range(0, len(places), _BATCH)
        ]
        return np.concatenate(parts)


def _graph(
    layout: Layout, places: NDArray[np.float64], runs: NDArray[np.intp], along: NDArray[np.float64]
) -> "csr_array":
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
    graph = _web_of(links, np.diff(way[order])[same], len(places))
    gaps, widths = _gaps(graph, places)
    if len(gaps):
        links, lengths = np.concatenate((links, gaps)), np.concatenate((np.diff(way[order])[same], widths))
        graph = _web_of(links, lengths, len(places))
    return graph


def _web_of(links: NDArray[np.intp], lengths: NDArray[np.float64], count: int) -> "csr_array":
    """Make a graph of links, of several between the same places the shortest; none has no length at all."""
    from scipy.sparse import coo_array  # noqa: PLC0415 (only where there is something to weld)

    links = np.sort(links, axis=1)
    order = np.lexsort((lengths, links[:, 1], links[:, 0]))
    links, lengths = links[order], np.maximum(lengths[order], 1e-9)
    first = np.concatenate(([True], (links[1:] != links[:-1]).any(axis=1))) if len(links) else np.zeros(0, dtype=bool)
    return coo_array((lengths[first], (links[first, 0], links[first, 1])), shape=(count, count)).tocsr()


def _gaps(graph: "csr_array", places: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Find the gap from each place to the nearest place of every other part of the structure near it."""
    from scipy.sparse.csgraph import connected_components  # noqa: PLC0415

    parts, part = connected_components(graph, directed=False)
    if parts < 2:
        return np.zeros((0, 2), dtype=np.intp), np.zeros(0)
    from scipy.spatial import KDTree  # noqa: PLC0415

    widths, near = KDTree(places).query(places, k=min(_NEAR, len(places)))
    links = np.stack((np.repeat(np.arange(len(places)), near.shape[1]), near.ravel()), axis=1)
    across = part[links[:, 0]] != part[links[:, 1]]
    links, lengths = links[across], widths.ravel()[across]
    target = np.stack((links[:, 0], part[links[:, 1]]), axis=1)
    order = np.lexsort((links[:, 1], lengths.round(6), target[:, 1], target[:, 0]))
    target = target[order]
    first = np.concatenate(([True], (target[1:] != target[:-1]).any(axis=1)))[: len(target)]
    return links[order][first], lengths[order][first]
