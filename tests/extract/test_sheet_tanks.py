"""Random tanks as flat sets: at any scale and seen from either side, plan and unrolled walls give the tank."""

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.extract.level import Level
from splicewright.extract.line import JointKind
from splicewright.extract.reader import read
from splicewright.extract.selection import Carrier, Selection
from splicewright.extract.view import RiserRule, SeenFrom, SheetBook, View, ViewKind

SLAB_M, KICKER_M = -0.3, 0.15
LAYERS = {"slab": "WATERSTOP SLAB", "wall-base": "WATERSTOP BASE", "wall": "WATERSTOP WALL"}
SELECTION = Selection(carriers=tuple(Carrier(match=name, joint=JointKind(kind)) for kind, name in LAYERS.items()))


@dataclass(frozen=True, kw_only=True)
class Tank:
    """A tank: an outline of corners, counter-clockwise, or a circle; joints at distances along each wall."""

    corners: tuple[tuple[float, float], ...]
    radius_m: float
    divider: tuple[tuple[float, float], tuple[float, float]] | None
    slab: tuple[tuple[float, float], tuple[float, float]] | None
    top_m: float
    joints: tuple[tuple[int, float], ...]

    @property
    def walls(self):
        """Ends of the straight walls."""
        return list(pairwise((*self.corners, self.corners[0]))) if self.corners else []

    def place(self, wall, along):
        if self.radius_m:
            return self.radius_m * math.cos(along / self.radius_m), self.radius_m * math.sin(along / self.radius_m)
        a, b = np.array(self.walls[wall])
        return tuple((a + (b - a) / np.linalg.norm(b - a) * along).tolist())


def write_in_space(path, tank):
    doc = ezdxf.new("R2018", units=6)
    msp = doc.modelspace()
    base, wall = {"layer": LAYERS["wall-base"], "elevation": KICKER_M}, {"layer": LAYERS["wall"]}
    if tank.radius_m:
        msp.add_circle((0, 0, KICKER_M), tank.radius_m, dxfattribs={"layer": LAYERS["wall-base"]})
    else:
        msp.add_lwpolyline(tank.corners, close=True, dxfattribs=base)
    if tank.divider:
        msp.add_lwpolyline(tank.divider, dxfattribs=base)
    if tank.slab:
        a, b = tank.slab
        course = [(*a, KICKER_M), (*a, SLAB_M), (*b, SLAB_M), (*b, KICKER_M)]
        msp.add_polyline3d(course, dxfattribs={"layer": LAYERS["slab"]})
    for number, along in tank.joints:
        x, y = tank.place(number, along)
        msp.add_line((x, y, KICKER_M), (x, y, tank.top_m), dxfattribs=wall)
    doc.saveas(path)


class Sheet:
    """A sheet under construction: the plan at its lower left, elevations in a column beside it."""

    def __init__(self, scale):
        self.scale, self.doc = scale, ezdxf.new("R2018", units=6)
        self.msp, self.views, self.next_y = self.doc.modelspace(), [], 0.0

    def plan(self, low, size):
        x, y = 3.0, 4.0
        self.origin = np.array([x, y]) + (2 - np.array(low)) / self.scale
        window = (x, y, (size + 4) / self.scale, (size + 4) / self.scale)
        self.size = size
        self.views.append(
            View(
                field="views[1]",
                name="Plan",
                kind=ViewKind.PLAN,
                scale=self.scale,
                window=window,
                origin=tuple(self.origin),
            )
        )

    def spot(self, xy):
        return tuple((self.origin + np.array(xy) / self.scale).tolist())

    def elevation(self, length, high, **how):
        """Make room for an elevation; return the map from wall coordinates to the sheet."""
        x, y = 3.0 + (self.size + 10) / self.scale, 6.0 + self.next_y
        self.next_y += (high + 4) / self.scale
        window = (x - 1 / self.scale, y - 1 / self.scale, (length + 2) / self.scale, (high + 2) / self.scale)
        number = len(self.views) + 1
        self.views.append(
            View(
                field=f"views[{number}]",
                name=f"Wall {number}",
                scale=self.scale,
                window=window,
                datum=(x, y),
                datum_m=SLAB_M,
                **how,
            )
        )
        return lambda u, z: (x + u / self.scale, y + (z - SLAB_M) / self.scale)


