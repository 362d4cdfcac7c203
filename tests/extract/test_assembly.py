"""Small flat sets put together, each worked by hand: windows, walls, paths, levels, risers, and what disagrees."""

from collections import Counter

import ezdxf
import numpy as np
import pytest

from splicewright.extract.errors import NothingSelectedError, RulesError
from splicewright.extract.level import Level
from splicewright.extract.line import JointKind
from splicewright.extract.reader import read
from splicewright.extract.selection import Carrier, Selection
from splicewright.extract.view import RiserRule, SeenFrom, SheetBook, View, ViewKind

SELECTION = Selection(
    carriers=(
        Carrier(match="WS-BASE", joint=JointKind.WALL_BASE),
        Carrier(match="WS-SLAB", joint=JointKind.SLAB),
        Carrier(match="WS-*"),
    )
)
SQUARE = [(0, 0), (10, 0), (10, 6), (0, 6)]
PLAN = {"name": "Plan", "kind": ViewKind.PLAN, "window": (-2, -2, 14, 10), "levels_m": (0.0,)}
SOUTH = {
    "name": "South",
    "kind": ViewKind.ELEVATION,
    "window": (18, -2, 14, 10),
    "wall": ((0, 0), (10, 0)),
    "seen_from": SeenFrom.OUTSIDE,
    "datum": (20, 0),
}


class Flat:
    """A flat drawing in metres; layers stand in short for WS-BASE, WS-WALL and so on."""

    def __init__(self, path):
        self.path, self.doc = path, ezdxf.new("R2018", units=6)
        self.msp = self.doc.modelspace()

    def line(self, layer, *points, close=False):
        self.msp.add_lwpolyline(points, close=close, dxfattribs={"layer": layer})
        return self

    def circle(self, layer, centre, radius):
        self.msp.add_circle(centre, radius, dxfattribs={"layer": layer})
        return self

    def point(self, layer, at):
        self.msp.add_point(at, dxfattribs={"layer": layer})
        return self

    def read(self, *views, risers=(), levels=()):
        self.doc.saveas(self.path)
        made = [View(**{"field": f"views[{i}]", "scale": 1.0} | view) for i, view in enumerate(views, 1)]
        marks = [RiserRule(**{"field": f"risers[{i}]"} | rule) for i, rule in enumerate(risers, 1)]
        book = SheetBook(
            file="rules.toml",
            views=tuple(made),
            risers=tuple(marks),
            levels=tuple(levels),
            tolerance_m=0.005,
            match_m=0.15,
            tick_m=1.0,
        )
        return read(self.path, SELECTION, book=book)


@pytest.fixture
def flat(tmp_path):
    return Flat(tmp_path / "flat.dxf")


def courses(drawing):
    """Every line in space, from its lesser end, to the millimetre."""
    made = []
    for line in drawing.lines:
        points = (np.round(line.points_m, 3) + 0.0).tolist()
        made.append(tuple(map(tuple, min(points, points[::-1]))))
    return sorted(made)


def codes(drawing):
    """How often each code comes up; that the small drawings lack some layers of the selection is no matter here."""
    return Counter(finding.code for finding in drawing.findings if finding.code != "unmatched-pattern")


def only(drawing, code):
    (finding,) = (finding for finding in drawing.findings if finding.code == code)
    return finding


# --- windows


def test_elevation_is_folded_up(flat):
    """
    A plumb line 4 m from the left of a wall seen from outside stands at x = 4 and its foot line is the plan's.

        y                            z
        6 +-------+                  3 |   |
          | plan  |                    |   |
        0 +-------+ <- South         0 +---+----
          0      10                   20  24   30
    """
    drawing = (
        flat.line("WS-BASE", *SQUARE, close=True)
        .line("WS-BASE", (20, 0), (30, 0))
        .line("WS-WALL", (24, 0), (24, 3))
        .read(PLAN, SOUTH)
    )

    assert [
        ((0.0, 0.0, 0.0), (0.0, 6.0, 0.0), (10.0, 6.0, 0.0), (10.0, 0.0, 0.0), (0.0, 0.0, 0.0)),
        ((4.0, 0.0, 0.0), (4.0, 0.0, 3.0)),
    ] == courses(drawing)
    assert {"same-joint": 1} == codes(drawing)
    assert JointKind.WALL is drawing.lines[1].joint


