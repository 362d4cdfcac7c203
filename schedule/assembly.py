"""Assembly: one piece as the shop makes it: a node with its strips, or several that stand too close to part."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from splicewright.extract.line import Vector
from splicewright.extract.node import Node

from .rules import Policy, Rules
from .seam import Seams, Strip, find_seams
from .stretch import Layout, Stretch, Use

__all__ = ["Assembly", "Junction", "gather", "strand_letters"]

_DECIMALS = 7
"""Directions are rounded to this, far below any saw's accuracy, so that equal nodes share one computation."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Junction:
    """One node whose strips are cut to meet; items of one position belong to one arm.

    Attributes
    ----------
    node : Node
        The node.
    strips : tuple of Strip
        Its arms as the saw sees them.
    stretches : tuple of Stretch
        The runs its arms belong to.
    seams : Seams
        How the strips are put together.
    policy : Policy
        Who puts them together.
    """

    node: Node
    strips: tuple[Strip, ...]
    stretches: tuple[Stretch, ...]
    seams: Seams
    policy: Policy

    def made_m(self, arm: int) -> float:
        """Return the length of one arm as made [m]: its leg, or half of a run inside the assembly."""
        stretch = self.stretches[arm]
        if stretch.use is Use.INNER:
            return stretch.run.length_m / 2
        return stretch.legs_made_m[0 if self.node.arms[arm].at_start else 1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Assembly:
    """One piece as the shop makes it.

    Attributes
    ----------
    junctions : tuple of Junction
        In the order of their nodes' marks.
    """

    junctions: tuple[Junction, ...]

    @property
    def policy(self) -> Policy:
        """Who makes it: the first of factory, site shop and field that any of its nodes asks for."""
        return min((junction.policy for junction in self.junctions), key=list(Policy).index)

    @property
    def seam_count(self) -> int:
        """Number of seams."""
        return sum(junction.seams.count for junction in self.junctions)

    @property
    def square_count(self) -> int:
        """Number of seams between square cuts."""
        return sum(len(junction.seams.square) for junction in self.junctions)

    def inner(self) -> Iterator[Stretch]:
        """Iterate over the runs that lie wholly inside."""
        for junction in self.junctions:
            for stretch, arm in zip(junction.stretches, junction.node.arms, strict=True):
                if stretch.use is Use.INNER and arm.at_start:
                    yield stretch

    def legs(self) -> Iterator[tuple[Junction, int]]:
        """Iterate over the free legs, as junction and arm."""
        for junction in self.junctions:
            for arm, stretch in enumerate(junction.stretches):
                if stretch.use is not Use.INNER:
                    yield junction, arm


def gather(layout: Layout, rules: Rules) -> list[Assembly]:
    """Gather the nodes that are put together from cut strips into assemblies.

    Under the policy "field" a node stands alone, and since the strips run from node to node no through piece stays
    whole.

    Parameters
    ----------
    layout : Layout
        What becomes of every node and run.
    rules : Rules
        Policy, bend limit and whether through pieces stay whole.

    Returns
    -------
    list of Assembly
        In the order of their first nodes.
    """
    junctions = _junctions(layout, rules)
    root = _Union()
    for stretch in layout.stretches:
        if stretch.use is Use.INNER:
            root.join(stretch.run.start, stretch.run.end)
    groups: dict[Hashable, list[Junction]] = {}
    for junction in junctions:
        groups.setdefault(root.of(junction.node.mark), []).append(junction)
    return [Assembly(junctions=_without_loops(group)) for group in groups.values()]


def strand_letters(assembly: Assembly) -> tuple[tuple[int, ...], ...]:
    """Tell the pieces of strip that an assembly is made of apart, whole through pieces first.

    Parameters
    ----------
    assembly : Assembly

    Returns
    -------
    tuple of tuple of int
        For each junction and arm the number of its piece, from 0.
    """
    root = _Union()
    through: list[Hashable] = []
    for junction in assembly.junctions:
        if junction.seams.whole:
            one, two = (_strand(junction, arm) for arm in junction.seams.whole)
            root.join(one, two)
            through.append(one)
    numbers: dict[Hashable, int] = {}
    every = (_strand(junction, arm) for junction in assembly.junctions for arm in range(len(junction.strips)))
    for strand in chain(through, every):
        numbers.setdefault(root.of(strand), len(numbers))
    return tuple(
        tuple(numbers[root.of(_strand(junction, arm))] for arm in range(len(junction.strips)))
        for junction in assembly.junctions
    )


class _Union:
    """Sets that grow together; things never joined are sets of their own."""

    def __init__(self) -> None:
        self._parent: dict[Hashable, Hashable] = {}

    def of(self, thing: Hashable) -> Hashable:
        parent = self._parent
        while (above := parent.get(thing, thing)) != thing:
            parent[thing] = thing = parent.get(above, above)
        return thing

    def join(self, one: Hashable, two: Hashable) -> bool:
        """Join two sets; False where they are one already."""
        one, two = self.of(one), self.of(two)
        self._parent[two] = one
        return one != two


def _strand(junction: Junction, arm: int) -> Hashable:
    """Name the strip that an arm is part of: a leg of its own, or a run shared with another arm."""
    run = junction.stretches[arm].run.mark
    return run if junction.stretches[arm].use is Use.INNER else (run, junction.node.arms[arm].at_start)


def _without_loops(group: Sequence[Junction]) -> tuple[Junction, ...]:
    """Cut through pieces that would come back to themselves: strip is not made as a ring."""
    root = _Union()
    if not any(stretch.use is Use.INNER for junction in group for stretch in junction.stretches):
        return tuple(group)
    junctions = []
    for junction in group:
        whole = junction.seams.whole
        open_ = whole is None or root.join(*(_strand(junction, arm) for arm in whole))
        junctions.append(junction if open_ else replace(junction, seams=junction.seams.parted()))
    return tuple(junctions)


def _junctions(layout: Layout, rules: Rules) -> Iterator[Junction]:
    known: dict[tuple[bool, tuple[Strip, ...]], Seams] = {}
    nodes = [node for node, seamed in zip(layout.nodes, layout.seamed, strict=True) if seamed]
    policies = [policy for policy, seamed in zip(layout.policies, layout.seamed, strict=True) if seamed]
    for (node, strips, stretches), policy in zip(_armed(nodes, layout), policies, strict=True):
        in_place = policy is Policy.FIELD
        seams = known.get((in_place, strips))
        if seams is None:
            seams = known[in_place, strips] = find_seams(
                strips,
                bend_limit_deg=rules.drawing.bend_limit_deg,
                through_whole=rules.fittings.through_whole and not in_place,
            )
        yield Junction(node=node, strips=strips, stretches=stretches, seams=seams, policy=policy)


def _armed(nodes: Sequence[Node], layout: Layout) -> Iterator[tuple[Node, tuple[Strip, ...], tuple[Stretch, ...]]]:
    every, run_at = layout.stretches, layout.run_at
    arms = [arm for node in nodes for arm in node.arms]
    stretches = [every[run_at[arm.run]] for arm in arms]
    headings = _rounded([arm.heading for arm in arms])
    sides = _rounded([arm.across or (0.0, 0.0, 0.0) for arm in arms])
    across = [side if arm.across else None for arm, side in zip(arms, sides, strict=True)]
    strips = list(map(Strip, headings, across, [stretch.profile for stretch in stretches]))
    stop = 0
    for node in nodes:
        first, stop = stop, stop + len(node.arms)
        yield node, tuple(strips[first:stop]), tuple(stretches[first:stop])


def _rounded(vectors: Iterable[Vector]) -> Iterator[Vector]:
    flat = np.fromiter(chain.from_iterable(vectors), dtype=np.float64)
    x, y, z = (np.round(flat, _DECIMALS) + 0.0).reshape(-1, 3).T.tolist()
    return zip(x, y, z, strict=True)
