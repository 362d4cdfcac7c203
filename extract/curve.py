"""Curves: arcs, bulged polylines and splines flattened into vertices, under any affine map."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .line import Points

__all__ = ["CHORD_TURN_DEG", "Shape", "flatten_arc", "flatten_polyline", "flatten_spline", "map_points"]

CHORD_TURN_DEG = 0.2
"""Largest turn of the tangent along one chord [degrees].

A chord over a turn t [rad] of a circle is shorter than its arc by t squared / 24, here 5.1e-7, and leaves the
tangents at its ends by t / 2, here 0.1 degree.
"""

_STEP = math.radians(CHORD_TURN_DEG)
_FINEST_CHORD = 1e-7
"""Chords of a spline shorter than this part of its length are not split further: what turns there is a cusp."""
_MOST_VERTICES = 200_000

Matrix = NDArray[np.float64]
"""Affine map for row vectors, shape (4, 4): the last row holds the shift."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """A flattened line.

    Attributes
    ----------
    points : Points
        Vertices, shape (n, 3), no two neighbours equal; in the unit of what was flattened.
    drawn : NDArray[np.intp] or None
        Sorted indices of the vertices the drafter set; None means every one.
    at : NDArray[np.float64] or None
        The curve's own parameter at each vertex, rising, where that is known, shape (n,).
    """

    points: Points
    drawn: NDArray[np.intp] | None = None
    at: NDArray[np.float64] | None = None


def map_points(points: Points, matrix: Matrix | None) -> Points:
    """Map points by an affine matrix; None maps nothing."""
    if matrix is None:
        return points
    mapped: Points = points @ matrix[:3, :3] + matrix[3, :3]
    return mapped


def flatten_arc(centre: Points, first: Points, second: Points, start_rad: float, sweep_rad: float) -> Points:
    """Flatten the elliptic arc ``centre + first cos t + second sin t``.

    The two vectors may be any conjugate half-diameters, as an affine map leaves them. Vertices are spread evenly
    over the turn of the tangent, so a slim ellipse gets them where it is sharp.

    Parameters
    ----------
    centre, first, second : Points
        Centre and half-diameters, shape (3,).
    start_rad, sweep_rad : float
        Where t starts, and how far it goes, -2 pi to 2 pi [radians].

    Returns
    -------
    Points
        Shape (n, 3), n >= 2; a whole ellipse ends exactly on its first vertex.

    Examples
    --------
    >>> half = flatten_arc(np.zeros(3), np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), 0.0, math.pi)
    >>> length = float(np.linalg.norm(np.diff(half, axis=0), axis=1).sum())
    >>> abs(length / math.pi - 1) < 1e-6
    True
    """
    t = _parameters(first, second, start_rad, sweep_rad)
    points: Points = centre + np.outer(np.cos(t), first) + np.outer(np.sin(t), second)
    if abs(sweep_rad) >= math.tau * (1 - 1e-12):
        points[-1] = points[0]
    return points


def _parameters(first: Points, second: Points, start: float, sweep: float) -> Points:
    """Spread the parameter so that the tangent turns evenly."""
    square_first, square_second, product = first @ first, second @ second, first @ second
    shift = 0.5 * math.atan2(2 * product, square_first - square_second)
    cosine, sine = math.cos(shift), math.sin(shift)
    major = float(np.linalg.norm(first * cosine + second * sine))
    # A minor axis of nothing would turn the tangent in no time at all: keep the two tips apart by a hair.
    minor = max(float(np.linalg.norm(second * cosine - first * sine)), 1e-6 * major)
    turns = [_lead(angle - shift, major, minor) for angle in (start, start + sweep)]
    count = max(1, math.ceil(abs(turns[1] - turns[0]) / _STEP - 1e-9))
    t = np.array([_lead(turn, minor, major) + shift for turn in np.linspace(turns[0], turns[1], count + 1)])
    t[0], t[-1] = start, start + sweep
    return t


def _lead(angle: float, over: float, under: float) -> float:
    """Turn a parameter into the angle of the normal, or back with the axes exchanged, keeping whole turns."""
    turned = math.atan2(over * math.sin(angle), under * math.cos(angle))
    return angle + math.remainder(turned - angle, math.tau)


def flatten_polyline(
    vertices: Points,
    bulges: Points,
    matrix: Matrix | None,
    *,
    closed: bool,
    made: NDArray[np.bool_] | None = None,
) -> Shape:
    """Flatten a polyline whose segments may be arcs in its own xy plane.

    Parameters
    ----------
    vertices : Points
        Vertices in the polyline's own system, shape (n, 3).
    bulges : Points
        Tangent of a quarter of the sweep of the segment after each vertex, counter-clockwise positive, shape (n,).
    matrix : Matrix or None
        Map from the polyline's own system.
    closed : bool
        Whether a segment leads from the last vertex to the first.
    made : NDArray[np.bool_] or None
        Marks the vertices that a curve fit added, shape (n,); the ends of the line count as drawn all the same.

    Returns
    -------
    Shape
    """
    by_hand = np.ones(len(vertices), dtype=bool) if made is None else ~made
    if closed and len(vertices):
        vertices = np.vstack([vertices, vertices[:1]])
        bulges = np.append(bulges, 0.0)
        by_hand = np.append(by_hand, True)
    ends = map_points(vertices, matrix)
    if closed and len(ends):
        ends[-1] = ends[0]
    by_hand[:1] = by_hand[-1:] = True
    if not bulges[:-1].any():
        return _distinct(ends, None if by_hand.all() else np.flatnonzero(by_hand).astype(np.intp))
    parts, place = [ends[:1]], [0]
    for index, bulge in enumerate(bulges[:-1].tolist()):
        arc = _bulge(vertices[index], vertices[index + 1], bulge, matrix) if bulge else ends[:0]
        parts += [arc, ends[index + 1 : index + 2]]
        place.append(place[-1] + len(arc) + 1)
    return _distinct(np.vstack(parts), np.array(place, dtype=np.intp)[by_hand])


def _bulge(start: Points, end: Points, bulge: float, matrix: Matrix | None) -> Points:
    """Return the vertices inside one bulged segment, its ends left out."""
    chord = end - start
    left = np.array([-chord[1], chord[0], 0.0])
    centre = (start + end) / 2 + left * ((1 - bulge * bulge) / (4 * bulge))
    first = start - centre
    second = np.array([-first[1], first[0], 0.0])
    linear = np.eye(3) if matrix is None else matrix[:3, :3]
    middle = map_points(centre[np.newaxis], matrix)[0]
    return flatten_arc(middle, first @ linear, second @ linear, 0.0, 4 * math.atan(bulge))[1:-1]


def _distinct(points: Points, drawn: NDArray[np.intp] | None) -> Shape:
    """Drop vertices that repeat their neighbour; a kept vertex is drawn when any of those it stands for is."""
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = (points[1:] != points[:-1]).any(axis=1)
    if keep.all():
        return Shape(points=points, drawn=drawn)
    place = np.cumsum(keep) - 1
    return Shape(points=points[keep], drawn=None if drawn is None else np.unique(place[drawn]))


def flatten_spline(
    control: Points,
    knots: Points,
    weights: Points | None,
    degree: int,
    span: tuple[float, float] | None = None,
) -> Shape:
    """Flatten a B-spline, rational where weights are given.

    Parameters
    ----------
    control : Points
        Control points, shape (n, 3), n > degree.
    knots : Points
        Knots in rising order, shape (n + degree + 1,).
    weights : Points or None
        Weights > 0, shape (n,).
    degree : int
        Degree, >= 1.
    span : tuple of float or None
        The part of it between two rising parameters within its knots; None means the whole.

    Returns
    -------
    Shape
        Drawn are its ends and the corners where a knot is repeated `degree` times; the parameter is told.

    Raises
    ------
    ValueError
        The numbers of control points, knots and weights do not fit, or knots fall.
    """
    _check_spline(control, knots, weights, degree)
    scale = np.ones(len(control)) if weights is None else weights
    homogeneous = np.column_stack([control * scale[:, np.newaxis], scale])
    stops, times = np.unique(knots[degree : len(control) + 1], return_counts=True)
    if len(stops) < 2:
        raise ValueError("the spline's knots span nothing")
    low, high = span or (stops[0], stops[-1])
    within = (stops > low) & (stops < high)
    corners = stops[within][times[within] >= degree]
    stops = np.concatenate(([low], stops[within], [high]))
    share = np.arange(2 * degree + 2) / (2 * degree + 2)
    t = np.append((stops[:-1, np.newaxis] + np.diff(stops)[:, np.newaxis] * share).ravel(), stops[-1])
    for _ in range(40):
        points = _evaluate(homogeneous, knots, degree, t)
        coarse = _coarse(points, np.isin(t, corners))
        if not coarse.any() or len(t) > _MOST_VERTICES:
            break
        t = np.sort(np.concatenate([t, (t[:-1][coarse] + t[1:][coarse]) / 2]))
    drawn = np.flatnonzero(np.isin(t, corners) | (t == stops[0]) | (t == stops[-1])).astype(np.intp)
    shape = _distinct(points, drawn)
    moves = np.append(True, (points[1:] != points[:-1]).any(axis=1))
    return Shape(points=shape.points, drawn=shape.drawn, at=t[moves])


def _check_spline(control: Points, knots: Points, weights: Points | None, degree: int) -> None:
    if degree < 1 or len(control) <= degree:
        raise ValueError("the spline has too few control points for its degree")
    if len(knots) != len(control) + degree + 1 or (weights is not None and len(weights) != len(control)):
        raise ValueError("the numbers of the spline's control points, knots and weights do not fit")
    if (np.diff(knots) < 0).any() or (weights is not None and (weights <= 0).any()):
        raise ValueError("the spline's knots fall or its weights are not positive")


def _coarse(points: Points, corner: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Mark the chords beside a vertex at which the line turns too far for a smooth curve."""
    chords = np.diff(points, axis=0)
    length = np.linalg.norm(chords, axis=1)
    across = np.linalg.norm(np.cross(chords[:-1], chords[1:]), axis=1)
    turn = np.arctan2(across, (chords[:-1] * chords[1:]).sum(axis=1))
    sharp = (turn > _STEP) & ~corner[1:-1]
    marked = np.zeros(len(chords), dtype=bool)
    marked[:-1] |= sharp
    marked[1:] |= sharp
    long_enough: NDArray[np.bool_] = length > _FINEST_CHORD * length.sum()
    return marked & long_enough


def _evaluate(homogeneous: Points, knots: Points, degree: int, t: Points) -> Points:
    """Evaluate by de Boor's recurrence, all parameters at once."""
    span = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, len(homogeneous) - 1)
    # A parameter on the last knot belongs to the last span that is not empty.
    span = np.where(t >= knots[len(homogeneous)], np.searchsorted(knots, knots[len(homogeneous)]) - 1, span)
    point = homogeneous[span[:, np.newaxis] + np.arange(-degree, 1)]
    for level in range(1, degree + 1):
        for index in range(degree, level - 1, -1):
            low = knots[span + index - degree]
            width = knots[span + index + 1 - level] - low
            part = np.divide(t - low, width, out=np.zeros_like(t), where=width != 0)[:, np.newaxis]
            point[:, index] = (1 - part) * point[:, index - 1] + part * point[:, index]
    end: Points = point[:, degree, :3] / point[:, degree, 3:]
    return end
