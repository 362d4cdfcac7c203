"""Marks: what is to be drawn on a drawing that is handed back, in its own unit, whatever its format.

Strokes stand at their place in space; labels lie level, in plan, beside theirs.
"""

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from math import cos, hypot, pi, sin, sqrt

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from splicewright.extract.finding import Finding, Severity
from splicewright.extract.line import Points, Vector, vector
from splicewright.extract.node import Node
from splicewright.extract.run import Run

from .label import Board, Label
from .measure import marks_text
from .share import Copy, Part, Share, cut_out, place_at, station_m
from .sight import Sight
from .splice import Made, Splice, SpliceKind

__all__ = ["Circle", "Cloud", "Marks", "Meaning", "Stroke", "Text", "letters_height", "marks_of"]

_STEEP = 0.05  # climbing runs hardly show in plan
_NEIGHBOURS = 8
_ROOM = 0.08  # letters over the reach of eight neighbours: their labels then fill about half of what is round them
_FINDING_LETTERS = 42  # a line of a finding's text
_MOST_TOLD = 400  # findings whose sentence stands in the drawing; of the rest the code alone


class Meaning(StrEnum):
    """What a mark tells; each stands on a layer of its own."""

    NODES = "nodes"
    RUNS = "runs"
    FITTINGS = "fittings"
    FIELD_SPLICES = "field splices"
    SHOP_SPLICES = "shop splices"
    FINDINGS = "findings"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """A line of straight pieces."""

    meaning: Meaning
    points: tuple[Vector, ...]
    closed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A level circle."""

    meaning: Meaning
    at: Vector
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloud:
    """A closed line of arcs that bulge outwards, level, through corners given counter-clockwise."""

    meaning: Meaning
    corners: tuple[Vector, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A line of text, level, from the left end of its base line, or back from the right end."""

    meaning: Meaning
    at: Vector
    text: str
    from_right: bool = False


@dataclass(slots=True, kw_only=True, eq=False)
class Marks:
    """All marks of one drawing.

    Attributes
    ----------
    height : float
        Height of letters [drawing units].
    strokes, circles, clouds, texts : list
        What is drawn, in the order it is drawn.
    unplaced : list of Finding
        Findings of the drawing that belong to no single place, or to one that the drawing does not show.
    """

    height: float
    strokes: list[Stroke] = field(default_factory=list)
    circles: list[Circle] = field(default_factory=list)
    clouds: list[Cloud] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    unplaced: list[Finding] = field(default_factory=list)


def letters_height(places: Points, own: Sequence[float]) -> float:
    """Choose the height of letters for a drawing.

    That of the drawing's own texts where it has some, else 1/250 of the waterstop's extent; less where places crowd, so
    that labels find room, but no less than a third of the first; never less than 1/3000 of the extent.

    Parameters
    ----------
    places : Points
        Places that get a label [drawing units], shape (n, 3), n >= 1.
    own : sequence of float
        Heights of the drawing's own texts [drawing units].

    Returns
    -------
    float
        [drawing units], > 0.
    """
    flat = places[:, :2]
    extent = float(np.hypot(*np.ptp(flat, axis=0))) or float(np.ptp(places[:, 2])) or 1.0
    sane = [height for height in own if extent / 3000 <= height <= extent / 20]
    height, least = (float(np.median(sane)), 1 / 3) if len(sane) > 2 else (extent / 250, 0.0)
    spread = np.unique(flat.round(9), axis=0)
    if len(spread) > _NEIGHBOURS:
        from scipy.spatial import cKDTree  # noqa: PLC0415 (slow to import, and only drawings with marks need it)

        nearest, reach = np.median(cKDTree(spread).query(spread, k=[2, _NEIGHBOURS + 1])[0], axis=0).tolist()
        height = min(height, max(min(_ROOM * reach, nearest / 3), height * least))
    return max(height, extent / 3000)


def marks_of(share: Share, sight: Sight, height: float, board: Board) -> Marks:
    """Work out all marks of one drawing.

    Parameters
    ----------
    share : Share
        What of the schedule belongs to the drawing.
    sight : Sight
        Where the drawing shows places.
    height : float
        Height of letters [drawing units].
    board : Board
        What labels must keep clear of; it is filled.

    Returns
    -------
    Marks
    """
    scribe = _Scribe(share, sight, Marks(height=height), board)
    scribe.draw_fittings()
    scribe.draw_splices()
    scribe.draw_nodes()
    scribe.draw_runs()
    scribe.draw_findings()
    return scribe.marks


