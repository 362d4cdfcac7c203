"""Units of an IFC model: how long its unit of length is, and how large its unit of plane angle."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from .errors import MissingUnitError
from .finding import Finding, Severity
from .ifc_entity import Entity
from .ifc_file import DAMAGE, IfcFile
from .unit import LengthUnit

__all__ = ["IfcUnits", "length_unit", "size_of", "units_of"]

_POWERS: dict[str, int] = {
    "EXA": 18,
    "PETA": 15,
    "TERA": 12,
    "GIGA": 9,
    "MEGA": 6,
    "KILO": 3,
    "HECTO": 2,
    "DECA": 1,
    "DECI": -1,
    "CENTI": -2,
    "MILLI": -3,
    "MICRO": -6,
    "NANO": -9,
    "PICO": -12,
    "FEMTO": -15,
    "ATTO": -18,
}
_NAMES: dict[str, LengthUnit] = {
    "INCH": LengthUnit.INCH,
    "FOOT": LengthUnit.FOOT,
    "FEET": LengthUnit.FOOT,
    "YARD": LengthUnit.YARD,
    "MILE": LengthUnit.MILE,
    "USSURVEYINCH": LengthUnit.US_SURVEY_INCH,
    "USSURVEYFOOT": LengthUnit.US_SURVEY_FOOT,
    "USSURVEYFEET": LengthUnit.US_SURVEY_FOOT,
    "USSURVEYYARD": LengthUnit.US_SURVEY_YARD,
    "USSURVEYMILE": LengthUnit.US_SURVEY_MILE,
}
"""What a conversion-based unit that lacks its factor is taken for, by its name without signs and blanks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IfcUnits:
    """The units a model's numbers are in.

    Attributes
    ----------
    length : LengthUnit
        The unit of length; the nearest where the model's own has no name.
    metres : float
        Length of one unit as the model defines it [m].
    radians : float
        One unit of plane angle [radians].
    findings : tuple of Finding
        What is odd about them.
    """

    length: LengthUnit
    metres: float
    radians: float
    findings: tuple[Finding, ...] = ()


def units_of(file: IfcFile, unit: LengthUnit | None) -> IfcUnits:
    """Return the units that count: the given one before the one the model states.

    Raises
    ------
    MissingUnitError
        The model states no length unit that can be made out, and none is given.
    """
    radians = _stated(file, "PLANEANGLEUNIT") or 1.0
    if unit is not None:
        return IfcUnits(length=unit, metres=unit.metres, radians=radians)
    metres = _stated(file, "LENGTHUNIT")
    if metres is None:
        raise MissingUnitError(
            f"{file.name} states no length unit that can be made out; say which it is drawn in with --drawing-unit"
        )
    length = length_unit(metres)
    return IfcUnits(length=length, metres=metres, radians=radians, findings=tuple(_odd(file.name, metres, length)))


def length_unit(metres: float) -> LengthUnit:
    """Return the unit whose length is nearest, by ratio.

    Examples
    --------
    >>> length_unit(0.3048).value, length_unit(0.3048006096).value
    ('ft', 'us-ft')
    """
    return min(LengthUnit, key=lambda unit: abs(math.log(unit.metres / metres)))


def _odd(name: str, metres: float, nearest: LengthUnit) -> Iterator[Finding]:
    if abs(metres / nearest.metres - 1) > 1e-6:
        message = f"{name} is drawn in a unit of {metres:g} m, which has no name here; lengths were converted to metres"
        yield Finding(code="unit-unusual", severity=Severity.NOTE, message=message)


def _stated(file: IfcFile, kind: str) -> float | None:
    """Return the size of the project's unit of one kind [m or radians], None where it cannot be made out."""
    try:
        units = [unit for unit in file.project.UnitsInContext.Units if getattr(unit, "UnitType", None) == kind]
    except DAMAGE:
        return None
    for unit in units:
        size = size_of(unit)
        if size is not None and math.isfinite(size) and size > 0:
            return size
    return None


def size_of(unit: Entity, depth: int = 0) -> float | None:
    """Return how large a unit is, in metres or radians; a malformed one by its name, else None."""
    try:
        if unit.is_a("IfcSIUnit"):
            return 10.0 ** _POWERS.get(unit.Prefix or "", 0)
        factor = unit.ConversionFactor
        base = size_of(factor.UnitComponent, depth + 1) if depth < 4 else None
        if base is not None:
            return float(factor.ValueComponent.wrappedValue) * base
    except DAMAGE:
        pass
    try:
        name = "".join(letter for letter in str(unit.Name).upper() if letter.isalpha())
    except DAMAGE:
        return None
    if name in ("DEGREE", "DEGREES"):
        return math.pi / 180
    known = _NAMES.get(name)
    return known.metres if known else None
