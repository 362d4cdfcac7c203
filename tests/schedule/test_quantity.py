"""Durations and masses per length written as text."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.schedule.quantity import parse_duration, parse_mass_per_length


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("8 h", 480.0),
        ("60 min", 60.0),
        ("1 h 30 min", 90.0),
        ("1.5 hours", 90.0),
        ("30s", 0.5),
        (".5 H", 30.0),
        ("0 min", 0.0),
        ("2 hrs", 120.0),
    ],
)
def test_durations_become_minutes(text: str, minutes: float):
    """A duration with its unit, in any usual spelling, is read in minutes."""
    assert minutes == parse_duration(text)


@pytest.mark.parametrize("text", ["", " ", "8", "h", "8 m", "-8 h", "8 h x", "1e3 h", "nan h", "٣ h", "8,5 h"])
def test_what_is_no_duration_is_refused_and_quoted(text: str):
    """Text without number, without unit or with anything else is refused, and the sentence quotes it."""
    with pytest.raises(ValueError, match="is not a duration") as caught:
        parse_duration(text)

    assert repr(text) in str(caught.value)


@pytest.mark.parametrize(
    ("text", "kg_per_m"),
    [
        ("2.7 kg/m", 2.7),
        ("2700 g / m", 2.7),
        ("1 lb/ft", 0.45359237 / 0.3048),
        ("1 lbs/foot", 0.45359237 / 0.3048),
        ("16 oz/ft", 0.45359237 / 0.3048),
        ("3 LB/YD", 0.45359237 / 0.3048),
    ],
)
def test_masses_per_length_become_kilograms_per_metre(text: str, kg_per_m: float):
    """
    A mass over a length, in any usual unit, is read in kg/m.

    Pound and foot are exact by NIST SP 811 (from memory): 0.453 592 37 kg and 0.3048 m.
    """
    assert pytest.approx(kg_per_m, rel=1e-14) == parse_mass_per_length(text)


@pytest.mark.parametrize(
    "text", ["", "2.7", "2.7 kg", "kg/m", "2.7 m/kg", "2.7 kg/kg", "-1 kg/m", "2.7 kg/m2", "nan kg/m"]
)
def test_what_is_no_mass_per_length_is_refused_and_quoted(text: str):
    """Text that is not number, mass unit, stroke, length unit is refused, and the sentence quotes it."""
    with pytest.raises(ValueError, match="is not a mass per length") as caught:
        parse_mass_per_length(text)

    assert repr(text) in str(caught.value)


@given(hours=st.integers(0, 99), minutes=st.integers(0, 59), seconds=st.integers(0, 59))
def test_terms_of_a_duration_add_up(hours: int, minutes: int, seconds: int):
    """A duration of several terms is the sum of its terms."""
    expected = hours * 60 + minutes + seconds / 60

    assert pytest.approx(expected, rel=1e-15) == parse_duration(f"{hours} h {minutes} min {seconds} s")


@given(st.text(max_size=20))
def test_any_text_is_a_quantity_or_a_value_error(text: str):
    """No text raises anything but ValueError, and what is read is never negative."""
    for parse in (parse_duration, parse_mass_per_length):
        try:
            read = parse(text)
        except ValueError:
            read = 0.0

        assert read >= 0
