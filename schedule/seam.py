"""Seams and saw settings: how two strips are cut to meet on the plane that bisects them."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import asin, atan2, cos, degrees, pi, radians, sin, tau
from typing import NamedTuple

from splicewright.extract.line import Vector

from .vector import angle_deg, cross, dot, minus, plus, times, unit

__all__ = ["Cut", "SawSetting", "Seams", "Strip", "find_seams", "set_saw"]

_SLACK_DEG = 0.1
"""Slack of the bend limit, the same as the node rules grant, so that both see the same pairs in line."""

_SLIVER = 1e-3
"""Two arms are neighbours only if they share more of the sphere of directions than a sliver this wide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """One mitred saw cut on one piece of a fitting type.

    Attributes
    ----------
    mark : str
        ``"<fitting mark>-<number>"``, the same for every identical fitting.
    fitting : str
        Mark of the fitting type; where nodes are welded in place, mark of the node.
    piece : str
        Letter of the piece within the fitting, ``"A"``, ``"B"``…
    shape : str
        ``"end"`` (the whole end is one cut), ``"point"`` (one of the cuts of a pointed end) or ``"notch"`` (one of
        the two cuts of a V notch in a through piece).
    turn_deg : float
        Angle between the two strips that meet on the seam [degrees], 0 to 180, measured between their headings.
    miter_deg, bevel_deg : float or None
        Saw settings from square, -90 to 90, with the piece flat on the table along the fence, face up and its left end
        to the left: a positive miter swings the front of the blade to the right, a positive bevel tilts its top to
        the left. None where the drawing does not say how the strip lies, or where the two strips share no plane to be
        cut on.
    quantity : int
        Number of such cuts in all fittings of the type, >= 1.
    profile : str
        Profile of the piece.
    end : str
        End of the piece: ``"left"``, ``"right"`` or, for a notch, ``"inside"``.
    part : str
        Part of the section that the cut runs through: ``"all"``, ``"fence half"``, ``"front half"``,
        ``"upper half"`` or ``"lower half"``; "" where the lay is not known.
    meets : str
        Letter of the piece that it is welded to.
    at_m : float
        Where the cut crosses the centreline, measured from the left end along the centreline [m].
    long_m, short_m : float or None
        Long point and short point: greatest and least distance of the cut from the far end of the piece, there
        measured on the centreline; of a notch from the left end [m]. None where the lay is not known, and where
        strips are welded in place and no piece has a length of its own.
    """

    mark: str
    fitting: str
    piece: str
    shape: str
    turn_deg: float
    miter_deg: float | None
    bevel_deg: float | None
    quantity: int
    profile: str = ""
    end: str = "right"
    part: str = ""
    meets: str = ""
    at_m: float = 0.0
    long_m: float | None = None
    short_m: float | None = None


class Strip(NamedTuple):
    """One strip leaving a node, as the saw sees it.

    Attributes
    ----------
    heading : Vector
        Unit vector away from the node.
    across : Vector or None
        Unit vector over the width, either sense; None where not known.
    profile : str
        Name of the profile.
    """

    heading: Vector
    across: Vector | None
    profile: str


class SawSetting(NamedTuple):
    """Saw angles from square [degrees], -90 to 90."""

    miter_deg: float
    bevel_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Seams:
    """How the strips of one node are put together; strips are named by their position among the arms.

    Attributes
    ----------
    whole : tuple of int or None
        The two arms that stay one piece.
    mitred : tuple of (int, int)
        Pairs of arms that meet on their bisecting plane.
    square : tuple of (int, int)
        Pairs of arms in line that meet on a square cut.
    """

    whole: tuple[int, int] | None
    mitred: tuple[tuple[int, int], ...]
    square: tuple[tuple[int, int], ...]

    @property
    def count(self) -> int:
        """Number of seams."""
        return len(self.mitred) + len(self.square)

    def partners(self, arm: int) -> tuple[int, ...]:
        """Return the arms that share the end of one arm: those it is welded to, and the rest of its whole piece."""
        whole = () if self.whole is None else (self.whole,)
        pairs = (*self.mitred, *self.square, *whole)
        return tuple(pair[1] if pair[0] == arm else pair[0] for pair in pairs if arm in pair)

    def parted(self) -> "Seams":
        """Return the same with the whole piece cut square at the node."""
        return self if self.whole is None else replace(self, whole=None, square=(*self.square, self.whole))