def write_flat(path, tank, scale, seen, way):
    """Draw the tank as a set; `way` turns walls and paths round without changing what they mean."""
    sheet = Sheet(scale)
    sheet.plan((-tank.radius_m, -tank.radius_m), 25.0)
    draw_plan(sheet, tank, way)
    front = ring_front if tank.radius_m else wall_front
    for number in range(len(tank.walls) or 1):
        draw_front(sheet, tank, number, *front(sheet, tank, number, seen, way))
    sheet.doc.saveas(path)
    return book_of(sheet, tank)


def draw_plan(sheet, tank, way):
    """The walls' foot, the slab joint, and marks: circles for rises, points for wall joints."""
    msp, base = sheet.msp, {"layer": LAYERS["wall-base"]}
    if tank.radius_m:
        msp.add_circle(sheet.spot((0, 0)), tank.radius_m / sheet.scale, dxfattribs=base)
    else:
        outline = tank.corners if way else tank.corners[::-1]
        msp.add_lwpolyline([sheet.spot(c) for c in outline], close=True, dxfattribs=base)
    if tank.divider:
        msp.add_lwpolyline([sheet.spot(c) for c in tank.divider], dxfattribs=base)
    if tank.slab:
        msp.add_line(*(sheet.spot(end) for end in tank.slab), dxfattribs={"layer": LAYERS["slab"]})
    for end in tank.slab or ():
        msp.add_circle(sheet.spot(end), 0.2 / sheet.scale, dxfattribs={"layer": "MARK RISE"})
    for number, along in tank.joints:
        msp.add_point(sheet.spot(tank.place(number, along)), dxfattribs={"layer": "MARK WALL"})


def draw_front(sheet, tank, number, draw, length, to_u):
    """One unrolled wall: its foot, its wall joints, its rises."""
    msp = sheet.msp
    msp.add_line(draw(0, KICKER_M), draw(length, KICKER_M), dxfattribs={"layer": LAYERS["wall-base"]})
    for wall, along in tank.joints:
        if tank.radius_m or wall == number:
            u = to_u(along)
            msp.add_line(draw(u, KICKER_M), draw(u, tank.top_m), dxfattribs={"layer": LAYERS["wall"]})
    for along in (along_wall(tank, number, end) for end in tank.slab or ()):
        if along is not None:
            u = to_u(along)
            msp.add_line(draw(u, SLAB_M), draw(u, KICKER_M), dxfattribs={"layer": LAYERS["slab"]})


def book_of(sheet, tank):
    return SheetBook(
        file="rules.toml",
        views=tuple(sheet.views),
        risers=(
            RiserRule(field="risers[1]", match="MARK WALL", from_m=KICKER_M, to_m=tank.top_m),
            RiserRule(field="risers[2]", match="MARK RISE", from_m=SLAB_M, to_m=KICKER_M),
        ),
        levels=(
            Level(name="slab", height_m=SLAB_M, match=(LAYERS["slab"],)),
            Level(name="kicker", height_m=KICKER_M, match=(LAYERS["wall-base"],)),
        ),
        tolerance_m=0.005,
        match_m=0.15,
        tick_m=1.0,
    )


def along_wall(tank, number, end):
    """How far along a wall a place lies, None where it lies on another."""
    a, b = np.array(tank.walls[number])
    unit = (b - a) / np.linalg.norm(b - a)
    along, off = unit @ (end - a), abs(unit[0] * (end - a)[1] - unit[1] * (end - a)[0])
    return float(along) if off < 1e-9 and -1e-9 <= along <= np.linalg.norm(b - a) + 1e-9 else None


def wall_front(sheet, tank, number, seen, way):
    """A straight wall; seen from outside its start, counter-clockwise, is at the left."""
    a, b = tank.walls[number]
    length = math.dist(a, b)
    ends = (sheet.spot(a), sheet.spot(b)) if way else (sheet.spot(b), sheet.spot(a))
    draw = sheet.elevation(length, tank.top_m - SLAB_M, kind=ViewKind.ELEVATION, wall=ends, seen_from=seen)
    outside = seen is SeenFrom.OUTSIDE
    return draw, length, lambda along: along if outside else length - along


