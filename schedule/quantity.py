"""Quantities other than lengths, written as text with their unit: durations and masses per length."""

import re
from fractions import Fraction

from splicewright.extract.unit import parse_length

__all__ = ["parse_duration", "parse_mass", "parse_mass_per_length", "parse_span", "parse_speed"]

_MINUTES: dict[str, Fraction] = {
    "s": Fraction(1, 60),
    "sec": Fraction(1, 60),
    "second": Fraction(1, 60),
    "min": Fraction(1),
    "minute": Fraction(1),
    "h": Fraction(60),
    "hr": Fraction(60),
    "hour": Fraction(60),
}

_KILOGRAMS: dict[str, Fraction] = {
    "g": Fraction(1, 1000),
    "kg": Fraction(1),
    "oz": Fraction(45359237, 16 * 10**8),
    "lb": Fraction(45359237, 10**8),
    "lbs": Fraction(45359237, 10**8),
}

_NUMBER = r"\d+(?:\.\d*)?|\.\d+"
_DURATION_TERM = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<unit>[a-z]+)\s*", re.IGNORECASE | re.ASCII)
_WEIGHT = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?P<mass>[a-z]+)\s*", re.IGNORECASE | re.ASCII)
_MASS = re.compile(
    rf"\s*(?P<number>{_NUMBER})\s*(?P<mass>[a-z]+)\s*/\s*(?P<length>[a-z-]+)\s*", re.IGNORECASE | re.ASCII
)


def parse_duration(text: str) -> float:
    """Read a duration written with its unit.

    Parameters
    ----------
    text : str
        One or more numbers with units: ``"8 h"``, ``"60 min"``, ``"1 h 30 min"``, ``"20 s"``.

    Returns
    -------
    float
        Duration [min].

    Raises
    ------
    ValueError
        The text is no duration with a unit.

    Examples
    --------
    >>> parse_duration("1 h 30 min")
    90.0
    """
    total, at = Fraction(0), 0
    while at < len(text) or at == 0:
        term = _DURATION_TERM.match(text, at)
        factor = _minutes(term["unit"]) if term else None
        if term is None or factor is None:
            raise ValueError(f"{text!r} is not a duration with a unit, such as '8 h' or '30 min'")
        total += Fraction(term["number"]) * factor
        at = term.end()
    return float(total)


def parse_mass(text: str) -> float:
    """Read a mass written with its unit.

    Parameters
    ----------
    text : str
        A number and a mass unit (kg, g, lb, oz): ``"50 kg"``, ``"110 lb"``.

    Returns
    -------
    float
        Mass [kg].

    Raises
    ------
    ValueError
        The text is no mass with a unit.

    Examples
    --------
    >>> parse_mass("100 lb")
    45.359237
    """
    term = _WEIGHT.fullmatch(text)
    factor = _KILOGRAMS.get(term["mass"].lower()) if term else None
    if term is None or factor is None:
        raise ValueError(f"{text!r} is not a mass with a unit, such as '50 kg' or '110 lb'")
    return float(Fraction(term["number"]) * factor)


def parse_mass_per_length(text: str) -> float:
    """Read a mass per length written with its units.

    Parameters
    ----------
    text : str
        A number, a mass unit (kg, g, lb, oz), a stroke and a length unit: ``"1.8 lb/ft"``, ``"2.7 kg/m"``.

    Returns
    -------
    float
        Mass per length [kg/m].

    Raises
    ------
    ValueError
        The text is no mass per length with units.

    References
    ----------
    NIST Special Publication 811, 2008 edition, appendix B: pound 0.453 592 37 kg exactly, ounce a sixteenth of it
    (from memory).

    Examples
    --------
    >>> round(parse_mass_per_length("1.8 lb/ft"), 4)
    2.6787
    """
    term = _MASS.fullmatch(text)
    factor = _KILOGRAMS.get(term["mass"].lower()) if term else None
    if term is None or factor is None:
        raise ValueError(f"{text!r} is not a mass per length, such as '1.8 lb/ft' or '2.7 kg/m'")
    try:
        unit_m = parse_length(f"1 {term['length']}")
    except ValueError:
        raise ValueError(f"{text!r} is not a mass per length: {term['length']!r} is no length unit") from None
    return float(Fraction(term["number"]) * factor) / unit_m


def parse_speed(text: str) -> float:
    """Read a speed written with its units.

    Parameters
    ----------
    text : str
        A length with its unit, a stroke and a time unit: ``"40 m/min"``, ``"3 km/h"``, ``"2 ft/s"``.

    Returns
    -------
    float
        Speed [m/min].

    Raises
    ------
    ValueError
        The text is no speed with units.

    Examples
    --------
    >>> parse_speed("3 km/h")
    50.0
    """
    way, stroke, unit = text.rpartition("/")
    factor = _minutes(unit.strip())
    try:
        length_m = parse_length(way)
    except ValueError:
        length_m = None
    if not stroke or factor is None or length_m is None:
        raise ValueError(f"{text!r} is not a speed with units, such as '40 m/min' or '3 km/h'")
    return length_m / float(factor)


def parse_span(text: str) -> tuple[float, float]:
    """Read a span between two coordinates or levels.

    Parameters
    ----------
    text : str
        Two lengths with units, either may be negative, and "to" between them: ``"0 m to 14 m"``, ``"-1 ft to 0 ft"``.

    Returns
    -------
    tuple of float
        Lower and upper end [m].

    Raises
    ------
    ValueError
        The text is no span, or runs downwards.

    Examples
    --------
    >>> parse_span("-1.5 m to 0 m")
    (-1.5, 0.0)
    """
    low, word, high = text.partition(" to ")
    if not word:
        raise ValueError(f"{text!r} is not a span, such as '0 m to 14 m'")
    ends = (_coordinate(low), _coordinate(high))
    if ends[0] > ends[1]:
        raise ValueError(f"{text!r} runs downwards: the lower end comes first")
    return ends


def _coordinate(text: str) -> float:
    bare = text.strip()
    if bare[:1] in {"-", "−"}:
        return -parse_length(bare[1:])
    return parse_length(bare)


def _minutes(unit: str) -> Fraction | None:
    name = unit.lower()
    return _MINUTES.get(name) or _MINUTES.get(name.removesuffix("s"))
