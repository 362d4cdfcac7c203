"""Which elements of an IFC model are waterstop: every name by which a pattern may find one.

| name | from |
| --- | --- |
| class | its own, and those it stands for, such as ``IfcWall`` for an ``IfcWallStandardCase`` |
| Name, ObjectType, PredefinedType | the element |
| type | Name and ElementType of its type object |
| layer | presentation layers of its representations and their items |
| classification | identification and name of references to it or to its type |
| group | Name and ObjectType of groups, systems and zones that hold it |
| property value | its own and its type's; only where the user gives a pattern, since a wall's remark is no name |

The parts of a selected assembly that has no shape of its own are selected with it.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from fnmatch import translate
from functools import cached_property
from typing import TypeVar

from .ifc_entity import Entity, Model
from .ifc_file import DAMAGE
from .ifc_property import properties_of, type_of, value_texts
from .selection import USUAL_NAMES, Selection

__all__ = ["Roll", "Selected", "candidates", "text_of"]

Matches = Callable[[str], bool]
_T = TypeVar("_T")
_NO_ELEMENTS = (
    "IfcSpatialElement",
    "IfcSpatialStructureElement",
    "IfcFeatureElement",
    "IfcPort",
    "IfcGrid",
    "IfcVirtualElement",
)
"""Products that are no things built: spaces, openings, ports, grids."""
_SHOWN_BY = ("IfcRepresentation", "IfcProductRepresentation", "IfcRepresentationItem", "IfcRepresentationMap")
_NAME, _OBJECT_TYPE = 2, 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Selected:
    """One selected element.

    Attributes
    ----------
    element : Entity
        The element.
    names : tuple of str
        All names by which a pattern may find it.
    label : str
        The element type it is listed under: its type's name, else its ObjectType, else its class.
    """

    element: Entity
    names: tuple[str, ...]
    label: str


def candidates(model: Model) -> list[Entity]:
    """Return all products that may be waterstop, in the order of the file's numbers."""
    left_out: set[int] = set()
    for kind in _NO_ELEMENTS:
        try:
            left_out.update(element.id() for element in model.by_type(kind))
        except RuntimeError:
            continue  # a class of another schema
    numbered = {element.id(): element for element in model.by_type("IfcProduct")}
    return [numbered[number] for number in sorted(numbered.keys() - left_out)]


