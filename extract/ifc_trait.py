"""Traits: what the properties of an element say of its strip: joint kind, lay, section, stage."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

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
_NO_STRUCTURE = ("IfcElement", "IfcSite", "IfcProject", "IfcSpace")
_FLAT = frozenset({"flat", "level", "horizontal"})
_UPRIGHT = frozenset({"upright", "standing", "vertical"})
_STAGES = tuple(re.compile(word, re.IGNORECASE) for word in (r"\bpour", r"\bstage|\bconstruction sequence", r"\bphase"))
"""Names that tell of a stage, the most telling first."""
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
    if not pairs:
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
        stage=next((str(value) for stage in _STAGES for name, value in pairs if stage.search(_spaced(name))), ""),
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


@lru_cache(maxsize=1024)
def _spaced(name: str) -> str:
    """Put blanks between the words of a name such as ``PourNumber``."""
    return re.sub(r"(?<=[a-z])(?=[A-Z])|_", " ", name)


def _sizes(pairs: list[tuple[str, object]], wanted: re.Pattern[str]) -> Iterator[float]:
    for name, value in pairs:
        if wanted.match(_spaced(name)) and isinstance(value, int | float) and value > 0:
            yield float(value)


def whereabouts_of(element: Entity, stage: str, known: dict[int, tuple[str, str]]) -> Whereabouts | None:
    """Return storey, structure and stage of an element, None where the model tells none of them.

    Parameters
    ----------
    element : Entity
        The element.
    stage : str
        Its stage where its properties tell.
    known : dict
        Storey and structure of what holds elements, filled as they are found.
    """
    try:
        holder = _holder(element)
        storey, structure = _spaces(holder, known) if holder is not None else ("", "")
    except DAMAGE:
        storey = structure = ""
    if not stage:
        try:
            stage = _assigned_stage(element)
        except DAMAGE:
            stage = ""
    return Whereabouts(storey=storey, structure=structure, stage=stage) or None


def _spaces(holder: Entity, known: dict[int, tuple[str, str]]) -> tuple[str, str]:
    """Return the nearest storey and structure that a holder is, or is held by."""
    found = known.get(holder.id())
    if found is not None:
        return found
    storey = structure = ""
    at: Entity | None = holder
    met: set[int] = set()
    while at is not None and at.id() not in met:
        met.add(at.id())
        if at.is_a("IfcBuildingStorey"):
            storey = storey or at.Name or ""
        elif not any(map(at.is_a, _NO_STRUCTURE)):
            structure = structure or at.Name or ""
        at = _holder(at)
    known[holder.id()] = (storey, structure)
    return storey, structure


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
            if group.is_a("IfcZone") or any(
                stage.search(f"{group.Name or ''} {group.ObjectType or ''}") for stage in _STAGES
            ):
                groups.append(group.Name or "")
        elif relation.is_a("IfcRelAssignsToProcess") and relation.RelatingProcess is not None:
            tasks.append(relation.RelatingProcess.Name or "")
    for relation in getattr(element, "ReferencedBy", None) or ():
        tasks += [thing.Name or "" for thing in relation.RelatedObjects or () if thing.is_a("IfcTask")]
    return next((name for name in (*groups, *tasks) if name), "")
