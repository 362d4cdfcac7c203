"""Joining: which nodes become one assembly, so that as few splices as can be are made on site.

Runs too short for both legs of their fittings lie inside one assembly; where the rules ask, neighbours are joined on
purpose. An assembly stays within the box and the mass that can be shipped: what does not fit is parted, and the two
legs are welded on site. Parting runs such that every assembly fits is a hitting-set problem: of every set of runs that
make an assembly too large, one at least is parted. It is solved exactly where a group of neighbours is small, as an
integer program to which the sets are added as they turn up; in large groups assemblies grow one run at a time, and sets
that have no run in common prove how many must be parted at least.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from splicewright.extract.finding import Finding, Severity

from .box import Extent, Frame, Limits, frames_of, leg_places, side_places
from .rules import Rules
from .stretch import SLACK_M, Layout, Role, Stretch, Use

__all__ = ["Joining", "Parting", "find_partings", "join_nodes"]

_MOST_EXACT = 48
"""Runs of a group up to which the least number of field splices is sought exactly."""

_MOST_ROUNDS = 400
"""Rounds of the search after which it stops with what is proven until then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """One run that is too short for both legs but is welded on site, since its assembly would be too large.

    Attributes
    ----------
    run : str
        Mark of the run.
    reason : str
        What would be too large.
    """

    run: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """What joining nodes to assemblies came to.

    Attributes
    ----------
    field_splices : int
        Splices made on site on runs between two fittings.
    least_field_splices : int
        Proven least number of them within the limits, with the legs of the rules.
    saved : int
        Field splices that joining on purpose saves.
    joined : tuple of str
        Runs that lie inside an assembly on purpose.
    partings : tuple of Parting
        Runs that are welded on site against their length.
    """

    field_splices: int
    least_field_splices: int
    saved: int
    joined: tuple[str, ...]
    partings: tuple[Parting, ...]


def join_nodes(layout: Layout, rules: Rules) -> tuple[Layout, Joining]:
    """Join nodes to assemblies within what can be shipped, with as few field splices as can be.

    First as few runs as can be are parted that are too short for both legs; then, where the rules join on purpose,
    as few field splices as can be are left.

    Parameters
    ----------
    layout : Layout
        What becomes of every node and run by the lengths alone.
    rules : Rules
        Limits, and whether to join on purpose.

    Returns
    -------
    Layout
        The same with some runs taken into assemblies and others parted.
    Joining
    """
    between = [i for i, stretch in enumerate(layout.stretches) if _between_fittings(stretch, layout)]
    ties = [_Tie(i, layout.stretches[i], rules) for i in between]
    open_ties = [tie for tie in ties if tie.forced or (rules.assemblies.join and tie.cost)]
    parted: set[int] = set()
    reasons: dict[int, str] = {}
    least = sum(tie.splices for tie in ties) - sum(tie.splices for tie in open_ties)
    for group in _groups(open_ties):
        bench = _Bench(group, layout, rules)
        cut, bound = _part(bench)
        least += bound
        for number in cut:
            tie = bench.ties[number]
            parted.add(tie.position)
            if tie.forced:
                reasons[tie.position] = bench.reason(number, cut)
    joined = [tie for tie in open_ties if not tie.forced and tie.position not in parted]
    changed = {tie.position: _inside(layout.stretches[tie.position]) for tie in joined}
    melt_m = rules.splices.melt_m
    changed |= {i: _welded(layout.stretches[i], reason, melt_m) for i, reason in reasons.items()}
    stretches = [changed.get(i, stretch) for i, stretch in enumerate(layout.stretches)]
    marks = [layout.stretches[i].run.mark for i in sorted(reasons)]
    inside = {tie.position for tie in joined}
    return replace(layout, stretches=tuple(stretches)) if changed else layout, Joining(
        field_splices=sum(tie.cost for tie in ties if tie.position in reasons)
        + sum(tie.splices for tie in ties if tie.position not in inside),
        least_field_splices=least,
        saved=sum(tie.cost for tie in joined),
        joined=tuple(layout.stretches[i].run.mark for i in sorted(inside)),
        partings=tuple(Parting(run=mark, reason=reasons[i]) for mark, i in zip(marks, sorted(reasons), strict=True)),
    )


