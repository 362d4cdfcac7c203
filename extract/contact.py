"""Contacts: the places where lines touch or cross, in three dimensions."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, box

from .approach import Meetings, approaches, meet_once
from .errors import CrowdedError
from .linework import Indices, Linework

__all__ = ["Contacts", "find_contacts", "near_pairs"]

_CHUNK = 20_000
_MOST_PAIRS = 50_000_000  # a drawing of 100,000 segments has a few hundred thousand; more would fill the memory
_SAMPLES = 200
_ALONGSIDE = np.sin(np.radians(1.0)) ** 2  # chords of one curve, flattened twice, differ by less than a degree
_FOLD = np.cos(np.radians(10.0))  # lines that turn back more sharply are looked at; fewer pairs is the only aim
_AT_VERTEX_M = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contacts:
    """Where lines have to be cut because they meet.

    Attributes
    ----------
    vertex : NDArray[np.bool_]
        Whether another line (or another part of the same) meets the line at this drawn vertex, shape (vertices,).
    station_m : NDArray[np.float64]
        Stations of the other places where a line is met, shape (n,).
    """

    vertex: NDArray[np.bool_]
    station_m: NDArray[np.float64]


def find_contacts(work: Linework, tolerance_m: float) -> Contacts:
    """Find where lines meet: at drawn vertices within the tolerance of a line, and where two segments cross.

    Lines that pass over or under each other further than the tolerance do not meet.

    Parameters
    ----------
    work : Linework
        All lines.
    tolerance_m : float
        Distance at which two places are one [m], > 0.

    Returns
    -------
    Contacts
    """
    met = np.zeros(len(work.points_m), dtype=np.bool_)
    touches: list[_Touches] = []
    crossing: list[Meetings] = []
    close: list[Meetings] = []
    for first, second in near_pairs(work, tolerance_m):
        touch = np.zeros(len(first), dtype=np.bool_)
        for a, b in ((first, second), (second, first)):
            touches.extend(_touches(work, a + at_end, b, tolerance_m, touch) for at_end in (0, 1))
        # Where a drawn vertex touches, the segments meet there, and a crossing beside it would be the same meeting.
        crossing.append(_crossings(work, first[~touch], second[~touch], tolerance_m))
        close.append(approaches(work, first, second, touch, tolerance_m))
    meeting = meet_once(work, Meetings.gather(close), Meetings.gather(crossing), tolerance_m)
    stations = [meeting.first_m, meeting.second_m]
    if touches:
        gathered = _Touches(*(np.concatenate(column) for column in zip(*touches, strict=True)))
        stations.append(_places(work, gathered, met, 4 * tolerance_m))
    return Contacts(vertex=met, station_m=np.concatenate(stations))


def near_pairs(work: Linework, distance_m: float) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs of segments whose boxes in plan are within a distance, by their first vertices, in chunks.

    Consecutive segments of one line are paired only where the line folds back on itself.

    Raises
    ------
    CrowdedError
        There are more than fifty million pairs or so.
    """
    starts = work.segment_starts
    folds = _folds(work)
    low = np.minimum(work.points_m[starts], work.points_m[starts + 1])
    high = np.maximum(work.points_m[starts], work.points_m[starts + 1])
    low, high = low - distance_m / 2, high + distance_m / 2
    boxes = box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    tree = STRtree(boxes)
    chunk = _chunk(tree, boxes)
    for at in range(0, len(starts), chunk):
        i, j = tree.query(boxes[at : at + chunk])
        i = i + at
        level = (low[i, 2] <= high[j, 2]) & (low[j, 2] <= high[i, 2])
        consecutive = (starts[j] == starts[i] + 1) & (work.line[starts[i]] == work.line[starts[j]])
        wanted = (i < j) & level & (~consecutive | folds[starts[j]])
        yield starts[i[wanted]], starts[j[wanted]]


