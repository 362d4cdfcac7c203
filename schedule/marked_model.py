"""The marked model: an IFC handed back with marks written behind its own instances, which stay as they are to the byte.

| added | tells |
| --- | --- |
| property set ``Splicewright marks`` on each element of waterstop | its runs, fittings, pieces, splices and findings |
| ``IfcAnnotation``, ObjectType ``Splicewright fitting`` | one copy of a fitting: the course of its legs |
| the same, ``Splicewright field splice`` or ``Splicewright shop splice`` | one weld: a small cross |
| the same, ``Splicewright finding`` | something odd: a small cross, its text as description |

Annotations stand in the storey, or whatever holds the element they belong to. A packed model is written unpacked.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import ifcopenshell.guid
import numpy as np

from splicewright.extract.errors import MissingUnitError, OutputError
from splicewright.extract.finding import Finding, Source
from splicewright.extract.ifc_file import DAMAGE, IfcFile, content_of, open_ifc
from splicewright.extract.ifc_shape import world_matrix
from splicewright.extract.ifc_unit import units_of
from splicewright.extract.line import Points, Vector
from splicewright.extract.pause import paused_collector
from splicewright.extract.unit import LengthUnit

from .mark_list import MarkList, mark_lists
from .plan import Schedule
from .share import Copy, Part, Share, cut_out, share_of
from .splice import Made, Splice

__all__ = ["SET_NAME", "write_marked_model"]

SET_NAME = "Splicewright marks"
_HALF_M = 0.15  # of a cross's arms
_NUMBER = re.compile(rb"#(\d+)\s*=")
_END = re.compile(rb"ENDSEC\s*;", re.IGNORECASE)
_NOT_TEXT = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff]")

_Instance: TypeAlias = Any  # a library's instance has the attributes of its class


def write_marked_model(
    schedule: Schedule, number: int, original: Path, path: Path, *, unit: LengthUnit | None = None
) -> None:
    """Write one model of a job with its marks.

    Parameters
    ----------
    schedule : Schedule
    number : int
        Which of its drawings, from 0; an IFC.
    original : Path
        The file it was read from.
    path : Path
        File to write; an existing one is replaced.
    unit : LengthUnit or None
        Unit it was read in, before what it states.

    Raises
    ------
    UnreadableDrawingError
        The original cannot be read any more.
    OutputError
        It has changed since it was read, or its damage leaves nowhere to write marks.
    """
    with paused_collector():
        file = open_ifc(original)
        share = share_of(schedule, number)
        if file.sha256 != share.drawing.sha256:
            raise OutputError(f"{original} has changed while it was being scheduled; run again")
        content = content_of(original)
        try:
            lines = _Clerk(file, share, unit, content).lines()
        except DAMAGE as reason:
            said = " ".join(str(reason).split())[:80]
            raise OutputError(
                f"{original.name} is too damaged to be marked ({said}); export it again, or leave ifc out of --write"
            ) from reason
        path.write_bytes(_with_lines(content, lines))


def _with_lines(content: bytes, lines: Sequence[str]) -> bytes:
    """Put instances behind the last of the model's own."""
    end = list(_END.finditer(content))[-1].start()
    newline = b"\r\n" if b"\r\n" in content[:1000] else b"\n"
    added = newline.join(line.encode("ascii") for line in lines)
    return content[:end] + added + newline + content[end:]


