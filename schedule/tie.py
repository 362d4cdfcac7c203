"""Ties: runs between two fittings, which may lie inside an assembly, and the size of the pieces that they make."""

from collections.abc import Container, Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from math import ceil

from splicewright.extract.line import Vector

from .box import Extent, Frame, Limits, frames_of, leg_places, side_places
from .rules import Rules
from .stretch import SLACK_M, Layout, Stretch, Use

__all__ = ["Bench", "Roots", "Tie", "group_ties"]


class Tie:
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


def group_ties(ties: Sequence[Tie]) -> list[list[Tie]]:
    """Part the runs into groups that have no node in common."""
    root = Roots()
    for tie in ties:
        root.join(tie.start, tie.end)
    groups: dict[str, list[Tie]] = {}
    for tie in ties:
        groups.setdefault(root.of(tie.start), []).append(tie)
    return list(groups.values())


class Roots:
    """Sets of nodes that grow together."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def of(self, node: str) -> str:
        """Return the node that stands for the set of a node."""
        parent = self._parent
        while (above := parent.get(node, node)) != node:
            parent[node] = node = parent.get(above, above)
        return node

    def join(self, one: str, two: str) -> None:
        """Make one set of the sets of two nodes."""
        one, two = self.of(one), self.of(two)
        if one != two:
            self._parent[two] = one


class Bench:
    """One group of runs, with the extent and mass of its nodes and runs.

    A leg lies along its run, so taking the run into the assembly never makes the box smaller: sets of runs that are
    too large stay so with every run more.
    """

    def __init__(self, ties: Sequence[Tie], layout: Layout, rules: Rules) -> None:
        self.ties, self._limits = ties, Limits.of(rules)
        nodes = dict.fromkeys(node for tie in ties for node in (tie.start, tie.end))
        held = {mark: layout.nodes[layout.node_at[mark]] for mark in nodes}
        frames = frames_of([arm.heading for arm in node.arms] for node in held.values())
        self._places = {mark: node.at_m for mark, node in held.items()}
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

    def place(self, mark: str) -> Vector:
        """Return where a node is [m]."""
        return self._places[mark]

    @property
    def nodes(self) -> Iterable[str]:
        """Marks of the nodes."""
        return self._places

    def holds(self, extent: Extent, mass_kg: float) -> bool:
        """Tell whether an assembly stays within the limits, in one box at least."""
        return self._limits.hold_any(extent, mass_kg)

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

    def spread(self, first: int, allowed: Container[int]) -> Iterator[int]:
        """Yield the runs among those allowed that hang together with one of them, from it outward."""
        seen, queue = {first}, [first]
        for number in queue:
            yield number
            tie = self.ties[number]
            for node in (tie.start, tie.end):
                for near in self._ties_at[node]:
                    if near not in seen and near in allowed:
                        seen.add(near)
                        queue.append(near)

    def parts(self, numbers: Iterable[int]) -> list[list[int]]:
        """Part runs into those that hang together."""
        left, parts = dict.fromkeys(sorted(numbers)), []
        while left:
            part = sorted(self.spread(next(iter(left)), left))
            parts.append(part)
            for number in part:
                del left[number]
        return parts

    def reason(self, number: int, cut: AbstractSet[int]) -> str:
        """Say what would be too large with one of the parted runs inside."""
        extent, mass_kg = self.measure(sorted(self.spread(number, _Kept(cut, number))))
        excess = self._limits.excess(extent.best(), mass_kg)
        return f"as one piece they would be {excess}" if excess else "their piece would be too large"


class _Kept:
    """All runs but those cut, one of these taken back; made anew for every one, so it copies nothing."""

    def __init__(self, cut: AbstractSet[int], number: int) -> None:
        self._cut, self._number = cut, number

    def __contains__(self, number: object) -> bool:
        return number == self._number or number not in self._cut


def _run_extent(tie: Tie, frames: Sequence[Frame], rules: Rules) -> Extent:
    run, width_m = tie.stretch.run, rules.profiles[tie.stretch.profile].width_m
    places = [(x, y, z) for x, y, z in run.points_m.tolist()]
    along = side_places(places, run.across[0], width_m) if len(places) == 2 else places
    return Extent.of(along, frames)
