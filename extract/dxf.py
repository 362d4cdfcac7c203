"""Read the waterstop lines of a DXF drawing.

What counts is what CAD shows in model space: entities of the selected layers that are line-like (the table in
`dxf_shape` says which, and how each is read), blocks opened up, layer 0 in a block standing for the layer the
block is inserted on. What is selected but not read is counted by reason; the table in `dxf_haul` lists them.
"""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from .assembly import assemble
from .drawing import Drawing, DrawingKind
from .dxf_file import DxfFile, open_dxf
from .dxf_haul import Haul, findings_of, gather, lines_of
from .dxf_shape import is_line
from .dxf_sheet import MarkedEntities, marks_of, parts_of, unmarked
from .dxf_walk import Walk
from .errors import NothingSelectedError
from .finding import Finding, Severity
from .pause import paused_collector
from .selection import USUAL_NAMES, Selection
from .unit import LengthUnit
from .view import SheetBook
from .window import windows_of

__all__ = ["read_dxf"]


def read_dxf(
    path: Path, selection: Selection, *, unit: LengthUnit | None = None, book: SheetBook | None = None
) -> Drawing:
    """Read the selected lines of a DXF drawing.

    Parameters
    ----------
    path : Path
        The file: ASCII or binary, R12 or newer.
    selection : Selection
        Which layers are waterstop. A layer of an external reference matches by its own name and by
        ``reference|name``.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.
    book : SheetBook or None
        Views, risers and levels of flat sheets; a drawing that no view belongs to stands in space as it is.

    Returns
    -------
    Drawing

    Raises
    ------
    UnreadableDrawingError
        The file is absent, empty, cut off, or too damaged.
    MissingUnitError
        It states no unit, or one that no job is built in, and none is given.
    NothingSelectedError
        No line is on a selected layer; the sentence lists the layers that hold lines.
    RulesError
        A view does not fit the drawing.
    """
    with paused_collector(), np.errstate(all="ignore"):
        file = open_dxf(path)
        known = file.require_unit(unit)
        views = book.views_of(file.name) if book else ()
        if book is None or not views:
            return _lines(file, selection, known)
        parts = parts_of(file, views, known.metres)
        windows = windows_of(views, parts, book)
        marks, taken = marks_of(file, windows, selection, book, known.metres)
        return assemble(_lines(file, selection, known, taken), marks, windows, parts, book)


def _lines(file: DxfFile, selection: Selection, unit: LengthUnit, taken: MarkedEntities = frozenset()) -> Drawing:
    """Read the lines as they are drawn, what has been taken for marks left out."""
    walk = Walk(file=file, selection=selection)
    haul = gather(unmarked(walk.steps(), taken) if taken else walk.steps())
    lines = tuple(lines_of(haul, unit.metres))
    if not lines:
        raise NothingSelectedError(_nothing(file, selection, haul))
    skipped = haul.reasons()
    return Drawing(
        file=file.name,
        sha256=file.sha256,
        kind=DrawingKind.DXF,
        unit=unit,
        lines=lines,
        skipped=skipped,
        selected=len(lines) + sum(skipped.values()),
        findings=(*file.findings, *walk.findings, *_unmatched(walk, selection), *findings_of(haul)),
    )


def _unmatched(walk: Walk, selection: Selection) -> Iterator[Finding]:
    """Tell of each pattern the user gave that no layer in use matches: likely a slip of the pen."""
    if selection.effective_patterns == USUAL_NAMES:
        return
    for pattern in selection.effective_patterns:
        lone = Selection(patterns=(pattern,))
        if not any(lone.selects(layer.names) for layer in walk.layers()):
            message = f"{walk.file.name}: nothing stands on a layer that matches {pattern!r}; check its spelling"
            yield Finding(code="unmatched-pattern", severity=Severity.WARNING, message=message)


def _nothing(file: DxfFile, selection: Selection, haul: Haul) -> str:
    """Say what was looked for, and which layers hold lines."""
    wanted = ", ".join(selection.effective_patterns)
    kinds: Counter[str] = Counter()
    for (reason, _, kind), count in haul.skipped.items():
        kinds[kind if reason == kind else f"{kind} ({reason})"] += count
    held = ", ".join(f"{count} {kind}" for kind, count in kinds.most_common(5))
    found = f"no readable line on a layer that matches {wanted}" + (f", only {held}" if held else "")
    counts = _count_lines(file, selection)
    if not counts:
        return f"{file.name} has {found}; no other layer shows a line in model space"
    # Names that look like waterstop first, then the busiest layers.
    first = sorted(counts, key=lambda name: (not Selection().selects([name]), -counts[name], name))[:12]
    listed = ", ".join(f"{name!r} ({counts[name]})" for name in first)
    more = f" and {len(counts) - 12} more" if len(counts) > 12 else ""
    return f"{file.name} has {found}; choose with --select among the layers with lines: {listed}{more}"


def _count_lines(file: DxfFile, selection: Selection) -> Counter[str]:
    """Count the visible line-like entities of model space on the layers not selected."""
    counts: Counter[str] = Counter()
    for entity, layer, _, reason in Walk(file=file, selection=Selection(patterns=("*",))).steps():
        if reason is None and is_line(entity) and not selection.selects(layer.names):
            counts[layer.name] += 1
    return counts
