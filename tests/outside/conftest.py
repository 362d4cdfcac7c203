"""Open data for these tests: packages fetched by name, unpacked, never kept; and a second opinion on what they hold.

A drawing is laid flat and compared layer by layer with what GEOS makes of the lines that ezdxf takes out of it. The
element types of a model are compared in the same way, its axes with those that ifcopenshell's own tools place, and the
corners and tees of its walls with the connections that it declares.
"""

import math
import subprocess
import sys
import tarfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import ezdxf
import ifcopenshell
import ifcopenshell.util.placement
import ifcopenshell.util.unit
import numpy as np
import pytest
import shapely
from ezdxf import recover
from ezdxf.entities import DXFGraphic
from ezdxf.lldxf.encoding import decode_dxf_unicode
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from splicewright.extract.drawing import Drawing
from splicewright.extract.dxf import read_dxf
from splicewright.extract.ifc import read_ifc
from splicewright.extract.network import JointNetwork
from splicewright.extract.selection import Selection
from splicewright.extract.unit import LengthUnit

STRAIGHT, CURVED = {"LINE"}, {"ARC", "CIRCLE", "ELLIPSE", "SPLINE"}
FINEST_RAD = math.radians(1 / 16)


@pytest.fixture(scope="session")
def fetched(tmp_path_factory) -> Callable[[str], Path]:
    """Fetch the source package of a requirement such as "ezdxf==1.4.5" with pip, and unpack it; workers share it."""
    shared = tmp_path_factory.getbasetemp()
    shared = shared.parent if shared.name.startswith("popen-") else shared

    def fetch(requirement: str) -> Path:
        folder = shared / requirement
        if not folder.exists():
            name = requirement.partition("==")[0]
            fresh = tmp_path_factory.mktemp("fetched")
            pip = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", name, requirement]
            subprocess.run([*pip, "-d", str(fresh)], check=True, timeout=180)
            (archive,) = fresh.glob("*.tar.gz")
            with tarfile.open(archive) as packed:
                safe = {"filter": "data"} if hasattr(tarfile, "data_filter") else {}  # not before Python 3.11.4
                packed.extractall(fresh / "unpacked", **safe)
            try:
                (fresh / "unpacked").rename(folder)
            except OSError:  # another worker was faster
                assert folder.exists()
        return folder

    return fetch


@dataclass(frozen=True, kw_only=True)
class Opinion:
    """What one of the two makes of a layer: how many places have how many arms, drawn and noded length."""

    arms: Counter
    drawn: float
    noded: float


def document_of(path: Path):
    try:
        return ezdxf.readfile(path)
    except (ezdxf.DXFError, OSError, ValueError):
        return recover.readfile(path)[0]


def shown(document, entities, owner: str | None = None) -> Iterator[tuple[str, DXFGraphic]]:
    """Yield visible lines and curves, those in blocks and polylines too, with their layers; 0 is the insert's layer."""
    for entity in entities:
        layer = owner if owner is not None and entity.dxf.layer == "0" else entity.dxf.layer
        entry = document.layers.get(layer) if layer in document.layers else None
        if entity.dxf.get("invisible", 0) or (entry and (entry.is_off() or entry.is_frozen())):
            continue
        kind = entity.dxftype()
        if kind == "INSERT":
            for copy in entity.multi_insert() if entity.mcount > 1 else [entity]:
                yield from shown(document, copy.virtual_entities(), layer)
        elif kind == "LWPOLYLINE" or (kind == "POLYLINE" and (entity.is_2d_polyline or entity.is_3d_polyline)):
            yield from ((decode_dxf_unicode(layer), part) for part in entity.virtual_entities())
        elif kind in STRAIGHT | CURVED:
            yield decode_dxf_unicode(layer), entity


def sweep_of(entity) -> tuple[float, float]:
    if entity.dxftype() == "CIRCLE":
        return 0.0, 2 * math.pi
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    return start, start + ((end - start) % (2 * math.pi) or 2 * math.pi)