@dataclass(kw_only=True, eq=False)
class Roll:
    """Calls the elements of one model by their names.

    Relations are gone through once, from what matches a pattern back to the elements, so that an element that
    nothing selects costs no more than a look at its class and its own names.

    Attributes
    ----------
    model : Model
        The model.
    selection : Selection
        Which are waterstop.
    unreadable : set of int
        Numbers of the elements met that are so damaged that not even their names can be read.
    """

    model: Model
    selection: Selection
    kinds: dict[str, tuple[tuple[str, ...], int | None]] = field(default_factory=dict)
    related: dict[str, bool] = field(default_factory=dict)
    unreadable: set[int] = field(default_factory=set)

    @cached_property
    def elements(self) -> list[Entity]:
        """All products that may be waterstop."""
        return candidates(self.model)

    @property
    def by_value(self) -> bool:
        """Whether property values are names: only where the user says what to look for."""
        return self.selection.effective_patterns != USUAL_NAMES

    @cached_property
    def selected(self) -> list[Selected]:
        """The selected elements in the order of the file's numbers."""
        chosen = self._chosen()
        found: dict[int, Selected] = {}
        for element in self.elements:
            if element.id() in chosen:
                self._take(element, (), found, 0)
        return [found[number] for number in sorted(found)]

    def names_of(self, element: Entity) -> tuple[str, ...]:
        """Return all names by which a pattern may find an element."""
        return tuple(dict.fromkeys(filter(None, map(text_of, self._all_names(element)))))

    def label_of(self, element: Entity) -> str:
        """Return the element type an element is listed under."""
        own = text_of(self._attribute(element, _OBJECT_TYPE))
        return _guarded(_type_name, element) or own or str(element.is_a())

    def _take(self, element: Entity, inherited: tuple[str, ...], found: dict[int, Selected], depth: int) -> None:
        """Take an element, or the parts of one that is only their sum."""
        names = tuple(dict.fromkeys((*self.names_of(element), *inherited)))
        parts = _guarded(_parts, element) or []
        if parts and depth < 16:
            for part in parts:
                self._take(part, names, found, depth + 1)
        elif element.id() not in found:
            found[element.id()] = Selected(element=element, names=names, label=self.label_of(element))

    def _chosen(self) -> set[int]:
        """Return the numbers of the elements that a pattern finds."""
        matches = _matcher(self.selection.effective_patterns)
        chosen = self._chosen_by_own(matches)
        for seek in (_by_type, _by_layer, _by_classification, _by_group):
            chosen.update(_safely(seek, self.model, matches))
        if self.by_value:
            chosen.update(_safely(_by_value, self.model, matches))
        return chosen

    def _related(self, kind: str) -> bool:
        """Tell whether the model has relations or assignments of a kind at all."""
        known = self.related.get(kind)
        if known is None:
            known = self.related[kind] = len(self.model.by_type(kind)) > 0
        return known

    def _chosen_by_own(self, matches: Matches) -> set[int]:
        """Return the numbers of the elements that a pattern finds by their own attributes."""
        of_kind: dict[str, list[Entity]] = {}
        for element in self.elements:
            of_kind.setdefault(element.is_a(), []).append(element)
        chosen: set[int] = set()
        for group in of_kind.values():
            kinds, predefined = self._kind(group[0])
            if _any(kinds, matches):
                chosen.update(element.id() for element in group)
                continue
            places = (_NAME, _OBJECT_TYPE) if predefined is None else (_NAME, _OBJECT_TYPE, predefined)
            for place in places:
                values = self._attributes(group, place)
                found = {value for value in set(values) if isinstance(value, str) and value and matches(value)}
                if found:
                    chosen.update(element.id() for element, v in zip(group, values, strict=True) if v in found)
        return chosen

    def _attributes(self, group: list[Entity], place: int) -> list[object]:
        try:
            return [element.get_argument(place) for element in group]
        except DAMAGE:
            return [self._attribute(element, place) for element in group]

    def _attribute(self, element: Entity, place: int) -> object:
        """Return an attribute, None where the instance is so damaged that none can be read, which is noted."""
        try:
            return element.get_argument(place)
        except DAMAGE:
            self.unreadable.add(element.id())
            return None

    def _kind(self, element: Entity) -> tuple[tuple[str, ...], int | None]:
        """Return the classes an element goes by, and the index of its predefined type."""
        kind = element.is_a()
        known = self.kinds.get(kind)
        if known is None:
            known = self.kinds[kind] = _classes(element)
        return known

    def _all_names(self, element: Entity) -> Iterator[str]:
        kinds, predefined = self._kind(element)
        yield from kinds
        for place in (_NAME, _OBJECT_TYPE, predefined):
            yield text_of(self._attribute(element, place)) if place is not None else ""
        for kind, more in _RELATED.items():
            if self._related(kind):
                yield from _guarded(more, element) or ()
        if self.by_value:
            yield from _guarded(_value_names, element) or ()


def _matcher(patterns: Iterable[str]) -> Matches:
    """Return what `Selection.selects` would say of one name."""
    whole = re.compile("|".join(translate(pattern.lower()) for pattern in patterns))

    def matches(name: str) -> bool:
        return whole.match(name.lower()) is not None

    return matches


def _classes(element: Entity) -> tuple[tuple[str, ...], int | None]:
    declaration = element.declaration.as_entity()
    attributes = [attribute.name() for attribute in declaration.all_attributes()]
    names = [declaration.name()]
    above = declaration.supertype()
    while above is not None and above.name() != "IfcElement":
        if not above.is_abstract():
            names.append(above.name())
        above = above.supertype()
    return tuple(names), attributes.index("PredefinedType") if "PredefinedType" in attributes else None


def _safely(
    seek: Callable[[Model, Matches], Iterator[int]],
    model: Model,
    matches: Matches,
) -> list[int]:
    """Return what can be found; a damaged relation hides only itself and those behind it."""
    found: list[int] = []
    try:
        found.extend(seek(model, matches))
    except DAMAGE:
        return found
    return found


def _guarded(read: Callable[[Entity], _T], element: Entity) -> _T | None:
    try:
        return read(element)
    except DAMAGE:
        return None


def _parts(element: Entity) -> list[Entity]:
    """Return the parts of an assembly that has no shape of its own."""
    if element.Representation is not None:
        return []
    return [part for relation in element.IsDecomposedBy or () for part in relation.RelatedObjects or ()]


def text_of(value: object) -> str:
    """Return an attribute that should be a text, "" where a damaged model has something else in its place."""
    return value if isinstance(value, str) else ""


def _any(names: Iterable[object], matches: Matches) -> bool:
    return any(isinstance(name, str) and bool(name) and matches(name) for name in names)


def _by_type(model: Model, matches: Matches) -> Iterator[int]:
    for relation in model.by_type("IfcRelDefinesByType"):
        typed = relation.RelatingType
        if typed is not None and _any(_own_type_names(typed), matches):
            yield from (element.id() for element in relation.RelatedObjects or ())


def _own_type_names(typed: Entity) -> tuple[str | None, ...]:
    return (typed.Name, getattr(typed, "ElementType", None), getattr(typed, "PredefinedType", None))


