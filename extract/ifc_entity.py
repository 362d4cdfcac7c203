"""Entities: the instances of an IFC model as this program uses them, whatever library holds them."""

from collections.abc import Iterable, Sequence
from typing import Any, Protocol, overload

__all__ = ["Entity", "Log", "Model"]


class Entity(Protocol):
    """One instance of a model; its attributes, direct and inverse, go by the names of its schema."""

    @overload
    def is_a(self) -> str: ...

    @overload
    def is_a(self, kind: str, /) -> bool: ...

    def is_a(self, *_kind: str) -> str | bool:
        """Return its class, or tell whether it is of a class or of one derived from it."""

    def id(self) -> int:
        """Return its number in the file; 0 for a value that has none."""

    def get_argument(self, index: int, /) -> Any:  # noqa: ANN401 (an attribute may hold anything)
        """Return an attribute by its place, which is quicker than by its name."""

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401
        ...


class Model(Protocol):
    """A model: instances by number, by class, and by what refers to them."""

    def by_type(self, kind: str, /) -> Sequence[Any]:
        """Return the instances of a class and of those derived from it; RuntimeError where the schema lacks it."""

    def get_inverse(self, entity: Any, /) -> Iterable[Any]:  # noqa: ANN401 (a library's instance)
        """Return the instances that refer to one."""

    def entity_names(self) -> Sequence[int]:
        """Return the numbers of all instances."""


class Log(Protocol):
    """What the library notes while it reads a model."""

    def log_messages(self) -> Sequence[Any]:
        """Return all messages so far."""
