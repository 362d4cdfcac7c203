"""Length units, their exact factors to metres, and lengths written as text."""

import re
from enum import StrEnum
from fractions import Fraction

__all__ = ["LengthUnit", "parse_length"]


class LengthUnit(StrEnum):
    """A unit of length.

    References
    ----------
    NIST Special Publication 811, 2008 edition, appendix B: inch 0.0254 m, foot 0.3048 m, yard 0.9144 m and mile
    1609.344 m exactly, US survey foot 1200/3937 m (from memory).

    Examples
    --------
    >>> LengthUnit.INCH.metres
    0.0254
    """

    MICROMETRE = "um"
    MILLIMETRE = "mm"
    CENTIMETRE = "cm"
    DECIMETRE = "dm"
    METRE = "m"
    DECAMETRE = "dam"
    HECTOMETRE = "hm"
    KILOMETRE = "km"
    MIL = "mil"
    INCH = "in"
    FOOT = "ft"
    YARD = "yd"
    MILE = "mi"
    US_SURVEY_INCH = "us-in"
    US_SURVEY_FOOT = "us-ft"
    US_SURVEY_YARD = "us-yd"
    US_SURVEY_MILE = "us-mi"

    @property
    def metres(self) -> float:
        """Length of one unit [m]."""
        return float(_METRES[self])


_METRES: dict[LengthUnit, Fraction] = {
    LengthUnit.MICROMETRE: Fraction(1, 10**6),
    LengthUnit.MILLIMETRE: Fraction(1, 1000),
    LengthUnit.CENTIMETRE: Fraction(1, 100),
    LengthUnit.DECIMETRE: Fraction(1, 10),
    LengthUnit.METRE: Fraction(1),
    LengthUnit.DECAMETRE: Fraction(10),
    LengthUnit.HECTOMETRE: Fraction(100),
    LengthUnit.KILOMETRE: Fraction(1000),
    LengthUnit.MIL: Fraction(254, 10**7),
    LengthUnit.INCH: Fraction(254, 10**4),
    LengthUnit.FOOT: Fraction(3048, 10**4),
    LengthUnit.YARD: Fraction(9144, 10**4),
    LengthUnit.MILE: Fraction(1609344, 1000),
    LengthUnit.US_SURVEY_INCH: Fraction(100, 3937),
    LengthUnit.US_SURVEY_FOOT: Fraction(1200, 3937),
    LengthUnit.US_SURVEY_YARD: Fraction(3600, 3937),
    LengthUnit.US_SURVEY_MILE: Fraction(6336000, 3937),
}

_SPELLINGS: dict[str, LengthUnit] = {unit.value: unit for unit in LengthUnit} | {
    '"': LengthUnit.INCH,
    "inch": LengthUnit.INCH,
    "inches": LengthUnit.INCH,
    "'": LengthUnit.FOOT,
    "foot": LengthUnit.FOOT,
    "feet": LengthUnit.FOOT,
}

_NUMBER = r"(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|\d+(?:\.\d*)?|\.\d+)"
_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[a-z-]*[a-z]|['\"])\s*-?", re.IGNORECASE)


def parse_length(text: str) -> float:
    r"""Read a length written with its unit.

    Parameters
    ----------
    text : str
        One or more numbers with units, largest first: ``"9 in"``, ``"3/8 in"``, ``"1 1/2 in"``, ``"6'-3\""``,
        ``"1.2 m"``.

    Returns
    -------
    float
        Length [m].

    Raises
    ------
    ValueError
        The text is no length with a unit.

    Examples
    --------
    >>> round(parse_length("6'-3\""), 6)
    1.905
    """
    total, at = Fraction(0), 0
    while at < len(text.rstrip()):
        term = _TERM.match(text, at)
        unit = _SPELLINGS.get(term["unit"].lower()) if term else None
        if term is None or unit is None:
            raise ValueError(f"{text!r} is not a length with a unit, such as '9 in', '24 ft' or '1.2 m'")
        total += _number(term["number"], text) * _METRES[unit]
        at = term.end()
    if not text.strip():
        raise ValueError("an empty text is not a length")
    try:
        return float(total)
    except OverflowError:
        raise ValueError("the length is larger than any number") from None


def _number(text: str, whole: str) -> Fraction:
    try:
        return sum((Fraction(part) for part in re.split(r"\s+|-", text)), Fraction(0))
    except ZeroDivisionError:
        raise ValueError(f"{whole!r} divides by zero") from None
