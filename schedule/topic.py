"""Topics: the findings of a schedule as a BCF file, so that they open at their places in any BIM tool.

One finding is one topic with one viewpoint: a camera that looks at the place, and the elements that show it selected.
The camera stands in the coordinates of the model [m], also where the model is placed on a map.

References
----------
buildingSMART International, BIM Collaboration Format (BCF), XML file encoding, version 2.1 (the schemas markup.xsd,
visinfo.xsd and version.xsd).
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from uuid import NAMESPACE_URL, UUID, uuid5
from xml.etree import ElementTree as ET
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.finding import Finding, Severity, Source, place_text
from splicewright.extract.line import Points, Vector, vector

from .plan import Schedule

__all__ = ["write_topics"]

_AUTHOR = "Splicewright"
_PRIORITY = {Severity.ERROR: "High", Severity.WARNING: "Normal", Severity.NOTE: "Low"}
_SIGHT = np.array([-0.48, 0.60, -0.64])  # looking north-west and down
_DISTANCE_M = 3.0
_FIELD_DEG = 60.0  # the widest that the format allows, 45 to 60
_SHOWN = 20  # sources that a description lists
_GLOBAL_ID = re.compile(r"[0-3][0-9A-Za-z_$]{21}")
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest time a ZIP file can state


def write_topics(schedule: Schedule, path: Path, *, created: datetime | None = None) -> None:
    """Write the findings of a schedule as BCF 2.1.

    The same schedule and time always give the same bytes, and a finding keeps its identity when the file is written
    again, so that a tool that has it already brings it up to date.

    Parameters
    ----------
    schedule : Schedule
    path : Path
        The file, usually ``<job>.bcf``.
    created : datetime or None
        When the findings were made, with its time zone; None for now.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    stamp = (created or datetime.now(UTC)).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    models = {drawing.file for drawing in schedule.drawings if drawing.kind is DrawingKind.IFC}
    maps = {drawing.file: drawing.map_m for drawing in schedule.drawings}
    with ZipFile(path, "w") as archive:
        _store(archive, "bcf.version", _version())
        for guid, finding in _identified(schedule):
            selected = list(_elements(finding.sources, models))
            view = finding.at_m is not None or bool(selected)
            _store(archive, f"{guid}/markup.bcf", _markup(guid, finding, schedule, stamp, view=view))
            if view:
                at_m = None if finding.at_m is None else _in_model(finding.at_m, maps.get(_file(finding)))
                _store(archive, f"{guid}/viewpoint.bcfv", _viewpoint(guid, at_m, selected))


def _identified(schedule: Schedule) -> Iterator[tuple[UUID, Finding]]:
    """Give every finding an identity that depends on what it says, and on nothing that another run may change."""
    given: set[UUID] = set()
    for finding in schedule.findings:
        place = place_text(finding.at_m) if finding.at_m else finding.message
        words = [schedule.job, finding.code, place, *(f"{source.file} {source.entity}" for source in finding.sources)]
        guid = uuid5(NAMESPACE_URL, "\n".join(words).encode("utf-8", "replace").decode())
        while guid in given:
            guid = uuid5(guid, "again")
        given.add(guid)
        yield guid, finding


def _elements(sources: Iterable[Source], models: set[str]) -> Iterator[str]:
    """Find the GlobalIds of the elements of models among the sources, each once."""
    names = (source.entity.rpartition(" ")[2] for source in sources if source.file in models)
    yield from dict.fromkeys(name for name in names if _GLOBAL_ID.fullmatch(name))


def _version() -> ET.Element:
    root = ET.Element("Version", VersionId="2.1")
    _add(root, "DetailedVersion", "2.1")
    return root


def _markup(guid: UUID, finding: Finding, schedule: Schedule, stamp: str, *, view: bool) -> ET.Element:
    root = ET.Element("Markup")
    header = ET.SubElement(root, "Header")
    for file in dict.fromkeys(s.file for s in finding.sources) or (d.file for d in schedule.drawings):
        _add(ET.SubElement(header, "File", isExternal="true"), "Filename", file)
    status = "Closed" if finding.severity is Severity.NOTE else "Open"
    kind = finding.severity.value.capitalize()
    topic = ET.SubElement(root, "Topic", Guid=str(guid), TopicType=kind, TopicStatus=status)
    _add(topic, "Title", _title(finding))
    _add(topic, "Priority", _PRIORITY[finding.severity])
    _add(topic, "Labels", finding.code)
    _add(topic, "CreationDate", stamp)
    _add(topic, "CreationAuthor", _AUTHOR)
    _add(topic, "Description", _description(finding))
    if view:
        point = ET.SubElement(root, "Viewpoints", Guid=str(uuid5(guid, "viewpoint")))
        _add(point, "Viewpoint", "viewpoint.bcfv")
    return root


def _title(finding: Finding) -> str:
    name = finding.code.replace("-", " ").capitalize()
    return f"{name} at {place_text(finding.at_m)}" if finding.at_m else name


def _description(finding: Finding) -> str:
    shown = [f"{source.entity} ({source.layer}) in {source.file}" for source in finding.sources[:_SHOWN]]
    more = len(finding.sources) - len(shown)
    if more:
        shown.append(f"and {more} more")
    return "\n".join((finding.message, *shown))


def _file(finding: Finding) -> str:
    return finding.sources[0].file if finding.sources else ""


def _in_model(at_m: Vector, map_m: NDArray[np.float64] | None) -> Vector:
    """Carry a place on the map back to the model's own coordinates [m]."""
    if map_m is None:
        return at_m
    place: Points = np.linalg.solve(map_m[:3, :3].T, np.array(at_m) - map_m[3, :3]).astype(np.float64)
    return vector(place)


def _viewpoint(guid: UUID, at_m: Vector | None, selected: Sequence[str]) -> ET.Element:
    root = ET.Element("VisualizationInfo", Guid=str(uuid5(guid, "viewpoint")))
    components = ET.SubElement(root, "Components")
    if selected:
        selection = ET.SubElement(components, "Selection")
        for element in selected:
            ET.SubElement(selection, "Component", IfcGuid=element)
    ET.SubElement(components, "Visibility", DefaultVisibility="true")
    if at_m is not None:
        _look_at(root, at_m)
    return root


def _look_at(root: ET.Element, at_m: Vector) -> None:
    """Set up the camera: at a short distance, aslant, upright."""
    camera = ET.SubElement(root, "PerspectiveCamera")
    up = np.array([0.0, 0.0, 1.0]) - _SIGHT * _SIGHT[2]
    _vector(camera, "CameraViewPoint", np.array(at_m) - _SIGHT * _DISTANCE_M)
    _vector(camera, "CameraDirection", _SIGHT)
    _vector(camera, "CameraUpVector", up / np.linalg.norm(up))
    _add(camera, "FieldOfView", f"{_FIELD_DEG:g}")


def _vector(parent: ET.Element, name: str, values: Points) -> None:
    child = ET.SubElement(parent, name)
    for axis, value in zip("XYZ", values.tolist(), strict=True):
        _add(child, axis, repr(round(value, 6) + 0.0))


def _add(parent: ET.Element, name: str, text: str) -> None:
    ET.SubElement(parent, name).text = _NOT_IN_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def _store(archive: ZipFile, name: str, root: ET.Element) -> None:
    ET.indent(root)
    entry = ZipInfo(name, _EPOCH)
    entry.compress_type = ZIP_DEFLATED
    archive.writestr(entry, ET.tostring(root, encoding="utf-8", xml_declaration=True))
