"""Power: irons, circuits, the generator, and the fewest power points that reach every splice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import Vector

from .cover import Table, cover_all
from .lead import Reach, Web
from .profile import Iron
from .rules import Rules
from .splice import Draft
from .stretch import Layout

__all__ = ["PowerPlan", "PowerPoint", "plan_power"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerPoint:
    """One place where a lead is plugged in.

    Attributes
    ----------
    mark : str
        ``"E1"``, ``"E2"``…
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
    straight over the gap from a node or splice to the nearest of the other part. Jobs with more than 1,000 such
    places try some of them, about two fifths of the lead apart.

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
    web = Web(drafts, layout)
    reach = web.reach(lead_m)
    tried, start = np.unique(reach.place, return_index=True)
    table = Table(np.append(start, len(reach.place)), reach.site, len(web.sites))
    cover = cover_all(table, web.sweeps())
    nearest, ways_m = _nearest(reach, tried[list(cover.chosen)])
    served: dict[int, list[int]] = {}
    for draft, place in enumerate(nearest[web.demand].tolist()):
        served.setdefault(place, []).append(draft)
    points = tuple(
        PowerPoint(
            mark=f"E{number}",
            at_m=web.at(place),
            splices=tuple(positions),
            farthest_m=float(ways_m[web.demand[positions]].max()),
        )
        for number, (place, positions) in enumerate(served.items(), start=1)
    )
    return points, cover.least


def _nearest(reach: Reach, chosen: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Return for each site the nearest of the places chosen, the first of equally near ones, and the way to it."""
    held = np.isin(reach.place, chosen)
    place, site, way_m = reach.place[held], reach.site[held], reach.way_m[held]
    order = np.lexsort((place, way_m, site))
    first = order[np.unique(site[order], return_index=True)[1]]
    return place[first], way_m[first]
