"""Splices: every weld of the barrier, shop or site, with its place and reason."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from typing import NamedTuple

import numpy as np

from splicewright.extract.line import Vector
from splicewright.extract.node import Node, NodeKind

from .assembly import Assembly, Junction
from .fitting import FittingType
from .position import Positions
from .rules import Policy, Position, Rules, Weld
from .stretch import Layout, Role, Stretch, Use, place_along

__all__ = ["Draft", "Made", "Splice", "SpliceKind", "draft_splices", "list_factory_splices", "list_field_splices"]


class Made(StrEnum):
    """Who makes a splice."""

    FACTORY = "factory"
    FIELD = "field"


class SpliceKind(StrEnum):
    """How a splice is cut and why it is there."""

    SEAM = "seam"
    """Mitred seam of a fitting or, where everything is made on site, of a node."""
    LEG = "leg"
    """Butt between a fitting's leg and a piece from the roll."""
    LEG_TO_LEG = "leg to leg"
    """Butt where the legs of two fittings meet."""
    PIECE = "piece"
    """Butt between two pieces inside a run."""
    CLOSURE = "closure"
    """Butt that closes a ring."""
    TRANSITION = "transition"
    """In-line meeting of two profiles or lays."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Splice:
    """One weld.

    Attributes
    ----------
    mark : str
        ``"S1"``, ``"S2"``…; field splices first, in the order they are made, then factory splices by fitting.
    made : Made
        In the shop or on site.
    kind : SpliceKind
        How it is cut and why it is there.
    at_m : Vector
        Place [m].
    profile : str
        Profile (the wider where two meet).
    run : str or None
        Run it lies in, None for seams.
    node : str or None
        Node it lies at, for seams, closures and transitions.
    fitting : str or None
        Fitting type it belongs to or whose leg it joins.
    reason : str
        One short phrase: why there is a splice here.
    minutes : float or None
        Time on site [min]; None for factory splices.
    crew, day : int or None
        Crew and its working day, from 1; None for factory splices.
    weld : Weld or None
        What is welded, as far as it decides the time; None for factory splices.
    position : Position or None
        How it lies to those who weld it; None for factory splices.
    zone : str or None
        Pour or storey that it is made for; None for factory splices.
    walked_m, climbed_m : float
        Way to it from the splice made before it [m].
    cover_min : float
        Time for a new cover of the iron before it [min].
    """

    mark: str
    made: Made
    kind: SpliceKind
    at_m: Vector
    profile: str
    run: str | None
    node: str | None
    fitting: str | None
    reason: str
    minutes: float | None = None
    crew: int | None = None
    day: int | None = None
    weld: Weld | None = None
    position: Position | None = None
    zone: str | None = None
    walked_m: float = 0.0
    climbed_m: float = 0.0
    cover_min: float = 0.0


class Draft(NamedTuple):
    """One field splice before it has a mark, a crew and a day; attributes as in `Splice`."""

    at_m: Vector
    kind: SpliceKind
    profile: str
    run: str | None
    node: str | None
    fitting: str | None
    reason: str
    minutes: float
    level_m: float
    """Height that decides its turn [m]."""
    weld: Weld = Weld.BUTT
    position: Position = Position.FLOOR
    along_m: float | None = None
    """Distance from the start of its run [m], None at nodes."""
    in_shop: bool = False
    """Whether it is made in the site shop, so before what is made in place at its level."""


def draft_splices(
    layout: Layout,
    pieces_m: Sequence[Sequence[float]],
    types: Sequence[FittingType],
    in_place: Sequence[Assembly],
    rules: Rules,
) -> list[Draft]:
    """Find every splice made on site, in the order they are made: level by level, then from west to east.

    Parameters
    ----------
    layout : Layout
        What becomes of every node and run.
    pieces_m : sequence of sequence of float
        For each stretch the lengths of its pieces [m].
    types : sequence of FittingType
        What the shop makes.
    in_place : sequence of Assembly
        Nodes that are put together where they lie.
    rules : Rules
        Policy, melt and minutes.

    Returns
    -------
    list of Draft
    """
    clock = _Clock(rules)
    marks = {j.node.mark: kind.mark for kind in types for copy in kind.copies for j in copy.junctions}
    positions = Positions(rules)
    runs = _RunSplices(layout, marks, clock, positions, rules.splices.melt_m)
    drafts = list(chain.from_iterable(map(runs.find, layout.stretches, pieces_m)))
    drafts += _at_nodes(layout, clock, positions)
    drafts += _seams_in_place(in_place, layout, clock, positions)
    drafts += _seams_in_site_shop([kind for kind in types if kind.policy is Policy.SITE_SHOP], clock)
    return _in_order(drafts)


def list_field_splices(
    drafts: Sequence[Draft],
    shifts: Iterable[tuple[int, int]],
    zones: Iterable[str],
    ways: Iterable[tuple[float, float, float]],
) -> list[Splice]:
    """Mark the field splices.

    Parameters
    ----------
    drafts : sequence of Draft
        In the order they are made.
    shifts : iterable of (int, int)
        Crew and day of each.
    zones : iterable of str
        Pour or storey of each.
    ways : iterable of (float, float, float)
        Way walked and climbed to each [m], and time for a new cover before it [min].

    Returns
    -------
    list of Splice
    """
    return [
        Splice(
            mark=f"S{number}",
            made=Made.FIELD,
            kind=draft.kind,
            at_m=draft.at_m,
            profile=draft.profile,
            run=draft.run,
            node=draft.node,
            fitting=draft.fitting,
            reason=draft.reason,
            minutes=draft.minutes,
            crew=crew,
            day=day,
            weld=draft.weld,
            position=draft.position,
            zone=zone,
            walked_m=walked_m,
            climbed_m=climbed_m,
            cover_min=cover_min,
        )
        for number, (draft, (crew, day), zone, (walked_m, climbed_m, cover_min)) in enumerate(
            zip(drafts, shifts, zones, ways, strict=True), start=1
        )
    ]


def list_factory_splices(types: Sequence[FittingType], rules: Rules, *, first: int) -> Iterator[Splice]:
    """List the seams of all fittings that come from the factory, fitting by fitting.

    Parameters
    ----------
    types : sequence of FittingType
    rules : Rules
        Widths of the profiles.
    first : int
        Number of the first mark.

    Yields
    ------
    Splice
    """
    number = first
    clock = _Clock(rules)
    for kind in (kind for kind in types if kind.policy is Policy.FACTORY):
        reasons: dict[NodeKind, str] = {}
        for junction in chain.from_iterable(copy.junctions for copy in kind.copies):
            node = junction.node
            reason = reasons.setdefault(node.kind, f"seam of the {_noun(node)} in {kind.mark}")
            profile = clock.widest(strip.profile for strip in junction.strips)
            for _ in range(junction.seams.count):
                yield Splice(
                    mark=f"S{number}",
                    made=Made.FACTORY,
                    kind=SpliceKind.SEAM,
                    at_m=node.at_m,
                    profile=profile,
                    run=None,
                    node=node.mark,
                    fitting=kind.mark,
                    reason=reason,
                )
                number += 1


class _Clock:
    """Minutes of every kind of weld, worked out once a profile."""

    def __init__(self, rules: Rules) -> None:
        self._rules = rules
        self._known: dict[tuple[Weld, str, Position], float] = {}

    def minutes(self, weld: Weld, profile: str, position: Position) -> float:
        known = self._known.get((weld, profile, position))
        if known is None:
            width_m = self._rules.profiles[profile].width_m
            known = self._rules.crew.splice_min(weld, width_m=width_m, position=position)
            self._known[weld, profile, position] = known
        return known

    def worst(self, positions: Iterable[Position]) -> Position:
        """Return the position that takes longest of those that meet."""
        factors = self._rules.crew.position
        return max(sorted(set(positions)), key=lambda position: factors[position], default=Position.FLOOR)

    def widest(self, profiles: Iterable[str]) -> str:
        """Return the widest of the profiles that meet; of equally wide ones the first by name."""
        names = set(profiles)
        if len(names) == 1:
            return names.pop()
        return min(names, key=lambda name: (-self._rules.profiles[name].width_m, name))


class _RunSplices:
    """Finds the splices that lie inside runs."""

    def __init__(
        self, layout: Layout, marks: dict[str, str], clock: _Clock, positions: Positions, melt_m: float
    ) -> None:
        self._layout, self._marks, self._clock, self._melt_m = layout, marks, clock, melt_m
        self._positions = positions

    def find(self, stretch: Stretch, pieces_m: Sequence[float]) -> list[Draft]:
        """Return the splices of one run, from its start to its end."""
        run = stretch.run
        if stretch.use is Use.STRIP:
            found = self._of_strip(stretch, pieces_m)
        elif stretch.use is Use.MEETING:
            start, end = self._marks[run.start], self._marks[run.end]
            reason = f"legs of {start} and {end} meet: {stretch.note or 'no room for a piece between'}"
            found = [(stretch.legs_m[0], SpliceKind.LEG_TO_LEG, start, reason)]
        else:
            return []
        places = place_along(run.points_m.tolist(), [entry[0] for entry in found])
        position = self._positions.of(run)
        minutes = self._clock.minutes(Weld.BUTT, stretch.profile, position)
        return [
            Draft(
                place,
                kind,
                stretch.profile,
                run.mark,
                None,
                fitting,
                reason,
                minutes,
                place[2],
                Weld.BUTT,
                position,
                along_m,
            )
            for place, (along_m, kind, fitting, reason) in zip(places, found, strict=True)
        ]

    def _of_strip(self, stretch: Stretch, pieces_m: Sequence[float]) -> list[tuple[float, SpliceKind, str | None, str]]:
        run = stretch.run
        leg_start, leg_end = stretch.legs_m
        found: list[tuple[float, SpliceKind, str | None, str]] = []
        if leg_start:
            found.append((leg_start, SpliceKind.LEG, *self._leg(run.start)))
        at_m = leg_start - stretch.melts_m[0] - self._melt_m / 2
        for length in pieces_m[:-1]:
            at_m += length
            found.append((at_m, SpliceKind.PIECE, None, "longer than one roll reaches"))
            at_m -= self._melt_m
        if leg_end:
            found.append((run.length_m - leg_end, SpliceKind.LEG, *self._leg(run.end)))
        return found

    def _leg(self, node: str) -> tuple[str, str]:
        mark = self._marks[node]
        return mark, f"leg of {mark} to strip from the roll"


def _at_nodes(layout: Layout, clock: _Clock, positions: Positions) -> Iterator[Draft]:
    """Yield closures and transitions."""
    for node, role, seamed in zip(layout.nodes, layout.roles, layout.seamed, strict=True):
        if role is not Role.WELDED or seamed:
            continue
        names = [layout.stretch(arm.run).profile for arm in node.arms]
        profile = clock.widest(names)
        if node.kind is NodeKind.CLOSURE:
            kind, weld, reason = SpliceKind.CLOSURE, Weld.BUTT, "closes the ring"
        elif len(set(names)) > 1:
            kind, weld, reason = SpliceKind.TRANSITION, Weld.TRANSITION, f"{' meets '.join(sorted(set(names)))}"
        else:
            kind, weld, reason = SpliceKind.TRANSITION, Weld.TRANSITION, "the strip's lay changes"
        run = node.arms[0].run
        position = _position(node, layout, clock, positions)
        minutes = clock.minutes(weld, profile, position)
        yield Draft(node.at_m, kind, profile, run, node.mark, None, reason, minutes, node.at_m[2], weld, position)


def _position(node: Node, layout: Layout, clock: _Clock, positions: Positions) -> Position:
    return clock.worst(positions.of(layout.stretch(arm.run).run) for arm in node.arms)


def _seams_in_place(
    assemblies: Iterable[Assembly], layout: Layout, clock: _Clock, positions: Positions
) -> Iterator[Draft]:
    for assembly in assemblies:
        for junction in assembly.junctions:
            reason = f"seam of the {_noun(junction.node)}, welded in place"
            position = _position(junction.node, layout, clock, positions)
            yield from _seams(junction, clock, None, reason, junction.node.at_m[2], position, in_shop=False)


def _seams_in_site_shop(types: Iterable[FittingType], clock: _Clock) -> Iterator[Draft]:
    """Yield the seams of fittings made in the site shop: all of a fitting before its lowest part is welded in."""
    for kind in types:
        for copy in kind.copies:
            level_m = min(junction.node.at_m[2] for junction in copy.junctions)
            for junction in copy.junctions:
                reason = f"seam of the {_noun(junction.node)} in {kind.mark}, made in the site shop"
                yield from _seams(junction, clock, kind.mark, reason, level_m, Position.FLOOR, in_shop=True)


def _seams(
    junction: Junction,
    clock: _Clock,
    fitting: str | None,
    reason: str,
    level_m: float,
    position: Position,
    *,
    in_shop: bool,
) -> Iterator[Draft]:
    node = junction.node
    mitre = Weld(node.kind.value)
    welds = [(mitre, pair) for pair in junction.seams.mitred] + [(Weld.BUTT, pair) for pair in junction.seams.square]
    for weld, pair in welds:
        profile = clock.widest(junction.strips[arm].profile for arm in pair)
        yield Draft(
            node.at_m,
            SpliceKind.SEAM,
            profile,
            None,
            node.mark,
            fitting,
            reason,
            clock.minutes(weld, profile, position),
            level_m,
            weld,
            position,
            None,
            in_shop,
        )


def _noun(node: Node) -> str:
    return "node" if node.kind is NodeKind.OTHER else node.kind.value


def _in_order(drafts: list[Draft]) -> list[Draft]:
    """Sort by level, site shop first, then by place; what ties keeps its order."""
    if not drafts:
        return drafts
    keys = np.array([(draft.level_m, *draft.at_m) for draft in drafts]).round(3)
    in_shop = np.array([not draft.in_shop for draft in drafts])
    order = np.lexsort((keys[:, 3], keys[:, 2], keys[:, 1], in_shop, keys[:, 0]))
    return [drafts[i] for i in order.tolist()]