def test_seen_from_inside_left_is_right(flat):
    """
    The same line seen from inside, 4 m from the left, stands 4 m from the wall's other end.

        0 +-----^-+        looking south from inside, the left end is x = 10
          0     6 10
    """
    drawing = (
        flat.line("WS-BASE", *SQUARE, close=True)
        .line("WS-WALL", (24, 0), (24, 3))
        .read(PLAN, SOUTH | {"seen_from": SeenFrom.INSIDE})
    )

    assert ((6.0, 0.0, 0.0), (6.0, 0.0, 3.0)) in courses(drawing)


def test_overlapping_windows_share_nothing(flat):
    """
    A line in the overlap of two windows is read in the first, once, and told; a line in one of them is not.

        +----A-----+
        |     +----|---B--+      a lies in A and B, b in B only
        |     |  a |  b   |
        +-----|----+      |
              +-----------+
    """
    first = PLAN | {"name": "A", "window": (0, 0, 10, 10), "levels_m": (1.0,)}
    second = PLAN | {"name": "B", "window": (6, -2, 10, 10), "levels_m": (2.0,), "origin": (0, 0)}
    drawing = flat.line("WS-SLAB", (7, 5), (9, 5)).line("WS-SLAB", (12, 5), (14, 5)).read(first, second)

    assert [((7.0, 5.0, 1.0), (9.0, 5.0, 1.0)), ((12.0, 5.0, 2.0), (14.0, 5.0, 2.0))] == courses(drawing)
    assert {"window-overlap": 1} == codes(drawing)
    assert "'A' and 'B'" in only(drawing, "window-overlap").message


def test_what_lies_in_no_window_is_counted(flat):
    """
    Lines outside every window are left out and counted, one finding a layer; one that runs out of a window is whole.

        +---------+
        |   ------|----     read whole, told
        +---------+     ==   ==   left out, counted
    """
    drawing = (
        flat.line("WS-SLAB", (5, 1), (15, 1))
        .line("WS-SLAB", (40, 0), (41, 0))
        .line("WS-SLAB", (42, 0), (43, 0))
        .read(PLAN)
    )

    assert [((5.0, 1.0, 0.0), (15.0, 1.0, 0.0))] == courses(drawing)
    assert {"window-crossed": 1, "outside-views": 1} == codes(drawing)
    assert {"outside-views": 2} == dict(drawing.skipped)
    assert "2 lines" in only(drawing, "outside-views").message


def test_nothing_in_any_window_is_refused(flat):
    """A sheet none of whose lines lies in a window is refused in one sentence that names both files."""
    with pytest.raises(NothingSelectedError) as refused:
        flat.line("WS-SLAB", (90, 0), (91, 0)).read(PLAN)

    assert str(refused.value).startswith("flat.dxf has 1 lines of waterstop, none of them in the window of a view")
    assert "rules.toml" in str(refused.value)


@pytest.mark.parametrize("scale", [1.0, 50.0])
def test_window_turned_on_the_sheet(flat, scale):
    """
    A plan turned by 90 degrees on the sheet: what runs up the sheet runs east in space.

            |            |
            |  5 m       |  -> ----- 5 m along x, from (0, 0)
       (30, 10)
    """
    view = PLAN | {"window": (32, 8, 10, 8), "turn_deg": 90.0, "origin": (30, 10), "scale": scale}
    drawing = flat.line("WS-SLAB", (30, 10), (30, 15)).read(view)

    assert [((0.0, 0.0, 0.0), (5.0 * scale, 0.0, 0.0))] == courses(drawing)


