"""Noding: lines cut into pieces wherever they end, turn, touch or cross, doubled pieces counted once."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .contact import find_contacts
from .double import merge_doubles
from .errors import CrowdedError
from .finding import Finding, Severity, place_text
from .line import JointLine, Points, Vector, vector
from .linework import Indices, Linework
from .piece import Pieces
from .snapping import snap
from .tangent import tangents

__all__ = ["cut_lines"]

_HAIR_M = 1e-6  # stations this close are one; well under any tolerance, well over rounding


def cut_lines(
    lines: Sequence[JointLine], *, tolerance_m: float, corner_turn_deg: float
) -> tuple[Pieces, tuple[Finding, ...]]:
    """Cut lines into pieces wherever they end, turn, touch or cross.

    1. Ends, and vertices where a line turns by more than the limit, are cuts.
    2. Where a drawn vertex lies within the tolerance of another line, both are cut; where two segments cross at the
       same level, both are cut.
    3. Cuts within the tolerance of each other are one place. A place on the way of a line comes before ends, so that
       an end moves onto the line and not the line to the end.
    4. Pieces between one place and itself that are no longer than the tolerance allows are scraps.
    5. Pieces that take the same course between the same places are one; the others are doubles.

    Parameters
    ----------
    lines : sequence of JointLine
        Lines as drawn.
    tolerance_m : float
        Distance at which two points are one [m], > 0.
    corner_turn_deg : float
        A vertex with a larger turn is a cut [degrees].

    Returns
    -------
    pieces : Pieces
    findings : tuple of Finding
        ``gap-closed``, ``overshoot-trimmed``, ``zero-length`` and ``doubled-line``.

    Raises
    ------
    CrowdedError
        The lines lie so close together that nearly everything is within the tolerance of everything else.
    """
    work = Linework.of(lines)
    try:
        vertex, station, on_the_way = _cuts(work, tolerance_m, corner_turn_deg)
        point = np.where((vertex >= 0)[:, None], work.points_m[vertex], work.at(station))
        place_of, centre = snap(point, np.where(on_the_way, 0, 1), tolerance_m)
    except CrowdedError:
        raise CrowdedError(_crowded(work, lines, tolerance_m)) from None
    pieces = _between(work, place_of, point[centre], vertex, station)
    scrap = (pieces.start == pieces.end) & (pieces.length_m <= 4 * tolerance_m)
    vanished = np.ones(len(lines), dtype=np.bool_)
    vanished[pieces.line[~scrap]] = False
    findings = _snap_findings(lines, pieces, place_of, point, vertex, tolerance_m, vanished)
    findings += _scrap_findings(lines, vanished)
    pieces, doubles = merge_doubles(pieces.take(~scrap), lines, tolerance_m)
    pieces = _with_headings(pieces, tolerance_m, corner_turn_deg)
    return pieces, (*findings, *doubles)


def _crowded(work: Linework, lines: Sequence[JointLine], tolerance_m: float) -> str:
    width_m, depth_m, _ = np.ptp(work.points_m, axis=0)
    return (
        f"{lines[0].source.file}: its lines stand in {width_m:.3f} m by {depth_m:.3f} m, too close together for a "
        f"tolerance of {tolerance_m * 1000:g} mm; check its unit (--drawing-unit) and the tolerance"
    )


def _cuts(
    work: Linework, tolerance_m: float, corner_turn_deg: float
) -> tuple[Indices, NDArray[np.float64], NDArray[np.bool_]]:
    """Return vertex (-1 for none), station, and whether the line runs on, of every cut, in order of station."""
    contacts = find_contacts(work, tolerance_m)
    cut = contacts.vertex | (_turn_deg(work) > corner_turn_deg)
    first, last = work.first[:-1], work.first[1:] - 1
    cut[first[~work.closed]] = True
    cut[last[~work.closed]] = True
    ring = work.closed
    cut[first[ring]] |= cut[last[ring]]
    cut[last[ring]] = False  # the closing vertex is the first one again
    _cut_bare_rings(work, cut, contacts.station_m)
    vertex = np.flatnonzero(cut)
    station = np.concatenate((work.station_m[vertex], contacts.station_m))
    vertex = np.concatenate((vertex, np.full(len(contacts.station_m), -1)))
    order = np.argsort(station, kind="stable")
    return vertex[order], station[order], vertex[order] < 0


def _cut_bare_rings(work: Linework, cut: NDArray[np.bool_], stations: NDArray[np.float64]) -> None:
    """Cut each ring that nothing meets at its first drawn vertex in the order of coordinates."""
    met = np.zeros(len(work.closed), dtype=np.bool_)
    met[work.line[cut]] = True
    met[work.line[np.searchsorted(work.station_m, stations, side="right") - 1]] = True
    for line in np.flatnonzero(work.closed & ~met):
        vertices = np.arange(work.first[line], work.first[line + 1] - 1)
        vertices = vertices[work.drawn[vertices]] if work.drawn[vertices].any() else vertices
        x, y, z = np.round(work.points_m[vertices], 6).T
        cut[vertices[np.lexsort((z, y, x))[0]]] = True


def _turn_deg(work: Linework) -> NDArray[np.float64]:
    """Return the turn at every vertex that has a vertex before and after it on its line, else 0 [degrees]."""
    turn = np.zeros(len(work.points_m))
    step = np.diff(work.points_m, axis=0)
    inner = np.flatnonzero(work.line[2:] == work.line[:-2]) + 1
    turn[inner] = _angle_deg(step[inner - 1], step[inner])
    ring = np.flatnonzero(work.closed)
    first, last = work.first[ring], work.first[ring + 1] - 1
    turn[first] = _angle_deg(step[last - 1], step[first])
    return turn


def _angle_deg(u: Points, v: Points) -> NDArray[np.float64]:
    sine = np.linalg.norm(np.cross(u, v), axis=1)
    angle: NDArray[np.float64] = np.degrees(np.arctan2(sine, np.einsum("ij,ij->i", u, v)))
    return angle


def _between(
    work: Linework, place_of: Indices, place_m: Points, vertex: Indices, station: NDArray[np.float64]
) -> Pieces:
    """Make the pieces between neighbouring cuts of each line."""
    line = np.where(vertex >= 0, work.line[vertex], work.line[np.searchsorted(work.station_m, station) - 1])
    here = np.arange(len(line))
    is_last = np.append(line[1:] != line[:-1], np.ones(min(len(line), 1), np.bool_))
    first_cut = np.searchsorted(line, line)
    follows = np.where(is_last, first_cut, here + 1)
    wraps = is_last & work.closed[line]
    keep = ~is_last | wraps
    a, b, wraps = here[keep], follows[keep], wraps[keep]
    line = line[keep]
    trip = np.where(wraps, work.line_length_m[line], 0.0)
    inner = _inner(work, line, station[a], station[b], wraps)
    unknown = np.zeros((len(line), 3))
    return Pieces(
        work=work,
        place_m=place_m,
        line=line,
        start=place_of[a],
        end=place_of[b],
        start_station_m=station[a],
        end_station_m=station[b] + trip,
        inner=inner,
        start_heading=unknown,
        end_heading=unknown,
    )


def _inner(
    work: Linework, line: Indices, start: NDArray[np.float64], end: NDArray[np.float64], wraps: NDArray[np.bool_]
) -> Indices:
    after = np.searchsorted(work.station_m, start + _HAIR_M)
    before = np.searchsorted(work.station_m, end - _HAIR_M)
    first, last = work.first[line], work.first[line + 1] - 1
    return np.stack(
        (
            after,
            np.where(wraps, np.maximum(after, last), np.maximum(after, before)),
            np.where(wraps, first, 0),
            np.where(wraps, np.maximum(before, first), 0),
        ),
        axis=1,
    )


def _with_headings(pieces: Pieces, tolerance_m: float, corner_turn_deg: float) -> Pieces:
    work = pieces.work
    trip = np.where(pieces.end_station_m > work.station_m[work.first[pieces.line + 1] - 1] + _HAIR_M, 1.0, 0.0)
    end_station = pieces.end_station_m - trip * work.line_length_m[pieces.line]
    first, last = work.first[pieces.line], work.first[pieces.line + 1] - 1
    end_station = np.where(
        work.closed[pieces.line] & (end_station <= work.station_m[first] + _HAIR_M), work.station_m[last], end_station
    )
    segment_out = np.clip(np.searchsorted(work.station_m, pieces.start_station_m + _HAIR_M) - 1, first, last - 1)
    segment_in = np.clip(np.searchsorted(work.station_m, end_station - _HAIR_M) - 1, first, last - 1)
    out = _tangents(pieces, segment_out, pieces.start_station_m, pieces.start, corner_turn_deg)
    into = -_tangents(pieces, segment_in, end_station, pieces.end, corner_turn_deg)
    look = np.minimum(4 * tolerance_m, pieces.length_m)
    _look_ahead(work, out, segment_out, pieces.start_station_m, look)
    _look_ahead(work, into, segment_in, end_station, -look)
    across = work.across
    return replace(
        pieces,
        start_heading=_unit(out),
        end_heading=_unit(into),
        start_across=None if across is None else across[segment_out],
        end_across=None if across is None else across[segment_in],
    )


def _tangents(
    pieces: Pieces, segment: Indices, station: NDArray[np.float64], place: Indices, limit_deg: float
) -> Points:
    """Return the directions of lines at cuts; where a curve was cut beside the place, at the place."""
    work, line = pieces.work, pieces.line
    along = tangents(work, segment, station, limit_deg)
    curved = ~(work.drawn[:-1] & work.drawn[1:])
    beside = np.flatnonzero(curved[segment])
    shift = np.einsum("ij,ij->i", pieces.place_m[place[beside]] - work.at(station[beside]), along[beside])
    beside, shift = beside[np.abs(shift) > _HAIR_M], shift[np.abs(shift) > _HAIR_M]
    if not len(beside):
        return along
    first, last = work.first[line[beside]], work.first[line[beside] + 1] - 1
    low, high = work.station_m[first], work.station_m[last]
    way = station[beside] + shift - low
    station = low + np.where(work.closed[line[beside]], way % (high - low), np.clip(way, 0.0, high - low))
    segment = np.clip(np.searchsorted(work.station_m, station, side="right") - 1, first, last - 1)
    there = tangents(work, segment, station, limit_deg)
    same = curved[segment] & (_angle_deg(there, along[beside]) <= limit_deg)
    along[beside[same]] = there[same]
    return along


def _look_ahead(
    work: Linework, heading: Points, segment: Indices, station: NDArray[np.float64], look: NDArray[np.float64]
) -> None:
    """Where the line starts with a drawn scrap, take the heading over a longer stretch, since the scrap's is noise."""
    short = work.station_m[segment + 1] - work.station_m[segment] < np.abs(look)
    short &= work.drawn[segment] & work.drawn[segment + 1]
    if not short.any():
        return
    low = work.station_m[work.first[work.line[segment]]]
    high = work.station_m[work.first[work.line[segment] + 1] - 1]
    to = np.clip(station + look, low, high)
    ahead = work.at(to[short]) - work.at(station[short])
    useful = np.linalg.norm(ahead, axis=1) > _HAIR_M
    heading[np.flatnonzero(short)[useful]] = ahead[useful]


