"""Levels: heights with a name, and the layers that lie on them."""

from collections.abc import Sequence
from dataclasses import dataclass

from .selection import Selection

__all__ = ["Level", "levels_of_layer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A height with a name.

    Attributes
    ----------
    name : str
        Its name.
    height_m : float
        Height in space [m].
    match : tuple of str
        Patterns of the layers whose lines on any plan lie on it; empty for none.
    """

    name: str
    height_m: float
    match: tuple[str, ...] = ()


def levels_of_layer(levels: Sequence[Level], layer: str) -> tuple[float, ...]:
    """Return the heights of all levels whose pattern takes a layer [m], in the order of the rules.

    Examples
    --------
    >>> kicker = Level(name="kicker", height_m=0.15, match=("*-BASE",))
    >>> levels_of_layer([kicker], "WS-BASE"), levels_of_layer([kicker], "WS-SLAB")
    ((0.15,), ())
    """
    return tuple(level.height_m for level in levels if level.match and Selection(patterns=level.match).selects([layer]))
