"""Points: where a mitred cut leaves the strip: long point, short point, and the face that the two strips share.

At a node every strip keeps what lies nearer to its own heading than to that of any strip it meets. Seen in the frame of
one strip (x along it away from the node, y across, z through), the cut toward another strip is the plane x = p y + q z,
and the end of the strip is the highest of these planes over its section.
"""

from collections.abc import Sequence
from math import sqrt
from typing import NamedTuple, TypeAlias

from splicewright.extract.line import Vector

from .profile import Profile
from .seam import Strip
from .vector import cross, dot, minus, times, unit

__all__ = ["CutFace", "Section", "face_of", "offset_m", "slopes_of"]

_Place: TypeAlias = tuple[float, float]


class Section(NamedTuple):
    """The rectangle around a strip's section [m]."""

    width_m: float
    thickness_m: float

    @classmethod
    def of(cls, profile: Profile) -> "Section":
        """Return the section of a profile."""
        return cls(profile.width_m, profile.thickness_m)

    def corners(self) -> list[_Place]:
        """Return its corners, counter-clockwise, as places across and through."""
        y, z = self.width_m / 2, self.thickness_m / 2
        return [(-y, -z), (y, -z), (y, z), (-y, z)]


class CutFace(NamedTuple):
    """The face that one saw cut leaves on a strip.

    Attributes
    ----------
    near_m, far_m : float
        Where it begins and ends along the strip, measured from the node along the centreline [m]; negative beyond the
        node.
    area_m2 : float
        Its area [m2].
    length_m : float
        Its extent over the width of the strip, in its own plane [m].
    across_m, through_m : float
        Middle of the part of the section that the cut runs through [m], from the middle of the strip.
    """

    near_m: float
    far_m: float
    area_m2: float
    length_m: float
    across_m: float
    through_m: float


def face_of(strip: Strip, other: Strip, beside: Sequence[Strip], section: Section) -> CutFace | None:
    """Find the face that the cut toward another strip leaves on one strip.

    Parameters
    ----------
    strip, other : Strip
        The strip to cut, and the one it meets.
    beside : sequence of Strip
        The other strips that share its end: each takes what lies nearer to it.
    section : Section
        Of the strip to cut.

    Returns
    -------
    CutFace or None
        None where the lay is not known, or where nothing is left for the two to meet on.

    Examples
    --------
    A flat ell of 90 degrees of strip 0.2 m wide: from 0.1 m beyond the node to 0.1 m before it.

    >>> east, north = Strip((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "a"), Strip((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), "a")
    >>> face = face_of(east, north, [], Section(0.2, 0.01))
    >>> round(face.near_m, 9), round(face.far_m, 9), round(face.length_m, 6)
    (-0.1, 0.1, 0.282843)
    """
    slopes = slopes_of(strip, [other, *beside])
    if slopes is None:
        return None
    p, q = slopes[0]
    region = section.corners()
    for r, s in slopes[1:]:
        region = _clipped(region, p - r, q - s)
    area_m2, across_m, through_m = _middle(region)
    if area_m2 < 1e-12:
        return None
    rises = [p * y + q * z for y, z in region]
    tilt = sqrt(1 + p * p + q * q)
    # In the cut's plane the width runs along (p, 1, 0) less its share of the plane's normal; both lie in the plane.
    wide = unit((p, 1.0 + q * q, -p * q)) or (0.0, 1.0, 0.0)
    spread = [dot(wide, (rise, y, z)) for rise, (y, z) in zip(rises, region, strict=True)]
    return CutFace(min(rises), max(rises), area_m2 * tilt, max(spread) - min(spread), across_m, through_m)


def slopes_of(strip: Strip, others: Sequence[Strip]) -> list[tuple[float, float]] | None:
    """Find how the planes run on which one strip meets others.

    Parameters
    ----------
    strip : Strip
        The strip to cut.
    others : sequence of Strip
        The strips it meets.

    Returns
    -------
    list of (float, float) or None
        How far each plane runs along the strip for each metre across it and through it; None where the lay is not
        known.
    """
    across = _square(strip)
    if across is None:
        return None
    through = cross(strip.heading, across)
    slopes = []
    for other in others:
        normal = minus(strip.heading, other.heading)
        along = dot(normal, strip.heading)
        slopes.append((-dot(normal, across) / along, -dot(normal, through) / along))
    return slopes


def offset_m(one: Strip, two: Strip, first: Section, second: Section) -> float | None:
    """Find how far the edges and ribs of two strips stand out of line on their seam.

    One section, seen in the bisecting plane as in a mirror, must lie on the other.

    Parameters
    ----------
    one, two : Strip
        The strips that meet.
    first, second : Section
        Their sections.

    Returns
    -------
    float or None
        Largest distance between edges that should meet [m]; None where a lay is not known.

    Examples
    --------
    Strips 0.2 m and 0.3 m wide in one plane: their edges miss each other by 0.05 m.

    >>> east, north = Strip((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), "a"), Strip((0.0, 1.0, 0.0), (1.0, 0.0, 0.0), "b")
    >>> round(offset_m(east, north, Section(0.2, 0.01), Section(0.3, 0.01)), 9)
    0.05
    """
    normal = unit(minus(one.heading, two.heading))
    if one.across is None or two.across is None or normal is None:
        return None
    image = minus(one.across, times(normal, 2 * dot(one.across, normal)))
    other = two.across if dot(image, two.across) >= 0 else times(two.across, -1.0)
    gap = minus(times(image, first.width_m / 2), times(other, second.width_m / 2))
    return max(sqrt(dot(gap, gap)), abs(first.thickness_m - second.thickness_m) / 2)


def _square(strip: Strip) -> Vector | None:
    if strip.across is None:
        return None
    return unit(minus(strip.across, times(strip.heading, dot(strip.across, strip.heading))))


def _clipped(region: Sequence[_Place], p: float, q: float) -> list[_Place]:
    """Keep the part of a convex region where p y + q z is not negative; planes that agree leave it whole."""
    if abs(p) < 1e-9 and abs(q) < 1e-9:
        return list(region)
    kept: list[_Place] = []
    for (ay, az), (by, bz) in zip(region, [*region[1:], *region[:1]], strict=True):
        a, b = p * ay + q * az, p * by + q * bz
        if a >= 0:
            kept.append((ay, az))
        if a * b < 0:
            share = a / (a - b)
            kept.append((ay + share * (by - ay), az + share * (bz - az)))
    return kept


def _middle(region: Sequence[_Place]) -> tuple[float, float, float]:
    """Return the area of a convex region, and its middle across and through."""
    double = across = through = 0.0
    for (ay, az), (by, bz) in zip(region, [*region[1:], *region[:1]], strict=True):
        share = ay * bz - by * az
        double, across, through = double + share, across + share * (ay + by), through + share * (az + bz)
    if abs(double) < 1e-15:
        return 0.0, 0.0, 0.0
    return abs(double) / 2, across / (3 * double), through / (3 * double)
