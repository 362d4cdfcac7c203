"""The haul of one pass through an IFC model: lines read, and elements counted by the reason they were not.

| reason | why an element is left out |
| --- | --- |
| ``no-representation`` | nothing is drawn of it |
| ``no-centre-line`` | its body is no strip, so no line runs along its middle |
| ``unread-curve``, ``unread-profile``, ``unread-placement`` | a kind of geometry that cannot be read |
| ``cyclic-placement``, ``recursive-mapping`` | it is placed relative to itself, or made of itself |
| ``zero-length``, ``not-finite``, ``damaged`` | its line has no length, a coordinate is no number, data are missing |

| note | how an element was read |
| --- | --- |
| ``boolean-cut`` | what is cut off its body was left on |
| ``long-axis``, ``meshed`` | along the middle of a faceted body, or of one that the kernel had to mesh |
| ``plan-taken`` | along the plan that its profile is |
| ``axis-unread`` | along its body, since its axis cannot be read |
| ``no-placement`` | at the model's origin, since it is placed nowhere |
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from .finding import Finding, Severity, Source
from .ifc_fault import IfcFault
from .ifc_file import DAMAGE, IfcFile
from .ifc_selection import Selected
from .ifc_shape import Shapes
from .ifc_strip import Strip
from .ifc_trait import Traits, traits_of, whereabouts_of
from .line import JointLine, Points
from .selection import Carrier, Selection
from .whereabouts import Whereabouts

__all__ = ["Haul", "gather"]

_TOLD: dict[str, tuple[str, Severity, str]] = {
    "no-representation": (
        "entity-skipped",
        Severity.WARNING,
        "left out, nothing is drawn of it; draw its axis",
    ),
    "no-centre-line": ("entity-skipped", Severity.WARNING, "left out, its body is no strip; draw its axis"),
    "unread-curve": ("entity-skipped", Severity.WARNING, "left out, its curve cannot be read; draw its axis anew"),
    "unread-profile": ("entity-skipped", Severity.WARNING, "left out, its profile cannot be read; draw its axis"),
    "unread-placement": ("entity-skipped", Severity.WARNING, "left out, its placement cannot be read; place it anew"),
    "cyclic-placement": ("entity-skipped", Severity.WARNING, "left out, placed relative to itself; place it anew"),
    "recursive-mapping": ("entity-skipped", Severity.WARNING, "left out, made of itself; draw it again"),
    "not-finite": ("entity-skipped", Severity.WARNING, "left out, a coordinate is no finite number; draw it again"),
    "damaged": ("entity-skipped", Severity.WARNING, "left out, damaged; draw it again"),
    "zero-length": ("zero-length", Severity.NOTE, "left out, without length"),
    "boolean-cut": ("boolean-cut", Severity.NOTE, "read uncut: what is cut off the body may be left on its line"),
    "long-axis": ("long-axis", Severity.NOTE, "read along the middle of a faceted body, which has no axis"),
    "meshed": ("long-axis", Severity.NOTE, "read along the middle of the mesh of its body, which has no axis"),
    "plan-taken": ("plan-taken", Severity.NOTE, "read along its plan, which is longer than it is high"),
    "axis-unread": ("axis-unread", Severity.WARNING, "read along its body, since its axis cannot be read"),
    "no-placement": ("no-placement", Severity.WARNING, "placed nowhere, so taken to stand at the model's origin"),
}


@dataclass(slots=True, kw_only=True, eq=False)
class Haul:
    """What one pass brings home, in file order.

    Attributes
    ----------
    file : str
        Name of the model.
    lines : list of JointLine
        What was read.
    numbers : list of int
        Number of the element that each line was read from.
    skipped : Counter of (reason, label, class)
        Elements that were selected but not read.
    noted : Counter of (note, label, class)
        Elements that were read with something to be told.
    details : dict
        What shows the reason, for the first of each key.
    sources : dict
        The first few elements of each key.
    holders : dict
        Storey and structure of what holds elements, as found so far.
    """

    file: str
    lines: list[JointLine] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    skipped: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    noted: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    details: dict[tuple[str, str, str], str] = field(default_factory=dict)
    sources: dict[tuple[str, str, str], list[Source]] = field(default_factory=dict)
    holders: dict[int, tuple[str, str]] = field(default_factory=dict)

    def reasons(self) -> dict[str, int]:
        """Count what is not read by reason alone."""
        counts: Counter[str] = Counter()
        for (reason, _, _), count in self.skipped.items():
            counts[reason] += count
        return dict(sorted(counts.items()))

    def findings(self) -> Iterator[Finding]:
        """Tell of what was not read, and of what was read with reserve, once for each type, class and reason."""
        for key, count in (*sorted(self.skipped.items()), *sorted(self.noted.items())):
            reason, label, kind = key
            code, severity, what = _TOLD[reason]
            named = ", ".join(source.entity.split()[-1] for source in self.sources[key])
            more = f" and {count - len(self.sources[key])} more" if count > len(self.sources[key]) else ""
            detail = f"{self.details[key]}: " if key in self.details else ""
            message = f"type {label!r}: {count} {kind} ({named}{more}) {detail}{what}"
            yield Finding(code=code, severity=severity, message=message, sources=tuple(self.sources[key]))

    def tell(self, told: Counter[tuple[str, str, str]], reason: str, chosen: Selected, source: Source) -> None:
        """Count an element for a reason, and keep the first few as witnesses."""
        key = (reason, chosen.label, chosen.element.is_a())
        told[key] += 1
        witnesses = self.sources.setdefault(key, [])
        if len(witnesses) < 3:
            witnesses.append(source)


def gather(file: IfcFile, chosen: Iterable[Selected], selection: Selection, shapes: Shapes) -> Haul:
    """Turn every selected element into lines, or count it."""
    haul = Haul(file=file.name)
    for one in chosen:
        source = _source(file, one)
        try:
            strips = shapes.strips(one.element)
            carrier, traits = selection.carrier_of(one.names), traits_of(one.element)
            place = whereabouts_of(one.element, traits.stage, haul.holders)
            lines = [_line(strip, source, carrier, traits, place, shapes.units.metres) for strip in strips]
        except IfcFault as fault:
            haul.tell(haul.skipped, fault.reason, one, source)
            if fault.detail:
                haul.details.setdefault((fault.reason, one.label, one.element.is_a()), fault.detail)
            continue
        except DAMAGE:
            haul.tell(haul.skipped, "damaged", one, source)
            continue
        haul.lines += lines
        haul.numbers += [one.element.id()] * len(lines)
        for note in sorted(frozenset().union(*(strip.notes for strip in strips))):
            haul.tell(haul.noted, note, one, source)
    return haul


def _source(file: IfcFile, one: Selected) -> Source:
    try:
        identity = one.element.get_argument(0) or f"#{one.element.id()}"
    except DAMAGE:
        identity = f"#{one.element.id()}"
    return Source(file=file.name, layer=one.label, entity=f"{one.element.is_a()} {identity}")


def _line(
    strip: Strip, source: Source, carrier: Carrier | None, traits: Traits, place: Whereabouts | None, metres: float
) -> JointLine:
    points = strip.points * metres
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    if not np.isfinite(length):
        raise IfcFault("not-finite")
    if length == 0:
        raise IfcFault("zero-length")
    across = strip.across if not np.isnan(strip.across).all() else _stated_across(points, traits)
    width, thickness = (
        own if own is not None else said
        for own, said in ((strip.width, traits.width), (strip.thickness, traits.thickness))
    )
    drawn = None if strip.drawn.all() else np.flatnonzero(strip.drawn).astype(np.intp)
    return JointLine(
        source=source,
        points_m=points,
        drawn=drawn,
        profile=carrier.profile if carrier else None,
        joint=(carrier.joint if carrier else None) or traits.joint,
        across=across,
        width_m=None if width is None else width * metres,
        thickness_m=None if thickness is None else thickness * metres,
        whereabouts=place,
    )


def _stated_across(points: Points, traits: Traits) -> Points | None:
    """Return the direction across that a property states, None where none does or a segment is plumb."""
    if traits.upright is None:
        return None
    step = np.diff(points, axis=0)
    along = step / np.linalg.norm(step, axis=1)[:, None]
    up = np.broadcast_to(np.array([0.0, 0.0, 1.0]), along.shape)
    sides = up - along * along[:, 2:] if traits.upright else np.cross(up, along)
    size = np.linalg.norm(sides, axis=1)[:, None]
    return np.where(size > 1e-6, sides / np.maximum(size, 1e-6), np.nan)
