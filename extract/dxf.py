"""Read the waterstop lines of a DXF drawing.

What counts is what CAD shows in model space: entities of the selected layers that are line-like (the table in
`dxf_shape` says which, and how each is read), blocks opened up, layer 0 in a block standing for the layer the
block is inserted on. What is selected but not read is counted by reason:

| reason | what |
| --- | --- |
| an entity type, such as ``HATCH`` | no line |
| ``layer-off``, ``layer-frozen``, ``invisible`` | not shown |
| ``paper-space`` | stands on a sheet, not in the model |
| ``zero-length`` | a line from a point to itself |
| ``not-finite`` | a coordinate is no finite number |
| ``damaged`` | data that make no shape |
| ``missing-block``, ``recursive-block`` | an insert of a block that is not there, or that holds itself |
| ``xref`` | an external reference that was not followed |
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.line import Line
from numpy.typing import NDArray

from .curve import Shape
from .drawing import Drawing, DrawingKind
from .dxf_file import DAMAGE, DxfFile, open_dxf, paused_collector
from .dxf_layer import Layer
from .dxf_shape import is_line, shape_of
from .dxf_walk import Place, Step, Walk
from .errors import NothingSelectedError
from .finding import Finding, Severity, Source
from .line import JointLine, Points
from .selection import Selection
from .unit import LengthUnit

__all__ = ["read_dxf"]

_NOTES: dict[str, tuple[str, Severity, str]] = {
    "layer-off": ("layer-hidden", Severity.NOTE, "left out, the layer is off"),
    "layer-frozen": ("layer-hidden", Severity.NOTE, "left out, the layer is frozen"),
    "paper-space": ("paper-space", Severity.NOTE, "left out, on a sheet and not in the model"),
    "zero-length": ("zero-length", Severity.NOTE, "left out, without length"),
    "invisible": ("entity-skipped", Severity.WARNING, "left out, invisible"),
    "not-finite": ("entity-skipped", Severity.WARNING, "left out, a coordinate is no finite number; draw it again"),
    "damaged": ("entity-skipped", Severity.WARNING, "left out, damaged; draw it again"),
    "missing-block": ("entity-skipped", Severity.WARNING, "left out, the drawing lacks the block"),
    "recursive-block": ("entity-skipped", Severity.WARNING, "left out, the block holds itself"),
    "xref": ("entity-skipped", Severity.WARNING, "left out, the external reference was not followed"),
}


@dataclass(slots=True, kw_only=True, eq=False)
class _Haul:
    """What one pass brings home, in file order."""

    entries: list[tuple[DXFEntity, Layer, Place, Shape | None]] = field(default_factory=list)
    straight: list[float] = field(default_factory=list)
    skipped: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    sources: dict[tuple[str, str, str], list[Source]] = field(default_factory=dict)

    def skip(self, reason: str, entity: DXFEntity, layer: Layer, place: Place) -> None:
        """Count an entity that is not read, and keep the first few as witnesses."""
        key = (reason, layer.name, entity.dxftype())
        self.skipped[key] += 1
        witnesses = self.sources.setdefault(key, [])
        if len(witnesses) < 3:
            witnesses.append(place.source(entity, layer))


def read_dxf(path: Path, selection: Selection, *, unit: LengthUnit | None = None) -> Drawing:
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
    """
    with paused_collector():
        file = open_dxf(path)
        known = file.require_unit(unit)
        walk = Walk(file=file, selection=selection)
        haul = _gather(walk.steps())
        lines = tuple(_lines(haul, known.metres))
        if not lines:
            raise NothingSelectedError(_nothing(file, selection, haul))
        skipped: Counter[str] = Counter()
        for (reason, _, _), count in haul.skipped.items():
            skipped[reason] += count
        return Drawing(
            file=file.name,
            sha256=file.sha256,
            kind=DrawingKind.DXF,
            unit=known,
            lines=lines,
            skipped=dict(sorted(skipped.items())),
            selected=len(lines) + skipped.total(),
            findings=(*file.findings, *walk.findings, *_findings(haul)),
        )


