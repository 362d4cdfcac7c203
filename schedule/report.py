"""Report: what the command line tells, as tables for a terminal or, plain, for a pipe."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from splicewright.extract.finding import Finding, Severity
from splicewright.extract.unit import LengthUnit

from .measure import Measure, count_text

if TYPE_CHECKING:  # numpy and more, which the errors of the command line need not wait for
    from splicewright.extract.survey import LayerSurvey, Survey

    from .output import Output
    from .plan import Schedule

__all__ = ["one_line", "reads_imperial", "schedule_report", "survey_report"]

_MOST_FINDINGS = 6
_MOST_LETTERS = 600  # of a finding, in which a layer may be called anything
_STYLES = {Severity.ERROR: "bold red", Severity.WARNING: "yellow", Severity.NOTE: "dim"}

_KINDS = (
    ("corners", "corner", "corners"),
    ("tees", "tee", "tees"),
    ("wyes", "wye", "wyes"),
    ("crosses", "cross", "crosses"),
    ("others", "other place", "other places"),
    ("closures", "ring closed by a splice", "rings closed by a splice"),
    ("ends", "free end", "free ends"),
)


def one_line(text: str) -> str:
    r"""Write a text from anywhere on one line that does nothing to a terminal.

    Examples
    --------
    >>> one_line("layer 'A\x1b[31m'\n is  empty")
    "layer 'A�[31m' is empty"
    """
    return "".join(sign if sign.isprintable() else "�" for sign in " ".join(text.split()))


def reads_imperial(units: Sequence[LengthUnit | None]) -> bool:
    """Tell whether the first drawing that states its unit is drawn in feet, inches or the like.

    Examples
    --------
    >>> reads_imperial([LengthUnit.INCH]), reads_imperial([None, LengthUnit.METRE]), reads_imperial([])
    (True, False, False)
    """
    known = next((unit for unit in units if unit), LengthUnit.METRE)
    return not known.value.endswith("m")


def survey_report(survey: "Survey", measure: Measure) -> RenderableType:
    """Tell what a drawing holds.

    Parameters
    ----------
    survey : Survey
    measure : Measure
        Units of lengths, where the drawing's own unit is known.

    Returns
    -------
    rich.console.RenderableType
    """
    unit = survey.unit.value if survey.unit else "not stated; give --drawing-unit"
    head = f"{survey.file}: {survey.kind.value.upper()}, unit {unit}, {count_text(survey.lines, 'line')}"
    parts: list[RenderableType] = [Text(one_line(head), style="bold"), Text(), _layers(survey, measure), Text()]
    parts.append(Text(one_line(_likely(survey))))
    if survey.windows:
        parts += [Text(), Text("Looks like a flat set; windows that views may have:"), _windows(survey)]
    if problems := _telling(survey.findings):
        parts.append(_findings(problems, most=len(problems)))
    return Group(*parts, Text())


def schedule_report(schedule: "Schedule", outputs: Sequence["Output"], measure: Measure) -> RenderableType:
    """Tell what has been scheduled and written.

    Parameters
    ----------
    schedule : Schedule
    outputs : sequence of Output
        What has been written.
    measure : Measure
        Units of lengths.

    Returns
    -------
    rich.console.RenderableType
    """
    grid = _grid()
    for label, text in (*_facts(schedule, measure), *_files(outputs)):
        grid.add_row(Text(label, style="bold"), Text(one_line(text)))
    parts: list[RenderableType] = [Text(one_line(schedule.job), style="bold"), grid]
    if problems := _telling(schedule.findings):
        parts.append(Padding(_findings(problems, most=_MOST_FINDINGS), (0, 0, 0, 2), expand=False))
        sheets = any(output.path.suffix == ".xlsx" for output in outputs)
        if sheets and any(finding.at_m for finding in problems):
            parts.append(Text("  Places are in metres here, and in the drawing's own unit on the sheet Findings."))
    return Group(*parts)


def _telling(findings: Sequence[Finding]) -> list[Finding]:
    """Leave out the notes: the table of a survey and the sheets of a schedule hold what they say."""
    return [finding for finding in findings if finding.severity is not Severity.NOTE]


def _grid() -> Table:
    return Table(box=None, show_header=False, pad_edge=False, padding=(0, 2, 0, 0))


def _layers(survey: "Survey", measure: Measure) -> Table:
    unit = measure.long_unit if survey.unit else "drawing units"
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("Layer", overflow="fold")
    table.add_column("Lines", justify="right", no_wrap=True)
    table.add_column(f"Length [{unit}]", justify="right", no_wrap=True)
    table.add_column("Waterstop?")
    table.add_column("Hidden")
    table.add_column("Also there", overflow="fold")
    for layer in survey.layers:
        also = ", ".join(f"{count:,} {kind}" for kind, count in layer.others.items())
        cells = (layer.name, f"{layer.lines:,}", _length(layer, measure), "yes" if layer.usual else "")
        style = "green" if layer.usual and not layer.hidden else ""
        table.add_row(*(Text(one_line(cell)) for cell in (*cells, layer.hidden or "", also)), style=style)
    return table


def _windows(survey: "Survey") -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    table.add_column("Title", overflow="fold")
    table.add_column("Kind")
    table.add_column("Scale")
    table.add_column("Window: x, y, width, height", no_wrap=True)
    table.add_column("Lines", justify="right", no_wrap=True)
    for one in survey.windows:
        window = ", ".join(f"{value:g}" for value in one.window)
        cells = (one.title or "?", one.kind or "?", one.scale or "?", window, f"{one.lines:,}")
        table.add_row(*(Text(one_line(cell)) for cell in cells))
    return table


def _length(layer: "LayerSurvey", measure: Measure) -> str:
    length = layer.length if layer.length_m is None else measure.long(layer.length_m)
    return f"{length:,.1f}"


def _likely(survey: "Survey") -> str:
    names = [layer.name for layer in survey.layers if layer.usual and layer.lines and not layer.hidden]
    if names:
        others = any(not layer.usual and layer.lines for layer in survey.layers)
        hint = ". Other layers are read only where --select or the rules file names them." if others else ""
        return f"Looks like waterstop: {', '.join(names)}{hint}"
    return "No layer name looks like waterstop: choose layers with --select, or in a rules file."


def _facts(schedule: "Schedule", measure: Measure) -> Iterator[tuple[str, str]]:
    totals, crew = schedule.totals, schedule.crew
    lines = sum(len(drawing.lines) for drawing in schedule.drawings)
    read = f"{count_text(lines, 'line')} in {count_text(len(schedule.drawings), 'drawing')}"
    runs = count_text(len(schedule.runs), "run")
    yield "waterstop", f"{measure.text(totals['length_m'] or 0)} along the centreline, {runs}, from {read}"
    kinds = [count_text(totals[key], one, many) for key, one, many in _KINDS if totals[key]]
    yield "nodes", ", ".join(kinds) or "none"
    yield "fittings", f"{count_text(totals['fittings'], 'piece')} of {count_text(len(schedule.fittings), 'type')}"
    yield "splices", f"{totals['factory_splices']:,} in the shop, {totals['field_splices']:,} on site"
    yield "rolls", _rolls(schedule, measure)
    yield "crew", f"{count_text(crew.crew_days, 'crew-day')}, {count_text(crew.people, 'person', 'people')} in a crew"
    counts = Counter(finding.severity for finding in schedule.findings)
    yield "findings", ", ".join(count_text(counts[severity], severity.value) for severity in Severity)


def _rolls(schedule: "Schedule", measure: Measure) -> str:
    orders = (f"{o.quantity:,} of {measure.roll_text(o.length_m)} {o.profile}" for o in schedule.orders)
    return ", ".join(orders) or "none"


def _files(outputs: Sequence["Output"]) -> Iterator[tuple[str, str]]:
    for output in outputs:
        yield "wrote", str(output.path)
    for output in outputs:
        if output.kept:
            yield "kept", f"{output.kept} (the earlier {output.path.name}, which differs)"


def _findings(findings: Sequence[Finding], *, most: int) -> Table:
    grid = _grid()
    for finding in findings[:most]:
        message = one_line(finding.message)
        told = message if len(message) <= _MOST_LETTERS else f"{message[:_MOST_LETTERS]} … (cut)"
        grid.add_row(Text(finding.severity.value, style=_STYLES[finding.severity]), Text(told))
    if len(findings) > most:
        grid.add_row("", Text(f"and {len(findings) - most:,} more in the schedule"))
    return grid