def find_seams(strips: Sequence[Strip], *, bend_limit_deg: float, through_whole: bool) -> Seams:
    """Find the seams of one node.

    1. Two arms within the bend limit of a straight line, of one profile and one lay, may be one whole piece; of
       several such pairs the straightest is, of equally straight ones the first.
    2. Arms in one plane (within the bend limit) are sorted round the node; each gap between neighbours is one mitred
       seam. Where three or more arms leave a gap of more than 180 degrees, the outer two meet behind the node: cut to
       the arms between them only, they would lie on one another there.
    3. Arms that span space are neighbours where some direction lies nearer to the two of them than to all others:
       where their cells of the sphere of directions, cut up by nearest arm, share a border. In a plane this is rule 2.
    4. Neighbours in line that are not one whole piece meet on a square seam.

    Parameters
    ----------
    strips : sequence of Strip
        Two or more, no two with the same heading.
    bend_limit_deg : float
        The strip bends through turns up to this without a cut [degrees], 0 to 90.
    through_whole : bool
        Whether a through piece stays whole.

    Returns
    -------
    Seams

    Examples
    --------
    A tee: the through piece stays whole, the stem meets it with two seams.

    >>> tee = [Strip((1, 0, 0), None, "a"), Strip((0, 1, 0), None, "a"), Strip((-1, 0, 0), None, "a")]
    >>> seams = find_seams(tee, bend_limit_deg=15, through_whole=True)
    >>> seams.whole, seams.mitred, seams.square
    ((0, 2), ((0, 1), (1, 2)), ())
    """
    limit_deg = bend_limit_deg + _SLACK_DEG
    headings = [strip.heading for strip in strips]
    straight = {
        pair: bend
        for pair in combinations(range(len(strips)), 2)
        if (bend := 180 - angle_deg(headings[pair[0]], headings[pair[1]])) <= limit_deg
    }
    whole = _choose_whole(strips, straight, limit_deg) if through_whole else None  # RULE 1
    mitred, square = [], []
    for pair in _neighbours(headings, limit_deg):
        if pair not in straight:
            mitred.append(pair)
        elif pair != whole:  # RULE 4
            square.append(pair)
    return Seams(whole=whole, mitred=tuple(mitred), square=tuple(square))


def set_saw(strip: Strip, other: Strip, *, twist_limit_deg: float) -> SawSetting | None:
    """Set the saw for the cut on one strip where it meets another.

    The cut lies in the plane that bisects the two; with m its unit normal pointing along the strip, miter =
    atan(m_across / m_along) and bevel = asin(m_through), where through = along x across.

    Parameters
    ----------
    strip, other : Strip
        The strip to cut and the one it meets.
    twist_limit_deg : float
        How far the two lays may differ, seen in the bisecting plane as in a mirror [degrees], 0 to 90.

    Returns
    -------
    SawSetting or None
        None where a lay is not known, or where the cut ends would not match because the strips share no plane.

    Examples
    --------
    A flat ell of 90 degrees:

    >>> setting = set_saw(Strip((1, 0, 0), (0, -1, 0), "a"), Strip((0, 1, 0), (1, 0, 0), "a"), twist_limit_deg=15)
    >>> round(setting.miter_deg, 9), round(setting.bevel_deg, 9)
    (45.0, 0.0)
    """
    normal = unit(minus(strip.heading, other.heading))
    if strip.across is None or other.across is None or normal is None:
        return None
    across = unit(minus(strip.across, times(strip.heading, dot(strip.across, strip.heading))))
    if across is None:
        return None
    mirrored = minus(across, times(normal, 2 * dot(across, normal)))
    if abs(dot(mirrored, other.across)) < cos(radians(twist_limit_deg + _SLACK_DEG)):
        return None
    through = cross(strip.heading, across)
    miter = atan2(dot(normal, across), dot(normal, strip.heading))
    return SawSetting(degrees(miter), degrees(asin(max(-1.0, min(1.0, dot(normal, through))))))