def _gather(steps: Iterator[Step]) -> _Haul:
    """Turn every selected entity into a shape, or count it."""
    haul = _Haul()
    entries, straight = haul.entries, haul.straight
    for entity, layer, place, reason in steps:
        if not layer.selected:
            continue
        if reason is None and place.matrix is None and type(entity) is Line:
            # The common case, 100,000 times over: no array and no call for each line.
            ends = entity.dxf.__dict__
            try:
                straight += (*ends["start"].xyz, *ends["end"].xyz)
            except KeyError:
                haul.skip("damaged", entity, layer, place)
            else:
                entries.append((entity, layer, place, None))
        elif reason is not None:
            haul.skip(reason, entity, layer, place)
        elif not is_line(entity):
            haul.skip(entity.dxftype(), entity, layer, place)
        else:
            try:
                entries.append((entity, layer, place, shape_of(entity, place.matrix)))
            except DAMAGE:
                haul.skip("damaged", entity, layer, place)
    return haul


def _lines(haul: _Haul, metres: float) -> Iterator[JointLine]:
    """Yield the lines that have a length, in metres; count the others."""
    bulk = np.array(haul.straight, dtype=np.float64).reshape(-1, 2, 3) * metres
    pairs = zip(bulk, _faults(bulk), strict=True)
    for entity, layer, place, shape in haul.entries:
        if shape is None:
            points, fault = next(pairs)
            drawn = None
        else:
            points, drawn = shape.points * metres, shape.drawn
            fault = _fault(points)
        if fault:
            haul.skip(fault, entity, layer, place)
            continue
        yield JointLine(
            source=place.source(entity, layer),
            points_m=points,
            drawn=drawn,
            profile=layer.profile,
            joint=layer.joint,
        )


def _faults(bulk: NDArray[np.float64]) -> list[str]:
    """Name what is wrong with each two-point line, "" where nothing is."""
    with np.errstate(over="ignore", invalid="ignore"):
        length = np.linalg.norm(bulk[:, 1] - bulk[:, 0], axis=1)
    faults = np.where(np.isfinite(length), np.where(length > 0, "", "zero-length"), "not-finite")
    names: list[str] = faults.tolist()
    return names


def _fault(points: Points) -> str:
    if len(points) < 2:
        return "zero-length"
    with np.errstate(over="ignore", invalid="ignore"):
        length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    return "not-finite" if not np.isfinite(length) else "zero-length" if length == 0 else ""


def _findings(haul: _Haul) -> Iterator[Finding]:
    for key, count in sorted(haul.skipped.items()):
        reason, layer, kind = key
        code, severity, what = _NOTES.get(reason, ("entity-skipped", Severity.WARNING, "left out, no line"))
        sources = tuple(haul.sources[key])
        yield Finding(
            code=code,
            severity=severity,
            message=f"layer {layer!r}: {count} {kind} {what}",
            sources=sources,
        )


def _nothing(file: DxfFile, selection: Selection, haul: _Haul) -> str:
    """Say what was looked for, and which layers hold lines."""
    wanted = ", ".join(selection.effective_patterns)
    held = ", ".join(f"{count} {kind} ({reason})" for (reason, _, kind), count in sorted(haul.skipped.items())[:5])
    found = f"no line on a layer that matches {wanted}" + (f", only {held}" if held else "")
    counts = count_lines(file)
    if not counts:
        return f"{file.name} has {found}; its model space shows no line on any layer"
    listed = ", ".join(f"{name!r} ({count})" for name, count in counts.most_common(12))
    more = f" and {len(counts) - 12} more" if len(counts) > 12 else ""
    return f"{file.name} has {found}; choose with --select among the layers with lines: {listed}{more}"


def count_lines(file: DxfFile) -> Counter[str]:
    """Count the visible line-like entities of model space by layer."""
    steps = Walk(file=file, selection=Selection(patterns=("*",))).steps()
    return Counter(layer.name for entity, layer, _, reason in steps if reason is None and is_line(entity))
