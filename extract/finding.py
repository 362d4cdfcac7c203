"""Findings: what is odd in a drawing, where it is, and which entity shows it."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["Finding", "Severity", "Source", "place_text"]


class Severity(StrEnum):
    """How much a finding matters.

    An *error* leaves the barrier broken or unbuildable until someone decides; a *warning* is likely a drafting
    slip or an assumption to confirm; a *note* tells what the program did.
    """

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The drawn entity something comes from.

    Attributes
    ----------
    file : str
        Name of the drawing, without its folder.
    layer : str
        Layer (DXF) or element type (IFC) as written in the file.
    entity : str
        Entity type and its handle or GlobalId, for example ``"LWPOLYLINE 2F3"``.
    """

    file: str
    layer: str
    entity: str

    def __str__(self) -> str:
        return f"{self.file}, layer {self.layer!r}, {self.entity}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One oddity of a drawing.

    Attributes
    ----------
    code : str
        Stable short name, lower case with hyphens, for example ``"near-miss"``.
    severity : Severity
        How much it matters.
    message : str
        One sentence: what, where, and what to do about it.
    at_m : tuple of float or None
        Place in the drawing's own coordinates [m], or None where there is no single place.
    sources : tuple of Source
        The entities that show it, most telling first.
    """

    code: str
    severity: Severity
    message: str
    at_m: tuple[float, float, float] | None = None
    sources: tuple[Source, ...] = ()


def place_text(at_m: tuple[float, float, float]) -> str:
    """Write a place for a sentence.

    Examples
    --------
    >>> place_text((1.0, 2.0, 0.3))
    '(1.000, 2.000, 0.300) m'
    """
    return "({:.3f}, {:.3f}, {:.3f}) m".format(*(round(value, 3) + 0.0 for value in at_m))
