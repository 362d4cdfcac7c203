"""Traits: what the properties of an element say of its strip: joint kind, lay, section, stage."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from .ifc_entity import Entity
from .ifc_file import DAMAGE
from .ifc_property import properties_of
from .line import JointKind
from .whereabouts import Whereabouts

__all__ = ["Traits", "joint_named", "traits_of", "whereabouts_of"]


_JOINTS: Mapping[str, JointKind] = {
    "slab": JointKind.SLAB,
    "floor": JointKind.SLAB,
    "wallbase": JointKind.WALL_BASE,
    "basewall": JointKind.WALL_BASE,
    "kicker": JointKind.WALL_BASE,
    "walltoslab": JointKind.WALL_BASE,
    "slabtowall": JointKind.WALL_BASE,
    "slabwall": JointKind.WALL_BASE,
    "wallslab": JointKind.WALL_BASE,
    "wall": JointKind.WALL,
    "baseseal": JointKind.BASE_SEAL,
}
_FLAT = frozenset({"flat", "level", "horizontal"})
_UPRIGHT = frozenset({"upright", "standing", "vertical"})
_STAGE = re.compile(r"\b(pour|stage|phase|construction sequence)", re.IGNORECASE)
_LAY = re.compile(r"(^|\W|_)(lay|orientation)$", re.IGNORECASE)
_WIDTH = re.compile(r"^(nominal|overall|strip|profile|waterstop)?[\W_]*width$", re.IGNORECASE)
_THICKNESS = re.compile(r"^(nominal|overall|strip|profile|waterstop)?[\W_]*thickness$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """What properties say of one strip, lengths in the model's own unit.

    Attributes
    ----------
    joint : JointKind or None
        From a property whose name holds "joint".
    upright : bool or None
        From a property named "lay" or "orientation": True upright, False flat.
    width, thickness : float or None
        From properties or quantities so named.
    stage : str
        From a property whose name holds "pour", "stage" or "phase".
    """

    joint: JointKind | None = None
    upright: bool | None = None
    width: float | None = None
    thickness: float | None = None
    stage: str = ""


def traits_of(element: Entity) -> Traits:
    """Read the traits of an element; a damaged property set says nothing."""
    try:
        pairs = [(name, value) for name, value in properties_of(element) if value is not None and value != ""]
    except DAMAGE:
        return Traits()
    words = {name: re.sub(r"[^a-z]", "", str(value).lower()) for name, value in pairs}
    lays = [words[name] for name, _ in pairs if _LAY.search(name)]
    return Traits(
        joint=next(
            (kind for name, value in pairs if "joint" in name.lower() if (kind := joint_named(str(value)))), None
        ),
        upright=next((lay in _UPRIGHT for lay in lays if lay in _UPRIGHT | _FLAT), None),
        width=next(_sizes(pairs, _WIDTH), None),
        thickness=next(_sizes(pairs, _THICKNESS), None),
        stage=next((str(value) for name, value in pairs if _STAGE.search(_spaced(name))), ""),
    )


def joint_named(text: str) -> JointKind | None:
    """Return the joint kind that a text names, None where it names none.

    Examples
    --------
    >>> joint_named("Wall base joint"), joint_named("expansion")
    (<JointKind.WALL_BASE: 'wall-base'>, None)
    """
    letters = re.sub(r"[^a-z]", "", text.lower().replace("joint", ""))
    return _JOINTS.get(letters)


def _spaced(name: str) -> str:
    """Put blanks between the words of a name such as ``PourNumber``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])|_", " ", name)


def _sizes(pairs: list[tuple[str, object]], wanted: re.Pattern[str]) -> Iterator[float]:
    for name, value in pairs:
        if wanted.match(_spaced(name)) and isinstance(value, int | float) and value > 0:
            yield float(value)


def whereabouts_of(element: Entity, stage: str) -> Whereabouts | None:
    """Return storey, structure and stage of an element, None where the model tells none of them."""
    storey = structure = ""
    try:
        for space in _spaces(element):
            if space.is_a("IfcBuildingStorey"):
                storey = storey or space.Name or ""
            elif not space.is_a("IfcSite") and not space.is_a("IfcProject") and not space.is_a("IfcSpace"):
                structure = structure or space.Name or ""
        stage = stage or _assigned_stage(element)
    except DAMAGE:
        pass
    found = Whereabouts(storey=storey, structure=structure, stage=stage)
    return found or None


def _spaces(element: Entity) -> Iterator[Entity]:
    """Yield what contains an element, from the nearest outwards."""
    at: Entity | None = element
    met: set[int] = set()
    while at is not None and at.id() not in met:
        met.add(at.id())
        if at is not element and not at.is_a("IfcElement"):
            yield at
        at = _holder(at)


def _holder(thing: Entity) -> Entity | None:
    for inverse, attribute in (
        ("ContainedInStructure", "RelatingStructure"),
        ("Decomposes", "RelatingObject"),
        ("Nests", "RelatingObject"),
    ):
        relations = getattr(thing, inverse, None)
        if relations:
            found: Entity | None = getattr(relations[0], attribute, None)
            return found
    return None


def _assigned_stage(element: Entity) -> str:
    """Return the name of the group, zone or task that says when an element is built."""
    groups: list[str] = []
    tasks: list[str] = []
    for relation in element.HasAssignments or ():
        if relation.is_a("IfcRelAssignsToGroup") and relation.RelatingGroup is not None:
            group = relation.RelatingGroup
            if group.is_a("IfcZone") or _STAGE.search(f"{group.Name or ''} {group.ObjectType or ''}"):
                groups.append(group.Name or "")
        elif relation.is_a("IfcRelAssignsToProcess") and relation.RelatingProcess is not None:
            tasks.append(relation.RelatingProcess.Name or "")
    for relation in getattr(element, "ReferencedBy", None) or ():
        tasks += [thing.Name or "" for thing in relation.RelatedObjects or () if thing.is_a("IfcTask")]
    return next((name for name in (*groups, *tasks) if name), "")
