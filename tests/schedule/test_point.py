"""Points: faces of cuts, against a second method that knows no bisecting plane: where the edges of strips meet."""

from itertools import product
from math import atan2, cos, degrees, hypot, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from splicewright.schedule.point import Section, face_of, offset_m
from splicewright.schedule.seam import Strip, find_seams, set_saw

SECTION = Section(0.24, 0.012)
UP = (0.0, 0.0, 1.0)


def flat(angle_deg, profile="a"):
    """Make strip in plan, its width level."""
    a = radians(angle_deg)
    return Strip((cos(a), sin(a), 0.0), (-sin(a), cos(a), 0.0), profile)


def upright(angle_deg, profile="a"):
    """Make strip in plan, its width plumb."""
    a = radians(angle_deg)
    return Strip((cos(a), sin(a), 0.0), UP, profile)


def turned(strip, rotation):
    """Turn a strip in space."""
    return Strip(tuple(rotation.apply(strip.heading)), tuple(rotation.apply(strip.across)), strip.profile)


def edge(strip, y, z):
    """Return one edge of a strip, as an offset from its centreline."""
    heading, wide = np.array(strip.heading), np.array(strip.across)
    return wide * y + np.cross(heading, wide) * z


def crossing(strip, offset, other, offset_2):
    """Return the way along one edge of a strip to where an edge of another comes nearest, and their distance."""
    ahead, along = np.array(strip.heading), np.array(other.heading)
    ways = np.linalg.lstsq(np.array([ahead, -along]).T, offset_2 - offset, rcond=None)[0]
    return ways[0], np.linalg.norm(offset + ways[0] * ahead - offset_2 - ways[1] * along)


def corners_by_edges(strip, other):
    """Find where the four edges of one strip meet edges of the other: places (along, across, through).

    Inner edges meet inner ones and outer ones outer: an edge lies as far to the side of the other strip as that one's
    edge lies to its own.
    """
    places = []
    for y, z in SECTION.corners():
        offset = edge(strip, y, z)
        lies = float(offset @ other.heading)
        fits = [edge(other, *end) for end in SECTION.corners()]
        fits = [end for end in fits if abs(float(end @ strip.heading) - lies) < 1e-9]
        along, gap = min((crossing(strip, offset, other, end) for end in fits), key=lambda way: way[1])
        assert gap < 1e-9
        places.append((along, y, z))
    return np.array(places)


def setting_of(places):
    """Read miter and bevel off the plane through places."""
    slope = np.linalg.lstsq(places[:, 1:], places[:, 0], rcond=None)[0]
    miter = atan2(-slope[0], 1)
    return degrees(miter), degrees(atan2(-slope[1] * cos(miter), 1))


@pytest.mark.parametrize("lay", [flat, upright])
@pytest.mark.parametrize("turn_deg", range(1, 180))
def test_ells_of_every_angle_agree_with_the_edges_that_meet(lay, turn_deg):
    r"""
    Long point, short point and setting of ells of 1 to 179 degrees are where the edges of two strips cross.

        \  /  <- edges cross inside and outside
         \/
    """
    strip, other = lay(0), lay(turn_deg)
    places = corners_by_edges(strip, other)

    face = face_of(strip, other, [], SECTION)
    setting = set_saw(strip, other, twist_limit_deg=15)

    assert (places[:, 0].min(), places[:, 0].max()) == pytest.approx((face.near_m, face.far_m), rel=1e-6, abs=1e-9)
    assert setting_of(places) == pytest.approx((setting.miter_deg, setting.bevel_deg), abs=1e-6)


@pytest.mark.parametrize("spring_deg", [10, 38, 45, 52, 80])
@pytest.mark.parametrize("turn_deg", [30, 90, 135, 170])
def test_compound_ells_agree_with_the_edges_that_meet(spring_deg, turn_deg):
    """Strip that leans against two walls, as a crown moulding does: miter and bevel are where its edges cross."""
    s, a = radians(spring_deg), radians(turn_deg)
    strip = Strip((1.0, 0.0, 0.0), (0.0, sin(s), cos(s)), "a")
    other = Strip((cos(a), sin(a), 0.0), (sin(s) * sin(a), -sin(s) * cos(a), cos(s)), "a")
    places = corners_by_edges(strip, other)

    face = face_of(strip, other, [], SECTION)
    setting = set_saw(strip, other, twist_limit_deg=15)

    assert (places[:, 0].min(), places[:, 0].max()) == pytest.approx((face.near_m, face.far_m))
    assert setting_of(places) == pytest.approx((setting.miter_deg, setting.bevel_deg))


def solid_near_far(arm, other, strips, steps=41):
    """Cut a strip up into threads and find, thread by thread, from where on it is nearer to its own heading."""
    strip = strips[arm]
    heading, wide = np.array(strip.heading), np.array(strip.across)
    through = np.cross(heading, wide)
    headings = np.array([one.heading for one in strips])
    ends = []
    for y, z in product(np.linspace(-0.12, 0.12, steps), np.linspace(-0.006, 0.006, 5)):
        base = wide * y + through * z
        low, high = -3.0, 3.0
        for _ in range(60):  # halve the stretch in which the thread changes from one strip's space to another's
            middle = (low + high) / 2
            mine = np.argmax(headings @ (base + middle * heading)) == arm
            low, high = (low, middle) if mine else (middle, high)
        shares = headings @ (base + (low - 1e-9) * heading)
        if abs(shares[other] - max(shares)) < 1e-7:
            ends.append(high)
    return min(ends), max(ends)