def _choose_whole(
    strips: Sequence[Strip], straight: dict[tuple[int, int], float], limit_deg: float
) -> tuple[int, int] | None:
    alike = [(round(bend, 3), pair) for pair, bend in straight.items() if _same_strip(*pair, strips, limit_deg)]
    return min(alike)[1] if alike else None


def _same_strip(one: int, two: int, strips: Sequence[Strip], limit_deg: float) -> bool:
    a, b = strips[one], strips[two]
    if a.profile != b.profile:
        return False
    return a.across is None or b.across is None or abs(dot(a.across, b.across)) >= cos(radians(limit_deg))


def _neighbours(headings: Sequence[Vector], limit_deg: float) -> Iterator[tuple[int, int]]:
    normal = _common_normal(headings, limit_deg)
    if normal is None:
        return _spatial_neighbours(headings, limit_deg)  # RULE 3
    return _planar_neighbours(headings, normal)  # RULE 2


def _common_normal(headings: Sequence[Vector], limit_deg: float) -> Vector | None:
    """Return the normal of the plane that all arms lie in, or None where they span space."""
    crosses = [cross(headings[0], heading) for heading in headings[1:]]
    normal = unit(max(crosses, key=lambda c: dot(c, c)))
    if normal is None:
        return None
    most = sin(radians(limit_deg))
    return normal if all(abs(dot(normal, heading)) <= most for heading in headings) else None


def _planar_neighbours(headings: Sequence[Vector], normal: Vector) -> Iterator[tuple[int, int]]:
    east = headings[0]
    north = cross(normal, east)
    others = enumerate(headings[1:], start=1)
    turned = [(0.0, 0), *sorted((atan2(dot(h, north), dot(h, east)) % tau, i) for i, h in others)]
    for (angle, i), (after, j) in zip(turned, [*turned[1:], (tau, turned[0][1])], strict=True):
        if after - angle < pi or len(headings) > 2:
            yield (i, j) if i < j else (j, i)


def _spatial_neighbours(headings: Sequence[Vector], limit_deg: float) -> Iterator[tuple[int, int]]:
    for i, j in combinations(range(len(headings)), 2):
        others = [h for k, h in enumerate(headings) if k not in (i, j)]
        if 180 - angle_deg(headings[i], headings[j]) <= limit_deg:
            meets = _open_side(headings[i], others)
        else:
            meets = _share_border(headings[i], headings[j], others)
        if meets:
            yield (i, j)


def _share_border(a: Vector, b: Vector, others: Sequence[Vector]) -> bool:
    """Tell whether some direction lies nearer to both arms than to all others.

    Directions equally near to both form the circle through their bisector u and v, square to both arms; each other arm
    leaves a half of it, whose middle is known.
    """
    bisector, axis = unit(plus(a, b)), unit(cross(a, b))
    if bisector is None or axis is None:
        return False
    near = dot(a, bisector)
    return _leave_room(atan2(-dot(axis, other), near - dot(bisector, other)) for other in others)


def _open_side(along: Vector, others: Sequence[Vector]) -> bool:
    """Tell whether the other arms leave more than half of the way round a straight piece free."""
    east = unit(minus(others[0], times(along, dot(others[0], along)))) if others else None
    if east is None:
        return True
    north = cross(along, east)
    return _leave_room(atan2(dot(other, north), dot(other, east)) + pi for other in others)


def _leave_room(middles: Iterable[float]) -> bool:
    """Tell whether half circles with these middles have more than a sliver of the circle in common."""
    turned = sorted(middle % tau for middle in middles)
    gaps = (after - angle for angle, after in zip(turned, [*turned[1:], turned[0] + tau], strict=True))
    return max(gaps) > pi + _SLIVER
