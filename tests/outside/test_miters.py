"""Miters and bevels against published tables, to their last digit."""

from math import cos, radians, sin

import pytest

from splicewright.schedule.plan import plan
from splicewright.schedule.rules import load_rules
from splicewright.schedule.seam import Strip, set_saw


def crown(spring_deg, corner_deg):
    """Lean strip against two walls that meet at a corner, and set the saw for it flat on the table.

    Spring: angle between the wall and the strip's back. The arms leave the corner along the walls; the width leans from
    the wall into the room.
    """
    s, c = radians(spring_deg), radians(corner_deg)
    one = Strip((1.0, 0.0, 0.0), (0.0, sin(s), cos(s)), "a")
    two = Strip((cos(c), sin(c), 0.0), (sin(s) * sin(c), -sin(s) * cos(c), cos(s)), "a")
    setting = set_saw(one, two, twist_limit_deg=15)
    return abs(setting.miter_deg), abs(setting.bevel_deg)


# Spring, corner, miter, bevel. Read in tables published on the web; the names are kinds of publisher.
CROWN = {
    "crown-moulding table of a millwork firm, spring 38, corner 90": (38, 90, 31.6190, 33.8629),
    "the same, corner 135": (38, 135, 14.3064, 17.5512),
    "builders' crown table, spring 52, corner 1": (52, 1, 89.3655, 37.9983),
    "the same, corner 2": (52, 2, 88.7311, 37.9932),
}


@pytest.mark.outside(
    what="miter and bevel of strip that leans against two walls",
    against="crown-moulding table of a millwork firm, published on the web: spring 38, corners 90 and 135",
    result="equal to 4 decimals",
)
@pytest.mark.outside(
    what="miter and bevel of strip that leans against two walls",
    against="builders' crown table, published on the web: spring 52, corners 1 and 2",
    result="equal to 4 decimals",
)
@pytest.mark.parametrize("source", CROWN)
def test_compound_miters_equal_published_crown_tables(source):
    """Miter and bevel of strip that leans against two walls equal the published ones to four decimals."""
    spring, corner, miter, bevel = CROWN[source]

    assert (miter, bevel) == tuple(round(value, 4) for value in crown(spring, corner))


@pytest.mark.outside(
    what="miter and bevel of a twelve-sided hopper whose sides slope 78 degrees",
    against="a hopper calculator published on the web: corner 150",
    result="equal to 5 decimals",
)
def test_a_hopper_of_twelve_sides_equals_a_published_calculator():
    """Sides that slope 78 degrees from horizontal lean 12 from plumb; corners of 150 degrees (hopper calculator)."""
    assert (3.18864, 14.66478) == tuple(round(value, 5) for value in crown(90 - 78, 150))


@pytest.mark.outside(
    what="miter and bevel at spring 45, corners 90 and 45",
    against="the formula of S. Snyder and A. Gottesman, Compound-Angle Joinery, 2014, worked out",
    result="equal to 4 decimals",
)
@pytest.mark.parametrize(("corner", "miter", "bevel"), [(90, 35.2644, 30.0), (45, 59.6388, 40.7895)])
def test_spring_45_is_as_calculated(corner, miter, bevel):
    """Calculated from the published formula: miter atan(sin 45 / tan(C / 2)), bevel asin(cos 45 cos(C / 2))."""
    assert (miter, bevel) == tuple(round(value, 4) for value in crown(45, corner))


# Common woodworking tables: each cut of a regular polygon of N sides is 180 / N from square.
POLYGON = {4: 45.0, 5: 36.0, 6: 30.0, 8: 22.5, 12: 15.0}


@pytest.mark.outside(
    what="cuts of rings of 4, 5, 6, 8 and 12 sides",
    against="common practice: woodworking tables for polygons, 180 / N degrees from square",
    result="equal to 4 decimals",
)
@pytest.mark.parametrize("sides", POLYGON)
def test_cuts_of_a_regular_polygon_equal_the_common_table(drawing_of, build, sides):
    """A ring of N ells drawn with 5 m sides is cut N x 2 times, each at the angle of the table."""
    radius = 2.5 / sin(radians(180 / sides))
    ring = [(radius * cos(radians(360 * i / sides)), radius * sin(radians(360 * i / sides))) for i in range(sides + 1)]
    limit = {"drawing.bend_limit_deg": 10}
    network = build(drawing_of(ring, joint="slab"), bend_limit_deg=10)
    schedule = plan([network], load_rules(None, options=limit), job="polygon")

    assert {POLYGON[sides]} == {round(abs(cut.miter_deg), 4) for cut in schedule.cuts}
    assert 2 * sides == sum(cut.quantity for cut in schedule.cuts)
