"""Bend: runs that turn more tightly than their strip can follow."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from math import pi, radians
from typing import NamedTuple

from splicewright.extract.finding import Finding, Severity
from splicewright.extract.line import Vector

from .profile import Profile
from .rules import Rules
from .stretch import Stretch
from .vector import angle_deg, cross, dot, minus, plus, times, unit

__all__ = ["Bend", "carry", "find_bends", "find_tight_bends"]


class Bend(NamedTuple):
    """One bend of a run that turns by more than the bend limit.

    Attributes
    ----------
    radius_m : float
        Radius [m].
    at_m : Vector
        Where it begins [m].
    flat : bool or None
        Whether it turns within the strip's own plane (True) or over its width (False); None where not known.
    """

    radius_m: float
    at_m: Vector
    flat: bool | None


def find_tight_bends(stretches: Iterable[Stretch], rules: Rules) -> Iterator[Finding]:
    """Report the runs that bend more tightly than their profile allows; profiles that state no radius are not judged.

    Parameters
    ----------
    stretches : iterable of Stretch
    rules : Rules
        Least radii, and the turn that needs none.

    Yields
    ------
    Finding
        ``tight-bend``, at most one a run, at the place furthest below what is allowed.
    """
    for stretch in stretches:
        profile, run = rules.profiles[stretch.profile], stretch.run
        radii = [r for r in (profile.least_bend_radius_flat_m, profile.least_bend_radius_vertical_m) if r]
        if not radii or len(run.points_m) < 3:
            continue
        bends = find_bends(
            run.points_m.tolist(), run.across[0], limit_deg=rules.drawing.bend_limit_deg, largest_m=max(radii)
        )
        tight = [(bend.radius_m / least_m, bend, least_m) for bend in bends if (least_m := _least(profile, bend.flat))]
        share, bend, least_m = min(tight, default=(1.0, None, 0.0), key=lambda entry: entry[0])
        if bend and share < 1 - 1e-6:
            yield _finding(stretch, bend, least_m)


def find_bends(
    points: Sequence[Sequence[float]], across: Vector | None, *, limit_deg: float, largest_m: float
) -> Iterator[Bend]:
    """Find where a polyline turns by more than a limit within a short way.

    From every vertex the bend goes on to the first vertex past which the line has turned by more than the limit; its
    radius is the way over the turn. Each vertex counts for as much way as the shorter of the two sides that meet
    there, so that a flattened arc gives its own radius.

    Parameters
    ----------
    points : sequence of (x, y, z)
        Vertices [m].
    across : Vector or None
        Unit vector over the strip's width at the first vertex.
    limit_deg : float
        Turn that the strip takes without a radius [degrees].
    largest_m : float
        Radius above which a bend is of no interest [m].

    Yields
    ------
    Bend
    """
    places = [(p[0], p[1], p[2]) for p in points]
    sides = [side for a, b in pairwise(places) if (side := minus(b, a)) != (0.0, 0.0, 0.0)]
    sizes = [dot(side, side) ** 0.5 for side in sides]
    headings = [times(side, 1 / size) for side, size in zip(sides, sizes, strict=True)]
    widths = list(carry(across, headings))
    at = places[0]
    for first in range(len(sides) - 1):
        at = plus(at, sides[first])
        way_m = 0.0
        for last in range(first, len(sides) - 1):
            way_m += sizes[last] if last > first else 0.0
            if way_m > largest_m * pi:
                break
            turn_deg = angle_deg(headings[first], headings[last + 1])
            if turn_deg > limit_deg:
                ends_m = (min(sizes[first : first + 2]) + min(sizes[last : last + 2])) / 2
                flat = _is_flat(headings[first], headings[last + 1], widths[first])
                yield Bend((way_m + ends_m) / radians(turn_deg), at, flat)
                break


def carry(across: Vector | None, headings: Sequence[Vector]) -> Iterator[Vector | None]:
    """Carry the width along a line without twisting the strip.

    Parameters
    ----------
    across : Vector or None
        Unit vector over the width at the beginning; None where not known.
    headings : sequence of Vector
        Unit vectors along the line, side by side.

    Yields
    ------
    Vector or None
        The width on every side; one more than there are turns.
    """
    yield across
    for before, after in pairwise(headings):
        if across:
            across = _turned(across, before, after)
        yield across


def _turned(vector: Vector, before: Vector, after: Vector) -> Vector:
    """Turn a vector by the smallest turn that brings one heading onto another (less than a half turn)."""
    axis, cosine = cross(before, after), dot(before, after)
    if cosine <= -1 + 1e-9:
        return vector
    lifted = plus(times(vector, cosine), cross(axis, vector))
    return plus(lifted, times(axis, dot(axis, vector) / (1 + cosine)))


def _is_flat(before: Vector, after: Vector, across: Vector | None) -> bool | None:
    axis = unit(cross(before, after))
    if across is None or axis is None:
        return None
    return abs(dot(axis, cross(before, across))) > abs(dot(axis, across))


def _least(profile: Profile, flat: bool | None) -> float:  # noqa: FBT001 (three answers, not a switch)
    """Return the least radius that holds [m]; the larger where the drawing does not tell, 0 where there is none."""
    flat_m, vertical_m = profile.least_bend_radius_flat_m or 0.0, profile.least_bend_radius_vertical_m or 0.0
    if flat is None:
        return max(flat_m, vertical_m)
    return flat_m if flat else vertical_m


def _finding(stretch: Stretch, bend: Bend, least_m: float) -> Finding:
    how = {True: "within its plane ", False: "over its width ", None: ""}[bend.flat]
    return Finding(
        code="tight-bend",
        severity=Severity.WARNING,
        message=(
            f"Run {stretch.run.mark} bends {how}with a radius of {bend.radius_m:.2f} m, less than the {least_m:.2f} m "
            f"that profile {stretch.profile!r} allows: draw a wider bend or a corner."
        ),
        at_m=bend.at_m,
        sources=stretch.run.sources[:1],
    )