def flat(entity, fine: float) -> np.ndarray:
    """Vertices in plan; those of arcs lie on the quarters of their circle too, and no closer than 50 times `fine`."""
    kind = entity.dxftype()
    if kind == "LINE":
        points = [entity.dxf.start, entity.dxf.end]
    elif kind in {"ARC", "CIRCLE"} and entity.dxf.radius:
        start, end = sweep_of(entity)
        steps = max(2, int(math.pi / 2 / max(FINEST_RAD, 50 * fine / entity.dxf.radius)))
        grid = np.arange(math.floor(start / math.pi * 2 * steps), math.ceil(end / math.pi * 2 * steps) + 1)
        angles = grid * (math.pi / 2 / steps)
        angles = np.array([start, *angles[(angles > start + 1e-9) & (angles < end - 1e-9)], end])
        x, y = np.cos(angles) * entity.dxf.radius, np.sin(angles) * entity.dxf.radius
        centre = entity.dxf.center
        points = entity.ocs().points_to_wcs(
            list(zip(x + centre.x, y + centre.y, np.full(len(x), centre.z), strict=True))
        )
    elif kind == "ELLIPSE":
        start, end = entity.dxf.start_param, entity.dxf.end_param
        sweep = (end - start - 1e-4) % (2 * math.pi) + 1e-4  # an end given as 6.28319 is a whole turn
        step = max(FINEST_RAD, 50 * fine / (entity.dxf.major_axis.magnitude or 1.0))
        points = list(entity.vertices(np.linspace(start, start + sweep, max(8, int(sweep / step))).tolist()))
    else:
        points = entity.flattening(fine) if kind == "SPLINE" else [entity.dxf.center] * 2
    return np.array([tuple(point)[:2] for point in points]).reshape(-1, 2)


def unclear(lines: list[np.ndarray], tolerance: float) -> bool:
    """Tell whether an end is about as far from another line as the tolerance, so that touching is anyone's guess."""
    ends = shapely.points(np.array([end for line in lines for end in (line[0], line[-1])]))
    drawn = np.array([shapely.LineString(line) for line in lines])
    end, line = shapely.STRtree(drawn).query(ends, predicate="dwithin", distance=3 * tolerance)
    others = end // 2 != line
    return bool((shapely.distance(ends[end[others]], drawn[line[others]]) > tolerance / 3).any())


def count_arms(edges: np.ndarray, length: np.ndarray, near: float) -> Counter:
    """Count the arms of every place; ends nearer than `near` to each other are one place."""
    ends = edges.reshape(-1, 2)
    pairs = KDTree(ends).query_pairs(near, output_type="ndarray")
    table = coo_array((np.ones(len(pairs)), pairs.T), shape=(len(ends), len(ends)))
    place = connected_components(table, directed=False)[1].reshape(-1, 2)
    kept = (place[:, 0] != place[:, 1]) | (length > 3 * near)
    return Counter(int(arms) for arms in np.bincount(place[kept].ravel()) if arms not in {0, 2})


def steps_from(least: float) -> list[float]:
    return [least * step for step in (1, 3, 10, 30, 100)]


def tolerances(entities, extent: float) -> list[float]:
    """Tolerances to choose from: fine, but beyond what flattening leaves between a curve and its chords."""
    radii = [entity.dxf.radius for entity in entities if entity.dxf.hasattr("radius")]
    bent = any(entity.dxftype() in CURVED for entity in entities)
    return steps_from(max(1e-8 * extent, 3e-6 * max(radii, default=0), 1e-6 * extent * bent))


def theirs(lines: list[np.ndarray], tolerance: float, near: float) -> Opinion:
    """Let GEOS node the lines, snapped to a grid of the tolerance."""
    union = shapely.union_all([shapely.LineString(line) for line in lines], grid_size=tolerance)
    parts = shapely.get_parts(union)
    edges = np.array([[part.coords[0], part.coords[-1]] for part in parts])
    arms = count_arms(edges, shapely.length(parts), near)
    return Opinion(arms=arms, drawn=sum(shapely.LineString(line).length for line in lines), noded=union.length)


@pytest.fixture(scope="session")
def in_plan(build) -> Callable[[Drawing, float], JointNetwork]:
    """Build the network of a drawing laid flat, whatever its heights."""

    def make(drawing: Drawing, tolerance: float) -> JointNetwork:
        level = [replace(line, points_m=line.points_m * (1, 1, 0)) for line in drawing.lines]
        long = tuple(line for line in level if np.ptp(line.points_m, axis=0).max() > tolerance)
        reach = 3 * tolerance
        return build(replace(drawing, lines=long), tolerance_m=tolerance, reach_m=reach, rise_m=reach)

    return make


def ours(network: JointNetwork, near: float) -> Opinion:
    runs = list(network.runs())
    edges = np.array([run.points_m[[0, -1], :2] for run in runs])
    arms = count_arms(edges, np.array([run.length_m for run in runs]), near)
    return Opinion(arms=arms, drawn=sum(line.length_m for line in network.drawing.lines), noded=network.length_m)