class _Clerk:
    """Writes the marks of one model as instances behind its own."""

    def __init__(self, file: IfcFile, share: Share, unit: LengthUnit | None, content: bytes) -> None:
        self.model: Any = file.model
        self.share = share
        try:
            units = units_of(file, unit)
        except MissingUnitError:
            units = units_of(file, share.drawing.unit)  # the rules file gave it
        self.metres, self.home = units.metres, np.linalg.inv(world_matrix(file, units))
        self.next = max(int(found) for found in _NUMBER.findall(content)) + 1
        self.made: list[_Instance] = []
        self.owner = next(iter(self.model.by_type("IfcOwnerHistory")), None)
        self.seed = f"{share.drawing.sha256}\n{share.schedule.job}"
        self.elements = {source: self._element(source) for run in share.runs for source in run.sources}
        self.held: dict[int, tuple[_Instance, list[_Instance]]] = {}
        self.shared: dict[object, _Instance] = {}
        self.defined: dict[int, tuple[_Instance, list[_Instance]]] = {}
        self.home_of = _Holders(self.model)

    def lines(self) -> list[str]:
        """Return every instance that is added, as the file writes it."""
        self.context = self._context(
            next(iter(self.model.by_type("IfcGeometricRepresentationContext", include_subtypes=False)), None)
        )
        for source, marks in mark_lists(self.share).items():
            self._mark_element(self.elements.get(source), marks)
        self._mark_fittings()
        self._mark_splices()
        for turn, finding in enumerate(self.share.findings):
            self._mark_finding(turn, finding)
        self._relate()
        return [instance.to_string(True) + ";" for instance in self.made]  # noqa: FBT003 (takes no names)

    def _add(self, kind: str, *arguments: object, **named: object) -> _Instance:
        instance = self.model.create_entity(kind, *arguments, id=self.next, **named)
        self.next += 1
        self.made.append(instance)
        return instance

    def _add_root(self, kind: str, key: str, **named: object) -> _Instance:
        identity = hashlib.sha256(f"{self.seed}\n{kind}\n{key}".encode("utf-8", "replace"))
        guid = ifcopenshell.guid.compress(identity.hexdigest()[:32])
        return self._add(kind, GlobalId=guid, OwnerHistory=self.owner, **named)

    def _element(self, source: Source) -> _Instance | None:
        if source.file != self.share.drawing.file:
            return None
        try:
            return self.model.by_guid(source.entity.rpartition(" ")[2])
        except DAMAGE:
            return None

    def _context(self, model: _Instance | None) -> _Instance | None:
        if model is None:
            return None
        named = {"ContextIdentifier": "Annotation", "ContextType": model.ContextType or "Model"}
        return self._add("IfcGeometricRepresentationSubContext", **named, ParentContext=model, TargetView="MODEL_VIEW")

    # --- what is said of things

    def _define(self, thing: _Instance, values: Iterable[tuple[str, str | int]]) -> None:
        """Give properties to a thing; things of which the same is said share one property set."""
        key = tuple(values)
        known = self.shared.get(key)
        if known is None:
            properties = [self._property(name, value) for name, value in key]
            known = self._add_root("IfcPropertySet", repr(key), Name=SET_NAME, HasProperties=properties)
            self.shared[key] = known
        self.defined.setdefault(known.id(), (known, []))[1].append(thing)

    def _property(self, name: str, value: str | int) -> _Instance:
        known = self.shared.get((name, value))
        if known is None:
            kind = "IfcInteger" if isinstance(value, int) else "IfcText"
            nominal = self.model.create_entity(kind, value if isinstance(value, int) else _plain(value))
            known = self._add("IfcPropertySingleValue", Name=name, NominalValue=nominal)
            self.shared[name, value] = known
        return known

    def _relate(self) -> None:
        for known, things in self.defined.values():
            self._add_root(
                "IfcRelDefinesByProperties", known.GlobalId, RelatedObjects=things, RelatingPropertyDefinition=known
            )
        for holder, things in self.held.values():
            self._add_root(
                "IfcRelContainedInSpatialStructure", holder.GlobalId, RelatedElements=things, RelatingStructure=holder
            )

    def _mark_element(self, element: _Instance | None, marks: MarkList) -> None:
        if element is not None:
            self._define(element, marks.values())

    # --- annotations

    def _mark_fittings(self) -> None:
        owned: dict[tuple[str, int], list[Part]] = {}
        for part in self.share.parts():
            if part.copy is not None:
                owned.setdefault((part.copy.fitting.mark, part.copy.number), []).append(part)
        for copy in self.share.copies:
            courses = [cut_out(part) for part in owned.get((copy.fitting.mark, copy.number), [])]
            self._mark_fitting(copy, courses)

    def _mark_fitting(self, copy: Copy, courses: Sequence[Points]) -> None:
        fitting, nodes = copy.fitting, ", ".join(node.mark for node in copy.nodes)
        thing = self._annotation(
            f"{fitting.mark}.{copy.number}", fitting.mark, "fitting", f"{fitting.contents} at {nodes}",
            copy.nodes[0].at_m, courses, [source for node in copy.nodes for source in node.sources],
        )  # fmt: skip
        values = (("Type", fitting.mark), ("Copy", copy.number), ("Nodes", nodes))
        self._define(thing, (*values, ("Shop splices", fitting.factory_seams)))

    def _mark_splices(self) -> None:
        sources = {run.mark: run.sources for run in self.share.runs}
        sources |= {node.mark: node.sources for node in self.share.nodes}
        for splice in self.share.splices:
            self._mark_splice(splice, sources[splice.node or splice.run or ""])

    def _mark_splice(self, splice: Splice, sources: Sequence[Source]) -> None:
        kind = "field splice" if splice.made is Made.FIELD else "shop splice"
        thing = self._annotation(
            splice.mark, splice.mark, kind, splice.reason, splice.at_m, _cross(splice.at_m), sources
        )  # fmt: skip
        told: tuple[tuple[str, str | int | None], ...] = (
            ("Made", splice.made.value),
            ("Kind", splice.kind.value),
            ("Run", splice.run),
            ("Node", splice.node),
            ("Fitting", splice.fitting),
            ("Crew", splice.crew),
            ("Day", splice.day),
        )
        self._define(thing, [(name, value) for name, value in told if value is not None])

    def _mark_finding(self, turn: int, finding: Finding) -> None:
        if finding.at_m is None:
            return
        key = f"finding {turn} {finding.code}"
        self._annotation(
            key, finding.code, "finding", finding.message, finding.at_m, _cross(finding.at_m), finding.sources
        )

    def _annotation(
        self,
        key: str,
        name: str,
        kind: str,
        told: str,
        at_m: Vector,
        courses: Sequence[Points],
        sources: Sequence[Source],
    ) -> _Instance:
        placement, shape = self._place(at_m), self._shape(at_m, courses)
        words = {"Name": _plain(name), "Description": _plain(told), "ObjectType": f"Splicewright {kind}"}
        thing = self._add_root("IfcAnnotation", key, **words, ObjectPlacement=placement, Representation=shape)
        holder = self.home_of.find(self.elements.get(source) for source in sources)
        if holder is not None:
            self.held.setdefault(holder.id(), (holder, []))[1].append(thing)
        return thing

    def _place(self, at_m: Vector) -> _Instance:
        origin = self._point(np.array(at_m) / self.metres @ self.home[:3, :3] + self.home[3, :3])
        frame = self._add("IfcAxis2Placement3D", Location=origin)
        return self._add("IfcLocalPlacement", RelativePlacement=frame)

    def _shape(self, at_m: Vector, courses: Sequence[Points]) -> _Instance | None:
        if self.context is None or not courses:
            return None
        lines = [self._polyline((course - np.array(at_m)) / self.metres @ self.home[:3, :3]) for course in courses]
        curves = self._add("IfcGeometricCurveSet", Elements=lines)
        shown = self._add(
            "IfcShapeRepresentation",
            ContextOfItems=self.context,
            RepresentationIdentifier="Annotation",
            RepresentationType="GeometricCurveSet",
            Items=[curves],
        )
        return self._add("IfcProductDefinitionShape", Representations=[shown])

    def _polyline(self, points: Points) -> _Instance:
        return self._add("IfcPolyline", Points=[self._point(point) for point in points])

    def _point(self, point: Points) -> _Instance:
        x, y, z = (round(value, 9) + 0.0 for value in point.tolist())
        return self._add("IfcCartesianPoint", (x, y, z))


