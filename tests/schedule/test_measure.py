"""Lengths, masses and marks as people read them."""

import pytest

from splicewright.extract.unit import LengthUnit, parse_length
from splicewright.schedule.measure import Measure, count_text, feet_inches, inches, marks_text

INCH_M = 0.0254
FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("length_in", "text"),
    [
        (0, "0'-0\""),
        (0.0625, "0'-0 1/16\""),
        (9, "0'-9\""),
        (147.3125, "12'-3 5/16\""),
        (147.5, "12'-3 1/2\""),
        (12, "1'-0\""),
        (11.97, "1'-0\""),
        (11.9, "0'-11 7/8\""),
        (-18.25, "-1'-6 1/4\""),
        (-0.01, "0'-0\""),
        (600_000, "50000'-0\""),
    ],
)
def test_feet_and_inches_go_to_the_nearest_sixteenth(length_in, text):
    """Feet, inches and reduced sixteenths; rounding carries into inches and feet."""
    written = feet_inches(length_in * INCH_M)

    assert text == written


@pytest.mark.parametrize(("length_in", "text"), [(0.375, '3/8"'), (9, '9"'), (24.5, '24 1/2"'), (0, '0"')])
def test_small_lengths_are_inches_only(length_in, text):
    """A profile's width or a leg is read in inches, however long."""
    written = inches(length_in * INCH_M)

    assert text == written


def test_every_sixteenth_up_to_ten_feet_reads_back():
    """Writing a length on the sixteenth grid and reading it gives the same length."""
    grid = [n * INCH_M / 16 for n in range(10 * 12 * 16)]

    assert grid == pytest.approx([parse_length(_as_input(feet_inches(length))) for length in grid], abs=1e-12)


def _as_input(text: str) -> str:
    return text.replace("'-", "' ")


def test_imperial_measure_converts_to_feet_inches_and_pounds():
    """One foot is 0.3048 m, one inch 0.0254 m, one pound 0.45359237 kg (NIST SP 811, appendix B, from memory)."""
    measure = Measure(imperial=True)

    assert (1.0, 1.0, 1.0) == pytest.approx((measure.long(FOOT_M), measure.fine(INCH_M), measure.mass(0.45359237)))
    assert ("ft", "in", "lb") == (measure.long_unit, measure.fine_unit, measure.mass_unit)


def test_metric_measure_keeps_metres_and_kilograms():
    """Metric values are the schedule's own; small lengths are millimetres."""
    measure = Measure(imperial=False)

    assert (2.5, 2500.0, 7.0) == pytest.approx((measure.long(2.5), measure.fine(2.5), measure.mass(7.0)))
    assert ("m", "mm", "kg") == (measure.long_unit, measure.fine_unit, measure.mass_unit)


@pytest.mark.parametrize(
    ("imperial", "texts"),
    [(True, ("82'-0 1/4\"", "82 ft", "82.02 ft")), (False, ("25.000 m", "25.0 m", "25 m"))],
)
def test_one_length_has_a_text_for_cutting_for_reporting_and_for_buying(imperial, texts):
    """A roll of 25 m reads as its own length in metres and as decimal feet in feet."""
    measure = Measure(imperial=imperial)

    assert texts == (measure.text(25.0), measure.round_text(25.0), measure.roll_text(25.0))


def test_fifty_foot_roll_reads_without_decimals():
    """15.24 m is sold as 50 ft."""
    assert "50 ft" == Measure(imperial=True).roll_text(50 * FOOT_M)


def test_places_are_in_the_unit_that_all_drawings_share():
    """Places of drawings in millimetres can be looked up in them, whichever units the reader chose."""
    measure = Measure(imperial=True)
    unit = measure.place_unit(frozenset({LengthUnit.MILLIMETRE}))

    assert "1250, -500, 0" == measure.place_text((1.25, -0.5, 0.0), unit)


@pytest.mark.parametrize(("imperial", "unit"), [(True, LengthUnit.FOOT), (False, LengthUnit.METRE)])
def test_places_of_mixed_drawings_are_in_the_readers_unit(imperial, unit):
    """Where drawings differ in unit, feet or metres serve for all."""
    both = frozenset({LengthUnit.MILLIMETRE, LengthUnit.INCH})

    assert unit == Measure(imperial=imperial).place_unit(both)


@pytest.mark.parametrize(
    ("marks", "text"),
    [
        ((), ""),
        (("S1",), "S1"),
        (("S1", "S2"), "S1, S2"),
        (("S1", "S2", "S3", "S5"), "S1–S3, S5"),
        (("S9", "S10", "S11"), "S9–S11"),
        (("S3", "S2", "S1"), "S3, S2, S1"),
        (("N1", "S2", "S3", "S4"), "N1, S2–S4"),
        (("odd", "odd"), "odd, odd"),
    ],
)
def test_marks_that_follow_one_another_become_a_range(marks, text):
    """Three or more marks in a row are a range; order is kept."""
    assert text == marks_text(marks)


def test_long_lists_of_marks_are_cut_and_say_so():
    """A thousand places that do not follow one another do not fill a page."""
    marks = tuple(f"N{2 * number}" for number in range(1000))

    assert marks_text(marks, most=3) == "N0, N2, N4 and 997 more"


def test_count_has_its_noun_in_one_or_many():
    """1 roll, 2 rolls; nouns with another plural give it."""
    assert ("1 roll", "2 rolls", "2 entities") == (
        count_text(1, "roll"),
        count_text(2, "roll"),
        count_text(2, "entity", "entities"),
    )
