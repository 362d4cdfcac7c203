"""Log form: the columns of the inspection log, and the key by which a later run knows its lines again."""

import re
from dataclasses import dataclass
from math import isfinite

from splicewright.extract.line import Vector

__all__ = [
    "ENTRIES",
    "HEADING",
    "KEY_TITLE",
    "LOG_SHEET",
    "OWN",
    "RESULTS",
    "SAMPLE_WELD",
    "TITLE_KEY",
    "VERSION",
    "LogKey",
    "heading_mark",
]

LOG_SHEET = "Inspection log"

OWN = ("Mark", "Earlier marks", "What", "Run or node", "Day", "Crew")
"""Headings of what the program writes."""

ENTRIES = ("Result", "Date", "Initials", "Defect", "Remarks")
"""Headings of what people fill in."""

RESULTS = ("accepted", "rejected", "made again")

VERSION = 1
"""Version of the key; a program reads those up to its own."""

KEY_TITLE = f"Key, form {VERSION}"

TITLE_KEY = "title"
"""Stands as key in rows above the headings and over what is left over."""

SAMPLE_WELD = "sample weld"
HEADING = "heading"

_BETWEEN = " | "
_MARK = re.compile(r"[SWD]\d*(-\d+)?")
_MOST_PROFILE = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class LogKey:
    """What tells a line of the inspection log from all others.

    Attributes
    ----------
    mark : str
        Mark of the splice, ``"W<crew>-<day>"`` for a sample weld, ``"D<crew>-<day>"`` for the heading of a day.
    kind : str
        Who makes a splice and how, such as ``"field leg to leg"``; `SAMPLE_WELD` or `HEADING`.
    at_m : Vector or None
        Place of a splice [m], in whole tenths of a millimetre.
    number, of : int
        Which of the splices that are alike at one place, from 1, and how many they are.
    profile : str
        Its profile, on one line and cut to 100 characters.
    """

    mark: str
    kind: str
    at_m: Vector | None = None
    number: int = 1
    of: int = 1
    profile: str = ""

    @classmethod
    def of_splice(cls, mark: str, kind: str, at_m: Vector, profile: str) -> "LogKey":
        """Make the key of a splice that is alone at its place."""
        x, y, z = (round(value, 4) + 0.0 for value in at_m)
        return cls(mark=mark, kind=kind, at_m=(x, y, z), profile=_on_one_line(profile))

    @property
    def text(self) -> str:
        """The key as it stands in a cell.

        Examples
        --------
        >>> LogKey.of_splice("S5", "field leg", (1.0, -0.25, 0.0), "bulb-9").text
        'S5 | field leg | 1/1 | 1.0000 -0.2500 0.0000 | bulb-9'
        """
        if self.at_m is None:
            return f"{self.mark}{_BETWEEN}{self.kind}"
        place = " ".join(f"{value:.4f}" for value in self.at_m)
        return _BETWEEN.join((self.mark, self.kind, f"{self.number}/{self.of}", place, self.profile))

    @classmethod
    def parse(cls, text: str) -> "LogKey | None":
        """Read a key from a cell; None where it is none.

        Examples
        --------
        >>> LogKey.parse("W1-3 | sample weld").mark
        'W1-3'
        >>> LogKey.parse("S5 | field leg | 1/1 | here | bulb-9") is None
        True
        """
        parts = [part.strip() for part in f"{text.strip()} ".split(_BETWEEN, 4)]
        if not _MARK.fullmatch(parts[0]):
            return None
        if len(parts) == 2 and parts[1] in {SAMPLE_WELD, HEADING}:
            return cls(mark=parts[0], kind=parts[1])
        return _parsed(cls, parts) if len(parts) == 5 else None


def _parsed(cls: type[LogKey], parts: list[str]) -> LogKey | None:
    mark, kind, share, place, profile = parts
    try:
        number, of = (int(part) for part in share.split("/"))
        x, y, z = (float(part) for part in place.split())
    except ValueError:
        return None
    if not all(map(isfinite, (x, y, z))):
        return None
    return cls(mark=mark, kind=kind, at_m=(x, y, z), number=number, of=of, profile=profile)


def heading_mark(crew: int | None, day: int | None) -> str:
    """Mark of the heading over a crew's day, or over what comes from the shop.

    Examples
    --------
    >>> heading_mark(1, 3), heading_mark(None, None)
    ('D1-3', 'D')
    """
    return "D" if crew is None or day is None else f"D{crew}-{day}"


def _on_one_line(text: str) -> str:
    """Write a text as a cell gives it back: no control characters, no line ends, no blanks at its ends."""
    clean = "".join(sign if sign.isprintable() else "�" for sign in " ".join(text.split()))
    return clean[:_MOST_PROFILE].strip()
