"""Every body that a strip may be drawn by: centre line, direction across, width and thickness worked by hand."""

import math

import numpy as np
import pytest

from splicewright.extract.errors import NothingSelectedError

W, T = 0.2, 0.01  # width and thickness of the strip of these tests
SCHEMAS = ["IFC2X3", "IFC4", "IFC4X3_ADD2"]


def strip_of(model, item, **named):
    model.body(item, **named)
    (line,) = model.read().lines
    return line


def codes(drawing):
    return {finding.code for finding in drawing.findings}


def assert_section(line, width=W, thickness=T):
    assert (pytest.approx(width), pytest.approx(thickness)) == (line.width_m, line.thickness_m)


def assert_across(line, *wanted):
    """Every segment's direction across is the wanted one, in either sense."""
    assert pytest.approx(np.ones(len(line.across))) == np.abs(line.across @ np.array(wanted, float))


@pytest.mark.parametrize("schema", SCHEMAS)
@pytest.mark.parametrize(("unit", "metres"), [("m", 1.0), ("mm", 0.001), ("ft", 0.3048), ("in", 0.0254)])
def test_extrusion_runs_along_its_depth(model, schema, unit, metres):
    """A rectangle of W x T extruded by 3 m along the model's x lies flat: across is y."""
    made = model(schema, unit)
    section = made.rectangle(W / metres, T / metres)
    axes = made.axes((0, 0, 1 / metres), (1, 0, 0), (0, 1, 0))
    line = strip_of(made, made.extruded(section, 3 / metres, axes))

    assert pytest.approx(np.array([[0, 0, 1], [3, 0, 1]]), abs=1e-9) == line.points_m
    assert_section(line)
    assert_across(line, 0, 1, 0)


def test_upright_section_has_its_width_upright(model):
    """The same rectangle turned by 90 degrees in its own plane stands upright: across is z."""
    made = model()
    section = made.rectangle(W, T, way=(0, 1))
    line = strip_of(made, made.extruded(section, 3, made.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))))

    assert_section(line)
    assert_across(line, 0, 0, 1)


def test_centre_line_runs_along_the_middle_of_the_profile(model):
    """A profile whose middle is not its origin is followed along its middle."""
    made = model()
    line = strip_of(made, made.extruded(made.rectangle(W, T, (0.1, 0.5)), 3))

    assert pytest.approx(np.array([[0.1, 0.5, 0], [0.1, 0.5, 3]])) == line.points_m


def test_ribbed_outline_is_known_by_its_box(model):
    """
    An arbitrary outline with a bulb: width is the long side of its box, thickness the short one.

               .--.
        +------'  '------+
        +------.  .------+
               '--'
    """
    made = model()
    half = [(-0.1, -0.005), (-0.02, -0.005), (-0.02, -0.02), (0.02, -0.02), (0.02, -0.005), (0.1, -0.005)]
    outline = half + [(-x, -y) for x, y in half]
    line = strip_of(made, made.extruded(made.outline(*outline), 3, made.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))))

    assert_section(line, 0.2, 0.04)
    assert_across(line, 0, 1, 0)


def test_outline_drawn_aslant_is_known_by_its_tightest_box(model):
    """A rectangle drawn at 30 degrees in its plane lies at 30 degrees."""
    made = model()
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    corners = [(-0.1, -0.005), (0.1, -0.005), (0.1, 0.005), (-0.1, 0.005)]
    outline = made.outline(*[(c * x - s * y, s * x + c * y) for x, y in corners])
    line = strip_of(made, made.extruded(outline, 3))

    assert_section(line)
    assert_across(line, c, s, 0)


@pytest.mark.parametrize(
    ("profile", "width", "thickness"),
    [
        (lambda m: m.make("IfcIShapeProfileDef", "AREA", None, m.axes2(), 0.02, 0.2, 0.005, 0.005, None), 0.2, 0.02),
        (lambda m: m.make("IfcTShapeProfileDef", "AREA", None, m.axes2(), 0.1, 0.2, 0.01, 0.01), 0.2, 0.1),
        (lambda m: m.make("IfcEllipseProfileDef", "AREA", None, m.axes2(), 0.1, 0.01), 0.2, 0.02),
        (lambda m: m.make("IfcCenterLineProfileDef", "CURVE", None, m.polyline((-0.1, 0), (0.1, 0)), 0.01), 0.2, 0.01),
        (lambda m: m.make("IfcTrapeziumProfileDef", "AREA", None, m.axes2(), 0.2, 0.1, 0.01, 0.05), 0.2, 0.01),
    ],
)
def test_profiles_are_known_by_their_boxes(model, profile, width, thickness):
    """Standard shapes, centre lines with a thickness and ellipses give the sides of their boxes."""
    made = model()

    assert_section(strip_of(made, made.extruded(profile(made), 3)), width, thickness)


