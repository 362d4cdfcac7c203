"""What the command line tells: tables that line up, names shown as they are."""

import io

import pytest
from rich.console import Console

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.finding import Finding, Severity
from splicewright.extract.layer import LayerSurvey, Survey
from splicewright.extract.unit import LengthUnit
from splicewright.schedule.measure import Measure
from splicewright.schedule.report import one_line, reads_imperial, survey_report


def layer(name, **changed):
    usual = {"lines": 2, "length": 12.0, "length_m": 3.6576, "others": {}, "hidden": None, "usual": False}
    return LayerSurvey(name=name, **(usual | changed))


def survey_of(*layers, unit=LengthUnit.FOOT, findings=()):
    return Survey(file="tank.dxf", kind=DrawingKind.DXF, unit=unit, layers=layers, findings=findings)


def shown(report, width=200):
    stream = io.StringIO()
    Console(file=stream, width=width, markup=False, highlight=False, emoji=False).print(report)
    return [line.rstrip() for line in stream.getvalue().splitlines()]


def test_numbers_line_up():
    """Counts and lengths end in the same column, whatever their size."""
    layers = layer("A", lines=1, length_m=0.3048), layer("B", lines=12345, length_m=30480.0)
    rows = shown(survey_report(survey_of(*layers), Measure(imperial=True)))[2:5]

    assert "Length [ft]" in rows[0]
    assert rows[1].index(" 1.0") + 4 == rows[2].index("100,000.0") + 9 == rows[0].index("Length [ft]") + 11
    assert rows[1].index(" 1 ") + 2 == rows[2].index("12,345") + 6


@pytest.mark.parametrize(("imperial", "length"), [(True, "12.0"), (False, "3.7")])
def test_lengths_are_in_the_readers_unit(imperial, length):
    """12 ft are 12.0 ft to one reader and 3.7 m to another."""
    (row,) = [
        line for line in shown(survey_report(survey_of(layer("A")), Measure(imperial=imperial))) if line[:1] == "A"
    ]

    assert ["A", "2", length] == row.split()


def test_without_a_unit_lengths_are_in_drawing_units():
    """Where no unit is known the drawn length is shown, and the unit asked for."""
    lines = shown(survey_report(survey_of(layer("A", length_m=None), unit=None), Measure(imperial=False)))

    assert "--drawing-unit" in lines[0]
    assert "Length [drawing units]" in lines[2]
    assert ["A", "2", "12.0"] == lines[3].split()


def test_likely_layers_are_named_unless_hidden_or_bare():
    """Layers that look like waterstop are named when they hold lines that a schedule would read."""
    layers = [
        layer("WS-1", usual=True),
        layer("WS-2", usual=True, hidden="layer-off"),
        layer("WS-3", usual=True, lines=0),
        layer("GRID"),
    ]

    lines = shown(survey_report(survey_of(*layers), Measure(imperial=False)), width=200)

    hint = "Other layers are read only where --select or the rules file names them."
    assert f"Looks like waterstop: WS-1. {hint}" in lines


def test_a_drawing_of_waterstop_alone_needs_no_hint():
    """Where every layer with lines looks like waterstop, nothing is said of others."""
    lines = shown(survey_report(survey_of(layer("WS-1", usual=True)), Measure(imperial=False)))

    assert "Looks like waterstop: WS-1" in lines


def test_problems_are_shown_and_notes_are_not():
    """Warnings and errors stand below the table; what a note says is in the table already."""
    findings = [Finding(code="a", severity=severity, message=f"a {severity}") for severity in Severity]
    text = "\n".join(shown(survey_report(survey_of(layer("A"), findings=tuple(findings)), Measure(imperial=False))))

    assert "a warning" in text
    assert "a error" in text
    assert "a note" not in text


def test_a_narrow_terminal_loses_nothing():
    """On a narrow terminal long names are wrapped, not cut."""
    name = "S-" + "WATERSTOP" * 12
    lines = shown(survey_report(survey_of(layer(name)), Measure(imperial=False)), width=60)

    assert name == "".join(line.split()[0] for line in lines[3 : lines.index("", 3)])


@pytest.mark.parametrize("text", ["a\nb", "a\tb", " a   b "])
def test_one_line_has_one_line(text):
    """Line breaks, tabs and runs of blanks become one blank."""
    assert "a b" == one_line(text)


@pytest.mark.parametrize("unit", list(LengthUnit))
def test_feet_and_inches_are_imperial(unit):
    """Units that are no decimal part of a metre are imperial."""
    power = unit.metres
    while power < 0.99:
        power *= 10
    while power > 1.01:
        power /= 10

    assert (abs(power - 1) > 1e-9) == reads_imperial([None, unit])