def _unit(vectors: Points) -> Points:
    unit: Points = vectors / np.linalg.norm(vectors, axis=1)[:, None]
    return unit


def _snap_findings(
    lines: Sequence[JointLine],
    pieces: Pieces,
    place_of: Indices,
    point: Points,
    vertex: Indices,
    tolerance_m: float,
    vanished: NDArray[np.bool_],
) -> list[Finding]:
    """Tell where ends were moved by more than a tenth of the tolerance; less is rounding."""
    work = pieces.work
    ends = np.zeros(len(work.points_m), dtype=np.bool_)
    ends[work.first[:-1][~work.closed & ~vanished]] = True
    ends[work.first[1:][~work.closed & ~vanished] - 1] = True
    cut = np.flatnonzero((vertex >= 0) & ends[vertex])
    moved = np.linalg.norm(point[cut] - pieces.place_m[place_of[cut]], axis=1) if len(cut) else np.empty(0)
    past = _past(work, vertex[cut], pieces.place_m[place_of[cut]])
    worst: dict[tuple[int, str], tuple[float, int]] = {}
    for i in np.flatnonzero(moved > tolerance_m / 10).tolist():
        code = "overshoot-trimmed" if past[i] > moved[i] / 2 else "gap-closed"
        key = (int(place_of[cut[i]]), code)
        worst[key] = max(worst.get(key, (0.0, -1)), (float(moved[i]), int(work.line[vertex[cut[i]]])))
    return [
        _snap_finding(lines[line], code, distance, _world(work, pieces.place_m[place]))
        for (place, code), (distance, line) in sorted(worst.items())
    ]