def test_round_or_square_section_tells_no_lay(model):
    """A round section has no width to lie by."""
    made = model()
    line = strip_of(made, made.extruded(made.make("IfcCircleProfileDef", "AREA", None, made.axes2(), 0.01), 3))

    assert None is line.across
    assert_section(line, 0.02, 0.02)


@pytest.mark.parametrize("schema", ["IFC4", "IFC4X3_ADD2"])
def test_tapered_extrusion_runs_from_middle_to_middle(model, schema):
    """A section that shifts sideways by 0.4 over a depth of 3 has a slanting centre line."""
    made = model(schema)
    one, two = made.rectangle(W, T), made.rectangle(W, T, (0.4, 0))
    solid = made.make("IfcExtrudedAreaSolidTapered", one, made.axes(), made.direction(0, 0, 1), 3.0, two)
    line = strip_of(made, solid)

    assert pytest.approx(np.array([[0, 0, 0], [0.4, 0, 3]])) == line.points_m


def test_plate_is_followed_along_its_plan(model):
    """
    A strip drawn as a plate: a plan of 5 x W, T high, is 5 long at half its height, and lies flat.

        +-----------------+
        +-----------------+   W
    """
    made = model()
    drawing_line = strip_of(made, made.extruded(made.rectangle(5, W), T))

    assert pytest.approx(np.array([[-2.5, 0, T / 2], [2.5, 0, T / 2]])) == drawing_line.points_m
    assert_section(drawing_line)
    assert_across(drawing_line, 0, 1, 0)


def test_plan_drawn_up_by_the_width_stands_upright(model):
    """A plan of 5 x T drawn up by W is a strip on edge, as a wall is drawn."""
    made = model()
    line = strip_of(made, made.extruded(made.rectangle(5, T), W))

    assert 5.0 == pytest.approx(line.length_m)
    assert_section(line)
    assert_across(line, 0, 0, 1)


def test_bent_plate_is_followed_along_its_middle(model):
    """
    An L of 4 x 3 measured along its middle, W wide and T high, has one corner.

        +--------------+
        +-----------.  |
                    |  |
                    +--+
    """
    made = model()
    h = W / 2
    plan = made.outline((0, h), (4 + h, h), (4 + h, -3), (4 - h, -3), (4 - h, -h), (0, -h))
    line = strip_of(made, made.extruded(plan, T))

    assert 7.0 == pytest.approx(line.length_m)
    assert pytest.approx(np.array([4, 0, T / 2])) == line.points_m[1]
    assert_section(line)


def test_plate_that_is_no_strip_is_a_finding(model):
    """A slab of 5 x 4 has no middle line; it is counted, and the finding names it."""
    made = model()
    slab = made.body(made.extruded(made.rectangle(5, 4), T))
    made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    drawing = made.read()

    assert {"no-centre-line": 1} == drawing.skipped
    assert any(slab.GlobalId in finding.message for finding in drawing.findings)


@pytest.mark.parametrize(("angle", "quarter"), [("rad", math.pi / 2), ("deg", 90.0)])
@pytest.mark.parametrize("schema", SCHEMAS)
def test_revolution_is_an_arc(model, schema, angle, quarter):
    """
    A section revolved by a quarter round an axis 2 m away is an arc of pi; upright, its width is the axis' way.

    The section's x is the world's x; its centre is at the origin, the axis is parallel to y at x = 2.
    """
    made = model(schema, angle=angle)
    pivot = made.make("IfcAxis1Placement", made.point(2, 0, 0), made.direction(0, 1, 0))
    solid = made.make("IfcRevolvedAreaSolid", made.rectangle(T, W), made.axes(), pivot, quarter)
    line = strip_of(made, solid)

    assert pytest.approx(math.pi, rel=1e-6) == line.length_m
    assert pytest.approx(np.array([[0, 0, 0], [2, 0, 2]]), abs=1e-9) == line.points_m[line.drawn]
    assert_section(line)
    assert_across(line, 0, 1, 0)