def test_window_drawn_as_polyline(flat):
    """
    Of two closed polylines on one layer the one that holds the view's name is its window.

        +------+  +------+
        | Plan |  | Roof |     the line beside "Roof" lies outside
        |  --  |  |  --  |
        +------+  +------+
    """
    for x, name in ((0, "plan"), (20, "Roof")):
        flat.line("FRAMES", (x, 0), (x + 10, 0), (x + 10, 10), (x, 10), close=True)
        flat.msp.add_text(name, dxfattribs={"insert": (x + 2, 8)})
        flat.line("WS-SLAB", (x + 1, 1), (x + 3, 1))
    flat.doc.layers.add("FRAMES").off()
    drawing = flat.read(PLAN | {"window": None, "outline": "frames"})

    assert [((1.0, 1.0, 0.0), (3.0, 1.0, 0.0))] == courses(drawing)
    assert {"outside-views": 1} == dict(drawing.skipped)


def test_window_of_a_viewport(flat):
    """
    A layout's viewport, twisted by 90 degrees, is a window that is turned back by as much.

        camera turned 90 degrees: what runs down in the model runs to the right in the viewport
    """
    flat.line("WS-SLAB", (0, 5), (0, -5)).line("WS-SLAB", (40, 5), (40, -5))
    page = flat.doc.layouts.new("Joints")
    port = page.add_viewport(center=(100, 100), size=(200, 100), view_center_point=(0, 0), view_height=20)
    port.dxf.view_twist_angle = 90
    drawing = flat.read(PLAN | {"window": None, "viewport": "joints"})

    assert [((-5.0, 0.0, 0.0), (5.0, 0.0, 0.0))] == courses(drawing)
    assert {"outside-views": 1} == dict(drawing.skipped)


# --- walls and paths


@pytest.mark.parametrize("way", [1, -1])
def test_path_drawn_the_other_way_round(flat, way):
    """
    A bent wall unrolled along its path is the same, whichever way the path is drawn.

        6 +       seen from outside, the left end is the north-west... the path turns at (0, 0):
          |       u: 0 ---- 6 ------------- 16
        0 +-----------      (0,6) (0,0)   (10,0)
    """
    path = [(0, 6), (0, 0), (10, 0)][::way]
    flat.line("WS-BASE", *SQUARE, close=True).line("PATH", *path)
    flat.line("WS-WALL", (22, 0), (22, 3)).line("WS-WALL", (30, 0), (30, 3)).line("WS-BASE", (20, 0), (36, 0))
    unrolled = SOUTH | {"kind": ViewKind.DEVELOPED, "wall": None, "path": "PATH", "window": (18, -2, 20, 8)}
    drawing = flat.read(PLAN, unrolled)

    assert [((0.0, 4.0, 0.0), (0.0, 4.0, 3.0)), ((4.0, 0.0, 0.0), (4.0, 0.0, 3.0))] == [
        course for course in courses(drawing) if len(course) == 2
    ]
    assert {"same-joint": 1} == codes(drawing)


def test_path_of_several_lines_is_joined(flat):
    """
    A path drawn as three lines in any order and direction is one.

        <-3-+        1 east, 2 from the south wall up, 3 west
            2
        -1->+
    """
    flat.line("PATH", (0, 0), (10, 0)).line("PATH", (0, 6), (10, 6)).line("PATH", (10, 6), (10, 0))
    flat.line("WS-WALL", (35, 0), (35, 3))
    path = {"kind": ViewKind.DEVELOPED, "wall": None, "path": "PATH", "window": (18, -2, 30, 8), "seen_from": None}
    drawing = flat.read(PLAN, SOUTH | path)

    assert [((10.0, 5.0, 0.0), (10.0, 5.0, 3.0))] == courses(drawing)


