"""Packet: the whole job as one PDF to print: summary, maps, shop, cut list, crew calendar, inspection forms."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from reportlab.platypus import BaseDocTemplate, Flowable, Frame, NextPageTemplate, PageBreak, PageTemplate

from splicewright.extract.errors import OutputError

from .measure import Measure
from .packet_map import map_sheets
from .packet_part import calendar_part, caution_part, cut_part, form_part, shop_part, summary_part
from .packet_sheet import Leaf, heading, numbered
from .plan import Schedule
from .typeface import set_up, shown

__all__ = ["write_packet"]


def write_packet(schedule: Schedule, path: Path, *, imperial: bool) -> None:
    """Write a job as a PDF.

    The same schedule always gives the same bytes; every page carries the job, its part, and its number.

    Parameters
    ----------
    schedule : Schedule
    path : Path
        File to write; an existing one is replaced.
    imperial : bool
        Feet, inches and pounds on Letter paper; otherwise metres, millimetres and kilograms on A4.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    set_up()
    files = ", ".join(f"{drawing.file} ({drawing.sha256[:12]})" for drawing in schedule.drawings[:4])
    more = f" and {len(schedule.drawings) - 4} more" if len(schedule.drawings) > 4 else ""
    leaf = Leaf(job=schedule.job, drawings=files + more, imperial=imperial)
    try:
        with path.open("wb") as file:
            _Packet(file, leaf).build(list(_story(schedule, leaf)), canvasmaker=numbered(leaf))
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror}; choose another folder with --out") from None


class _Packet(BaseDocTemplate):  # type: ignore[misc]  # the library carries no types
    """The PDF as it is made up: upright pages, and pages across for the maps."""

    def __init__(self, file: object, leaf: Leaf) -> None:
        super().__init__(
            file,
            pagesize=leaf.upright,
            title=shown(leaf.job, most=200),
            author="Splicewright",
            creator="Splicewright",
            subject="Waterstop fabrication packet",
            invariant=1,  # no hour and no chance in the file
            pageCompression=1,
        )
        self.addPageTemplates([_template(leaf, "upright"), _template(leaf, "across")])

    def afterFlowable(self, flowable: Flowable) -> None:  # noqa: N802 (the library's name)
        """Let the outline lead to each part, and the pages that follow carry its name."""
        part = getattr(flowable, "outline", None)
        if part is None:
            return
        text, key = part
        self.canv.part = text
        self.canv.bookmarkPage(key)
        self.canv.addOutlineEntry(text, key, 0)


def _template(leaf: Leaf, name: str) -> PageTemplate:
    across = name == "across"
    frame = Frame(*leaf.frame(across=across), id=name, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    return PageTemplate(id=name, frames=[frame], pagesize=leaf.upright[::-1] if across else leaf.upright)


def _story(schedule: Schedule, leaf: Leaf) -> Iterator[Flowable]:
    measure = Measure(imperial=leaf.imperial)
    width, _ = leaf.room()
    yield from summary_part(schedule, measure, width)
    yield from caution_part(schedule)
    yield from _maps(schedule, measure, leaf)
    yield NextPageTemplate("upright")
    parts: tuple[Any, ...] = (
        shop_part(schedule, measure, width),
        cut_part(schedule, measure, width),
        calendar_part(schedule, measure, width),
        form_part(schedule, width),
    )
    for part in parts:
        yield PageBreak()
        yield from part


def _maps(schedule: Schedule, measure: Measure, leaf: Leaf) -> Iterator[Flowable]:
    wide, high = leaf.room(across=True)
    for number, (name, sheet) in enumerate(map_sheets(schedule, measure, (wide, high - 26))):
        yield NextPageTemplate("across")
        yield PageBreak()
        yield heading(f"Map, {name}", f"map-{number}")
        yield sheet
