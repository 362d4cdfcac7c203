"""Survey a DXF drawing: every layer in use, the hidden ones too."""

import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from .cluster import propose_windows
from .drawing import DrawingKind
from .dxf_file import DxfFile, open_dxf
from .dxf_haul import NO_LINE, findings_of, gather, lines_of
from .dxf_layer import Layer
from .dxf_sheet import texts_of
from .dxf_walk import Step, Walk
from .finding import Finding, Severity
from .layer import LayerSurvey, Survey
from .pause import paused_collector
from .selection import Selection
from .unit import LengthUnit

__all__ = ["survey_dxf"]


def survey_dxf(path: Path, *, unit: LengthUnit | None = None) -> Survey:
    """Tell what a DXF drawing holds, layer by layer.

    Parameters
    ----------
    path : Path
        The file.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.

    Returns
    -------
    Survey

    Raises
    ------
    UnreadableDrawingError
        The file is absent, empty, cut off, or too damaged.
    """
    with paused_collector(), np.errstate(all="ignore"):
        file = open_dxf(path)
        known = unit or file.unit
        walk = Walk(file=file, selection=Selection(patterns=("*",)))
        shown: dict[str, Layer] = {}
        haul = gather(_unveiled(walk.steps(), shown))
        lengths: dict[str, list[float]] = {}
        lines = list(lines_of(haul, 1.0))
        for line in lines:
            lengths.setdefault(line.source.layer, []).append(line.length_m)
        others: dict[str, Counter[str]] = {}
        for (reason, layer, kind), count in haul.skipped.items():
            others.setdefault(layer, Counter())[kind if reason == kind else f"{kind} ({reason})"] += count
        names = sorted(shown, key=lambda name: (name.casefold(), name))
        visible = [line for line in lines if not shown[line.source.layer].hidden]
        usual = [Selection().selects(shown[line.source.layer].names) for line in visible]
        told = (finding for finding in findings_of(haul) if not finding.message.endswith(NO_LINE))
        return Survey(
            file=file.name,
            kind=DrawingKind.DXF,
            unit=known,
            layers=tuple(
                _layer(shown[name], lengths.get(name, []), others.get(name, Counter()), known) for name in names
            ),
            findings=(*file.findings, *_unit_finding(file, known), *walk.findings, *told),
            windows=propose_windows(visible, usual, list(texts_of(file, 1.0))),
        )


def _unveiled(steps: Iterator[Step], shown: dict[str, Layer]) -> Iterator[Step]:
    """Note the layers met, and let what only its own layer hides be measured."""
    for entity, layer, place, reason in steps:
        shown[layer.name] = layer
        yield entity, layer, place, None if reason == layer.hidden else reason


def _layer(layer: Layer, lengths: list[float], others: Counter[str], unit: LengthUnit | None) -> LayerSurvey:
    length = math.fsum(lengths)
    return LayerSurvey(
        name=layer.name,
        lines=len(lengths),
        length=length,
        length_m=length * unit.metres if unit else None,
        others=dict(sorted(others.items())),
        hidden=layer.hidden,
        usual=Selection().selects(layer.names),
    )


def _unit_finding(file: DxfFile, unit: LengthUnit | None) -> Iterator[Finding]:
    if unit is None:
        message = f"{file.name} states no length unit; give --drawing-unit"
        yield Finding(code="unit-missing", severity=Severity.WARNING, message=message)
