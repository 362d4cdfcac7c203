"""Units against libraries that keep tables of their own."""

import math

import ezdxf
import pint
import pytest
from ezdxf import units

from splicewright.extract.dxf import read_dxf
from splicewright.extract.selection import Selection
from splicewright.extract.unit import LengthUnit, parse_length
from splicewright.schedule.quantity import parse_duration, parse_mass, parse_mass_per_length, parse_speed

PINT = pint.UnitRegistry()
NAMES = {"us-in": "survey_foot / 12", "us-ft": "survey_foot", "us-yd": "survey_foot * 3", "us-mi": "survey_mile"}


@pytest.mark.outside(
    what="every length unit of drawings and rules, in metres",
    against="pint's table of units",
    result="equal to 12 digits",
)
@pytest.mark.parametrize("unit", LengthUnit)
def test_length_units_agree(unit):
    """A unit has the length that pint gives it."""
    theirs = PINT.parse_expression(NAMES.get(unit, "thou" if unit == "mil" else unit.value)).to("m").magnitude

    assert theirs == pytest.approx(unit.metres, rel=1e-12)


@pytest.mark.outside(
    what="lengths, masses, masses per length, durations and speeds as rules files state them",
    against="pint, reading the same text",
    result="equal to 9 digits",
)
@pytest.mark.parametrize(
    ("text", "parse", "unit"),
    [
        ("17.25 in", parse_length, "m"),
        ("50 ft", parse_length, "m"),
        ("110 lb", parse_mass, "kg"),
        ("7.5 oz", parse_mass, "kg"),
        ("1.8 lb/ft", parse_mass_per_length, "kg/m"),
        ("33 g/cm", parse_mass_per_length, "kg/m"),
        ("90 s", parse_duration, "min"),
        ("7.5 h", parse_duration, "min"),
        ("3 km/h", parse_speed, "m/min"),
        ("2 ft/s", parse_speed, "m/min"),
    ],
)
def test_quantities_agree(text, parse, unit):
    """What a rules file states is what pint makes of it."""
    assert PINT.parse_expression(text).to(unit).magnitude == pytest.approx(parse(text), rel=1e-9)


@pytest.mark.outside(
    what="drawings in inches, feet, yards, miles and all metric units from micrometres to kilometres",
    against="ezdxf.units.conversion_factor",
    result="equal to 7 digits, as far as its table goes",
)
@pytest.mark.parametrize("code", [1, 2, 3, 4, 5, 6, 7, 10, 13, 14, 15, 16])
def test_drawings_are_scaled_as_ezdxf_converts(tmp_path, code):
    """A line 3-4-5 long in a drawing unit has 5 of them, converted to metres."""
    document = ezdxf.new("R2018", units=code)
    document.modelspace().add_line((1, 1), (4, 5), dxfattribs={"layer": "WATERSTOP"})
    document.saveas(tmp_path / "line.dxf")
    theirs = math.hypot(3, 4) * units.conversion_factor(units.InsertUnits(code), units.InsertUnits.Meters)

    assert theirs == pytest.approx(read_dxf(tmp_path / "line.dxf", Selection()).length_m, rel=1e-7)
