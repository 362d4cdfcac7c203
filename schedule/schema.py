"""Schema: checks a value against the few words of JSON Schema that the record's schema uses.

``$ref``, ``type``, ``enum``, ``required``, ``properties``, ``additionalProperties`` and ``items`` are obeyed; the
others document. Checks are compiled once, so that the record of a large job is checked in about the time it takes to
read it.
"""

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

__all__ = ["Check", "compile_check"]

Check: TypeAlias = Callable[[object], str | None]
"""Returns the way to the first flaw and what it is, None where there is none."""

_TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
    "null": (type(None),),
}


def compile_check(schema: Mapping[str, Any], definitions: Mapping[str, Any]) -> Check:
    """Turn a schema into a function.

    Parameters
    ----------
    schema : Mapping
        JSON Schema.
    definitions : Mapping
        What ``$ref`` refers to, by the last part of the reference; without circles.

    Returns
    -------
    Check

    Examples
    --------
    >>> check = compile_check({"type": "object", "required": ["mark"], "properties": {"mark": {"type": "string"}}}, {})
    >>> check({"mark": "N1"})
    >>> check({"mark": 1}), check({})
    ('.mark is not string', '.mark is missing')
    """
    if "$ref" in schema:
        return compile_check(definitions[schema["$ref"].rpartition("/")[2]], definitions)
    named = schema.get("type", ())
    names = (named,) if isinstance(named, str) else tuple(named)
    types = frozenset(kind for name in names for kind in _TYPES[name])
    complaint = f" is not {' or '.join(names)}"
    deeper: dict[type, Check] = {dict: _object_check(schema, definitions), list: _array_check(schema, definitions)}
    if "enum" in schema:
        return _enum_check(tuple(schema["enum"]))
    if dict not in types and list not in types:
        return lambda value: None if type(value) in types else complaint

    def check(value: object) -> str | None:
        kind = type(value)
        if kind not in types:
            return complaint
        return deeper[kind](value) if kind in deeper else None

    return check


def _anything(_: object) -> str | None:
    return None


def _enum_check(allowed: tuple[object, ...]) -> Check:
    choices = ", ".join(map(str, allowed))

    def check(value: object) -> str | None:
        return None if value in allowed else f" is {value!r}, not one of {choices}"

    return check


def _array_check(schema: Mapping[str, Any], definitions: Mapping[str, Any]) -> Check:
    if "items" not in schema:
        return _anything
    inner = compile_check(schema["items"], definitions)

    def check(value: Any) -> str | None:  # noqa: ANN401 (a list, as its type has told)
        for number, item in enumerate(value):
            flaw = inner(item)
            if flaw is not None:
                return f"[{number}]{flaw}"
        return None

    return check


def _object_check(schema: Mapping[str, Any], definitions: Mapping[str, Any]) -> Check:
    known = {name: compile_check(inner, definitions) for name, inner in schema.get("properties", {}).items()}
    required = tuple(schema.get("required", ()))
    open_ended = schema.get("additionalProperties")
    rest = compile_check(open_ended, definitions) if isinstance(open_ended, dict) else _anything

    def check(value: Any) -> str | None:  # noqa: ANN401 (a dict, as its type has told)
        for name, inner in value.items():
            flaw = known.get(name, rest)(inner)
            if flaw is not None:
                return f".{name}{flaw}"
        missing = next((name for name in required if name not in value), None)
        return f".{missing} is missing" if missing is not None else None

    return check
