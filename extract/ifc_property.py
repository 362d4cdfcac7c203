"""Properties and quantities of an element of an IFC model, its own before those of its type."""

from collections.abc import Iterable, Iterator

from .ifc_entity import Entity

__all__ = ["properties_of", "type_of", "value_texts"]


def type_of(element: Entity) -> Entity | None:
    """Return the type object of an element, None where it has none."""
    relations = getattr(element, "IsTypedBy", None)
    if relations is None:
        relations = [rel for rel in getattr(element, "IsDefinedBy", ()) if rel.is_a("IfcRelDefinesByType")]
    found: Entity | None = relations[0].RelatingType if relations else None
    return found


def properties_of(element: Entity) -> Iterator[tuple[str, object]]:
    """Yield name and value of every simple property and quantity, the element's own first."""
    for relation in getattr(element, "IsDefinedBy", None) or ():
        if relation.is_a("IfcRelDefinesByProperties"):
            yield from _of_set(relation.get_argument(5))
    typed = type_of(element)
    for definition in (typed.HasPropertySets if typed is not None else None) or ():
        yield from _of_set(definition)


def _of_set(definition: Entity | tuple[Entity, ...] | None) -> Iterator[tuple[str, object]]:
    if isinstance(definition, tuple):
        for part in definition:
            yield from _of_set(part)
    elif definition is not None and definition.is_a("IfcPropertySet"):
        yield from _of_properties(definition.get_argument(4), 0)
    elif definition is not None and definition.is_a("IfcElementQuantity"):
        for quantity in definition.Quantities or ():
            if quantity.is_a("IfcPhysicalSimpleQuantity"):
                yield quantity.Name or "", quantity[3]


def _of_properties(properties: Iterable[Entity] | None, depth: int) -> Iterator[tuple[str, object]]:
    for item in properties or ():
        if item.is_a() == "IfcPropertySingleValue":  # by place, not by name: the usual case, many times over
            value = item.get_argument(2)
            if value is not None:
                yield item.get_argument(0) or "", value.get_argument(0)
        elif item.is_a("IfcComplexProperty") and depth < 8:
            yield from _of_properties(item.HasProperties, depth + 1)
        else:
            for value in _values(item):
                yield item.Name or "", value


def _values(item: Entity) -> Iterator[object]:
    """Yield the plain values of a property."""
    held: Iterable[Entity | None] = ()
    if item.is_a("IfcPropertySingleValue"):
        held = (item.NominalValue,)
    elif item.is_a("IfcPropertyEnumeratedValue"):
        held = item.EnumerationValues or ()
    elif item.is_a("IfcPropertyListValue"):
        held = item.ListValues or ()
    for value in held:
        if value is not None:
            yield value.wrappedValue


def value_texts(item: Entity) -> list[str]:
    """Return the values of a property as texts."""
    return [str(value) for value in _values(item)]
