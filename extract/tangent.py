"""Tangents: which way a line runs at a place on it, the chords of a curve taken for the curve."""

import numpy as np
from numpy.typing import NDArray

from .line import Points
from .linework import Indices, Linework

__all__ = ["tangents"]

_LONG = 3.0
"""A chord so many times longer than its neighbour is a straight that leads into a curve, not a part of it."""
_FINE_DEG = 0.5
"""Turns up to this are those of a finely flattened curve, whatever stands beside them."""
_ALIKE = 2.0
"""Curvatures that differ by more than this factor are not those of one arc."""
_CUSP_DEG = 179.0
"""Where a curve turns back by more it has no tangent, whatever counts as a corner."""


def tangents(work: Linework, segment: Indices, station_m: NDArray[np.float64], limit_deg: float) -> Points:
    """Return the direction of lines at places on their segments.

    A segment between two drawn vertices is straight. The chords of a flattened curve are not: an arc leaves its first
    vertex by half a chord's turn beside the chord. So each inner vertex of a curve gets the tangent of the circle
    through it and its two neighbours, which is exact for arcs; the end of a curve gets the mirror image of the tangent
    at the other end of its chord; and between the ends of a chord the direction turns evenly.

    Parameters
    ----------
    work : Linework
        All lines.
    segment : Indices
        First vertex of the segment that each place is on, shape (n,).
    station_m : NDArray[np.float64]
        Stations of the places, shape (n,).
    limit_deg : float
        A vertex that turns by more is a corner even if nobody drew it [degrees].

    Returns
    -------
    Points
        Unit vectors in the sense of rising stations, shape (n, 3).
    """
    chord = _unit(work.points_m[segment + 1] - work.points_m[segment])
    bent = np.flatnonzero(~(work.drawn[segment] & work.drawn[segment + 1]))
    if len(bent):
        chord[bent] = _on_curve(work, segment[bent], station_m[bent], chord[bent], limit_deg)
    return chord


def _on_curve(
    work: Linework, segment: Indices, station_m: NDArray[np.float64], chord: Points, limit_deg: float
) -> Points:
    length = work.station_m[segment + 1] - work.station_m[segment]
    first = _at_vertex(work, segment, length, limit_deg)
    second = _at_vertex(work, segment + 1, length, limit_deg)
    begins, finishes = work.drawn[segment], work.drawn[segment + 1]
    first = np.where(begins[:, None], _mirrored(work, segment + 1, 1, second, chord), first)
    second = np.where(finishes[:, None], _mirrored(work, segment, -1, first, chord), second)
    share = np.clip((station_m - work.station_m[segment]) / length, 0.0, 1.0)[:, None]
    first, second = (np.where(np.isnan(end), chord, end) for end in (first, second))
    return _unit(first * (1 - share) + second * share)


def _at_vertex(work: Linework, vertex: Indices, length: NDArray[np.float64], limit_deg: float) -> Points:
    """Return the tangents at inner vertices of curves as chords of some length see them; NaN where there is none."""
    tangent = np.full((len(vertex), 3), np.nan)
    inner = np.flatnonzero(~work.drawn[vertex])  # the ends of a line are drawn, so both neighbours are there
    before, after = _steps(work, vertex[inner])
    size_before, size_after = np.linalg.norm(before, axis=1), np.linalg.norm(after, axis=1)
    ratio = (size_before / size_after)[:, None]
    along = before / ratio + after * ratio  # each chord turned into the tangent by half of the angle over it
    smooth = _turn_deg(before, after) <= min(limit_deg, _CUSP_DEG)
    smooth &= length[inner] <= _LONG * np.minimum(size_before, size_after)
    tangent[inner[smooth]] = _unit(along[smooth])
    return tangent


def _mirrored(work: Linework, vertex: Indices, way: int, tangent: Points, chord: Points) -> Points:
    """Mirror the tangents at vertices next to the ends of curves in their chords, where the curve is an arc there."""
    image: Points = chord * (2 * np.einsum("ij,ij->i", chord, tangent))[:, None] - tangent
    known = np.flatnonzero(~np.isnan(tangent[:, 0]))
    here = _steps(work, vertex[known])
    further = vertex[known] + way
    goes_on = ~work.drawn[further]
    there = _steps(work, np.where(goes_on, further, vertex[known]))
    turn, bend, next_bend = _turn_deg(*here), _bend(*here), _bend(*there)
    alike = goes_on & (bend <= _ALIKE * next_bend) & (next_bend <= _ALIKE * bend)
    image[known[~(alike | (turn <= _FINE_DEG))]] = np.nan
    return image


def _steps(work: Linework, vertex: Indices) -> tuple[Points, Points]:
    points = work.points_m
    return points[vertex] - points[vertex - 1], points[vertex + 1] - points[vertex]


def _bend(before: Points, after: Points) -> NDArray[np.float64]:
    """Return the turn for each length [degrees/m]."""
    bend: NDArray[np.float64] = _turn_deg(before, after) / (
        np.linalg.norm(before, axis=1) + np.linalg.norm(after, axis=1)
    )
    return bend


def _turn_deg(before: Points, after: Points) -> NDArray[np.float64]:
    sine = np.linalg.norm(np.cross(before, after), axis=1)
    turn: NDArray[np.float64] = np.degrees(np.arctan2(sine, np.einsum("ij,ij->i", before, after)))
    return turn


def _unit(vectors: Points) -> Points:
    unit: Points = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    return unit
