"""Sequence: in which order splices are made: pour by pour or storey by storey, each by a short tour."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.finding import Finding, Severity
from splicewright.extract.line import Vector
from splicewright.extract.network import JointNetwork

from .pour import Pour, natural_key
from .rules import Rules
from .splice import Draft
from .stretch import Layout, place_along
from .tour import short_tour

__all__ = ["Course", "Zone", "lots_of_runs", "order_splices"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Splices that are made one after the other before the next zone is begun.

    Attributes
    ----------
    name : str
        Name of the pour, or the levels of the storey.
    pour : bool
        Whether it is a pour.
    day : date or None
        Day of the pour.
    first, stop : int
        Positions of its first splice and of the one after its last.
    """

    name: str
    pour: bool
    day: date | None
    first: int
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Course:
    """All splices on site in the order they are made; items of one position belong together.

    Attributes
    ----------
    drafts : tuple of Draft
    zones : tuple of Zone
        In their order; only those with splices.
    walked_m, climbed_m : tuple of float
        Way to each splice from the one before it [m].
    move_min, cover_min : tuple of float
        Time for that way, and for a new cover before it [min].
    findings : tuple of Finding
    """

    drafts: tuple[Draft, ...]
    zones: tuple[Zone, ...]
    walked_m: tuple[float, ...]
    climbed_m: tuple[float, ...]
    move_min: tuple[float, ...]
    cover_min: tuple[float, ...]
    findings: tuple[Finding, ...]


def order_splices(drafts: Sequence[Draft], layout: Layout, networks: Sequence[JointNetwork], rules: Rules) -> Course:
    """Put splices into the order they are made.

    Parameters
    ----------
    drafts : sequence of Draft
        All splices on site.
    layout : Layout
        Runs and nodes they lie at.
    networks : sequence of JointNetwork
        Where the strips come from; models may tell what is poured when.
    rules : Rules
        Pours, storeys, speeds and covers.

    Returns
    -------
    Course
    """
    places = np.array([draft.at_m for draft in drafts]).reshape(-1, 3).round(6)
    in_shop = np.array([draft.in_shop for draft in drafts], dtype=bool)
    plan = _plan(networks, layout, rules)
    if plan.pours:
        zone_of = _pours_of(drafts, places, plan, layout)
        names = [*plan.pours, Pour(name="in no pour")]
    else:
        zone_of, names = _storeys_of(np.array([draft.level_m for draft in drafts]), rules.sequence.storey_m)
    order, zones = _toured(places, in_shop, zone_of, rules)
    made = tuple(drafts[i] for i in order.tolist())
    walked_m, climbed_m = _ways(places[order], in_shop[order], rules)
    count = len(made)
    changes = (np.arange(count) % rules.crew.cover_life == 0) & (np.arange(count) > 0)
    move_min = walked_m / rules.crew.walking_m_per_min + climbed_m / rules.crew.climbing_m_per_min
    return Course(
        drafts=made,
        zones=tuple(
            Zone(name=names[at].name, pour=at < len(plan.pours), day=names[at].day, first=first, stop=stop)
            for at, first, stop in zones
        ),
        walked_m=tuple(walked_m.tolist()),
        climbed_m=tuple(climbed_m.tolist()),
        move_min=tuple(move_min.tolist()),
        cover_min=tuple((changes * rules.crew.cover_change_min).tolist()),
        findings=tuple(_strays(drafts, zone_of, plan)),
    )


def lots_of_runs(layout: Layout, networks: Sequence[JointNetwork], rules: Rules) -> tuple[str, ...]:
    """Tell which runs are poured on the same day, so that they may share rolls that are not stored in between.

    A run belongs to the first pour that its middle lies in; pours of one day are one lot.

    Parameters
    ----------
    layout : Layout
    networks : sequence of JointNetwork
    rules : Rules
        The pours.

    Returns
    -------
    tuple of str
        For every stretch the day or else the name of its pour, "" for none; empty where there are no pours.
    """
    plan = _plan(networks, layout, rules)
    if not plan.pours:
        return ()
    names = [pour.day.isoformat() if pour.day else pour.name for pour in plan.pours]
    lots = []
    for stretch, told in zip(layout.stretches, plan.told or (None,) * len(layout.stretches), strict=True):
        middle = place_along(stretch.run.points_m.tolist(), [stretch.run.length_m / 2])[0]
        layers = {source.layer for source in stretch.run.sources}
        found = (
            place
            for place, pour in enumerate(plan.pours)
            if told == place or ((pour.stated or plan.open) and pour.names(layers) and _within(middle, pour))
        )
        place = next(found, None)
        lots.append("" if place is None else names[place])
    return tuple(lots)


def _within(at_m: Vector, pour: Pour) -> bool:
    bounds = zip(at_m, pour.bounds, strict=True)
    return all(span is None or span[0] - 1e-6 <= value <= span[1] + 1e-6 for value, span in bounds)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """The pours, and for each run what a CSV or the model says itself of it: a position, or None."""

    pours: tuple[Pour, ...]
    told: tuple[int | None, ...]
    open: bool = False
    """Whether a pour that states nothing takes whatever is left."""


