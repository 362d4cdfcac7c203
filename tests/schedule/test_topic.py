"""Findings as BCF topics, read back by a library that others wrote."""

import zipfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from xml.etree import ElementTree as ET

import ifcopenshell
import numpy as np
import pytest
from bcf.v2.bcfxml import BcfXml

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.finding import Finding, Severity, Source
from splicewright.extract.network import build_network
from splicewright.extract.reader import read
from splicewright.schedule.plan import plan
from splicewright.schedule.rules import load_rules
from splicewright.schedule.topic import write_topics

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
NOON = datetime(2001, 2, 3, 12, 0, tzinfo=UTC)
STRIP = "2EoL8QtR1hbuz2wdw8we2K"
OTHER = "0zrcr5gqH4tx1vSJCY$xnh"
MODEL = "basin.ifc"

# Children in the order that buildingSMART's BCF-XML 2.1 schema (markup.xsd, complex types Markup and Topic) lists them.
MARKUP_ORDER = ["Header", "Topic", "Comment", "Viewpoints"]
TOPIC_ORDER = ["ReferenceLink", "Title", "Priority", "Index", "Labels", "CreationDate", "CreationAuthor"]
TOPIC_ORDER += ["ModifiedDate", "ModifiedAuthor", "DueDate", "AssignedTo", "Stage", "Description"]


def in_model(*entities):
    return tuple(Source(file=MODEL, layer="Waterstop, slab joint", entity=entity) for entity in entities)


def finding(**changed):
    common = {
        "code": "near-miss",
        "severity": Severity.WARNING,
        "message": "A strip ends 60 mm from another; close the gap or say why it is open.",
        "at_m": (29.64, 9.24, 0.21),
        "sources": in_model(f"IfcDiscreteAccessory {STRIP}", f"IfcDiscreteAccessory {OTHER}"),
    }
    return Finding(**(common | changed))


@pytest.fixture
def write(schedule_of, tmp_path):
    """Write findings of a model, and read them back as topics."""
    schedule = schedule_of([(0, 0), (4, 0)])
    drawings = tuple(replace(drawing, file=MODEL, kind=DrawingKind.IFC) for drawing in schedule.drawings)

    def written(*findings, created=NOON, job="basin"):
        path = tmp_path / "basin.bcf"
        found = replace(schedule, job=job, drawings=drawings, findings=findings)
        write_topics(found, path, created=created)
        return path

    return written


def topics_in(path):
    with BcfXml(path) as file:
        topics = list(file.topics.values())
        return [(handler.topic, list(handler.viewpoints.values()), handler.header) for handler in topics]


@pytest.mark.outside(
    what="findings as topics for BIM tools",
    against="bcf-client, reading the file back",
    result="titles, kinds, dates and elements as written",
)
def test_every_finding_is_a_topic(write):
    """Each finding is one topic that says what it is, how much it matters, and which elements show it."""
    error = finding(code="lay-mismatch", severity=Severity.ERROR, message="No fitting can join them.", sources=())
    near, mismatch = (topic for topic, _, _ in topics_in(write(finding(), error)))

    assert ("Near miss at (29.640, 9.240, 0.210) m", "Warning", "Open") == (
        near.title,
        near.topic_type,
        near.topic_status,
    )
    assert ("Normal", "High") == (near.priority, mismatch.priority)
    assert (["near-miss"], ["lay-mismatch"]) == (near.labels, mismatch.labels)
    assert finding().message in near.description
    assert f"IfcDiscreteAccessory {OTHER} (Waterstop, slab joint) in {MODEL}" in near.description
    assert NOON == near.creation_date.to_datetime()


def test_note_is_a_closed_topic(write):
    """What only tells what the program did asks nobody to act."""
    ((topic, _, _),) = topics_in(write(finding(severity=Severity.NOTE)))

    assert ("Note", "Closed", "Low") == (topic.topic_type, topic.topic_status, topic.priority)


def test_camera_looks_at_the_place(write):
    """The place lies straight ahead of the camera, 3 m away, and the picture stands upright."""
    ((_, (view,), _),) = topics_in(write(finding()))
    camera = view.visualization_info.perspective_camera
    eye, sight, up = (
        np.array([v.x, v.y, v.z]) for v in (camera.camera_view_point, camera.camera_direction, camera.camera_up_vector)
    )

    assert pytest.approx(finding().at_m, abs=1e-5) == eye + 3 * sight
    assert pytest.approx(1) == np.linalg.norm(sight)
    assert pytest.approx(0, abs=1e-6) == sight @ up
    assert up[2] > 0
    assert 45 <= camera.field_of_view <= 60


def test_elements_are_selected(write):
    """The elements that show a finding are selected, each once, and everything stays visible."""
    twice = in_model(*[f"IfcDiscreteAccessory {guid}" for guid in (STRIP, OTHER, STRIP)])
    ((_, (view,), _),) = topics_in(write(finding(sources=twice)))
    components = view.visualization_info.components

    assert [STRIP, OTHER] == [component.ifc_guid for component in components.selection.component]
    assert components.visibility.default_visibility