def test_full_revolution_closes(model):
    """A section revolved once round is a closed ring."""
    made = model()
    pivot = made.make("IfcAxis1Placement", made.point(2, 0, 0), made.direction(0, 1, 0))
    line = strip_of(made, made.make("IfcRevolvedAreaSolid", made.rectangle(T, W), made.axes(), pivot, 2 * math.pi))

    assert line.closed
    assert pytest.approx(4 * math.pi, rel=1e-6) == line.length_m


def fixed(model, curve, section, reference, start=None, end=None):
    kind = "IfcFixedReferenceSweptAreaSolid"
    return model.make(kind, section, model.axes(), curve, start, end, model.direction(*reference))


def test_fixed_reference_sweep_keeps_its_x_to_the_reference(model):
    """
    The profile's x is held to the reference; its long side is x here, so the strip stands upright round the corner.

        a-----b
              |
              c
    """
    made = model()
    line = strip_of(made, fixed(made, made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0)), made.rectangle(W, T), (0, 0, 1)))

    assert [[0, 0, 0], [4, 0, 0], [4, -3, 0]] == line.points_m.tolist()
    assert_section(line)
    assert_across(line, 0, 0, 1)


def test_profile_beside_the_directrix_moves_the_line_with_its_corner(model):
    """
    A profile 0.1 to the side of the directrix is followed at its own middle, the corner mitred.

    x is held up, y = along x up points to the right: south on the way east, west on the way south.
    """
    made = model()
    curve = made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0))
    line = strip_of(made, fixed(made, curve, made.rectangle(W, T, (0, 0.1)), (0, 0, 1)))

    assert pytest.approx(np.array([[0, -0.1, 0], [3.9, -0.1, 0], [3.9, -3, 0]])) == line.points_m


@pytest.mark.parametrize(("start", "end", "length"), [(0.5, None, 5.0), (0.5, 1.5, 3.5), (None, 1.0, 4.0)])
def test_directrix_is_cut_at_its_parameters(model, start, end, length):
    """Start and end parameters count the points of a polyline of 4 and 3."""
    made = model()
    curve = made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0))
    line = strip_of(made, fixed(made, curve, made.rectangle(W, T), (0, 0, 1), start, end))

    assert pytest.approx(length) == line.length_m


def test_directrix_is_cut_at_lengths_in_the_newer_version(model):
    """In IFC4X3 the ends may be lengths along the directrix: from 1 to 5 of 7."""
    made = model("IFC4X3_ADD2")
    curve = made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0))
    ends = [made.make("IfcLengthMeasure", value) for value in (1.0, 5.0)]
    line = strip_of(made, fixed(made, curve, made.rectangle(W, T), (0, 0, 1), *ends))

    assert pytest.approx(np.array([[1, 0, 0], [4, 0, 0], [4, -1, 0]])) == line.points_m


@pytest.mark.parametrize("schema", SCHEMAS)
def test_surface_curve_sweep_turns_its_x_to_the_normal(model, schema):
    """A directrix in a level plane has a plumb normal: with the long side along x the strip stands upright."""
    made = model(schema)
    ends = (0.0, 1.0) if schema == "IFC2X3" else (None, None)
    curve = made.polyline((0, 0, 0), (4, 0, 0))
    plane = made.make("IfcPlane", made.axes())
    solid = made.make("IfcSurfaceCurveSweptAreaSolid", made.rectangle(W, T), made.axes(), curve, *ends, plane)
    line = strip_of(made, solid)

    assert 4.0 == line.length_m
    assert_across(line, 0, 0, 1)


def test_surface_of_extrusion_has_its_normal_across_the_wall(model):
    """On an upright surface over the directrix the normal is level: with the long side along y it stands upright."""
    made = model()
    curve = made.polyline((0, 0, 0), (4, 0, 0))
    open_profile = made.make("IfcArbitraryOpenProfileDef", "CURVE", None, made.polyline((0, 0), (4, 0)))
    up = made.direction(0, 0, 1)
    surface = made.make("IfcSurfaceOfLinearExtrusion", open_profile, made.axes(), up, 1.0)
    kind = "IfcSurfaceCurveSweptAreaSolid"
    line = strip_of(made, made.make(kind, made.rectangle(T, W), made.axes(), curve, None, None, surface))

    assert_across(line, 0, 0, 1)


@pytest.mark.parametrize("schema", SCHEMAS)
def test_swept_disk_follows_its_directrix(model, schema):
    """A disk swept from point 0 to point 1 of a polyline of 4 and 3 is 4 long and tells no lay."""
    made = model(schema)
    curve = made.polyline((0, 0, 0), (4, 0, 0), (4, -3, 0))
    line = strip_of(made, made.make("IfcSweptDiskSolid", curve, 0.01, None, 0.0, 1.0))

    assert 4.0 == line.length_m
    assert None is line.across
    assert_section(line, 0.02, 0.02)