def ring_front(sheet, tank, number, seen, way):
    """A round wall, unrolled from its east point, or from its north point."""
    length = math.tau * tank.radius_m
    shift = 0.0 if way else length / 4
    start = sheet.spot(tank.place(number, shift))
    how = {"path": LAYERS["wall-base"], "start": start, "seen_from": seen}
    draw = sheet.elevation(length, tank.top_m - SLAB_M, kind=ViewKind.DEVELOPED, **how)
    outside = seen is SeenFrom.OUTSIDE
    return draw, length, lambda along: ((along - shift) if outside else (shift - along)) % length


@st.composite
def tanks(draw):
    """Rectangles, L-shapes, two-cell and round tanks; steps of half a metre keep their joints apart."""
    shape = draw(st.sampled_from(["rectangle", "L", "two cells", "round"]))
    top_m = draw(st.integers(4, 12)) / 2 + KICKER_M
    if shape == "round":
        radius = draw(st.integers(6, 20)) / 2
        count = max(3, int(math.tau * radius / 1.0))
        steps = draw(st.frozensets(st.integers(0, count - 1), max_size=5))
        joints = tuple((0, step * math.tau * radius / count) for step in sorted(steps))
        return Tank(corners=(), radius_m=radius, divider=None, slab=None, top_m=top_m, joints=joints)
    a, b = draw(st.integers(8, 30)) / 2, draw(st.integers(8, 30)) / 2
    corners = [(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)]
    divider = slab = None
    if shape == "L":
        c, d = draw(st.integers(2, int(2 * a) - 2)) / 2, draw(st.integers(2, int(2 * b) - 2)) / 2
        corners = [(0.0, 0.0), (a, 0.0), (a, d), (c, d), (c, b), (0.0, b)]
    taken = set()
    if shape == "two cells":
        x = draw(st.integers(2, int(2 * a) - 2)) / 2
        divider = ((x, 0.0), (x, b))
        taken |= {(0, x), (2, a - x)}
    if shape != "L" and draw(st.booleans()):
        y = draw(st.integers(2, int(2 * b) - 2)) / 2
        slab = ((0.0, y), (a, y))
    walls = list(pairwise((*corners, corners[0])))
    wanted = draw(st.frozensets(st.tuples(st.integers(0, len(walls) - 1), st.integers(1, 28)), max_size=6))
    joints = tuple(
        (wall, step / 2)
        for wall, step in sorted(wanted)
        if step / 2 <= math.dist(*walls[wall]) - 0.5 and (wall, step / 2) not in taken
    )
    return Tank(corners=tuple(corners), radius_m=0.0, divider=divider, slab=slab, top_m=top_m, joints=joints)


OFF_GRID_M = 0.00137  # tanks are drawn in steps of 5 mm; so no place lies where rounding turns


def nodes_of(network):
    return sorted(
        (
            n.kind,
            n.orientation,
            round(n.turn_deg),
            () if n.kind == "closure" else tuple((np.round(np.add(n.at_m, OFF_GRID_M), 2) + 0.0).tolist()),
        )
        for n in network.nodes()
    )


def runs_of(network):
    return sorted((run.joint, round(run.length_m, 3)) for run in network.runs())


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("sheets")


@given(tanks(), st.sampled_from([1.0, 20.0, 50.0]), st.sampled_from(SeenFrom), st.booleans())
@settings(max_examples=60, deadline=None)
def test_a_flat_tank_is_the_tank(build, folder, tank, scale, seen, way):
    """A tank as a set, at any scale, seen from inside or outside, walls picked either way, is the tank in space."""
    write_in_space(folder / "space.dxf", tank)
    book = write_flat(folder / "flat.dxf", tank, scale, seen, way)
    wanted = build(read(folder / "space.dxf", SELECTION))
    found = build(read(folder / "flat.dxf", SELECTION, book=book))

    assert nodes_of(wanted) == nodes_of(found)
    assert [kind for kind, _ in runs_of(wanted)] == [kind for kind, _ in runs_of(found)]
    assert pytest.approx([m for _, m in runs_of(wanted)], abs=0.0015) == [m for _, m in runs_of(found)]
    assert pytest.approx(wanted.length_m, abs=0.001) == found.length_m
    assert Counter(f.code for f in wanted.findings) == Counter(f.code for f in found.findings if f.code != "same-joint")