NODES = {
    "tee": (0, 90, 180),
    "skew tee": (0, 37, 180),
    "cross": (0, 90, 180, 270),
    "skew cross": (0, 62, 180, 242),
    "wye": (0, 120, 240),
    "uneven wye": (0, 100, 215),
    "wye with a gap over 180": (0, 60, 120),
    "narrow wye": (0, 25, 70),
    "four arms with a gap over 180": (0, 35, 80, 130),
    "five arms": (0, 72, 144, 216, 288),
}


@pytest.mark.parametrize("lay", [flat, upright])
@pytest.mark.parametrize("name", NODES)
def test_tees_crosses_and_wyes_agree_with_the_solid_strips(lay, name):
    """
    Every cut begins and ends where the threads of the solid strip leave its own space for that of the other.

        --+--
          |
    """
    strips = [lay(angle) for angle in NODES[name]]
    seams = find_seams(strips, bend_limit_deg=15, through_whole=True)
    for pair in seams.mitred:
        for arm, other in (pair, pair[::-1]):
            beside = [strips[k] for k in seams.partners(arm) if k != other]
            face = face_of(arm_of := strips[arm], strips[other], beside, SECTION)

            assert arm_of is strips[arm]
            assert solid_near_far(arm, other, strips) == pytest.approx((face.near_m, face.far_m), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    angles=st.lists(st.integers(0, 35), min_size=2, max_size=6, unique=True),
    turn=st.tuples(*[st.floats(-3, 3)] * 3),
    lay=st.sampled_from([flat, upright]),
)
def test_turning_in_space_changes_no_face_and_no_setting(angles, turn, lay):
    """A node turned anyhow in space has the same seams, faces and settings."""
    here = [lay(10.0 * angle) for angle in angles]
    there = [turned(strip, Rotation.from_rotvec(turn)) for strip in here]

    def described(strips):
        seams = find_seams(here, bend_limit_deg=15, through_whole=True)
        found = []
        for one, two in seams.mitred:
            beside = [strips[k] for k in seams.partners(one) if k != two]
            face = face_of(strips[one], strips[two], beside, SECTION)
            setting = set_saw(strips[one], strips[two], twist_limit_deg=15)
            found += [*setting, *(face or ())]
        return found

    assert described(here) == pytest.approx(described(there), abs=1e-6, rel=1e-6)


@settings(max_examples=80, deadline=None)
@given(gaps=st.lists(st.integers(4, 80), min_size=3, max_size=6), lay=st.sampled_from([flat, upright]))
def test_both_faces_of_a_seam_are_equal(gaps, lay):
    """Wherever the arms stand, the two faces of every seam have one area and one length."""
    angles = [360.0 * sum(gaps[:i]) / sum(gaps) for i in range(len(gaps))]
    strips = [lay(angle) for angle in angles]
    seams = find_seams(strips, bend_limit_deg=5, through_whole=True)
    for one, two in seams.mitred:
        a, b = (
            face_of(strips[i], strips[j], [strips[k] for k in seams.partners(i) if k != j], SECTION)
            for i, j in ((one, two), (two, one))
        )

        assert (a is None) == (b is None)
        assert a is None or (a.area_m2, a.length_m) == pytest.approx((b.area_m2, b.length_m))


def test_the_face_of_a_right_angled_flat_ell():
    """At 45 degrees a strip 0.24 m wide and 12 mm thick is cut over 0.24 x root 2 by 12 mm."""
    face = face_of(flat(0), flat(90), [], SECTION)

    assert (0.24 * hypot(1, 1), 0.24 * hypot(1, 1) * 0.012) == pytest.approx((face.length_m, face.area_m2))


def test_strips_of_other_widths_stand_out_of_line_by_half_the_difference():
    """Edges of strips 0.24 and 0.20 m wide in one plane miss each other by 20 mm, alike ones by nothing."""
    narrow = Section(0.20, 0.012)

    assert pytest.approx(0.020) == offset_m(flat(0), flat(90), SECTION, narrow)
    assert pytest.approx(0.0, abs=1e-12) == offset_m(flat(0), flat(90), SECTION, SECTION)


def test_twisted_strips_stand_out_of_line_by_the_twist():
    """Strip that leans 3 degrees against its neighbour has its edge 2 x 120 x sin 1.5 degrees out of line."""
    lean = radians(3)
    leaning = Strip((0.0, 1.0, 0.0), (cos(lean), 0.0, sin(lean)), "a")

    assert pytest.approx(0.24 * sin(radians(1.5))) == offset_m(flat(0), leaning, SECTION, SECTION)


def test_without_a_lay_there_is_no_face():
    """Strip whose lay nobody knows has no face and no offset."""
    unknown = Strip((0.0, 1.0, 0.0), None, "a")

    assert face_of(unknown, flat(0), [], SECTION) is None
    assert offset_m(flat(0), unknown, SECTION, SECTION) is None


def test_the_tip_of_a_point_lies_on_the_node():
    """A stem pointed between two neighbours begins at the node and ends at the edges of the through piece."""
    stem, east, west = flat(90), flat(0), flat(180)
    face = face_of(stem, east, [west], SECTION)

    assert (0.0, 0.12 * tan(radians(45))) == pytest.approx((face.near_m, face.far_m))