def test_sectioned_solid_runs_from_its_first_section_to_its_last(model):
    """Sections at 1 and 6 m of a straight directrix of 10 m leave 5 m; the profile's y points up."""
    made = model("IFC4X3_ADD2")
    curve = made.polyline((0, 0, 0), (10, 0, 0))
    places = []
    for at in (1.0, 6.0):
        along = made.make("IfcLengthMeasure", at)
        where = made.make("IfcPointByDistanceExpression", along, None, None, None, curve)
        places.append(made.make("IfcAxis2PlacementLinear", where))
    sections = [made.rectangle(T, W), made.rectangle(T, W)]
    line = strip_of(made, made.make("IfcSectionedSolidHorizontal", curve, sections, places))

    assert pytest.approx(np.array([[1, 0, 0], [6, 0, 0]])) == line.points_m
    assert_across(line, 0, 0, 1)


def operator(model, scale=1.0, origin=(0, 0, 0), x=(1, 0, 0), y=(0, 1, 0), **named):
    kind = "IfcCartesianTransformationOperator3D" + ("nonUniform" if named else "")
    ways = [model.direction(*x), model.direction(*y)]
    return model.make(kind, *ways, model.point(*origin), scale, model.direction(0, 0, 1), *named.values())


def mapped(model, item, target):
    source = model.make("IfcRepresentationMap", model.axes(), model.shape(item))
    return model.shape(model.make("IfcMappedItem", source, target), kind="MappedRepresentation")


@pytest.mark.parametrize("schema", SCHEMAS)
def test_mapped_item_goes_through_its_operator(model, schema):
    """A strip of 3 m mapped with scale 2 and moved by (10, 0, 0) is 6 m long and twice as wide and thick."""
    made = model(schema)
    solid = made.extruded(made.rectangle(W, T), 3)
    made.element(mapped(made, solid, operator(made, 2.0, (10, 0, 0))))
    (line,) = made.read().lines

    assert pytest.approx(np.array([[10, 0, 0], [10, 0, 6]])) == line.points_m
    assert_section(line, 2 * W, 2 * T)


def test_stretched_mapping_stretches_each_way_by_itself(model):
    """Scales 1, 2 and 3 make a strip along z with its width along x as wide, twice as thick and thrice as long."""
    made = model()
    target = operator(made, 1.0, two=2.0, three=3.0)
    made.element(mapped(made, made.extruded(made.rectangle(W, T), 3), target))
    (line,) = made.read().lines

    assert 9.0 == pytest.approx(line.length_m)
    assert_section(line, W, 2 * T)


def test_mirrored_mapping_mirrors(model):
    """An operator whose y points to the south mirrors the strip."""
    made = model()
    solid = made.extruded(made.rectangle(W, T, (1, 2)), 3)
    made.element(mapped(made, solid, operator(made, y=(0, -1, 0))))
    (line,) = made.read().lines

    assert pytest.approx(np.array([[1, -2, 0], [1, -2, 3]])) == line.points_m


def test_item_mapped_into_itself_is_a_finding(model):
    """A mapped item that holds itself ends in a finding, not in recursion."""
    made = model()
    shape = made.shape()
    source = made.make("IfcRepresentationMap", made.axes(), shape)
    shape.Items = [made.make("IfcMappedItem", source, operator(made))]
    made.element(shape)

    with pytest.raises(NothingSelectedError, match=r"1 IfcBuildingElementProxy \(recursive-mapping\)"):
        made.read()


def test_boolean_result_is_read_uncut_and_told(model):
    """The first operand of a cut counts, and a finding says that what is cut off stays on."""
    made = model()
    body = made.extruded(made.rectangle(W, T), 3)
    half = made.make("IfcHalfSpaceSolid", made.make("IfcPlane", made.axes((0, 0, 2))), False)
    made.element(made.shape(made.make("IfcBooleanClippingResult", "DIFFERENCE", body, half), kind="Clipping"))
    drawing = made.read()

    assert 3.0 == drawing.length_m
    assert {"boolean-cut"} == codes(drawing)


def box_faces(model, corners, loops):
    points = [model.point(*corner) for corner in corners]
    faces = [
        model.make(
            "IfcFace", [model.make("IfcFaceOuterBound", model.make("IfcPolyLoop", [points[i] for i in loop]), True)]
        )
        for loop in loops
    ]
    return model.make("IfcFacetedBrep", model.make("IfcClosedShell", faces))