class _Scribe:
    """Draws the marks of one drawing; the order decides which labels lie nearest to their places."""

    def __init__(self, share: Share, sight: Sight, marks: Marks, board: Board) -> None:
        self.share, self.sight, self.marks, self.board = share, sight, marks, board
        self.parts = list(share.parts())
        self.run_at = {run.mark: run for run in share.runs}
        self.node_at = {node.mark: node for node in share.nodes}
        for run in share.runs:
            for points, _ in sight.courses(run.points_m):
                board.keep_line(points)

    def label(self, at: Vector, lines: Sequence[tuple[Meaning, str]], gap: float = 0.7) -> None:
        """Set a label of one or several lines, with a leader where it had to move away."""
        texts = tuple(text for _, text in lines)
        spot = self.board.set_label(Label(at=(at[0], at[1]), lines=texts, gap=gap))
        for (meaning, text), (x, y) in zip(lines, spot.starts, strict=True):
            self.marks.texts.append(Text(meaning=meaning, at=(x, y, at[2]), text=text, from_right=spot.from_right))
        if spot.leader is not None:
            self.stroke(lines[0][0], (at, (*spot.leader, at[2])))

    def stroke(self, meaning: Meaning, points: Sequence[Vector], *, closed: bool = False) -> None:
        self.marks.strokes.append(Stroke(meaning=meaning, points=tuple(points), closed=closed))

    # --- fittings: their outline in plan, and their climbing legs in space

    def draw_fittings(self) -> None:
        owned: dict[tuple[str, int], list[Part]] = {}
        for part in self.parts:
            if part.copy is not None:
                owned.setdefault((part.copy.fitting.mark, part.copy.number), []).append(part)
        for copy in self.share.copies:
            self._outline(copy, owned.get((copy.fitting.mark, copy.number), []))

    def _outline(self, copy: Copy, parts: Sequence[Part]) -> None:
        shapes: dict[float, list[BaseGeometry]] = {}
        level = min(node.at_m[2] for node in copy.nodes)
        for part in parts:
            width_m = self._width_m(part.run)
            for points, metre in self.sight.courses(cut_out(part)):
                shapes.setdefault(metre, []).append(_footprint(points, width_m * metre))
                if np.ptp(points[:, 2]) > self.marks.height / 10:
                    self.stroke(Meaning.FITTINGS, [vector(point) for point in points])
        z = level / self.sight.metres if self.sight.drawing.sheet is None else 0.0
        for found in shapes.values():
            for ring in _rings(shapely.union_all(found)):
                self.stroke(Meaning.FITTINGS, [(x, y, z) for x, y in ring], closed=True)

    def _width_m(self, run: Run) -> float:
        return run.width_m or self.share.schedule.rules.profile_of(run.profile).width_m

    # --- splices on site: a tick square to the strip

    def draw_splices(self) -> None:
        for splice in self.share.splices:
            if splice.made is Made.FIELD and splice.kind is not SpliceKind.SEAM:
                self._tick(splice)

    def _tick(self, splice: Splice) -> None:
        run = self.run_at.get(splice.run or "")
        if run is None:
            return
        _, along = place_at(run.points_m, station_m(run.points_m, splice.at_m))
        for (at, toward), half in self._pairs(splice.at_m, along, run):
            x, y, z = at
            across = _across((toward[0] - x, toward[1] - y), half)
            self.stroke(Meaning.FIELD_SPLICES, [(x - across[0], y - across[1], z), (x + across[0], y + across[1], z)])
            self.label(at, [(Meaning.FIELD_SPLICES, splice.mark)])

    def _pairs(self, at_m: Vector, along: Vector, run: Run) -> Iterator[tuple[tuple[Vector, Vector], float]]:
        """Yield each place that shows a splice, one a hair further along, and half the length of its tick."""
        hair = 1e-3
        ahead = np.array([at_m, np.array(at_m) + np.array(along) * hair])
        behind = np.array([at_m, np.array(at_m) - np.array(along) * hair])
        courses = list(self.sight.courses(ahead)) or list(self.sight.courses(behind))
        for points, metre in courses:
            half = max(self._width_m(run) * metre, 1.2 * self.marks.height) * 0.75
            yield (vector(points[0]), vector(points[1])), half
        if not courses:
            for place in self.sight.places(at_m):
                yield (place, place), 0.9 * self.marks.height

    # --- nodes: a ring with the mark, the fitting and its seams

    def draw_nodes(self) -> None:
        fitting_at = {node.mark: copy.fitting.mark for copy in self.share.copies for node in copy.nodes}
        seams: dict[str, list[Splice]] = {}
        for splice in self.share.splices:
            if splice.kind is SpliceKind.SEAM and splice.node is not None:
                seams.setdefault(splice.node, []).append(splice)
        for node in self.share.nodes:
            lines = [(Meaning.NODES, f"{node.mark} {node.kind.value}")]
            if node.mark in fitting_at:
                lines.append((Meaning.FITTINGS, fitting_at[node.mark]))
            lines += _seam_lines(seams.get(node.mark, []))
            self._node(node, lines)

    def _node(self, node: Node, lines: Sequence[tuple[Meaning, str]]) -> None:
        for at in self.sight.places(node.at_m):
            self.marks.circles.append(Circle(meaning=Meaning.NODES, at=at, radius=0.4 * self.marks.height))
            self.label(at, lines)

    # --- runs: their mark with the piece that lies there

    def draw_runs(self) -> None:
        told: set[str] = set()
        for part in self.parts:
            if part.piece is not None:
                told.add(part.run.mark)
                self._name(part, f"{part.run.mark} {part.piece}")
        for run in self.share.runs:
            if run.mark not in told:
                self._name(Part(run=run, from_m=0.0, to_m=run.length_m), run.mark)

    def _name(self, part: Part, text: str) -> None:
        at_m, _ = place_at(part.run.points_m, (part.from_m + part.to_m) / 2)
        for at in self.sight.places(at_m):
            self.label(at, [(Meaning.RUNS, text)])

    # --- findings: a cloud round the place, with what it says

    def draw_findings(self) -> None:
        at_place: dict[Vector, list[tuple[int, Finding]]] = {}
        for number, finding in enumerate(self.share.findings, start=1):
            places = self.sight.places(finding.at_m) if finding.at_m is not None else []
            if not places:
                self.marks.unplaced.append(finding)
            for x, y, z in places:
                at_place.setdefault((round(x, 6), round(y, 6), round(z, 6)), []).append((number, finding))
        for at, found in at_place.items():
            self._cloud(at, found)

    def _cloud(self, at: Vector, found: Sequence[tuple[int, Finding]]) -> None:
        radius, (x, y, z) = 2.2 * self.marks.height, at
        turns = [2 * pi * i / 10 for i in range(10)]
        corners = tuple((x + radius * cos(turn), y + radius * sin(turn), z) for turn in turns)
        self.marks.clouds.append(Cloud(meaning=Meaning.FINDINGS, corners=corners))
        lines = [line for number, finding in found for line in _finding_lines(number, finding)]
        self.label(at, [(Meaning.FINDINGS, line) for line in lines], gap=2.9)