def _plan(networks: Sequence[JointNetwork], layout: Layout, rules: Rules) -> _Plan:
    """Take the pours of the rules; where there are none, those that the model names."""
    given = rules.pours
    runs = [stretch.run for stretch in layout.stretches]
    if given.pours:
        told: list[int | None] = [None] * len(runs)
        if given.members:
            told = [
                given.member(run.mark, {s.layer for s in run.sources}, {s.entity for s in run.sources}) for run in runs
            ]
        return _Plan(pours=given.pours, told=tuple(told), open=not given.members)
    stages = {
        line.source: line.whereabouts.stage
        for network in networks
        for line in network.drawing.lines
        if line.whereabouts is not None and line.whereabouts.stage
    }
    if not stages:
        return _Plan(pours=(), told=())
    names = sorted(set(stages.values()), key=natural_key)
    place = {name: i for i, name in enumerate(names)}
    found = (min((place[stages[s]] for s in run.sources if s in stages), default=None) for run in runs)
    return _Plan(pours=tuple(Pour(name=name) for name in names), told=tuple(found))


def _pours_of(drafts: Sequence[Draft], places: NDArray[np.float64], plan: _Plan, layout: Layout) -> NDArray[np.intp]:
    """Find the first pour that needs each splice; the number after the last stands for none."""
    none = len(plan.pours)
    runs = [_runs_at(draft, layout) for draft in drafts]
    zone_of = np.full(len(drafts), none, dtype=np.intp)
    for place in range(none - 1, -1, -1):
        pour = plan.pours[place]
        told = np.array([place == entry for entry in plan.told], dtype=bool)
        named = np.array(
            [pour.names({source.layer for source in stretch.run.sources}) for stretch in layout.stretches], dtype=bool
        )
        named &= pour.stated or plan.open
        inside = np.ones(len(drafts), dtype=bool)
        for axis, span in enumerate(pour.bounds):
            if span is not None:
                inside &= (places[:, axis] >= span[0] - 1e-6) & (places[:, axis] <= span[1] + 1e-6)
        belongs = np.array([any(told[i] for i in at) for at in runs], dtype=bool)
        belongs |= inside & np.array([any(named[i] for i in at) for at in runs], dtype=bool)
        zone_of[belongs] = place
    return zone_of


def _runs_at(draft: Draft, layout: Layout) -> tuple[int, ...]:
    if draft.run is not None:
        return (layout.run_at[draft.run],)
    node = layout.nodes[layout.node_at[draft.node or ""]]
    return tuple(layout.run_at[arm.run] for arm in node.arms)


def _storeys_of(levels: NDArray[np.float64], storey_m: float) -> tuple[NDArray[np.intp], list[Pour]]:
    """Part levels wherever a gap between them is no smaller than a storey's."""
    if not len(levels):
        return np.zeros(0, dtype=np.intp), []
    known, which = np.unique(levels.round(3), return_inverse=True)
    storey = np.concatenate(([0], np.cumsum(np.diff(known) >= storey_m))).astype(np.intp)
    bounds = [(known[storey == i].min(), known[storey == i].max()) for i in range(int(storey[-1]) + 1)]
    names = [_level_text(low) if low == high else f"{_level_text(low)} to {_level_text(high)}" for low, high in bounds]
    return storey[which.reshape(-1)], [Pour(name=f"level {name}") for name in names]


def _level_text(level_m: float) -> str:
    return f"{level_m + 0.0:+.2f} m"


def _toured(
    places: NDArray[np.float64], in_shop: NDArray[np.bool_], zone_of: NDArray[np.intp], rules: Rules
) -> tuple[NDArray[np.intp], list[tuple[int, int, int]]]:
    """Order the splices zone by zone: those of the site shop first, then the others by a short tour."""
    pace = rules.crew.detour / rules.crew.walking_m_per_min
    cost = places * np.array((pace, pace, 1 / rules.crew.climbing_m_per_min))
    parts: list[NDArray[np.intp]] = []
    zones: list[tuple[int, int, int]] = []
    first = 0
    for zone in np.unique(zone_of).tolist():
        of_zone = np.flatnonzero(zone_of == zone)
        shop, site = of_zone[in_shop[of_zone]], of_zone[~in_shop[of_zone]]
        parts += [shop[np.lexsort(places[shop, ::-1].T)], site[short_tour(cost[site])]]
        zones.append((zone, first, first + len(of_zone)))
        first += len(of_zone)
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.intp), zones


def _ways(
    places: NDArray[np.float64], in_shop: NDArray[np.bool_], rules: Rules
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Way to each splice from the one before [m], along and up or down; none to the first and within the shop."""
    steps = np.diff(places, axis=0, prepend=places[:1])
    on_site = ~in_shop & ~np.concatenate((in_shop[:1], in_shop[:-1]))
    walked_m = np.hypot(steps[:, 0], steps[:, 1]) * rules.crew.detour * on_site
    return walked_m, np.abs(steps[:, 2]) * on_site


def _strays(drafts: Sequence[Draft], zone_of: NDArray[np.intp], plan: _Plan) -> Iterator[Finding]:
    """Report splices that no pour needs, and pours that need none."""
    if not plan.pours:
        return
    strays = np.flatnonzero(zone_of == len(plan.pours)).tolist()
    if strays:
        count = f"{len(strays)} splice{'s' * (len(strays) > 1)}"
        yield Finding(
            code="no-pour",
            severity=Severity.WARNING,
            message=f"{count} lie in no pour and are made last; widen a pour or add one to [[pours]].",
            at_m=drafts[strays[0]].at_m,
        )
    used = set(zone_of.tolist())
    for place, pour in enumerate(plan.pours):
        if place not in used:
            yield Finding(
                code="empty-pour",
                severity=Severity.NOTE,
                message=f"No splice is made for pour {pour.name!r}; check what it says of its lines and where it lies.",
            )
