"""The haul of one walk through a DXF: lines read, and entities counted by the reason they were not.

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
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.line import Line
from numpy.typing import NDArray

from .curve import Shape
from .dxf_file import DAMAGE
from .dxf_layer import Layer
from .dxf_shape import is_line, shape_of
from .dxf_walk import Place, Step
from .finding import Finding, Severity, Source
from .line import JointLine, Points

__all__ = ["NO_LINE", "Haul", "findings_of", "gather", "lines_of"]

_NOTES: dict[str, tuple[str, Severity, str]] = {
    "layer-off": ("layer-hidden", Severity.NOTE, "left out, the layer is off; turn it on if they count"),
    "layer-frozen": ("layer-hidden", Severity.NOTE, "left out, the layer is frozen; thaw it if they count"),
    "zero-length": ("zero-length", Severity.NOTE, "left out, without length; draw a joint that climbs with its height"),
    "invisible": ("entity-skipped", Severity.WARNING, "left out, invisible; show them if they count"),
    "not-finite": ("entity-skipped", Severity.WARNING, "left out, a coordinate is no finite number; draw it again"),
    "damaged": ("entity-skipped", Severity.WARNING, "left out, damaged; draw it again"),
    "missing-block": ("entity-skipped", Severity.WARNING, "left out, the drawing lacks the block; insert it anew"),
    "recursive-block": ("entity-skipped", Severity.WARNING, "left out, the block holds itself; draw it anew"),
    "xref": ("entity-skipped", Severity.WARNING, "left out, the external reference was not followed"),
}
NO_LINE = "left out, no line; draw one along the strip if it stands for waterstop"
"""What is told of an entity that is no line."""


@dataclass(slots=True, kw_only=True, eq=False)
class Haul:
    """What one pass brings home, in file order.

    Attributes
    ----------
    entries : list of (entity, layer, place, shape or None)
        What was read; None stands for a LINE of model space, whose ends are in `straight`.
    straight : list of float
        Six coordinates for each of those, in order.
    skipped : Counter of (reason, layer, entity type)
        What was selected but not read.
    sources : dict
        The first few entities of each key of `skipped`.
    """

    entries: list[tuple[DXFEntity, Layer, Place, Shape | None]] = field(default_factory=list)
    straight: list[float] = field(default_factory=list)
    skipped: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    sources: dict[tuple[str, str, str], list[Source]] = field(default_factory=dict)

    def reasons(self) -> dict[str, int]:
        """Count what is not read by reason alone."""
        counts: Counter[str] = Counter()
        for (reason, _, _), count in self.skipped.items():
            counts[reason] += count
        return dict(sorted(counts.items()))

    def skip(self, reason: str, entity: DXFEntity, layer: Layer, place: Place) -> None:
        """Count an entity that is not read, and keep the first few as witnesses."""
        key = (reason, layer.name, entity.dxftype())
        self.skipped[key] += 1
        witnesses = self.sources.setdefault(key, [])
        if len(witnesses) < 3:
            witnesses.append(place.source(entity, layer))


def gather(steps: Iterable[Step]) -> Haul:
    """Turn every selected entity into a shape, or count it."""
    haul = Haul()
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


def lines_of(haul: Haul, metres: float) -> Iterator[JointLine]:
    """Yield the lines that have a length, scaled by the length of the unit [m]; count the others."""
    bulk = np.array(haul.straight, dtype=np.float64).reshape(-1, 2, 3) * metres
    pairs = zip(bulk, _faults(bulk), strict=True)
    for entity, layer, place, shape in haul.entries:
        if shape is None:
            (points, fault), drawn = next(pairs), None
            source = Source(file=place.file.path.name, layer=layer.name, entity=f"LINE {entity.dxf.handle}")
        else:
            points, drawn = shape.points * metres, shape.drawn
            source, fault = place.source(entity, layer), _fault(points)
        if fault:
            haul.skip(fault, entity, layer, place)
            continue
        yield JointLine(source=source, points_m=points, drawn=drawn, profile=layer.profile, joint=layer.joint)


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


def findings_of(haul: Haul) -> Iterator[Finding]:
    """Tell of what was selected but not read, once for each layer, entity type and reason; of sheets once in all."""
    for key, count in sorted(haul.skipped.items()):
        reason, layer, kind = key
        if reason == "paper-space":
            continue
        code, severity, what = _NOTES.get(reason, ("entity-skipped", Severity.WARNING, NO_LINE))
        message = f"layer {layer!r}: {count} {kind} {what}"
        yield Finding(code=code, severity=severity, message=message, sources=tuple(haul.sources[key]))
    yield from _paper(haul)


def _paper(haul: Haul) -> Iterator[Finding]:
    keys = sorted(key for key in haul.skipped if key[0] == "paper-space")
    if not keys:
        return
    kinds: Counter[str] = Counter()
    for key in keys:
        kinds[key[2]] += haul.skipped[key]
    counted = ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    layers = len({layer for _, layer, _ in keys})
    on = f"layer {keys[0][1]!r}" if layers == 1 else f"{layers} layers"
    message = f"{on}: {counted} left out, on a sheet and not in the model"
    sources = tuple(source for key in keys for source in haul.sources[key])[:3]
    yield Finding(code="paper-space", severity=Severity.NOTE, message=message, sources=sources)