def differ(one: Opinion, two: Opinion, *, bent: bool, slack: float) -> bool:
    """Compare two opinions; where curves touch, how long they run together depends on how they are flattened."""
    drawn, noded = (1e-4, 1e-3) if bent else (1e-9, 1e-6)
    return (
        one.arms != two.arms
        or abs(one.drawn - two.drawn) > drawn * one.drawn + slack
        or abs(one.noded - two.noded) > noded * one.noded + slack
    )


@pytest.fixture(scope="session")
def compare(in_plan) -> Callable[..., dict[str, str]]:
    """Compare every layer with lines of a DXF with GEOS's opinion: by layer, "same", "differs" or "unclear".

    What the program has read may be spoiled on the way, to see that it is noticed.
    """

    def layer_in_plan(path: Path, layer: str, entities, spoil) -> str | None:
        rough = np.vstack([flat(entity, 1.0) for entity in entities])
        extent = float(np.ptp(rough, axis=0).max()) if len(rough) else 0.0
        for tolerance in tolerances(entities, extent):
            lines = [flat(entity, tolerance) for entity in entities] if extent else []
            lines = [line for line in lines if len(line) > 1 and np.ptp(line, axis=0).max() > tolerance]
            if not lines:
                return None
            if not unclear(lines, tolerance):
                break
        else:
            return "unclear"
        facets = [np.linalg.norm(np.diff(line, axis=0), axis=1).max() for line in lines if len(line) > 2]
        near = max([40 * tolerance, *(1.2 * facet for facet in facets)])
        drawing = read_dxf(path, Selection(patterns=(layer.replace("[", "[[]"),)), unit=LengthUnit.METRE)
        two = ours(in_plan(spoil(drawing), tolerance), near)
        slack = tolerance * len(lines)
        return "differs" if differ(theirs(lines, tolerance, near), two, bent=bool(facets), slack=slack) else "same"

    def every_layer(path: Path, spoil: Callable[[Drawing], Drawing] = lambda drawing: drawing) -> dict[str, str]:
        document = document_of(path)
        layers: dict[str, list[DXFGraphic]] = {}
        for layer, entity in shown(document, document.modelspace()):
            layers.setdefault(layer, []).append(entity)
        told = {layer: layer_in_plan(path, layer, entities, spoil) for layer, entities in layers.items()}
        return {layer: word for layer, word in told.items() if word}

    return every_layer


@pytest.fixture(scope="session")
def compare_types(in_plan) -> Callable[[Path], dict[str, str]]:
    """Compare every element type with lines of an IFC with GEOS's opinion on its lines, laid flat."""

    def type_in_plan(drawing: Drawing) -> str | None:
        flat_lines = [line.points_m[:, :2] for line in drawing.lines]
        extent = float(np.ptp(np.vstack(flat_lines), axis=0).max())
        for tolerance in steps_from(1e-7 * extent):
            lines = [line for line in flat_lines if np.ptp(line, axis=0).max() > tolerance]
            if not lines:
                return None
            if not unclear(lines, tolerance):
                break
        else:
            return "unclear"
        near, slack = 40 * tolerance, tolerance * sum(map(len, flat_lines))
        one, two = theirs(lines, tolerance, near), ours(in_plan(drawing, tolerance), near)
        same = one.arms == two.arms and abs(one.noded - two.noded) <= 1e-6 * one.noded + slack
        return "same" if same else "differs"

    def every_type(path: Path) -> dict[str, str]:
        whole = read_ifc(path, Selection(patterns=("*",)))
        names = sorted({line.source.layer for line in whole.lines})
        held = {name: tuple(line for line in whole.lines if line.source.layer == name) for name in names}
        told = {name: type_in_plan(replace(whole, lines=lines)) for name, lines in held.items()}
        return {name: word for name, word in told.items() if word}

    return every_type


def axis_of(model, element) -> np.ndarray | None:
    """Ends of an element's axis where it is one polyline, placed by ifcopenshell's own tools, in metres."""
    shapes = element.Representation.Representations if element.Representation else ()
    curves = [item for shape in shapes if shape.RepresentationIdentifier == "Axis" for item in shape.Items]
    if [curve.is_a() for curve in curves] != ["IfcPolyline"]:
        return None
    points = np.array([(*point.Coordinates, 0.0, 0.0)[:3] for point in curves[0].Points])
    placed = ifcopenshell.util.placement.get_local_placement(element.ObjectPlacement)
    scale = ifcopenshell.util.unit.calculate_unit_scale(model)
    return (points @ placed[:3, :3].T + placed[:3, 3])[[0, -1]] * scale


