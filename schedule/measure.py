"""Measure: lengths, masses and angles as people read them, imperial or metric."""

from dataclasses import dataclass
from fractions import Fraction

from splicewright.extract.unit import LengthUnit

__all__ = ["Measure", "count_text", "decimals_of", "feet_inches", "inches", "marks_text"]

_KILOGRAMS_PER_POUND = 0.45359237
_PARTS_OF_INCH = 16

_DECIMALS: dict[LengthUnit, int] = {
    LengthUnit.MICROMETRE: 0,
    LengthUnit.MILLIMETRE: 0,
    LengthUnit.CENTIMETRE: 1,
    LengthUnit.DECIMETRE: 2,
    LengthUnit.METRE: 3,
    LengthUnit.MIL: 0,
    LengthUnit.INCH: 1,
    LengthUnit.US_SURVEY_INCH: 1,
}


def feet_inches(length_m: float) -> str:
    r"""Write a length in feet, inches and sixteenths, to the nearest sixteenth.

    Parameters
    ----------
    length_m : float
        Length [m].

    Returns
    -------
    str

    Examples
    --------
    >>> feet_inches(3.7417375)
    '12\'-3 5/16"'
    >>> feet_inches(0.3048 - 0.0001)
    '1\'-0"'
    """
    sign, sixteenths = _sixteenths(length_m)
    feet, rest = divmod(sixteenths, 12 * _PARTS_OF_INCH)
    return f"{sign}{feet}'-{_inches_text(rest, always_whole=True)}\""


def inches(length_m: float) -> str:
    """Write a length in inches and sixteenths, to the nearest sixteenth.

    Parameters
    ----------
    length_m : float
        Length [m].

    Returns
    -------
    str

    Examples
    --------
    >>> inches(0.009525), inches(0.2286), inches(0.6096)
    ('3/8"', '9"', '24"')
    """
    sign, sixteenths = _sixteenths(length_m)
    return f'{sign}{_inches_text(sixteenths)}"'


def marks_text(marks: tuple[str, ...], *, most: int = 60) -> str:
    """Write marks briefly: neighbours that follow one another become a range, and a long list is cut and says so.

    Parameters
    ----------
    marks : tuple of str
        Marks that end in a number, in their own order.
    most : int
        Number of entries, ranges counted once, after which the list is cut, >= 1.

    Returns
    -------
    str

    Examples
    --------
    >>> marks_text(("S1", "S2", "S3", "S7", "N2"))
    'S1–S3, S7, N2'
    >>> marks_text(("N1", "N3", "N5"), most=2)
    'N1, N3 and 1 more'
    """
    spans: list[list[str]] = []
    for mark in marks:
        if spans and _follows(spans[-1][-1], mark):
            spans[-1].append(mark)
        else:
            spans.append([mark])
    left = sum(len(span) for span in spans[most:])
    text = ", ".join(_span_text(span) for span in spans[:most])
    return f"{text} and {left:,} more" if left else text


def count_text(number: float | None, one: str, many: str | None = None) -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> count_text(1, "roll"), count_text(1200, "roll"), count_text(0, "entity", "entities")
    ('1 roll', '1,200 rolls', '0 entities')
    """
    return f"{number or 0:,} {one if number == 1 else many or one + 's'}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """The units that a reader has chosen.

    Attributes
    ----------
    imperial : bool
        Feet, inches and pounds; otherwise metres, millimetres and kilograms.

    Examples
    --------
    >>> Measure(imperial=False).text(3.7417375)
    '3.742 m'
    """

    imperial: bool

    @property
    def long_unit(self) -> str:
        """Name of the unit of long lengths."""
        return "ft" if self.imperial else "m"

    @property
    def fine_unit(self) -> str:
        """Name of the unit of small lengths."""
        return "in" if self.imperial else "mm"

    @property
    def mass_unit(self) -> str:
        """Name of the unit of masses."""
        return "lb" if self.imperial else "kg"

    def long(self, length_m: float) -> float:
        """Convert a length [m] to feet or metres."""
        return length_m / LengthUnit.FOOT.metres if self.imperial else length_m

    def fine(self, length_m: float) -> float:
        """Convert a length [m] to inches or millimetres."""
        return length_m / (LengthUnit.INCH if self.imperial else LengthUnit.MILLIMETRE).metres

    def mass(self, mass_kg: float) -> float:
        """Convert a mass [kg] to pounds or kilograms."""
        return mass_kg / _KILOGRAMS_PER_POUND if self.imperial else mass_kg

    def text(self, length_m: float) -> str:
        """Write a length to cut or to set out [m]: to the sixteenth of an inch, or to the millimetre."""
        return feet_inches(length_m) if self.imperial else f"{length_m:,.3f} m"

    def fine_text(self, length_m: float) -> str:
        """Write a small length [m]: inches and sixteenths, or millimetres."""
        return inches(length_m) if self.imperial else f"{self.fine(length_m):.0f} mm"

    def round_text(self, length_m: float) -> str:
        """Write a length to buy or to report [m]: to the foot or to the tenth of a metre."""
        return f"{self.long(length_m):,.0f} ft" if self.imperial else f"{length_m:,.1f} m"

    def roll_text(self, length_m: float) -> str:
        """Write the length of a roll [m] as it is sold: without decimals that say nothing."""
        return f"{self.long(length_m):,.2f}".rstrip("0").rstrip(".") + f" {self.long_unit}"

    def place_unit(self, units: frozenset[LengthUnit]) -> LengthUnit:
        """Choose the unit for places: the drawings' own where all share one, so that places can be looked up there."""
        if len(units) == 1:
            return next(iter(units))
        return LengthUnit.FOOT if self.imperial else LengthUnit.METRE

    def place_text(self, at_m: tuple[float, float, float], unit: LengthUnit) -> str:
        """Write a place [m] in a unit, as coordinates separated by commas."""
        return ", ".join(f"{value / unit.metres:.{decimals_of(unit)}f}" for value in at_m)


def decimals_of(unit: LengthUnit) -> int:
    """Tell how many decimals show a place to about a millimetre or less.

    Examples
    --------
    >>> decimals_of(LengthUnit.MILLIMETRE), decimals_of(LengthUnit.FOOT)
    (0, 3)
    """
    return _DECIMALS.get(unit, 3)


def _sixteenths(length_m: float) -> tuple[str, int]:
    count = round(length_m / LengthUnit.INCH.metres * _PARTS_OF_INCH)
    return ("-" if count < 0 else ""), abs(count)


def _inches_text(sixteenths: int, *, always_whole: bool = False) -> str:
    whole, parts = divmod(sixteenths, _PARTS_OF_INCH)
    if not parts:
        return str(whole)
    part = str(Fraction(parts, _PARTS_OF_INCH))
    return f"{whole} {part}" if whole or always_whole else part


def _split(mark: str) -> tuple[str, int | None]:
    head = mark.rstrip("0123456789")
    return head, int(mark[len(head) :]) if len(head) < len(mark) else None


def _follows(before: str, after: str) -> bool:
    head, number = _split(before)
    return number is not None and _split(after) == (head, number + 1)


def _span_text(span: list[str]) -> str:
    if len(span) < 3:
        return ", ".join(span)
    return f"{span[0]}–{span[-1]}"