def _seam_lines(seams: Sequence[Splice]) -> Iterator[tuple[Meaning, str]]:
    for made, meaning in ((Made.FACTORY, Meaning.SHOP_SPLICES), (Made.FIELD, Meaning.FIELD_SPLICES)):
        marks = tuple(splice.mark for splice in seams if splice.made is made)
        if marks:
            yield meaning, marks_text(marks)


def _finding_lines(number: int, finding: Finding) -> list[str]:
    head = f"{finding.severity.value} {number}: {finding.code}"
    if finding.severity is Severity.NOTE or number > _MOST_TOLD:
        return [head]
    return [head, *textwrap.wrap(finding.message, _FINDING_LETTERS)[:12]]


def _footprint(points: Points, width: float) -> BaseGeometry:
    """Return what a strip covers in plan; where it climbs, a square as wide as it is."""
    flat = [tuple(point) for point in points[:, :2].tolist()]
    run = sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(flat))
    if run < width * _STEEP:
        return Point(flat[0]).buffer(width / 2, cap_style="square")
    return LineString(flat).buffer(width / 2, cap_style="flat", join_style="mitre")


def _rings(shape: BaseGeometry) -> Iterator[list[tuple[float, float]]]:
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            yield [(x, y) for x, y, *_ in ring.coords[:-1]]


def _across(along: tuple[float, float], half: float) -> tuple[float, float]:
    """Turn a direction by a right angle and give it a length; slantwise where it does not show in plan."""
    size = hypot(*along)
    if size < 1e-12:
        return half / sqrt(2), half / sqrt(2)
    return -along[1] / size * half, along[0] / size * half