@pytest.fixture(scope="session")
def compare_axes(tmp_path_factory) -> Callable[[Path], tuple[int, float]]:
    """Read a model's walls, its declared connections taken out: number of axes, and how far the furthest end is off."""

    def walls(path: Path) -> tuple[int, float]:
        model = ifcopenshell.open(path)
        axes = [axis for wall in model.by_type("IfcWall") if (axis := axis_of(model, wall)) is not None]
        for relation in model.by_type("IfcRelConnectsPathElements"):
            model.remove(relation)
        copy = tmp_path_factory.mktemp("model") / path.name
        model.write(str(copy))
        lines = [line.points_m[[0, -1]] for line in read_ifc(copy, Selection(patterns=("IfcWall*",))).lines]
        off = [min(np.abs(axis - line).max() for line in lines) for axis in axes]
        assert len(lines) == len(axes)
        return len(axes), max(off)

    return walls


def crossing_of(one: np.ndarray, two: np.ndarray) -> np.ndarray | None:
    """Where two axes of one level, drawn on, cross."""
    u, v, w = one[1] - one[0], two[1] - two[0], two[0] - one[0]
    turn = u[0] * v[1] - u[1] * v[0]
    if abs(w[2]) > 1e-3 or abs(turn) < 1e-3 * np.linalg.norm(u) * np.linalg.norm(v):
        return None
    return one[0] + u * (w[0] * v[1] - w[1] * v[0]) / turn


@dataclass(frozen=True, kw_only=True)
class Meeting:
    """Where a model declares two walls to meet: the walls' numbers, where on each, and the crossing of their axes."""

    walls: tuple[int, int]
    ends: tuple[str, str]
    at: np.ndarray | None


def meetings_of(model) -> list[Meeting]:
    found = []
    for relation in model.by_type("IfcRelConnectsPathElements"):
        walls = (relation.RelatingElement, relation.RelatedElement)
        axes = [axis_of(model, wall) for wall in walls]
        ends = (relation.RelatingConnectionType, relation.RelatedConnectionType)
        found.append(Meeting(walls=tuple(wall.id() for wall in walls), ends=ends, at=crossing_of(*axes)))
    return found


def told_twice(meetings: list[Meeting]) -> set[tuple[int, str]]:
    """Ends that are declared to meet walls at places apart, so that they cannot meet them all."""
    places: dict[tuple[int, str], list[np.ndarray]] = {}
    for meeting in meetings:
        for end in zip(meeting.walls, meeting.ends, strict=True):
            if end[1] != "ATPATH" and meeting.at is not None:
                places.setdefault(end, []).append(meeting.at)
    return {end for end, ats in places.items() if np.ptp(ats, axis=0).max() > 0.005}


@pytest.fixture(scope="session")
def compare_connections(build) -> Callable[[Path], tuple[Counter, list[Meeting]]]:
    """Compare nodes of a model's walls with its declared connections: those met by kind of node, and those that differ.

    Left out are those that cannot be met: axes that do not cross on one level, ends told to be at two places, and walls
    that have no thickness since their body is a surface.
    """

    def walls(path: Path) -> tuple[Counter, list[Meeting]]:
        model = ifcopenshell.open(path)
        shapes = {wall.id(): wall.Representation.Representations for wall in model.by_type("IfcWall")}
        thin = {wall for wall, own in shapes.items() if "SurfaceModel" in {shape.RepresentationType for shape in own}}
        meetings = meetings_of(model)
        twice = told_twice(meetings)
        able = [
            meeting
            for meeting in meetings
            if meeting.at is not None
            and not twice & set(zip(meeting.walls, meeting.ends, strict=True))
            and not thin & set(meeting.walls)
        ]
        nodes = list(build(read_ifc(path, Selection(patterns=("IfcWall*",)))).nodes())
        places = KDTree([node.at_m for node in nodes])
        met, differing = Counter(), []
        for meeting in able:
            here = [other for other in able if np.linalg.norm(other.at - meeting.at) < 0.005]
            arms = dict(pair for other in here for pair in zip(other.walls, other.ends, strict=True))
            distance, nearest = places.query(meeting.at)
            declared = sum(2 if end == "ATPATH" else 1 for end in arms.values())
            if distance < 0.005 and declared == len(nodes[nearest].arms):
                met[nodes[nearest].kind.value] += 1
            else:
                differing.append(meeting)
        return met, differing

    return walls
