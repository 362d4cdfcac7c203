"""Legend: what the marks on a drawing mean, what was found that has no place in it, and the cautions, line by line."""

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from splicewright.extract.finding import Finding

from .mark import Marks, Meaning
from .share import Share

__all__ = ["MEANINGS", "LegendLine", "legend_of"]

_WIDTH = 84
_MOST_FINDINGS = 60

MEANINGS: dict[Meaning, str] = {
    Meaning.NODES: "Ring: a node, where the waterstop ends, turns, meets or crosses: its mark and kind",
    Meaning.RUNS: "Mark of a run between two nodes, and of the piece from the cutting list that lies there",
    Meaning.FITTINGS: "Outline of a piece made in the shop, with its legs to their square ends; its type",
    Meaning.FIELD_SPLICES: "Tick across the strip: a splice welded on site",
    Meaning.SHOP_SPLICES: "Marks of the splices welded in the shop, at the node they belong to",
    Meaning.FINDINGS: "Cloud: something odd in the drawing, with what it is and what to do about it",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LegendLine:
    """One line of a legend.

    Attributes
    ----------
    text : str
        What it says; may be empty.
    sample : Meaning or None
        The meaning that it explains, so that a sample stands before it.
    """

    text: str
    sample: Meaning | None = None


def legend_of(share: Share, marks: Marks) -> list[LegendLine]:
    """Write the legend of one drawing.

    Parameters
    ----------
    share : Share
        What of the schedule belongs to the drawing.
    marks : Marks
        Its marks.

    Returns
    -------
    list of LegendLine
    """
    return [
        *_wrapped(f"WATERSTOP MARKS, job {share.schedule.job}"),
        *_wrapped(f"Added to {share.drawing.file} by Splicewright; nothing that was drawn before has been changed."),
        *_wrapped("All marks are the schedule's; the workbook of the job tells more of each."),
        LegendLine(text=""),
        *(line for meaning, text in MEANINGS.items() for line in _wrapped(text, sample=meaning)),
        *_unplaced(marks.unplaced),
        LegendLine(text=""),
        LegendLine(text="CAUTIONS"),
        *(line for caution in share.schedule.rules.cautions for line in _wrapped(f"- {caution}")),
    ]


def _unplaced(findings: list[Finding]) -> Iterator[LegendLine]:
    if not findings:
        return
    yield LegendLine(text="")
    yield LegendLine(text="FINDINGS WITHOUT A PLACE IN THIS DRAWING")
    for finding in findings[:_MOST_FINDINGS]:
        yield from _wrapped(f"- {finding.severity.value}: {finding.message}")
    if len(findings) > _MOST_FINDINGS:
        yield LegendLine(text=f"- and {len(findings) - _MOST_FINDINGS} more on the sheet Findings of the workbook")


def _wrapped(text: str, *, sample: Meaning | None = None) -> Iterator[LegendLine]:
    for number, line in enumerate(textwrap.wrap(text, _WIDTH, max_lines=ceil(1000 / _WIDTH)) or [""]):
        yield LegendLine(text=line, sample=sample if number == 0 else None)