BOX = [(x, y, z) for x in (0, 3) for y in (-W / 2, W / 2) for z in (-T / 2, T / 2)]
BOX_LOOPS = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


@pytest.mark.parametrize("schema", SCHEMAS)
def test_faceted_strip_is_followed_along_its_middle(model, schema):
    """A box of 3 x W x T made of faces is 3 long and lies flat; a finding tells that no axis was there."""
    made = model(schema)
    made.element(made.shape(box_faces(made, BOX, BOX_LOOPS), kind="Brep"))
    drawing = made.read()
    (line,) = drawing.lines

    assert pytest.approx(3) == line.length_m
    assert {"long-axis"} == codes(drawing)
    assert_section(line)
    assert_across(line, 0, 1, 0)


def prism(model, plan, height):
    """A triangulated prism over a plan, its caps fans round the first corner."""
    n = len(plan)
    points = [(*xy, 0.0) for xy in plan] + [(*xy, height) for xy in plan]
    caps = [(0, i, i + 1) for i in range(1, n - 1)]
    sides = [(i, (i + 1) % n, n + i) for i in range(n)] + [((i + 1) % n, n + (i + 1) % n, n + i) for i in range(n)]
    rows = caps + [tuple(n + i for i in row) for row in caps] + sides
    listed = model.make("IfcCartesianPointList3D", [tuple(map(float, point)) for point in points])
    return model.make("IfcTriangulatedFaceSet", listed, None, True, [tuple(i + 1 for i in row) for row in rows])


def test_triangulated_strip_bent_in_plan_is_followed_round_its_corner(model):
    """
    An L of triangles, 4 and 3 along its middle, is 7 long with one corner, and lies flat.

        +--------------+
        +-----------.  |
                    |  |
                    +--+
    """
    made = model()
    h = W / 2
    plan = [(4 - h, -h), (0, -h), (0, h), (4 + h, h), (4 + h, -3), (4 - h, -3)]
    made.element(made.shape(prism(made, plan, T), kind="Tessellation"))
    (line,) = made.read().lines

    assert 7.0 == pytest.approx(line.length_m)
    assert 3 == len(line.points_m)
    assert_section(line)


@pytest.mark.parametrize("height", [0.5, 2.0])
def test_lump_is_a_finding(model, height):
    """A block of 1 x 0.8 has no long axis, however high."""
    made = model()
    made.element(made.shape(prism(made, [(0, 0), (1, 0), (1, 0.8), (0, 0.8)], height), kind="Tessellation"))

    with pytest.raises(NothingSelectedError, match=r"1 IfcBuildingElementProxy \(no-centre-line\)"):
        made.read()


def test_block_runs_along_its_longest_side(model):
    """A CSG block of T x 3 x W is 3 long and upright."""
    made = model()
    block = made.make("IfcBlock", made.axes((1, 1, 1)), T, 3.0, W)
    line = strip_of(made, made.make("IfcCsgSolid", block))

    assert pytest.approx(np.array([[1 + T / 2, 1, 1 + W / 2], [1 + T / 2, 4, 1 + W / 2]])) == line.points_m
    assert_across(line, 0, 0, 1)


def test_cylinder_runs_along_its_axis(model):
    """A CSG cylinder of radius 0.01 and height 3 is 3 long and tells no lay."""
    made = model()
    line = strip_of(
        made, made.make("IfcCsgSolid", made.make("IfcRightCircularCylinder", made.axes((5, 0, 0)), 3.0, 0.01))
    )

    assert pytest.approx(np.array([[5, 0, 0], [5, 0, 3]])) == line.points_m
    assert None is line.across


def advanced_box(model, corners, loops):
    """A box whose faces are planes bounded by edges, as exchange programs write it."""
    vertices = [model.make("IfcVertexPoint", model.point(*corner)) for corner in corners]
    edges = {}
    faces = []
    for loop in loops:
        bound = []
        for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
            low, high = min(a, b), max(a, b)
            if (low, high) not in edges:
                way = model.direction(*np.subtract(corners[high], corners[low]))
                line = model.make("IfcLine", vertices[low].VertexGeometry, model.make("IfcVector", way, 1.0))
                edges[low, high] = model.make("IfcEdgeCurve", vertices[low], vertices[high], line, True)
            bound.append(model.make("IfcOrientedEdge", None, None, edges[low, high], a < b))
        p, q, r = (np.array(corners[i]) for i in loop[:3])
        plane = model.make("IfcPlane", model.axes(p, np.cross(q - p, r - q), q - p))
        outer = model.make("IfcFaceOuterBound", model.make("IfcEdgeLoop", bound), True)
        faces.append(model.make("IfcAdvancedFace", [outer], plane, True))
    return model.make("IfcAdvancedBrep", model.make("IfcClosedShell", faces))


