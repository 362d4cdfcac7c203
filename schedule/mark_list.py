"""Mark lists: for every drawn entity the marks of what is made of it."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from splicewright.extract.finding import Source
from splicewright.extract.line import Points

from .measure import marks_text
from .share import Part, Share, cut_out, miss_m
from .splice import Made, Splice

__all__ = ["MarkList", "mark_lists"]


@dataclass(slots=True, kw_only=True, eq=False)
class MarkList:
    """The marks on one entity, each list in the order of the schedule.

    Attributes
    ----------
    runs, pieces, fittings, field_splices, shop_splices, findings : dict of str to None
        Marks, and codes of findings; a dict keeps their order and each once.
    """

    runs: dict[str, None] = field(default_factory=dict)
    pieces: dict[str, None] = field(default_factory=dict)
    fittings: dict[str, None] = field(default_factory=dict)
    field_splices: dict[str, None] = field(default_factory=dict)
    shop_splices: dict[str, None] = field(default_factory=dict)
    findings: dict[str, None] = field(default_factory=dict)

    def values(self) -> list[tuple[str, str]]:
        """Return what there is, under the names that people read."""
        lists = (
            ("Runs", self.runs),
            ("Pieces", self.pieces),
            ("Fittings", self.fittings),
            ("Field splices", self.field_splices),
            ("Shop splices", self.shop_splices),
            ("Findings", self.findings),
        )
        return [(name, marks_text(tuple(marks))) for name, marks in lists if marks]


def mark_lists(share: Share) -> dict[Source, MarkList]:
    """List the marks of every entity that a drawing's runs follow.

    What lies along a run of several entities belongs to the nearest of them; what stands at a node, to all that meet
    there.

    Parameters
    ----------
    share : Share
        What of the schedule belongs to the drawing.

    Returns
    -------
    dict of Source to MarkList
        In the order of runs.
    """
    lists: dict[Source, MarkList] = {}
    courses = _Courses(share)
    for run in share.runs:
        for source in run.sources:
            lists.setdefault(source, MarkList()).runs[run.mark] = None
    for part in share.parts():
        _list_part(part, courses, lists)
    _list_nodes(share, lists)
    sources = {run.mark: run.sources for run in share.runs}
    for splice in share.splices:
        if splice.node is None and splice.run is not None:
            _list_splice(splice, courses.nearest(sources[splice.run], np.array(splice.at_m)), lists)
    for finding in share.findings:
        for source in finding.sources:
            if source in lists:
                lists[source].findings[finding.code] = None
    return lists


class _Courses:
    """The drawn lines of entities."""

    def __init__(self, share: Share) -> None:
        self._lines: dict[Source, list[Points]] = {}
        for line in share.drawing.lines:
            self._lines.setdefault(line.source, []).append(line.points_m)

    def nearest(self, sources: Sequence[Source], place: Points) -> Source | None:
        """Return the entity whose line runs nearest to a place."""
        if len(set(sources)) < 2:
            return sources[0] if sources else None
        return min(sources, key=lambda source: self._miss_m(source, place))

    def _miss_m(self, source: Source, place: Points) -> float:
        return min((miss_m(points, place) for points in self._lines.get(source, ())), default=np.inf)


def _list_part(part: Part, courses: _Courses, lists: dict[Source, MarkList]) -> None:
    """List a part of a run with every entity along it."""
    if part.piece is None and part.copy is None:
        return
    for point in _along(cut_out(part)):
        source = courses.nearest(part.run.sources, point)
        if source is not None and part.piece is not None:
            lists[source].pieces[part.piece] = None
        elif source is not None and part.copy is not None:
            lists[source].fittings[part.copy.fitting.mark] = None
        if len(set(part.run.sources)) < 2:
            return


def _along(points: Points) -> Points:
    """Return the middles of the segments of a line, shape (n - 1, 3)."""
    middles: Points = (points[:-1] + points[1:]) / 2
    return middles


def _list_nodes(share: Share, lists: dict[Source, MarkList]) -> None:
    at_node: dict[str, list[Splice]] = {}
    for splice in share.splices:
        if splice.node is not None:
            at_node.setdefault(splice.node, []).append(splice)
    for node in share.nodes:
        for source in node.sources:
            for splice in at_node.get(node.mark, ()):
                _list_splice(splice, source, lists)


def _list_splice(splice: Splice, source: Source | None, lists: dict[Source, MarkList]) -> None:
    if source is None or source not in lists:
        return
    own = lists[source]
    (own.field_splices if splice.made is Made.FIELD else own.shop_splices)[splice.mark] = None