def test_elevation_longer_than_its_wall(flat):
    """
    What runs past the wall's end is cut off and told with its length; what lies wholly beyond it is left out.

         20            30  30.4   31
          +-------------+---:     |
          |<---- 10 --->|         beyond
    """
    drawing = (
        flat.line("WS-BASE", *SQUARE, close=True)
        .line("WS-BASE", (20, 0), (30.4, 0))
        .line("WS-WALL", (31, 0), (31, 3))
        .read(PLAN, SOUTH)
    )
    told = [finding.message for finding in drawing.findings if finding.code == "beyond-wall"]

    assert 1 == len(courses(drawing))
    assert ["400 mm", "3000 mm"] == [
        size for size, text in zip(("400 mm", "3000 mm"), told, strict=True) if size in text
    ]
    assert {"beyond-wall": 2, "same-joint": 1} == codes(drawing)


@pytest.mark.parametrize("start_deg", [0, 100])
def test_ring_walls_seam(flat, build, start_deg):
    """
    A round wall unrolled from its seam: the joint drawn at both edges is one, and the base line closes on itself.

        z |                |      both edges are the seam
          |       |        |
          +-------+--------+
          0      pi        2 pi      radius 1
    """
    seam = (np.cos(np.radians(start_deg)), np.sin(np.radians(start_deg)))
    flat.circle("WS-BASE", (0, 0), 1)
    flat.line("WS-BASE", (20, 0), (20 + 2 * np.pi, 0))
    for u in (0, np.pi, 2 * np.pi):
        flat.line("WS-WALL", (20 + u, 0), (20 + u, 3))
    ring = {"kind": ViewKind.DEVELOPED, "wall": None, "path": "WS-BASE", "start": seam}
    drawing = flat.read(PLAN, SOUTH | ring)
    network = build(drawing)
    feet = sorted(node.at_m for node in network.nodes() if node.kind == "tee")
    ends = sorted([(seam[0], seam[1], 0.0), (-seam[0], -seam[1], 0.0)])

    assert {"tee": 2, "end": 2} == network.count_kinds()
    assert pytest.approx(np.array(ends), abs=0.005) == np.array(feet)
    assert pytest.approx(2 * np.pi + 6, abs=1e-4) == network.length_m
    assert {"same-joint": 1} == codes(drawing)


def test_seam_is_shown_at_both_edges(flat):
    """
    A place on a ring's seam is found at both edges of its unrolled wall.

          +----------------+
        (20, 1)         (26.283, 1)
    """
    flat.circle("WS-BASE", (0, 0), 1).line("WS-BASE", (20, 0), (20 + 2 * np.pi, 0))
    ring = {"kind": ViewKind.DEVELOPED, "wall": None, "path": "WS-BASE", "start": (1, 0)}
    places = flat.read(PLAN, SOUTH | ring).sheet.places((1.0, 0.0, 1.0))

    assert ["South", "South"] == [place.view for place in places]
    assert pytest.approx([20, 20 + 2 * np.pi], abs=1e-4) == [place.at_m[0] for place in places]


def test_corner_joint_in_two_elevations_is_one(flat):
    """
    A joint at the corner, at the right edge of one wall and the left edge of the next, is counted once.

        South   |  East                   plan   |
                | |                              | East
        --------+ +------                 -------+
    """
    east = SOUTH | {"name": "East", "wall": ((10, 0), (10, 6)), "window": (38, -2, 14, 10), "datum": (40, 0)}
    flat.line("WS-BASE", *SQUARE, close=True).line("WS-WALL", (30, 0), (30, 3)).line("WS-WALL", (40, 0), (40, 3))
    drawing = flat.read(PLAN, SOUTH, east)

    assert [((10.0, 0.0, 0.0), (10.0, 0.0, 3.0))] == [course for course in courses(drawing) if len(course) == 2]


# --- levels and risers


