"""Stretches: what becomes of each run: inside a fitting, legs that meet, one leg, or strip from the roll."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from math import dist
from typing import TypeAlias

from splicewright.extract.line import Vector
from splicewright.extract.network import JointNetwork
from splicewright.extract.node import Node, NodeKind
from splicewright.extract.run import Run

from .rules import Policy, Rules

__all__ = ["SLACK_M", "Layout", "Role", "Stretch", "Use", "lay_out", "place_along"]

SLACK_M = 1e-6
"""Lengths this close are equal: coordinates far from the origin are no finer [m]."""


class Role(StrEnum):
    """What a node is to the strips that meet there."""

    FREE = "free"
    """An end: nothing to weld."""
    WELDED = "welded"
    """Strips are welded to each other in place."""
    FITTING = "fitting"
    """A fitting offers each strip a leg."""


class Use(StrEnum):
    """What becomes of a run."""

    INNER = "inner"
    """It lies wholly inside one fitting, too short for both legs."""
    MEETING = "meeting"
    """The legs of its two fittings meet in its middle."""
    LEG = "leg"
    """The leg of its one fitting takes it all."""
    STRIP = "strip"
    """Strip from the roll fills what the legs leave."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """What becomes of one run; pairs of values stand for its start and its end.

    Attributes
    ----------
    run : Run
        The run.
    profile : str
        Name of its profile in the rules.
    use : Use
        What becomes of it.
    legs_m : tuple of float
        Drawn length that the fittings' legs cover [m].
    legs_made_m : tuple of float
        Length that these legs are made with [m]: a leg that no roll piece meets must bring what its weld melts away.
    net_m : float
        Drawn length left for strip from the roll [m]; 0 unless `use` is STRIP.
    melts_m : tuple of float
        What the welds at the two ends of the strip from the roll melt away of it [m].
    note : str
        Why the use is not what the lengths alone ask for; "" where it is.
    """

    run: Run
    profile: str
    use: Use
    legs_m: tuple[float, float]
    legs_made_m: tuple[float, float]
    net_m: float
    melts_m: tuple[float, float]
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """All nodes and runs of a job, and what becomes of them; items of one position belong together.

    Attributes
    ----------
    nodes : tuple of Node
        In the order of their marks.
    roles : tuple of Role
        Of each node.
    seamed : tuple of bool
        Whether strips are cut to meet at each node, in the shop or on site.
    policies : tuple of Policy
        Who cuts and welds the strips at each node.
    stretches : tuple of Stretch
        Of each run, in the order of their marks.
    node_at, run_at : Mapping of str to int
        Position of each mark.
    """

    nodes: tuple[Node, ...]
    roles: tuple[Role, ...]
    seamed: tuple[bool, ...]
    policies: tuple[Policy, ...]
    stretches: tuple[Stretch, ...]
    node_at: Mapping[str, int]
    run_at: Mapping[str, int]

    def stretch(self, run: str) -> Stretch:
        """Return what becomes of the run of that mark."""
        return self.stretches[self.run_at[run]]


def lay_out(networks: Sequence[JointNetwork], rules: Rules) -> Layout:
    """Decide what becomes of every node and run.

    Parameters
    ----------
    networks : sequence of JointNetwork
        One a drawing, with marks unique across them.
    rules : Rules
        Policy, leg, least piece and melt.

    Returns
    -------
    Layout
    """
    nodes = tuple(chain.from_iterable(network.nodes() for network in networks))
    runs = sorted(chain.from_iterable(network.runs() for network in networks), key=_by_mark)
    seamed = tuple(_is_seamed(node) for node in nodes)
    filler = _Filler(rules)
    run_of = {run.mark: run for run in runs}
    policies = tuple(filler.policy(node, run_of) for node in nodes)
    roles = tuple(map(_role, nodes, seamed, policies))
    met = {node.mark: (role, node.kind.value) for node, role in zip(nodes, roles, strict=True)}
    names = {name: rules.profile_of(name).name for name in {run.profile for run in runs}}
    return Layout(
        nodes=nodes,
        roles=roles,
        seamed=seamed,
        policies=policies,
        stretches=tuple([filler.fill(run, names[run.profile], met[run.start], met[run.end]) for run in runs]),
        node_at={node.mark: i for i, node in enumerate(nodes)},
        run_at={run.mark: i for i, run in enumerate(runs)},
    )


def place_along(points: Sequence[Sequence[float]], distances_m: Sequence[float]) -> list[Vector]:
    """Return the places at given distances along a polyline.

    Parameters
    ----------
    points : sequence of (x, y, z)
        Vertices [m], two or more.
    distances_m : sequence of float
        Distances from the first vertex, ascending [m]; beyond the last vertex the place is the last vertex.

    Returns
    -------
    list of Vector

    Examples
    --------
    >>> place_along([(0, 0, 0), (3, 0, 0), (3, 4, 0)], [1.0, 5.0])
    [(1.0, 0.0, 0.0), (3.0, 2.0, 0.0)]
    """
    places: list[Vector] = []
    walked, at = 0.0, 0
    size = dist(points[0], points[1])
    for distance in distances_m:
        while distance > walked + size and at < len(points) - 2:
            walked, at = walked + size, at + 1
            size = dist(points[at], points[at + 1])
        share = min(1.0, (distance - walked) / size) if size else 0.0
        (ax, ay, az), (bx, by, bz) = points[at], points[at + 1]
        places.append((ax + share * (bx - ax), ay + share * (by - ay), az + share * (bz - az)))
    return places


_MADE_AS_FITTING = frozenset({NodeKind.CORNER, NodeKind.TEE, NodeKind.WYE, NodeKind.CROSS})


def _by_mark(run: Run) -> tuple[int, str]:
    return (len(run.mark), run.mark)


def _is_seamed(node: Node) -> bool:
    return node.kind in _MADE_AS_FITTING or (node.kind is NodeKind.OTHER and len(node.arms) > 2)


def _role(node: Node, seamed: bool, policy: Policy) -> Role:  # noqa: FBT001 (mapped over all nodes)
    if seamed and policy is not Policy.FIELD:
        return Role.FITTING
    return Role.WELDED if len(node.arms) > 1 else Role.FREE


_POLICY_RANK = {Policy.FACTORY: 0, Policy.SITE_SHOP: 1, Policy.FIELD: 2}

_Met: TypeAlias = tuple[Role, str]
"""What a run meets at one end: the node's role and kind."""


