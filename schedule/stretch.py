"""Stretches: what becomes of each run: inside a fitting, legs that meet, one leg, or strip from the roll."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from math import dist

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
    """

    run: Run
    profile: str
    use: Use
    legs_m: tuple[float, float]
    legs_made_m: tuple[float, float]
    net_m: float
    melts_m: tuple[float, float]


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
    stretches : tuple of Stretch
        Of each run, in the order of their marks.
    node_at, run_at : Mapping of str to int
        Position of each mark.
    """

    nodes: tuple[Node, ...]
    roles: tuple[Role, ...]
    seamed: tuple[bool, ...]
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
    in_place = rules.fittings.policy is Policy.FIELD
    seamed = tuple(_is_seamed(node) for node in nodes)
    roles = tuple(_role(node, fitting=met and not in_place) for node, met in zip(nodes, seamed, strict=True))
    role_of = {node.mark: role for node, role in zip(nodes, roles, strict=True)}
    filler = _Filler(rules)
    names = {name: rules.profile_of(name).name for name in {run.profile for run in runs}}
    return Layout(
        nodes=nodes,
        roles=roles,
        seamed=seamed,
        stretches=tuple([filler.fill(run, names[run.profile], role_of[run.start], role_of[run.end]) for run in runs]),
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


def _role(node: Node, *, fitting: bool) -> Role:
    if fitting:
        return Role.FITTING
    return Role.WELDED if len(node.arms) > 1 else Role.FREE


class _Filler:
    """Decides what becomes of runs; the numbers that are the same for all are looked up once."""

    def __init__(self, rules: Rules) -> None:
        self._leg_m, self._melt_m = rules.fittings.leg_m, rules.splices.melt_m
        self._least_m = rules.splices.least_piece_m
        # What the weld at a node takes from strip off the roll: a leg gives nothing of its own.
        self._melts = {Role.FREE: 0.0, Role.WELDED: self._melt_m / 2, Role.FITTING: self._melt_m}

    def fill(self, run: Run, profile: str, start: Role, end: Role) -> Stretch:
        """Fill one run."""
        use, legs_m, made_m = self._legs(run.length_m, start, end)
        strip = use is Use.STRIP
        return Stretch(
            run=run,
            profile=profile,
            use=use,
            legs_m=legs_m,
            legs_made_m=made_m,
            net_m=run.length_m - legs_m[0] - legs_m[1] if strip else 0.0,
            melts_m=(self._melts[start], self._melts[end]) if strip else (0.0, 0.0),
        )

    def _legs(self, length_m: float, start: Role, end: Role) -> tuple[Use, tuple[float, float], tuple[float, float]]:
        """Return the use of a run and its legs, as drawn and as made."""
        leg_m = self._leg_m
        first, last = start is Role.FITTING, end is Role.FITTING
        legs_m = (leg_m if first else 0.0, leg_m if last else 0.0)
        roomy = length_m + SLACK_M >= legs_m[0] + legs_m[1] + self._least_m
        if roomy or not (first or last):
            return Use.STRIP, legs_m, legs_m
        if not (first and last):
            made_m = length_m + self._melts[end if first else start]
            return Use.LEG, *(((length_m, 0.0), (made_m, 0.0)) if first else ((0.0, length_m), (0.0, made_m)))
        if length_m + SLACK_M < 2 * leg_m:
            return Use.INNER, (0.0, 0.0), (0.0, 0.0)
        half_m = length_m / 2
        made_m = half_m + self._melt_m / 2
        return Use.MEETING, (half_m, half_m), (made_m, made_m)