def test_two_levels_with_one_plan(flat):
    """
    A plan that repeats at two levels gives its lines twice; a layer with a level of its own stays at that.

        z = 3   -------       WS-BASE at 0 and 3
        z = 0   -------
        z = -1  - - - -       WS-SLAB by its layer
    """
    flat.line("WS-BASE", (0, 0), (10, 0)).line("WS-SLAB", (0, 1), (10, 1))
    drawing = flat.read(PLAN | {"levels_m": (0.0, 3.0)}, levels=[Level(name="low", height_m=-1.0, match=("WS-SLAB",))])

    assert [
        ((0.0, 0.0, 0.0), (10.0, 0.0, 0.0)),
        ((0.0, 0.0, 3.0), (10.0, 0.0, 3.0)),
        ((0.0, 1.0, -1.0), (10.0, 1.0, -1.0)),
    ] == courses(drawing)


def test_level_as_drawn(flat):
    """
    Where neither layer nor view tells a level, the entity's own elevation counts, true whatever the scale.

        ------- elevation 2.5, drawn at 1:20
    """
    flat.msp.add_lwpolyline([(0, 0), (0.5, 0)], dxfattribs={"layer": "WS-SLAB", "elevation": 2.5})
    drawing = flat.read(PLAN | {"levels_m": (), "scale": 20.0})

    assert [((0.0, 0.0, 2.5), (10.0, 0.0, 2.5))] == courses(drawing)


def test_risers_of_every_kind(flat):
    """
    Point, circle, tick and block each climb: to a level, by a height, or by the block's attribute in drawing units.

        --o--|--x--[H]--     on the wall at y = 0, a tick crosses it
    """
    flat.line("WS-BASE", *SQUARE, close=True).point("M1", (1, 0)).circle("M1", (2, 0), 0.1)
    flat.line("M2", (3, -0.2), (3, 0.3))
    flat.doc.blocks.new("MARK").add_circle((0, 0), 0.1, dxfattribs={"layer": "WS-BASE"})
    mark = flat.msp.add_blockref("MARK", (4, 0), dxfattribs={"layer": "M3"})
    mark.add_attrib("h", "2.25", (4, 0))
    drawing = flat.read(
        PLAN,
        risers=[
            {"match": "M1", "to_m": 3.0},
            {"match": "M2", "from_m": -0.5, "height_m": 1.5},
            {"match": "M3", "attribute": "H"},
        ],
    )

    assert [
        ((1.0, 0.0, 0.0), (1.0, 0.0, 3.0)),
        ((2.0, 0.0, 0.0), (2.0, 0.0, 3.0)),
        ((3.0, 0.0, -0.5), (3.0, 0.0, 1.0)),
        ((4.0, 0.0, 0.0), (4.0, 0.0, 2.25)),
    ] == [course for course in courses(drawing) if len(course) == 2]
    assert {JointKind.WALL} == {line.joint for line in drawing.lines[1:]}
    assert {(1.0, 0.0, 0.0)} == {tuple(np.abs(line.across[0]).tolist()) for line in drawing.lines[1:]}
    assert (5, {}) == (drawing.selected, codes(drawing))


def test_riser_outside_every_wall(flat, build):
    """
    A mark further from every wall-base line than views may differ stands where it is, with its lay unknown, told.

        -----------     wall at y = 0
             o          mark at y = 2; one at y = 0.1 is drawn onto the wall
    """
    flat.line("WS-BASE", *SQUARE, close=True).point("M1", (5, 2)).point("M1", (7, 0.1))
    drawing = flat.read(PLAN, risers=[{"match": "M1", "to_m": 3.0}])

    assert {((5.0, 2.0, 0.0), (5.0, 2.0, 3.0)), ((7.0, 0.0, 0.0), (7.0, 0.0, 3.0))} < set(courses(drawing))
    assert {"riser-astray": 1} == codes(drawing)
    assert 1 == Counter(finding.code for finding in build(drawing).findings)["lay-unknown"]