def _chunk(tree: STRtree, boxes: NDArray[np.object_]) -> int:
    """Return how many boxes to ask about at once so that their pairs stay few, by asking about some of them."""
    some = boxes[:: max(1, len(boxes) // _SAMPLES)]
    each = tree.query(some).shape[1] / max(1, len(some))
    if each * len(boxes) > _MOST_PAIRS:
        raise CrowdedError
    return max(1, min(_CHUNK, int(_CHUNK * 50 / max(1.0, each))))


def _folds(work: Linework) -> NDArray[np.bool_]:
    """Tell at which vertices a line turns back by so much that it may run alongside itself."""
    step = np.diff(work.points_m, axis=0)
    folds = np.zeros(len(work.points_m), dtype=np.bool_)
    size = np.linalg.norm(step, axis=1)
    folds[1:-1] = np.einsum("ij,ij->i", step[1:], step[:-1]) < -_FOLD * size[1:] * size[:-1]
    return folds


class _Touches(NamedTuple):
    """Drawn vertices that lie on segments, a row a pair: the vertex, the segment, the station there, how far beside."""

    vertex: Indices
    segment: Indices
    station_m: NDArray[np.float64]
    gap_m: NDArray[np.float64]


def _touches(
    work: Linework, vertex: Indices, segment: Indices, tolerance_m: float, touch: NDArray[np.bool_]
) -> _Touches:
    """Find the drawn vertices that lie on a segment, and mark the pairs where they do."""
    ask = np.flatnonzero(work.drawn[vertex])
    vertex, segment = vertex[ask], segment[ask]
    start, end = work.points_m[segment], work.points_m[segment + 1]
    along = end - start
    length = np.sqrt(np.einsum("ij,ij->i", along, along))
    offset = work.points_m[vertex] - start
    distance_along = np.clip(np.einsum("ij,ij->i", offset, along) / length, 0.0, length)
    gap = offset - along * (distance_along / length)[:, None]
    gap_m = np.sqrt(np.einsum("ij,ij->i", gap, gap))
    station = work.station_m[segment] + distance_along
    on = np.flatnonzero((gap_m <= tolerance_m) & ~_same_stretch(work, vertex, station, tolerance_m))
    touch[ask[on]] = True
    return _Touches(vertex[on], segment[on], station[on], gap_m[on])


def _places(work: Linework, touches: _Touches, met: NDArray[np.bool_], apart_m: float) -> NDArray[np.float64]:
    """Mark the vertices that meet others, and return the stations of the places between vertices that they meet."""
    vertex, segment, station, gap = touches
    met[vertex] = True
    at_start = (station - work.station_m[segment] <= _AT_VERTEX_M) & work.drawn[segment]
    at_end = (work.station_m[segment + 1] - station <= _AT_VERTEX_M) & work.drawn[segment + 1]
    met[segment[at_start]] = True
    met[segment[at_end] + 1] = True
    between = ~(at_start | at_end)
    ask = np.zeros(len(work.points_m), dtype=np.bool_)
    ask[vertex[between]] = True
    which = np.flatnonzero(ask[vertex])
    nearest = which[_nearest_only(vertex[which], station[which], gap[which], apart_m)]
    return station[nearest[between[nearest]]]


def _same_stretch(
    work: Linework, vertex: Indices, station: NDArray[np.float64], tolerance_m: float
) -> NDArray[np.bool_]:
    """Tell which places are so close to the vertex along the same line that they are no meeting of two parts."""
    line = work.line[vertex]
    last = work.first[line + 1] - 1
    same = (station >= work.station_m[work.first[line]]) & (station <= work.station_m[last])
    apart = np.abs(station - work.station_m[vertex])
    round_trip = work.station_m[last] - work.station_m[work.first[line]] - apart
    apart = np.where(work.closed[line], np.minimum(apart, round_trip), apart)
    near: NDArray[np.bool_] = same & (apart <= 4 * tolerance_m)
    return near


def _nearest_only(vertex: Indices, station: NDArray[np.float64], gap: NDArray[np.float64], apart_m: float) -> Indices:
    """Return, of neighbouring places where a vertex touches the segments of one line, the nearest."""
    order = np.lexsort((station, vertex))
    other = (vertex[order][1:] != vertex[order][:-1]) | (np.diff(station[order]) > apart_m)
    group = np.concatenate(([0], np.cumsum(other)))[: len(order)]
    nearest = np.lexsort((gap[order], group))
    return order[nearest][np.searchsorted(group, np.unique(group))]


def _crossings(work: Linework, first: Indices, second: Indices, tolerance_m: float) -> Meetings:
    """Find where segments cross between their ends.

    Segments that run alongside each other within the tolerance do not cross, however often they intersect.
    """
    p, q = work.points_m[first], work.points_m[second]
    u, v = work.points_m[first + 1] - p, work.points_m[second + 1] - q
    uu, vv, uv = (np.einsum("ij,ij->i", a, b) for a, b in ((u, u), (v, v), (u, v)))
    determinant = uu * vv - uv * uv
    oblique = (determinant > _ALONGSIDE * uu * vv) | (determinant > tolerance_m**2 * np.maximum(uu, vv))
    p, q, u, v, uu, vv, uv, determinant, first, second = (
        array[oblique] for array in (p, q, u, v, uu, vv, uv, determinant, first, second)
    )
    w = q - p
    uw, vw = np.einsum("ij,ij->i", u, w), np.einsum("ij,ij->i", v, w)
    s, t = (vv * uw - uv * vw) / determinant, (uv * uw - uu * vw) / determinant
    gap = w + v * t[:, None] - u * s[:, None]
    length_s, length_t = s * np.sqrt(uu), t * np.sqrt(vv)
    inside_s = _inside(work, first, length_s, np.sqrt(uu))
    inside_t = _inside(work, second, length_t, np.sqrt(vv))
    gap_m = np.sqrt(np.einsum("ij,ij->i", gap, gap))
    on = np.flatnonzero(inside_s & inside_t & (gap_m <= tolerance_m))
    return Meetings(
        first=first[on],
        second=second[on],
        first_m=work.station_m[first[on]] + length_s[on],
        second_m=work.station_m[second[on]] + length_t[on],
        gap_m=gap_m[on],
        touch=np.zeros(len(on), np.bool_),
    )


def _inside(
    work: Linework, segment: Indices, distance: NDArray[np.float64], length: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell whether a place lies on a segment; drawn ends are left out, as touches have found them already."""
    low = np.where(work.drawn[segment], _AT_VERTEX_M, -_AT_VERTEX_M)
    high = np.where(work.drawn[segment + 1], length - _AT_VERTEX_M, length + _AT_VERTEX_M)
    between: NDArray[np.bool_] = (distance >= low) & (distance <= high)
    return between