def _type_name(element: Entity) -> str:
    typed = type_of(element)
    return text_of(typed.Name) if typed is not None else ""


def _type_names(element: Entity) -> list[str]:
    typed = type_of(element)
    return [] if typed is None else [text_of(name) for name in _own_type_names(typed)]


def _by_layer(model: Model, matches: Matches) -> Iterator[int]:
    for layer in model.by_type("IfcPresentationLayerAssignment"):
        if _any((layer.Name,), matches):
            for item in layer.AssignedItems or ():
                yield from _products(model, item)


def _products(model: Model, item: Entity) -> Iterator[int]:
    """Yield the products that show a representation or an item, through mapped items too."""
    waiting, met = [item], {item.id()}
    while waiting:
        for user in model.get_inverse(waiting.pop()):
            if user.id() in met:
                continue
            met.add(user.id())
            if user.is_a("IfcProduct"):
                yield user.id()
            elif any(map(user.is_a, _SHOWN_BY)):
                waiting.append(user)


def _layer_names(element: Entity) -> list[str]:
    names: list[str] = []
    shape = element.Representation
    for shown in (shape.Representations if shape is not None else None) or ():
        names += [layer.Name for layer in shown.LayerAssignments or ()]
        for item in shown.Items or ():
            assigned = getattr(item, "LayerAssignment", None)
            if assigned is None:  # the older schema's name
                assigned = getattr(item, "LayerAssignments", None)
            names += [layer.Name for layer in assigned or ()]
    return names


def _by_classification(model: Model, matches: Matches) -> Iterator[int]:
    for relation in model.by_type("IfcRelAssociatesClassification"):
        if _any(_reference_names(relation.RelatingClassification), matches):
            for thing in relation.RelatedObjects or ():
                yield from _occurrences(thing)


def _occurrences(thing: Entity) -> Iterator[int]:
    """Yield a product itself, or those of a type."""
    if not thing.is_a("IfcTypeObject"):
        yield thing.id()
        return
    for relation in getattr(thing, "Types", None) or getattr(thing, "ObjectTypeOf", None) or ():
        yield from (element.id() for element in relation.RelatedObjects or ())


def _reference_names(reference: Entity | None) -> list[str]:
    """Return identification and name of a classification reference and of those above it."""
    names: list[str] = []
    while reference is not None and len(names) < 32:
        identification = getattr(reference, "Identification", None) or getattr(reference, "ItemReference", None)
        names += [name for name in (identification, getattr(reference, "Name", None)) if name]
        reference = getattr(reference, "ReferencedSource", None)
    return names


def _classification_names(element: Entity) -> list[str]:
    names: list[str] = []
    typed = type_of(element)
    for thing in (element, typed):
        for relation in getattr(thing, "HasAssociations", None) or ():
            if relation.is_a("IfcRelAssociatesClassification"):
                names += _reference_names(relation.RelatingClassification)
    return names


def _by_group(model: Model, matches: Matches) -> Iterator[int]:
    for relation in model.by_type("IfcRelAssignsToGroup"):
        group = relation.RelatingGroup
        if group is not None and _any((group.Name, group.ObjectType), matches):
            yield from (element.id() for element in relation.RelatedObjects or ())


def _group_names(element: Entity) -> list[str]:
    groups = [rel.RelatingGroup for rel in element.HasAssignments or () if rel.is_a("IfcRelAssignsToGroup")]
    return [name for group in groups if group is not None for name in (group.Name, group.ObjectType) if name]


def _by_value(model: Model, matches: Matches) -> Iterator[int]:
    """Yield the products that have a property of a matching value."""
    met: set[int] = set()
    for item in model.by_type("IfcSimpleProperty"):
        if _any(value_texts(item), matches):
            yield from _owners(model, item, met)


def _owners(model: Model, item: Entity, met: set[int]) -> Iterator[int]:
    waiting = [item]
    while waiting:
        for user in model.get_inverse(waiting.pop()):
            if user.id() in met:
                continue
            met.add(user.id())
            if user.is_a("IfcRelDefinesByProperties"):
                yield from (element.id() for element in user.RelatedObjects or ())
            elif user.is_a("IfcTypeObject"):
                yield from _occurrences(user)
            elif user.is_a("IfcPropertySet") or user.is_a("IfcComplexProperty"):
                waiting.append(user)


def _value_names(element: Entity) -> list[str]:
    return [str(value) for _, value in properties_of(element) if value is not None]


_RELATED: dict[str, Callable[[Entity], list[str]]] = {
    "IfcRelDefinesByType": _type_names,
    "IfcPresentationLayerAssignment": _layer_names,
    "IfcRelAssociatesClassification": _classification_names,
    "IfcRelAssignsToGroup": _group_names,
}