@pytest.mark.parametrize(("unit", "metres"), [("m", 1.0), ("mm", 0.001)])
def test_what_cannot_be_read_directly_is_meshed(model, unit, metres):
    """An advanced B-rep is meshed by the kernel, in whatever unit, and followed along its middle, with a finding."""
    made = model(unit=unit)
    corners = [tuple(value / metres for value in corner) for corner in BOX]
    made.element(made.shape(advanced_box(made, corners, BOX_LOOPS), kind="AdvancedBrep"))
    drawing = made.read()
    (line,) = drawing.lines

    assert pytest.approx(3) == line.length_m
    assert {"long-axis"} == codes(drawing)
    assert_section(line)
    assert_across(line, 0, 1, 0)


def test_axis_goes_before_body_and_body_tells_the_lay(model):
    """With both drawn, the axis gives the line, the body's profile width, thickness and lay."""
    made = model()
    axis = made.shape(made.polyline((0, 0, 0), (3, 0, 0)), name="Axis", kind="Curve3D")
    body = made.shape(made.extruded(made.rectangle(W, T), 2.9, made.axes((0, 0, 0), (1, 0, 0), (0, 1, 0))))
    made.element(axis, body)
    (line,) = made.read().lines

    assert [[0, 0, 0], [3, 0, 0]] == line.points_m.tolist()
    assert_section(line)
    assert_across(line, 0, 1, 0)


def test_curved_axis_takes_the_lay_piece_by_piece(model):
    """An arc for an axis and the section revolved along it: the width stays the axis' way all round."""
    made = model()
    circle = made.make("IfcCircle", made.axes((2, 0, 0), (0, 1, 0), (-1, 0, 0)), 2.0)
    pivot = made.make("IfcAxis1Placement", made.point(2, 0, 0), made.direction(0, 1, 0))
    body = made.make("IfcRevolvedAreaSolid", made.rectangle(T, W), made.axes(), pivot, 2 * math.pi)
    made.element(made.shape(circle, name="Axis", kind="Curve3D"), made.shape(body))
    (line,) = made.read().lines

    assert line.closed
    assert_across(line, 0, 1, 0)


def test_unreadable_axis_gives_way_to_the_body(model):
    """Where the axis is no line, the body gives it, with a finding."""
    made = model()
    axis = made.shape(made.polyline((1, 1, 1), (1, 1, 1)), name="Axis", kind="Curve3D")
    made.element(axis, made.shape(made.extruded(made.rectangle(W, T), 3)))
    drawing = made.read()

    assert 3.0 == drawing.length_m
    assert {"axis-unread"} == codes(drawing)


def test_element_without_a_shape_is_counted(model):
    """An element of which nothing is drawn is a finding that names it; read and skipped make up what was selected."""
    made = model()
    bare = made.element()
    made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    drawing = made.read()

    assert ({"no-representation": 1}, 2) == (drawing.skipped, drawing.selected)
    assert any(bare.GlobalId in finding.message for finding in drawing.findings)


@pytest.mark.parametrize(
    ("solid", "reason"),
    [
        (lambda m: m.extruded(m.rectangle(0, T), 3), "damaged"),
        (lambda m: m.extruded(m.rectangle(W, T), 0), "zero-length"),
        (lambda m: m.extruded(m.rectangle(W, T), 3, way=(1, 0, 0)), "zero-length"),
        (lambda m: m.make("IfcExtrudedAreaSolid", None, m.axes(), m.direction(0, 0, 1), 3.0), "damaged"),
        (lambda m: m.make("IfcMappedItem"), "damaged"),
        (lambda m: m.make("IfcTriangulatedFaceSet"), "damaged"),
    ],
)
def test_bad_body_is_counted_by_reason(model, solid, reason):
    """A body that makes no strip is counted, and its finding names the element's GlobalId."""
    made = model()
    bad = made.body(solid(made))
    made.axis(made.polyline((0, 0, 0), (1, 0, 0)))
    drawing = made.read()

    assert {reason: 1} == drawing.skipped
    assert any(bad.GlobalId in finding.message for finding in drawing.findings)
