"""Fittings: what the shop makes, so that the site welds straight butts only."""

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TypeAlias

from splicewright.extract.node import NodeKind

from .assembly import Assembly, Junction
from .rules import Policy, Rules
from .seam import Strip
from .shape import ArmShape, Part, form_of_assembly, form_of_node, millimetres
from .stretch import Use

__all__ = ["Fitting", "FittingType", "group_alike", "list_fittings", "strip_by_profile"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One type of shop-made piece, and where its identical copies go.

    Attributes
    ----------
    mark : str
        ``"F1"``, ``"F2"``…, in the order of the first node of each type.
    kind : str
        Kind of its node (``"corner"``, ``"tee"``…) or ``"assembly"`` where it holds several.
    contents : str
        What it holds in words, for example ``"corner + tee"``.
    orientation : str
        Orientation of its node; of an assembly the one all share, else ``"mixed"``.
    profiles : tuple of str
        Profiles it is made of, sorted.
    quantity : int
        Number of identical copies, >= 1.
    legs_m : tuple of float
        Lengths of its free legs from node to square end [m], sorted from long to short.
    strip_m : float
        Centreline length of strip in one copy, legs and inner runs [m].
    factory_seams : int
        Seams in one copy.
    mass_kg : float
        Mass of one copy from its centreline length [kg].
    nodes : tuple of tuple of str
        For each copy, the marks of the nodes it serves.
    turn_deg : float
        Turn of its node [degrees]; 0 for assemblies.
    """

    mark: str
    kind: str
    contents: str
    orientation: str
    profiles: tuple[str, ...]
    quantity: int
    legs_m: tuple[float, ...]
    strip_m: float
    factory_seams: int
    mass_kg: float
    nodes: tuple[tuple[str, ...], ...]
    turn_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FittingType:
    """Assemblies that are the same piece.

    Attributes
    ----------
    mark : str
        ``"F1"``, ``"F2"``…, in the order of the first node of each type.
    copies : tuple of Assembly
        The assemblies, in the order of their first nodes.
    """

    mark: str
    copies: tuple[Assembly, ...]

    @property
    def policy(self) -> Policy:
        """Who makes it."""
        return self.copies[0].policy


def group_alike(assemblies: Sequence[Assembly], rules: Rules) -> list[FittingType]:
    """Group assemblies that the shop makes alike.

    Two are alike if one can be turned in space onto the other: same maker, angles, lays, profiles, leg lengths to the
    millimetre and distances. Profiles that may not be turned over are turned about the vertical only.

    Parameters
    ----------
    assemblies : sequence of Assembly
        In the order of their first nodes.
    rules : Rules
        Whether profiles are symmetric.

    Returns
    -------
    list of FittingType
    """
    writer = _Writer(rules)
    sketches = [writer.sketch(assembly) for assembly in assemblies]
    crowded = {sketch for sketch, count in Counter(sketches).items() if count > 1 and len(sketch) > 1}
    groups: dict[Hashable, list[Assembly]] = {}
    for assembly, sketch in zip(assemblies, sketches, strict=True):
        # A sketch of one node is its whole form; only assemblies with equal sketches need the full comparison.
        form = writer.form(assembly) if sketch in crowded else None
        groups.setdefault((assembly.policy, sketch, form), []).append(assembly)
    return [FittingType(mark=f"F{i}", copies=tuple(copies)) for i, copies in enumerate(groups.values(), start=1)]


def list_fittings(types: Sequence[FittingType], rules: Rules) -> list[Fitting]:
    """Describe every type of fitting by its first copy.

    Parameters
    ----------
    types : sequence of FittingType
    rules : Rules
        Masses of the profiles.

    Returns
    -------
    list of Fitting
    """
    return [_describe(kind, rules) for kind in types]


_Sketch: TypeAlias = tuple[Hashable, ...]


class _Writer:
    """Writes assemblies down so that equal ones read the same."""

    def __init__(self, rules: Rules) -> None:
        self._profiles = {name: i for i, name in enumerate(sorted(rules.profiles))}
        self._symmetric = {name for name, profile in rules.profiles.items() if profile.symmetric}
        self._known: dict[Hashable, int] = {}
        self._numbers: dict[Hashable, int] = {}

    def sketch(self, assembly: Assembly) -> _Sketch:
        """Return the numbers of an assembly's nodes, which equal assemblies share."""
        return tuple(sorted(self._number(junction) for junction in assembly.junctions))

    def form(self, assembly: Assembly) -> bytes:
        """Return the whole form of an assembly."""
        parts = [
            Part(junction.node.at_m, self._arms(junction), self._number(junction)) for junction in assembly.junctions
        ]
        return form_of_assembly(parts, upright=self._upright(chain.from_iterable(j.strips for j in assembly.junctions)))

    def _number(self, junction: Junction) -> int:
        """Return the number of one node's form; nodes that are alike share it."""
        node, arms = junction.node, self._arms(junction)
        key = (node.kind, node.orientation, arms)
        number = self._known.get(key)
        if number is None:
            form = form_of_node(arms, upright=self._upright(junction.strips))
            entry = (node.kind, node.orientation, form)
            number = self._known[key] = self._numbers.setdefault(entry, len(self._numbers))
        return number

    def _arms(self, junction: Junction) -> tuple[ArmShape, ...]:
        profiles, arms = self._profiles, []
        for strip, stretch, arm in zip(junction.strips, junction.stretches, junction.node.arms, strict=True):
            if stretch.use is Use.INNER:
                tag = (profiles[strip.profile], -1, millimetres(stretch.run.length_m))
            else:
                tag = (profiles[strip.profile], millimetres(stretch.legs_made_m[0 if arm.at_start else 1]), 0)
            arms.append(ArmShape(strip.heading, strip.across, tag))
        return tuple(arms)

    def _upright(self, strips: Iterable[Strip]) -> bool:
        return any(strip.profile not in self._symmetric for strip in strips)


def _describe(kind: FittingType, rules: Rules) -> Fitting:
    first = kind.copies[0]
    nodes = [junction.node for junction in first.junctions]
    orientations = {node.orientation.value for node in nodes}
    legs = [junction.made_m(arm) for junction, arm in first.legs()]
    strip_m = strip_by_profile(first)
    return Fitting(
        mark=kind.mark,
        kind=nodes[0].kind.value if len(nodes) == 1 else "assembly",
        contents=_contents(first),
        orientation=orientations.pop() if len(orientations) == 1 else "mixed",
        profiles=tuple(sorted(strip_m)),
        quantity=len(kind.copies),
        legs_m=tuple(sorted(legs, reverse=True)),
        strip_m=sum(strip_m.values()),
        factory_seams=first.seam_count,
        mass_kg=sum(length * rules.profiles[name].mass_kg_per_m for name, length in strip_m.items()),
        nodes=tuple(tuple(junction.node.mark for junction in copy.junctions) for copy in kind.copies),
        turn_deg=nodes[0].turn_deg if len(nodes) == 1 else 0.0,
    )


def strip_by_profile(assembly: Assembly) -> dict[str, float]:
    """Return the centreline length of strip in one assembly as made, by profile [m]."""
    lengths: dict[str, float] = {}
    for junction in assembly.junctions:
        for arm, strip in enumerate(junction.strips):
            lengths[strip.profile] = lengths.get(strip.profile, 0.0) + junction.made_m(arm)
    return lengths


def _contents(assembly: Assembly) -> str:
    """Tell in words what an assembly holds: ``"corner + 2 tees"``."""
    names = Counter(_name(junction) for junction in assembly.junctions)
    order = [kind.value for kind in NodeKind]
    words = sorted(names, key=lambda name: (order.index(name) if name in order else len(order), name))
    parts = [name if names[name] == 1 else f"{names[name]} {_plural(name)}" for name in words]
    rings = sum(stretch.run.start == stretch.run.end for stretch in assembly.inner())
    if rings:
        parts.append("ring" if rings == 1 else f"{rings} rings")
    return " + ".join(parts)


def _name(junction: Junction) -> str:
    kind = junction.node.kind
    return f"node of {len(junction.strips)} arms" if kind is NodeKind.OTHER else kind.value


def _plural(name: str) -> str:
    if name == NodeKind.CROSS.value:
        return "crosses"
    return name.replace("node", "nodes", 1) if name.startswith("node") else f"{name}s"