def _past(work: Linework, end: Indices, place: Points) -> NDArray[np.float64]:
    """Return how far back along its own line each end has been moved [m]; negative where it has been drawn out."""
    at_start = np.isin(end, work.first[:-1])
    inward = work.points_m[np.where(at_start, end + 1, end - 1)] - work.points_m[end]
    past: NDArray[np.float64] = np.einsum("ij,ij->i", place - work.points_m[end], inward) / np.linalg.norm(
        inward, axis=1
    )
    return past


def _snap_finding(line: JointLine, code: str, distance_m: float, at_m: Vector) -> Finding:
    millimetres = f"{distance_m * 1000:.1f} mm"
    if code == "gap-closed":
        message = f"{line.source} stops {millimetres} short at {place_text(at_m)}; within the tolerance, so joined."
    else:
        message = f"{line.source} runs {millimetres} past another line at {place_text(at_m)}; trimmed."
    return Finding(code=code, severity=Severity.NOTE, message=message, at_m=at_m, sources=(line.source,))


def _scrap_findings(lines: Sequence[JointLine], vanished: NDArray[np.bool_]) -> list[Finding]:
    return [
        Finding(
            code="zero-length",
            severity=Severity.NOTE,
            message=f"{line.source} is no longer than the tolerance and was left out; delete it if it means nothing.",
            at_m=vector(line.points_m[0]),
            sources=(line.source,),
        )
        for line in (lines[i] for i in np.flatnonzero(vanished).tolist())
    ]


def _world(work: Linework, point: Points) -> Vector:
    return vector(point + work.origin_m)