class _Filler:
    """Decides what becomes of runs; the numbers that are the same for all are looked up once."""

    def __init__(self, rules: Rules) -> None:
        self._rules, self._melt_m = rules, rules.splices.melt_m
        self._least_m = rules.splices.least_piece_m
        # What the weld at a node takes from strip off the roll: a leg gives nothing of its own.
        self._melts = {Role.FREE: 0.0, Role.WELDED: self._melt_m / 2, Role.FITTING: self._melt_m}
        self._known_legs: dict[tuple[str, str], float] = {}
        self._known_policies: dict[tuple[str, str | None], Policy] = {}

    def policy(self, node: Node, run_of: Mapping[str, Run]) -> Policy:
        """Return the policy of a node: of those of its strips the one that asks most of the shop."""
        if not self._rules.policies:
            return self._rules.fittings.policy
        return min((self._policy_of(run_of[arm.run]) for arm in node.arms), key=_POLICY_RANK.__getitem__)

    def fill(self, run: Run, profile: str, start: _Met, end: _Met) -> Stretch:
        """Fill one run."""
        use, legs_m, made_m = self._legs(run.length_m, profile, start, end)
        strip = use is Use.STRIP
        return Stretch(
            run=run,
            profile=profile,
            use=use,
            legs_m=legs_m,
            legs_made_m=made_m,
            net_m=run.length_m - legs_m[0] - legs_m[1] if strip else 0.0,
            melts_m=(self._melts[start[0]], self._melts[end[0]]) if strip else (0.0, 0.0),
        )

    def _legs(
        self, length_m: float, profile: str, start: _Met, end: _Met
    ) -> tuple[Use, tuple[float, float], tuple[float, float]]:
        """Return the use of a run and its legs, as drawn and as made."""
        first, last = start[0] is Role.FITTING, end[0] is Role.FITTING
        legs_m = (self._leg(start, profile), self._leg(end, profile))
        roomy = length_m + SLACK_M >= legs_m[0] + legs_m[1] + self._least_m
        if roomy or not (first or last):
            return Use.STRIP, legs_m, legs_m
        if not (first and last):
            made_m = length_m + self._melts[end[0] if first else start[0]]
            return Use.LEG, *(((length_m, 0.0), (made_m, 0.0)) if first else ((0.0, length_m), (0.0, made_m)))
        if length_m + SLACK_M < legs_m[0] + legs_m[1]:
            return Use.INNER, (0.0, 0.0), (0.0, 0.0)
        longer_m = (length_m - legs_m[0] - legs_m[1]) / 2
        legs_m = (legs_m[0] + longer_m, legs_m[1] + longer_m)
        return Use.MEETING, legs_m, (legs_m[0] + self._melt_m / 2, legs_m[1] + self._melt_m / 2)

    def _leg(self, met: _Met, profile: str) -> float:
        """Return the leg that a node gives a strip, 0 where it is no fitting [m]."""
        role, kind = met
        if role is not Role.FITTING:
            return 0.0
        known = self._known_legs.get((kind, profile))
        if known is None:
            known = self._known_legs[kind, profile] = self._rules.leg_m(kind, profile)
        return known

    def _policy_of(self, run: Run) -> Policy:
        key = (run.sources[0].layer if run.sources else "", run.profile)
        known = self._known_policies.get(key)
        if known is None:
            profile = self._rules.profile_of(run.profile).name
            known = self._known_policies[key] = self._rules.policy_of(key[0], profile)
        return known
