"""Length units and lengths written as text."""

import pytest

from splicewright.extract.unit import LengthUnit, parse_length


@pytest.mark.outside(
    what="metric and international units, in metres",
    against="NIST Special Publication 811, appendix B, from memory",
    result="exactly equal",
)
@pytest.mark.parametrize(
    ("unit", "metres"),
    [
        ("um", 1e-6),
        ("mm", 0.001),
        ("cm", 0.01),
        ("dm", 0.1),
        ("m", 1.0),
        ("dam", 10.0),
        ("hm", 100.0),
        ("km", 1000.0),
        ("mil", 0.0000254),
        ("in", 0.0254),
        ("ft", 0.3048),
        ("yd", 0.9144),
        ("mi", 1609.344),
    ],
)
def test_units_are_exact(unit, metres):
    """Metric and international units have their exact length (NIST SP 811, appendix B; from memory)."""
    assert metres == LengthUnit(unit).metres


@pytest.mark.outside(
    what="US survey units, in metres",
    against="NIST Special Publication 811, from memory: foot 1200/3937 m",
    result="equal",
)
def test_us_survey_units():
    """The US survey foot is 1200/3937 m; inch, yard and mile follow from it (NIST SP 811; from memory)."""
    foot = LengthUnit("us-ft").metres

    assert 1200 / 3937 == foot
    assert foot / 12 == pytest.approx(LengthUnit("us-in").metres, rel=1e-15)
    assert foot * 3 == pytest.approx(LengthUnit("us-yd").metres, rel=1e-15)
    assert foot * 5280 == pytest.approx(LengthUnit("us-mi").metres, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("9 in", 0.2286),
        ('9"', 0.2286),
        ("3/8 in", 0.009525),
        ("1 1/2 in", 0.0381),
        ("1-1/2 in", 0.0381),
        ("6'-3\"", 1.905),
        ("6' 3\"", 1.905),
        ("50 ft", 15.24),
        ("50ft", 15.24),
        ("25 m", 25.0),
        ("1.2 M", 1.2),
        (".5 in", 0.0127),
        ("5 mm", 0.005),
    ],
)
def test_lengths_are_read_with_their_unit(text, metres):
    """Whole numbers, decimals, fractions and feet with inches are read."""
    assert metres == pytest.approx(parse_length(text), rel=1e-12)


@pytest.mark.parametrize(
    "text", ["", "  ", "9", "in", "9 furlongs", "9 in 3", "-9 in", "nine in", "1,5 m", "9 in; 3 in"]
)
def test_what_is_no_length_is_refused(text):
    """A number without a unit, an unknown unit, a sign or a comma is no length."""
    with pytest.raises(ValueError, match="length"):
        parse_length(text)