def test_entities_of_a_drawing_are_not_selected(write):
    """A DXF entity has no GlobalId: its place is shown, and nothing is selected."""
    drawn = Source(file="basin.dxf", layer="WS", entity="LINE 2F3")
    ((_, (view,), header),) = topics_in(write(finding(sources=(drawn,))))

    assert view.visualization_info.components.selection is None
    assert view.visualization_info.perspective_camera is not None
    assert ["basin.dxf"] == [file.filename for file in header.file]


def test_finding_about_an_element_without_a_place(write):
    """Where there is no place the element is selected, and the camera is left alone."""
    ((_, (view,), _),) = topics_in(write(finding(at_m=None)))

    assert 2 == len(view.visualization_info.components.selection.component)
    assert view.visualization_info.perspective_camera is None


def test_finding_about_nothing_in_particular_has_no_view(write):
    """A finding without place and element is a topic without viewpoint, and names every drawing."""
    ((topic, views, header),) = topics_in(write(finding(at_m=None, sources=())))

    assert ("Near miss", []) == (topic.title, views)
    assert [MODEL] == [file.filename for file in header.file]


def test_no_findings_make_an_empty_file(write):
    """A schedule without findings gives a file without topics, of version 2.1."""
    path = write()

    assert [] == topics_in(path)
    with BcfXml(path) as file:
        assert "2.1" == file.version.version_id


def test_same_schedule_gives_the_same_bytes(write):
    """Time zone does not matter; neither does which run wrote the file."""
    local = NOON.astimezone(timezone(timedelta(hours=-7)))

    assert write(finding(), finding()).read_bytes() == write(finding(), finding(), created=local).read_bytes()


def test_topics_keep_their_identity(write):
    """A finding is the same topic in a later file; two findings alike, and the same one of another job, are not."""
    first = [topic.guid for topic, _, _ in topics_in(write(finding(), finding()))]
    later = [topic.guid for topic, _, _ in topics_in(write(finding(), finding(), created=NOON + timedelta(days=1)))]
    elsewhere = [topic.guid for topic, _, _ in topics_in(write(finding(), job="other"))]

    assert first == later
    assert 3 == len({*first, *elsewhere})


def test_a_long_list_of_sources_is_cut(write):
    """Twenty sources are written out, the rest counted; all are selected."""
    many = in_model(*[f"IfcDiscreteAccessory {STRIP[:-2]}{number:02}" for number in range(25)])
    ((topic, (view,), _),) = topics_in(write(finding(sources=many)))

    assert topic.description.endswith("and 5 more")
    assert 25 == len(view.visualization_info.components.selection.component)


def test_what_xml_cannot_hold_is_replaced(write):
    """Control signs and half characters in a name do not spoil the file."""
    odd = Source(file="ba\x00sin.ifc", layer="\ud800<&>", entity=f"IfcDiscreteAccessory {STRIP}")
    ((topic, _, _),) = topics_in(write(finding(sources=(odd,))))

    assert "\ufffd<&>" in topic.description


@pytest.mark.outside(
    what="order of the parts of a topic",
    against="BCF 2.1, markup.xsd",
    result="as published",
)
def test_children_stand_in_the_order_of_the_schema(write):
    """Markup and topic hold their children in the published order, each known to it."""
    with zipfile.ZipFile(write(finding())) as archive:
        (name,) = (name for name in archive.namelist() if name.endswith("markup.bcf"))
        markup = ET.fromstring(archive.read(name))
    topic = markup.find("Topic")
    children = [[child.tag for child in parent] for parent in (markup, topic)]

    assert [MARKUP_ORDER.index(tag) for tag in children[0]] == sorted(MARKUP_ORDER.index(tag) for tag in children[0])
    assert [TOPIC_ORDER.index(tag) for tag in children[1]] == sorted(TOPIC_ORDER.index(tag) for tag in children[1])


def test_slips_of_the_basin_open_at_their_elements(tmp_path):
    """Every topic of the settling basin's model selects elements that are in it, the loose joint among them."""
    rules, file = load_rules(BASIN / "rules-ifc.toml"), BASIN / "settling-basin.ifc"
    network = build_network(read(file, rules.selection()), rules.limits())
    schedule = plan([network], rules, job="basin")
    write_topics(schedule, tmp_path / "basin.bcf", created=NOON)
    model, selected = ifcopenshell.open(file), {}
    for topic, views, _ in topics_in(tmp_path / "basin.bcf"):
        guids = [
            component.ifc_guid for view in views for component in view.visualization_info.components.selection.component
        ]
        selected.setdefault(topic.labels[0], []).extend(model.by_guid(guid).Name for guid in guids)

    assert len(schedule.findings) == len(topics_in(tmp_path / "basin.bcf"))
    assert ["Wall joint east", "Outer walls"] == selected["near-miss"]
    assert {"South wall again", "Outer walls"} == set(selected["doubled-line"])
    assert ["Wall joint west"] == selected["short-stub"]