class _Holders:
    """Finds what holds an element: a storey, a building, and the like."""

    def __init__(self, model: Any) -> None:  # noqa: ANN401 (a library's model)
        kinds = ("IfcBuildingStorey", "IfcBuilding", "IfcSite")
        self.usual = next((one for kind in kinds for one in model.by_type(kind)), None)
        self.known: dict[int, _Instance | None] = {}

    def find(self, elements: Iterable[_Instance | None]) -> _Instance | None:
        """Return what holds the first element that is held, else the first storey, building or site."""
        held = (self._of(element) for element in elements if element is not None)
        return next((holder for holder in held if holder is not None), self.usual)

    def _of(self, element: _Instance) -> _Instance | None:
        if element.id() not in self.known:
            self.known[element.id()] = next(_held_by(element), None)
        return self.known[element.id()]


def _held_by(element: _Instance) -> Iterator[_Instance]:
    at, steps = element, 0
    while at is not None and steps < 20:
        for relation in getattr(at, "ContainedInStructure", ()):
            yield relation.RelatingStructure
        above = next(iter(getattr(at, "Decomposes", ())), None)
        at, steps = getattr(above, "RelatingObject", None), steps + 1


def _cross(at_m: Vector) -> list[Points]:
    """Return three short lines through a place, one along each axis [m]."""
    arms = np.eye(3) * _HALF_M
    return [np.array(at_m) + np.stack([-arm, arm]) for arm in arms]


def _plain(text: str) -> str:
    return _NOT_TEXT.sub("\N{REPLACEMENT CHARACTER}", text)
