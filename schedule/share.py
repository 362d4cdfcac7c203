"""Share: what of a schedule belongs to one drawing of the job, and what becomes of its runs along their length."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np

from splicewright.extract.drawing import Drawing
from splicewright.extract.finding import Finding
from splicewright.extract.line import Points, Vector, vector
from splicewright.extract.node import Node
from splicewright.extract.run import Run

from .fitting import Fitting
from .plan import Schedule
from .splice import Splice, SpliceKind

__all__ = ["Copy", "Part", "Share", "cut_out", "miss_m", "place_at", "share_of", "station_m"]

_LEGS = (SpliceKind.LEG, SpliceKind.LEG_TO_LEG)


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """One copy of a fitting.

    Attributes
    ----------
    fitting : Fitting
        Its type.
    number : int
        Which copy of that type, from 1.
    nodes : tuple of Node
        The nodes it serves.
    """

    fitting: Fitting
    number: int
    nodes: tuple[Node, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A part of a run, from one station to another.

    Attributes
    ----------
    run : Run
        The run.
    from_m, to_m : float
        Stations along it [m], 0 <= from < to <= its length.
    copy : Copy or None
        The fitting whose leg or inner strip it is; None where it is cut from a roll.
    piece : str or None
        Mark of the piece that lies there; None for parts of fittings.
    """

    run: Run
    from_m: float
    to_m: float
    copy: Copy | None = None
    piece: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Share:
    """What of a schedule belongs to one drawing.

    Attributes
    ----------
    schedule : Schedule
        The whole.
    drawing : Drawing
        The drawing.
    nodes, runs, splices, copies, findings : tuple
        What stands in it, in the order of the schedule.
    """

    schedule: Schedule
    drawing: Drawing
    nodes: tuple[Node, ...]
    runs: tuple[Run, ...]
    splices: tuple[Splice, ...]
    copies: tuple[Copy, ...]
    findings: tuple[Finding, ...]

    def parts(self) -> Iterator[Part]:
        """Iterate over the parts of all runs: legs of fittings, and pieces from rolls."""
        copy_at = {node.mark: copy for copy in self.copies for node in copy.nodes}
        welds = _welds_of(self.splices)
        pieces: dict[str, list[str]] = {}
        for roll in self.schedule.rolls:
            for piece in roll.pieces:
                pieces.setdefault(piece.run, [""] * piece.of)[piece.number - 1] = piece.mark
        for run in self.runs:
            ends = (copy_at.get(run.start), copy_at.get(run.end))
            yield from _parts(run, ends, welds.get(run.mark, []), pieces.get(run.mark, []))


def share_of(schedule: Schedule, number: int) -> Share:
    """Return what of a schedule belongs to one of its drawings.

    Parameters
    ----------
    schedule : Schedule
    number : int
        Which drawing, from 0.

    Returns
    -------
    Share
    """
    first_nodes, first_runs = ([0, *accumulate(counts)] for counts in zip(*schedule.spans, strict=True))
    nodes = schedule.nodes[first_nodes[number] : first_nodes[number + 1]]
    runs = schedule.runs[first_runs[number] : first_runs[number + 1]]
    known = {node.mark: node for node in nodes}
    marks = {*known, *(run.mark for run in runs)}
    return Share(
        schedule=schedule,
        drawing=schedule.drawings[number],
        nodes=nodes,
        runs=runs,
        splices=tuple(splice for splice in schedule.splices if splice.run in marks or splice.node in marks),
        copies=tuple(
            Copy(fitting=fitting, number=turn, nodes=tuple(known[mark] for mark in served))
            for fitting in schedule.fittings
            for turn, served in enumerate(fitting.nodes, start=1)
            if served[0] in known
        ),
        findings=tuple(_findings(schedule, number)),
    )


def place_at(points_m: Points, at_m: float) -> tuple[Vector, Vector]:
    """Return the place at a station along a line, and the unit vector along it there.

    Examples
    --------
    >>> place_at(np.array([[0.0, 0, 0], [2.0, 0, 0], [2.0, 4.0, 0]]), 3.0)
    ((2.0, 1.0, 0.0), (0.0, 1.0, 0.0))
    """
    steps = np.diff(points_m, axis=0)
    sizes = np.sqrt(np.einsum("ij,ij->i", steps, steps))
    ends = np.cumsum(sizes)
    i = min(int(np.searchsorted(ends, at_m)), len(sizes) - 1)
    along = steps[i] / sizes[i]
    return vector(points_m[i] + along * (at_m - (ends[i] - sizes[i]))), vector(along)