@pytest.mark.parametrize("says", ["tall", "-3", "0", "nan"])
def test_riser_without_a_height(flat, says):
    """A block whose attribute is no height is left out and told, not guessed."""
    flat.line("WS-BASE", *SQUARE, close=True)
    flat.doc.blocks.new("MARK")
    flat.msp.add_blockref("MARK", (4, 0), dxfattribs={"layer": "M3"}).add_attrib("H", says, (4, 0))
    drawing = flat.read(PLAN, risers=[{"match": "M3", "attribute": "H"}])

    assert (1, {"riser-unread": 1}) == (len(drawing.lines), codes(drawing))
    assert repr(says) in only(drawing, "riser-unread").message


# --- what views say differently


@pytest.mark.parametrize(
    ("mark", "line", "code", "says"),
    [
        ((4.04, 0), ((24, 0), (24, 3)), "view-place", "40 mm beside"),
        ((4, 0), ((24, 0), (24, 2.9)), "view-height", "100 mm higher"),
        ((4, 0), ((24, -0.3), (24, 3)), "view-height", "300 mm lower"),
    ],
)
def test_mark_and_line_differ(flat, mark, line, code, says):
    """
    Where a mark on plan and its line in the elevation differ, the line counts, and both entities are named.

        plan ---o---      elevation  |      mark: x = 4, from 0 to 3
                                     |
    """
    flat.line("WS-BASE", *SQUARE, close=True).point("M1", mark).line("WS-WALL", *line)
    drawing = flat.read(PLAN, SOUTH | {"window": (18, -1, 14, 9)}, risers=[{"match": "M1", "to_m": 3.0}])
    finding = only(drawing, code)

    assert ((4.0, 0.0, round(line[0][1], 3) + 0.0), (4.0, 0.0, line[1][1])) in courses(drawing)
    assert says in finding.message
    assert {"M1", "WS-WALL"} == {source.layer for source in finding.sources}


def test_base_line_shorter_in_the_elevation(flat):
    """
    A base line that ends 0.1 m early in the elevation is told with that length; the plan's counts.

        plan       ----------  10      elevation   --------- 9.9
    """
    drawing = flat.line("WS-BASE", *SQUARE, close=True).line("WS-BASE", (20, 0), (29.9, 0)).read(PLAN, SOUTH)

    assert 1 == len(drawing.lines)
    assert {"view-length": 1, "same-joint": 1} == codes(drawing)
    assert "100 mm further" in only(drawing, "view-length").message


def test_base_line_at_another_height(flat):
    """
    A base line 50 mm higher in the elevation than on plan is told; the plan's level counts.

        elevation  -----------  0.05       plan's level 0
    """
    drawing = flat.line("WS-BASE", *SQUARE, close=True).line("WS-BASE", (20, 0.05), (30, 0.05)).read(PLAN, SOUTH)

    assert [0.0] == sorted({point[2] for course in courses(drawing) for point in course})
    assert "50 mm beside" in only(drawing, "view-place").message


def test_joints_in_one_view_only_stay(flat):
    """
    A base line missing in the elevation, a line without mark and a mark without line are each kept and told once.

        plan -----o-----      elevation      |       mark at 3, line at 7, no base line
    """
    flat.line("WS-BASE", *SQUARE, close=True).point("M1", (3, 0)).line("WS-WALL", (27, 0), (27, 3))
    drawing = flat.read(PLAN, SOUTH, risers=[{"match": "M1", "to_m": 3.0}])

    assert 3 == len(drawing.lines)
    assert {"one-view": 3} == codes(drawing)


def test_lift_joint_needs_no_plan(flat):
    """
    A level joint half-way up a wall, where no plan lies, is the elevation's own and no disagreement.

        --------- 1.5
        --------- 0     base line, on plan too
    """
    flat.line("WS-BASE", *SQUARE, close=True).line("WS-BASE", (20, 0), (30, 0)).line("WS-WALL", (20, 1.5), (30, 1.5))
    drawing = flat.read(PLAN, SOUTH)

    assert ((0.0, 0.0, 1.5), (10.0, 0.0, 1.5)) in courses(drawing)
    assert {"same-joint": 1} == codes(drawing)


