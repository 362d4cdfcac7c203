"""Selection: which layers or elements are waterstop, and what profile and joint kind they carry."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from fnmatch import fnmatchcase

from .line import JointKind

__all__ = ["USUAL_NAMES", "Carrier", "Selection"]

USUAL_NAMES: tuple[str, ...] = ("*waterstop*", "*water stop*", "*water-stop*")
"""Patterns that mark waterstop where the user names none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """What the lines whose name matches a pattern carry.

    Attributes
    ----------
    match : str
        Pattern with ``*``, ``?`` and ``[...]``; letter case does not matter.
    profile : str or None
        Name of the profile, None where not known.
    joint : JointKind or None
        Kind of joint, None where not known.
    """

    match: str
    profile: str | None = None
    joint: JointKind | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Selection:
    """Which names are waterstop, and what they carry.

    Attributes
    ----------
    patterns : tuple of str
        Patterns of the names to read; empty means the carriers' patterns, and without carriers `USUAL_NAMES`.
    carriers : tuple of Carrier
        What they carry; the first that matches counts.

    Examples
    --------
    >>> Selection().selects(["A-WATERSTOP-SLAB"])
    True
    >>> Selection(patterns=("ws-*",)).selects(["WS-WALL"])
    True
    """

    patterns: tuple[str, ...] = ()
    carriers: tuple[Carrier, ...] = field(default=())

    @property
    def effective_patterns(self) -> tuple[str, ...]:
        """The patterns that decide, after the defaults have been filled in."""
        return self.patterns or tuple(c.match for c in self.carriers) or USUAL_NAMES

    def selects(self, names: Iterable[str]) -> bool:
        """Tell whether any of an entity's names is selected."""
        return any(_matches(name, pattern) for name in names for pattern in self.effective_patterns)

    def carrier_of(self, names: Iterable[str]) -> Carrier | None:
        """Return the first carrier that matches any of an entity's names, or None."""
        known = tuple(names)
        return next((c for c in self.carriers if any(_matches(name, c.match) for name in known)), None)


def _matches(name: str, pattern: str) -> bool:
    # Not casefold: it makes two letters of "ß", so that "?" would no longer stand for one.
    return fnmatchcase(name.lower(), pattern.lower())