def cut_out(part: Part) -> Points:
    """Return the course of a part [m], shape (n, 3)."""
    points = part.run.points_m
    stations = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))))
    inner = points[(stations > part.from_m + 1e-6) & (stations < part.to_m - 1e-6)]
    ends = (place_at(points, part.from_m)[0], place_at(points, part.to_m)[0])
    return np.vstack([ends[0], inner, ends[1]])


def _welds_of(splices: Sequence[Splice]) -> dict[str, list[Splice]]:
    """Gather the splices that lie inside runs, by run."""
    welds: dict[str, list[Splice]] = {}
    for splice in splices:
        if splice.run is not None and splice.node is None:
            welds.setdefault(splice.run, []).append(splice)
    return welds


def _parts(
    run: Run, ends: tuple[Copy | None, Copy | None], welds: Sequence[Splice], pieces: Sequence[str]
) -> Iterator[Part]:
    """Part one run at its welds."""
    start, end = ends
    cuts = sorted((station_m(run.points_m, weld.at_m), weld.kind in _LEGS) for weld in welds)
    stations = [0.0, *(at for at, _ in cuts), run.length_m]
    parts = [Part(run=run, from_m=low, to_m=high) for low, high in pairwise(stations)]
    owners: list[Copy | None] = [None] * len(parts)
    if len(parts) == 1 and not pieces:
        owners[0] = start or end
    else:
        owners[0] = start if cuts and cuts[0][1] else None
        owners[-1] = end if cuts and cuts[-1][1] else None
    marks = iter(pieces)
    for part, owner in zip(parts, owners, strict=True):
        piece = next(marks, None) if owner is None else None
        yield Part(run=run, from_m=part.from_m, to_m=part.to_m, copy=owner, piece=piece)


def station_m(points_m: Points, at_m: Vector) -> float:
    """Return how far along a line the place on it nearest to a point is [m].

    Examples
    --------
    >>> station_m(np.array([[0.0, 0, 0], [2.0, 0, 0], [2.0, 4.0, 0]]), (2.5, 1.0, 0.0))
    3.0
    """
    steps = np.diff(points_m, axis=0)
    sizes = np.einsum("ij,ij->i", steps, steps)
    offsets = np.array(at_m) - points_m[:-1]
    share = np.clip(np.einsum("ij,ij->i", offsets, steps) / np.maximum(sizes, 1e-18), 0.0, 1.0)
    misses = offsets - steps * share[:, None]
    best = int(np.argmin(np.einsum("ij,ij->i", misses, misses)))
    lengths = np.sqrt(sizes)
    return float(lengths[:best].sum() + share[best] * lengths[best])


def _findings(schedule: Schedule, number: int) -> Iterator[Finding]:
    """Choose the findings of one drawing: by the files they name, then by place where several share those."""
    if len(schedule.drawings) == 1:
        yield from schedule.findings
        return
    files = [{drawing.file, *(line.source.file for line in drawing.lines)} for drawing in schedule.drawings]
    for finding in schedule.findings:
        named = {source.file for source in finding.sources}
        owners = [i for i, own in enumerate(files) if named & own] or list(range(len(files)))
        if len(owners) > 1 and finding.at_m is not None:
            misses = [_distance_m(schedule.drawings[i], finding.at_m) for i in owners]
            owners = [owners[misses.index(min(misses))]]
        if number in owners:
            yield finding


def _distance_m(drawing: Drawing, at_m: Vector) -> float:
    """Return the distance of a place from the nearest line of a drawing [m]."""
    place = np.array(at_m)
    return min(miss_m(line.points_m, place) for line in drawing.lines)


def miss_m(points_m: Points, place: Points) -> float:
    """Return the distance of a place from a line [m]."""
    steps = np.diff(points_m, axis=0)
    offsets = place - points_m[:-1]
    sizes = np.maximum(np.einsum("ij,ij->i", steps, steps), 1e-18)
    share = np.clip(np.einsum("ij,ij->i", offsets, steps) / sizes, 0.0, 1.0)
    return float(np.linalg.norm(offsets - steps * share[:, None], axis=1).min())
