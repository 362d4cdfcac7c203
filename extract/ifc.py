"""Read the waterstop lines of an IFC model.

What counts are the products whose names a pattern finds (the table in `ifc_selection` lists the names). Centre lines
come from the axis representation, else from the body (`ifc_body` says how each kind is read); how the strip lies and
how large its section is come from the body's profile. What is selected but not read is counted by reason; the table
in `ifc_haul` lists them.
"""

from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .drawing import Drawing, DrawingKind
from .errors import NothingSelectedError
from .finding import Finding, Severity
from .ifc_connection import connected
from .ifc_entity import Entity
from .ifc_file import DAMAGE, IfcFile, open_ifc
from .ifc_haul import Haul, gather
from .ifc_selection import Roll
from .ifc_shape import Shapes, representations
from .ifc_unit import IfcUnits, units_of
from .pause import paused_collector
from .selection import USUAL_NAMES, Selection
from .unit import LengthUnit

__all__ = ["read_ifc"]


def read_ifc(path: Path, selection: Selection, *, unit: LengthUnit | None = None) -> Drawing:
    """Read the selected lines of an IFC model.

    Parameters
    ----------
    path : Path
        The file: IFC2X3, IFC4, IFC4X3 or a near relative in STEP form, packed or not.
    selection : Selection
        Which elements are waterstop.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.

    Returns
    -------
    Drawing

    Raises
    ------
    UnreadableDrawingError
        The file is absent, empty, cut off, of an unknown schema, or too damaged.
    MissingUnitError
        It states no unit, and none is given.
    NothingSelectedError
        Nothing that is selected is a line; the sentence lists the element types that are drawn.
    """
    with paused_collector(), np.errstate(all="ignore"):
        found = _pass(open_ifc(path), selection, unit)
        if found.file.lost_numbers:
            found = _pass(open_ifc(path, mend_numbers=True), selection, unit)
        file, roll, haul = found.file, found.roll, found.haul
        if not haul.lines:
            raise NothingSelectedError(_nothing(file, roll, haul))
        lines, closed = connected(file.model, haul.lines, haul.numbers)
        skipped = haul.reasons()
        return Drawing(
            file=file.name,
            sha256=file.sha256,
            kind=DrawingKind.IFC,
            unit=found.units.length,
            lines=tuple(lines),
            skipped=skipped,
            selected=len(lines) + sum(skipped.values()),
            findings=(
                *file.findings,
                *found.units.findings,
                *_unmatched(file, roll, selection),
                *_unreadable(file, roll),
                *haul.findings(),
                *closed,
                *file.late_findings(),
            ),
            map_m=found.map_m,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pass:
    """What one pass through a file has found."""

    file: IfcFile
    units: IfcUnits
    roll: Roll
    haul: Haul
    map_m: NDArray[np.float64] | None


def _pass(file: IfcFile, selection: Selection, unit: LengthUnit | None) -> _Pass:
    units = units_of(file, unit)
    roll = Roll(model=file.model, selection=selection)
    with closing(Shapes.of(file, units)) as shapes:
        haul = gather(file, roll.selected, selection, shapes)
        return _Pass(file=file, units=units, roll=roll, haul=haul, map_m=shapes.map_m)


def _unmatched(file: IfcFile, roll: Roll, selection: Selection) -> Iterator[Finding]:
    """Tell of each pattern the user gave that no element matches: likely a slip of the pen."""
    if selection.effective_patterns == USUAL_NAMES:
        return
    names = {name for one in roll.selected for name in one.names}
    for pattern in selection.effective_patterns:
        if not Selection(patterns=(pattern,)).selects(names):
            message = f"{file.name}: no element matches {pattern!r}; check its spelling"
            yield Finding(code="unmatched-pattern", severity=Severity.WARNING, message=message)


def _unreadable(file: IfcFile, roll: Roll) -> Iterator[Finding]:
    """Tell of elements of which nobody can say whether they are waterstop."""
    if roll.unreadable:
        numbers = ", ".join(f"#{number}" for number in sorted(roll.unreadable)[:5])
        more = f" and {len(roll.unreadable) - 5} more" if len(roll.unreadable) > 5 else ""
        message = f"{file.name}: not even the names of {numbers}{more} can be read; they may be waterstop, so mend them"
        yield Finding(code="element-unreadable", severity=Severity.ERROR, message=message)


def _nothing(file: IfcFile, roll: Roll, haul: Haul) -> str:
    """Say what was looked for, and which element types are drawn."""
    wanted = ", ".join(roll.selection.effective_patterns)
    reasons = ", ".join(f"{count} {kind} ({reason})" for (reason, _, kind), count in haul.skipped.most_common(5))
    found = f"no readable line among the elements that match {wanted}" + (f", only {reasons}" if reasons else "")
    counts: Counter[str] = Counter()
    for element in roll.elements:
        if _is_drawn(element):
            counts[roll.label_of(element)] += 1
    if not counts:
        return f"{file.name} has {found}; nothing else is drawn in it"
    listed = ", ".join(f"{name!r} ({count})" for name, count in counts.most_common(12))
    more = f" and {len(counts) - 12} more" if len(counts) > 12 else ""
    return f"{file.name} has {found}; choose with --select among the element types: {listed}{more}"


def _is_drawn(element: Entity) -> bool:
    try:
        return any(True for _ in representations(element))
    except DAMAGE:
        return False