# --- views that do not fit the drawing

DEVELOPED = SOUTH | {"kind": ViewKind.DEVELOPED, "wall": None}


@pytest.mark.parametrize(
    ("view", "field", "says"),
    [
        (PLAN | {"window": None, "outline": "NONE"}, "views[2].outline", "no layer 'NONE'"),
        (PLAN | {"window": None, "outline": "OPEN"}, "views[2].outline", "is open; close it"),
        (PLAN | {"window": None, "outline": "TWO"}, "views[2].outline", "several closed polylines"),
        (PLAN | {"window": None, "viewport": "A1"}, "views[2].viewport", "no layout 'A1'"),
        (PLAN | {"window": None, "viewport": "Layout1"}, "views[2].viewport", "no viewport"),
        (DEVELOPED | {"path": "NONE"}, "views[2].path", "no layer 'NONE'"),
        (DEVELOPED | {"path": "FAR"}, "views[2].path", "no line on layer 'FAR' lies on a plan"),
        (DEVELOPED | {"path": "TWO"}, "views[2].path", "2 lines on layer 'TWO'"),
        (DEVELOPED | {"path": "WS-BASE", "start": (90, 0)}, "views[2].start", "in the window of no plan"),
        (SOUTH | {"wall": ((0, 0), (90, 0))}, "views[2].wall", "(90, 0) lies in the window of no plan"),
        (SOUTH | {"wall": ((1, 0), (1, 0.001))}, "views[2].wall", "has no length"),
        (SOUTH | {"wall": ((5, 0), (5, 6))}, "views[2].inside", "both sides of the wall"),
        (SOUTH | {"wall": ((0, -1), (9, -1))}, "views[2].inside", "neither side of the wall"),
    ],
)
def test_views_that_do_not_fit_are_refused(flat, view, field, says):
    """A view that the drawing does not bear out is refused in one sentence with the rules file and the field."""
    flat.line("WS-BASE", *SQUARE, close=True).line("OPEN", (0, 0), (1, 0), (1, 1)).line("FAR", (90, 0), (91, 0))
    for x in (1, 3):
        flat.line("TWO", (x, 1), (x + 1, 1), (x + 1, 2), close=True)
    for page in list(flat.doc.layouts)[1:]:
        page.delete_all_entities()
    with pytest.raises(RulesError) as refused:
        flat.read(PLAN, view)

    assert str(refused.value).startswith(f"rules.toml: {field}: ")
    assert says in str(refused.value)


def test_dividing_wall_with_its_inside_told(flat):
    """
    A dividing wall has both cells beside it; the point picked as inside tells which side is.

        +-----+-----+
        |     | i   |      seen from inside, from i: looking west, the left end is the south
        +-----+-----+
              5
    """
    flat.line("WS-BASE", *SQUARE, close=True).line("WS-BASE", (5, 0), (5, 6)).line("WS-WALL", (22, 0), (22, 3))
    wall = {"wall": ((5, 0), (5, 6)), "seen_from": SeenFrom.INSIDE, "inside": (7, 3)}
    drawing = flat.read(PLAN, SOUTH | wall)

    assert ((5.0, 2.0, 0.0), (5.0, 2.0, 3.0)) in courses(drawing)


def test_views_of_other_drawings_do_not_touch_one(flat):
    """A drawing that no view belongs to stands in space as it is."""
    drawing = flat.line("WS-SLAB", (40, 0), (41, 0)).read(PLAN | {"drawing": "other*"})

    assert [((40.0, 0.0, 0.0), (41.0, 0.0, 0.0))] == courses(drawing)
    assert drawing.sheet is None
