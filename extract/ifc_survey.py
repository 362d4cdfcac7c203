"""Survey an IFC model: every element type in it, what it is drawn by, and what looks like waterstop."""

import math
import re
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from glob import escape
from pathlib import Path

import numpy as np

from .drawing import DrawingKind
from .errors import MissingUnitError
from .finding import Finding, Severity
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_file import DAMAGE, IfcFile, open_ifc
from .ifc_selection import Roll, text_of
from .ifc_shape import Shapes, representations
from .ifc_unit import IfcUnits, units_of
from .layer import LayerSurvey, Survey
from .pause import paused_collector
from .selection import Selection
from .unit import LengthUnit

__all__ = ["survey_ifc"]

_UNKNOWN = IfcUnits(length=LengthUnit.METRE, metres=1.0, radians=1.0)
_NUMBERED = re.compile(r"[\s:._#-]*\d+$")


@dataclass(slots=True, kw_only=True, eq=False)
class _Group:
    """What has been found of one element type."""

    match: str = ""
    usual: bool = False
    lengths: list[float] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)
    classes: Counter[str] = field(default_factory=Counter)
    shown: Counter[str] = field(default_factory=Counter)


def survey_ifc(path: Path, *, unit: LengthUnit | None = None) -> Survey:
    """Tell what an IFC model holds, element type by element type.

    An element is listed under its type's name, else its ObjectType, else its class. Where only another of its names
    looks like waterstop, it is listed under that, a number at its end left open.

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
        file = open_ifc(path)
        units, findings = _units(file, unit)
        roll = Roll(model=file.model, selection=Selection())
        groups: dict[str, _Group] = {}
        with closing(Shapes.of(file, units or _UNKNOWN)) as shapes:
            for element in roll.elements:
                name, match, usual = _listed_under(roll, element)
                _add(groups.setdefault(name, _Group(match=match, usual=usual)), element, shapes)
        names = sorted(groups, key=lambda name: (name.casefold(), name))
        return Survey(
            file=file.name,
            kind=DrawingKind.IFC,
            unit=units.length if units else None,
            layers=tuple(_layer(name, groups[name], units) for name in names),
            findings=(*file.findings, *findings, *file.late_findings()),
        )


def _units(file: IfcFile, unit: LengthUnit | None) -> tuple[IfcUnits | None, tuple[Finding, ...]]:
    try:
        units = units_of(file, unit)
    except MissingUnitError:
        message = f"{file.name} states no length unit; give --drawing-unit"
        return None, (Finding(code="unit-missing", severity=Severity.WARNING, message=message),)
    return units, units.findings


def _listed_under(roll: Roll, element: Entity) -> tuple[str, str, bool]:
    """Return the name an element is listed under, the pattern that finds it, and whether it looks like waterstop."""
    label = roll.label_of(element)
    looks = Selection().selects
    if looks([label]):
        return label, "", True
    telling = next((name for name in roll.names_of(element) if looks([name])), None)
    if telling is None:
        return label, "", False
    stem = _NUMBERED.sub("", telling)
    return (telling, "", True) if stem == telling else (f"{stem}*", f"{escape(stem)}*", True)


def _add(group: _Group, element: Entity, shapes: Shapes) -> None:
    kind = element.is_a()
    group.classes[kind] += 1
    try:
        group.shown.update({_kind_of(shown) for shown in representations(element)})
        group.lengths += [strip.length for strip in shapes.strips(element)]
    except IfcFault as fault:
        group.others[f"{kind} ({fault.reason})"] += 1
    except DAMAGE:
        group.others[f"{kind} (damaged)"] += 1


def _kind_of(shown: Entity) -> str:
    return " ".join(filter(None, (text_of(shown.get_argument(place)) for place in (1, 2)))) or "unnamed"


def _layer(name: str, group: _Group, units: IfcUnits | None) -> LayerSurvey:
    length = math.fsum(group.lengths)
    return LayerSurvey(
        name=name,
        lines=len(group.lengths),
        length=length,
        length_m=length * units.metres if units else None,
        others=dict(sorted(group.others.items())),
        hidden=None,
        usual=group.usual,
        match=group.match,
        classes=dict(sorted(group.classes.items())),
        representations=dict(sorted(group.shown.items())),
    )