def find_partings(joining: Joining, layout: Layout) -> Iterator[Finding]:
    """Report the runs that are welded on site against their length.

    Parameters
    ----------
    joining : Joining
    layout : Layout
        With these runs parted.

    Yields
    ------
    Finding
        ``assembly-parted``, one a run, at its middle.
    """
    for parting in joining.partings:
        stretch = layout.stretch(parting.run)
        run, points = stretch.run, stretch.run.points_m
        middle = points[len(points) // 2] if len(points) > 2 else (points[0] + points[1]) / 2
        yield Finding(
            code="assembly-parted",
            severity=Severity.WARNING,
            message=(
                f"Nodes {run.start} and {run.end} stand {run.length_m:.2f} m apart, too close for both legs of their "
                f"fittings, but {parting.reason}: legs of {stretch.legs_m[0]:.2f} and {stretch.legs_m[1]:.2f} m are "
                "welded on site there; agree on that, or on larger limits."
            ),
            at_m=(float(middle[0]), float(middle[1]), float(middle[2])),
            sources=run.sources[:1],
        )


def _between_fittings(stretch: Stretch, layout: Layout) -> bool:
    roles = (layout.roles[layout.node_at[node]] for node in (stretch.run.start, stretch.run.end))
    return all(role is Role.FITTING for role in roles)


class _Tie:
    """One run between two fittings, which may lie inside an assembly."""

    __slots__ = ("cost", "end", "forced", "legs_m", "position", "splices", "start", "stretch")

    def __init__(self, position: int, stretch: Stretch, rules: Rules) -> None:
        self.position, self.stretch = position, stretch
        self.start, self.end = stretch.run.start, stretch.run.end
        self.forced = stretch.use is Use.INNER
        half = stretch.run.length_m / 2
        self.legs_m = (half, half) if self.forced else stretch.legs_m
        self.cost = _field_splices(stretch, rules)
        """Field splices that parting it costs."""
        self.splices = 0 if self.forced else self.cost
        """Field splices that its length alone asks for."""


def _field_splices(stretch: Stretch, rules: Rules) -> int:
    """Count the field splices of a run that does not lie inside an assembly."""
    if stretch.use is not Use.STRIP:
        return 1
    roll_m, melt_m = rules.profiles[stretch.profile].rolls[-1].length_m, rules.splices.melt_m
    pieces = max(1, ceil((stretch.net_m + melt_m - SLACK_M) / max(roll_m - melt_m, SLACK_M)))
    return 1 + pieces


def _inside(stretch: Stretch) -> Stretch:
    none = (0.0, 0.0)
    return replace(stretch, use=Use.INNER, legs_m=none, legs_made_m=none, net_m=0.0, melts_m=none)


def _welded(stretch: Stretch, reason: str, melt_m: float) -> Stretch:
    half_m = stretch.run.length_m / 2
    made_m = half_m + melt_m / 2
    return replace(stretch, use=Use.MEETING, legs_m=(half_m, half_m), legs_made_m=(made_m, made_m), note=reason)


def _groups(ties: Sequence[_Tie]) -> list[list[_Tie]]:
    """Part the runs into groups that have no node in common."""
    root = _Roots()
    for tie in ties:
        root.join(tie.start, tie.end)
    groups: dict[str, list[_Tie]] = {}
    for tie in ties:
        groups.setdefault(root.of(tie.start), []).append(tie)
    return list(groups.values())


class _Roots:
    """Sets of nodes that grow together."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def of(self, node: str) -> str:
        parent = self._parent
        while (above := parent.get(node, node)) != node:
            parent[node] = node = parent.get(above, above)
        return node

    def join(self, one: str, two: str) -> None:
        one, two = self.of(one), self.of(two)
        if one != two:
            self._parent[two] = one


class _Bench:
    """One group of runs, with the extent and mass of its nodes and runs.

    A leg lies along its run, so taking the run into the assembly never makes the box smaller: sets of runs that are
    too large stay so with every run more.
    """

    def __init__(self, ties: Sequence[_Tie], layout: Layout, rules: Rules) -> None:
        self.ties, self._limits = ties, Limits.of(rules)
        nodes = dict.fromkeys(node for tie in ties for node in (tie.start, tie.end))
        held = {mark: layout.nodes[layout.node_at[mark]] for mark in nodes}
        frames = frames_of([arm.heading for arm in node.arms] for node in held.values())
        self._ties_at: dict[str, list[int]] = {}
        legs = {}
        for number, tie in enumerate(ties):
            legs[tie.stretch.run.mark] = tie.legs_m
            for node_mark in dict.fromkeys((tie.start, tie.end)):
                self._ties_at.setdefault(node_mark, []).append(number)
        self._node_extent: dict[str, Extent] = {}
        self._node_kg: dict[str, float] = {}
        for mark, node in held.items():
            places, mass_kg = [node.at_m], 0.0
            for arm in node.arms:
                stretch = layout.stretch(arm.run)
                profile = rules.profiles[stretch.profile]
                leg_m = legs.get(arm.run, stretch.legs_m)[0 if arm.at_start else 1]
                way = leg_places(stretch.run.points_m.tolist(), leg_m, at_start=arm.at_start)
                places += side_places(way, arm.across, profile.width_m)
                mass_kg += leg_m * profile.mass_kg_per_m
            self._node_extent[mark], self._node_kg[mark] = Extent.of(places, frames), mass_kg
        self._tie_extent = [_run_extent(tie, frames, rules) for tie in ties]
        self._tie_kg = [
            (tie.stretch.run.length_m - sum(tie.legs_m)) * rules.profiles[tie.stretch.profile].mass_kg_per_m
            for tie in ties
        ]

    def node(self, mark: str) -> tuple[Extent, float]:
        """Return extent and mass of one node with its legs."""
        return self._node_extent[mark], self._node_kg[mark]

    def tie(self, number: int) -> tuple[Extent, float]:
        """Return extent of one run, and the mass that it adds to the legs at its ends."""
        return self._tie_extent[number], self._tie_kg[number]

    def holds(self, extent: Extent, mass_kg: float) -> bool:
        """Tell whether an assembly stays within the limits, in one box at least."""
        return any(self._limits.hold(sides, mass_kg) for sides in extent.boxes())

    def near(self, node: str) -> list[int]:
        """Return the runs at a node."""
        return self._ties_at[node]

    def measure(self, numbers: Iterable[int]) -> tuple[Extent, float]:
        """Return extent and mass of the assembly that runs make together."""
        extent, mass_kg, nodes = None, 0.0, dict[str, None]()
        for number in numbers:
            own, kg = self.tie(number)
            extent, mass_kg = own if extent is None else extent | own, mass_kg + kg
            nodes |= dict.fromkeys((self.ties[number].start, self.ties[number].end))
        for mark in nodes:
            own, kg = self.node(mark)
            extent, mass_kg = own if extent is None else extent | own, mass_kg + kg
        if extent is None:
            raise ValueError("an assembly needs a run")
        return extent, mass_kg

    def fits(self, numbers: Iterable[int]) -> bool:
        """Tell whether runs that hang together may lie inside one assembly."""
        return self.holds(*self.measure(numbers))

    def parts(self, numbers: Iterable[int]) -> list[list[int]]:
        """Part runs into those that hang together."""
        left, parts = dict.fromkeys(sorted(numbers)), []
        while left:
            first = next(iter(left))
            del left[first]
            part, at = [first], 0
            while at < len(part):
                tie = self.ties[part[at]]
                at += 1
                for node in (tie.start, tie.end):
                    near = [number for number in self.near(node) if number in left]
                    part += near
                    for number in near:
                        del left[number]
            parts.append(sorted(part))
        return parts

    def reason(self, number: int, cut: set[int]) -> str:
        """Say what would be too large with one of the parted runs inside."""
        kept = [i for i in range(len(self.ties)) if i not in cut or i == number]
        part = next(part for part in self.parts(kept) if number in part)
        extent, mass_kg = self.measure(part)
        excess = self._limits.excess(extent.best(), mass_kg)
        return f"as one piece they would be {excess}" if excess else "their piece would be too large"


def _run_extent(tie: _Tie, frames: Sequence[Frame], rules: Rules) -> Extent:
    run, width_m = tie.stretch.run, rules.profiles[tie.stretch.profile].width_m
    places = [(x, y, z) for x, y, z in run.points_m.tolist()]
    along = side_places(places, run.across[0], width_m) if len(places) == 2 else places
    return Extent.of(along, frames)


def _part(bench: _Bench) -> tuple[set[int], int]:
    """Choose the runs to part, and prove how many field splices there are at least."""
    every = range(len(bench.ties))
    if all(bench.fits(part) for part in bench.parts(every)):
        return set(), 0
    cut = _part_exactly(bench) if len(bench.ties) <= _MOST_EXACT else None
    if cut is not None:
        return cut, sum(bench.ties[number].cost for number in cut)
    bound = sum(min(bench.ties[number].cost for number in conflict) for conflict in _conflicts(bench, every))
    return _part_greedily(bench), bound


def _part_exactly(bench: _Bench) -> set[int] | None:
    """Part as few runs as can be, those too short for both legs last; None where the search takes too long."""
    optional = 1 + sum(tie.cost for tie in bench.ties if not tie.forced)
    weights = [optional if tie.forced else tie.cost for tie in bench.ties]
    conflicts: list[list[int]] = []
    cut: set[int] = set()
    for _ in range(_MOST_ROUNDS):
        found = list(_conflicts(bench, (i for i in range(len(bench.ties)) if i not in cut)))
        if not found:
            return cut
        conflicts += found
        cut = _hit(conflicts, weights)
    return None


def _hit(conflicts: Sequence[Sequence[int]], weights: Sequence[int]) -> set[int]:
    """Choose runs of least weight such that every conflict holds one."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (slow to import, seldom needed)

    rows = np.zeros((len(conflicts), len(weights)))
    for row, conflict in zip(rows, conflicts, strict=True):
        row[list(conflict)] = 1
    # A hair of preference for runs of low numbers makes the choice among equals one and the same.
    tie_break = np.arange(1, len(weights) + 1) / (4.0 * len(weights) ** 2)
    solved = milp(
        c=np.array(weights) + tie_break,
        integrality=np.ones(len(weights)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(rows, lb=1),
        options={"mip_rel_gap": 0},
    )
    return {i for i, value in enumerate(solved.x) if value > 0.5}


def _conflicts(bench: _Bench, numbers: Iterable[int]) -> Iterator[list[int]]:
    """Yield sets of runs that are too large for one assembly; no two have a run in common, none can do with fewer."""
    left = bench.parts(numbers)
    while left:
        part = left.pop()
        if bench.fits(part):
            continue
        conflict = _least_conflict(bench, part)
        yield conflict
        left += bench.parts(number for number in part if number not in set(conflict))


def _least_conflict(bench: _Bench, part: Sequence[int]) -> list[int]:
    """Grow runs from the first one until they are too large, then leave out what is not needed for that."""
    grown: list[int] = []
    extent, mass_kg, nodes = None, 0.0, set[str]()
    for number in _spreading(bench, part):
        grown.append(number)
        tie = bench.ties[number]
        fresh = [mark for mark in dict.fromkeys((tie.start, tie.end)) if mark not in nodes]
        nodes.update(fresh)
        for own, kg in (bench.tie(number), *map(bench.node, fresh)):
            extent, mass_kg = own if extent is None else extent | own, mass_kg + kg
        if extent is not None and not bench.holds(extent, mass_kg):
            break
    for number in list(grown):
        rest = [i for i in grown if i != number]
        too_large = [piece for piece in bench.parts(rest) if not bench.fits(piece)]
        if too_large:
            grown = too_large[0]
    return sorted(grown)


def _spreading(bench: _Bench, part: Sequence[int]) -> Iterator[int]:
    """Yield runs that hang together from the first one outward."""
    inside, seen, queue = set(part), {part[0]}, [part[0]]
    for number in queue:
        yield number
        tie = bench.ties[number]
        for node in (tie.start, tie.end):
            for near in bench.near(node):
                if near in inside and near not in seen:
                    seen.add(near)
                    queue.append(near)


def _part_greedily(bench: _Bench) -> set[int]:
    """Take runs into assemblies one by one, those too short for both legs first, then those that save most."""
    root, cut = _Roots(), set[int]()
    held: dict[str, tuple[Extent, float]] = {}
    order: Mapping[int, tuple[bool, int, float]] = {
        i: (not tie.forced, -tie.cost, round(tie.stretch.run.length_m, 6)) for i, tie in enumerate(bench.ties)
    }
    for number in sorted(order, key=lambda i: (*order[i], i)):
        tie = bench.ties[number]
        roots = dict.fromkeys((root.of(tie.start), root.of(tie.end)))
        extent, mass_kg = bench.tie(number)
        for mark in roots:
            own, kg = held.get(mark) or bench.node(mark)
            extent, mass_kg = extent | own, mass_kg + kg
        if bench.holds(extent, mass_kg):
            root.join(*[*roots, *roots][:2])
            held[root.of(tie.start)] = (extent, mass_kg)
        else:
            cut.add(number)
    return cut
