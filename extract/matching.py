"""Matching: one joint drawn in several views is one joint."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from .excerpt import Interval, rest_of, without
from .finding import Finding, Severity, place_text
from .line import JointLine, Vector
from .trace import Shown, Trace, levels_along, may_run_along, plumb_at, traces_of
from .wall import Wall
from .window import Window

__all__ = ["Front", "match"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Front:
    """An elevation with all that is drawn in it.

    Attributes
    ----------
    window : Window
    wall : Wall
    lines : tuple of Shown
    """

    window: Window
    wall: Wall
    lines: tuple[Shown, ...]

    def shows(self, trace: Trace, at: float) -> bool:
        """Tell whether a place on the wall lies in the window."""
        u, z = (trace.fixed, at) if trace.plumb else (at, trace.fixed)
        sheet = self.window.to_sheet(np.array([[u, z - self.window.view.datum_m]]))
        return bool(self.window.holds(sheet)[0])


def match(
    plan: Sequence[Shown],
    risers: Sequence[Shown],
    fronts: Sequence[Front],
    *,
    marked: bool,
    tolerance_m: float,
    match_m: float,
) -> tuple[list[JointLine], list[Finding]]:
    """Count every joint once, and tell where views disagree.

    1. What is level is taken from the plan, which alone shows its place both ways.
    2. What climbs is taken from the elevation, which shows its ends; a mark on plan shows its place only.
    3. Of two elevations, or of the two edges of an unrolled ring, the one drawn larger counts, then the one listed
       first.
    4. Up to the distance of matching, what counts less is dropped where it lies elsewhere or runs further; beyond it,
       it is another joint, drawn in one view only, and stays. A mark that has its line in an elevation is dropped
       whole.

    Parameters
    ----------
    plan, risers : sequence of Shown
        Lines of plans and joints that marks on plans stand for, in space.
    fronts : sequence of Front
        Elevations with their lines.
    marked : bool
        Whether plans mark their risers, so that a wall joint without a mark is told.
    tolerance_m : float
        Disagreements up to this are none [m].
    match_m : float
        Distance up to which two views show one joint [m], >= `tolerance_m`.

    Returns
    -------
    list of JointLine
        What is left, in the order given, fronts last.
    list of Finding
        ``view-place``, ``view-length``, ``view-height`` and ``one-view``; last a note ``same-joint`` where joints were
        drawn more than once.
    """
    judge = _Judge(tolerance_m=tolerance_m, match_m=match_m)
    findings: list[Finding] = []
    bases = [shown for shown in plan if may_run_along(shown.line)]
    level: list[Shown] = []
    upright: list[Shown] = []
    for front in sorted(fronts, key=lambda front: front.window.view.scale):  # RULE 3, a stable order
        own = [trace for shown in front.lines for trace in traces_of(shown)]
        findings += judge.levels(own, bases, level, front)
        findings += judge.climbs(own, risers, upright, front, marked=marked)
        level += [shown for shown in front.lines if may_run_along(shown.line)]
        upright += [shown for shown in front.lines if not may_run_along(shown.line)]
    findings += judge.unseen()
    everything = (*plan, *risers, *(shown for front in fronts for shown in front.lines))
    lines = [part for shown in everything for part in without(shown.line, shown.removed)]
    return lines, [*findings, *_counted(everything)]


@dataclass(slots=True, kw_only=True, eq=False)
class _Judge:
    """Compares what lies on one wall after the other."""

    tolerance_m: float
    match_m: float
    waiting: dict[int, tuple[Trace, Front]] = field(default_factory=dict)

    def levels(
        self, own: Sequence[Trace], plan: Sequence[Shown], before: Sequence[Shown], front: Front
    ) -> Iterator[Finding]:
        """Compare the level lines of an elevation with those of plans, and of elevations before it."""
        own = [trace for trace in own if not trace.plumb]
        planned = levels_along(plan, front.wall, self.match_m)
        others = levels_along(before, front.wall, self.match_m)
        yield from self._compare(own, [*planned, *others], front)  # RULE 1
        heights = np.array([shown.line.points_m[0, 2] for shown in plan])
        for trace in own:
            if not trace.covered and (np.abs(heights - trace.fixed) <= self.match_m).any():
                yield self._one_view(trace, front, "no plan of that level shows")
        for trace in planned:
            yield from self._left_over(trace, front, f"view {front.window.view.name!r} does not show")

    def climbs(
        self, own: Sequence[Trace], risers: Sequence[Shown], before: Sequence[Shown], front: Front, *, marked: bool
    ) -> Iterator[Finding]:
        """Compare the climbing lines of an elevation with those of elevations before it, and with the marks on plan."""
        own = [trace for trace in own if trace.plumb]
        others = plumb_at(before, front.wall, self.match_m)
        yield from self._compare(own, others, front)  # RULE 3
        if front.wall.ring:
            middle = front.wall.length_m / 2
            yield from self._compare([t for t in own if t.fixed >= middle], [t for t in own if t.fixed < middle], front)
        first = [trace for trace in own if not trace.covered]  # the others have been compared with marks before
        marks = plumb_at([shown for shown in risers if not shown.removed], front.wall, self.match_m)
        yield from self._compare(marks, own, front, whole=True)  # RULE 2
        for mark in marks:
            if not mark.covered and front.shows(mark, (mark.low + mark.high) / 2):
                self.waiting.setdefault(id(mark.shown), (mark, front))
        for trace in first if marked else ():
            yield from self._left_over(trace, front, "no mark on plan shows")

    def unseen(self) -> Iterator[Finding]:
        """Tell of the marks that no elevation shows though one should."""
        for mark, front in self.waiting.values():
            if not mark.shown.removed:
                yield self._one_view(mark, front, f"view {front.window.view.name!r} does not show")

    def _compare(
        self, less: Sequence[Trace], more: Sequence[Trace], front: Front, *, whole: bool = False
    ) -> Iterator[Finding]:
        """Drop of the traces that count less what those that count more show, and tell where they differ."""
        for trace in less:  # RULE 4
            for one in more:
                part = max(trace.low, one.low), min(trace.high, one.high)
                if part[1] - part[0] > self.tolerance_m and self._near(trace, one, front):
                    for here, there in ((trace, one), (one, trace)):
                        here.covered.append(part)
                        here.met.append(there)
                    yield from self._displaced(trace, one, sum(part) / 2, front)
            if trace.met:
                rests = self._rests(trace)
                yield from (self._further(trace, rest, front) for rest in rests)
                keep = [] if whole else [(low, high) for low, high in rests if high - low > self.match_m]
                trace.shown.removed += [trace.station(*part) for part in rest_of((trace.low, trace.high), keep)]

    def _near(self, one: Trace, two: Trace, front: Front) -> bool:
        return one.shown is not two.shown and self._apart_m(one, two, front) <= self.match_m

    @staticmethod
    def _apart_m(one: Trace, two: Trace, front: Front) -> float:
        """Return how far two traces lie apart [m], on a ring the short way round."""
        aside = abs(one.fixed - two.fixed)
        if one.plumb and front.wall.ring:
            aside = min(aside, front.wall.length_m - aside)
        return float(np.hypot(aside, one.off_m - two.off_m))

    def _rests(self, trace: Trace) -> list[Interval]:
        rests = rest_of((trace.low, trace.high), trace.covered)
        return [(low, high) for low, high in rests if high - low > self.tolerance_m]

    def _left_over(self, trace: Trace, front: Front, missing: str) -> Iterator[Finding]:
        """Tell what of a trace no other view shows though its place lies in the window."""
        rests = [rest for rest in self._rests(trace) if front.shows(trace, sum(rest) / 2)]
        if rests and not trace.met:
            yield self._one_view(trace, front, missing)
        elif rests:
            yield from (self._further(trace, rest, front) for rest in rests)

    def _displaced(self, less: Trace, more: Trace, at: float, front: Front) -> Iterator[Finding]:
        apart_m = self._apart_m(less, more, front)
        if apart_m > self.tolerance_m:
            what = f"{_named(less)} lies {apart_m * 1000:.0f} mm beside {_named(more)}"
            yield _difference_finding("view-place", f"{what}, which counts", less, more, more.place(front.wall, at))

    def _further(self, trace: Trace, rest: Interval, front: Front) -> Finding:
        size_mm, at = (rest[1] - rest[0]) * 1000, trace.place(front.wall, sum(rest) / 2)
        other = trace.met[0]
        if trace.plumb:
            end = "lower" if rest[0] <= trace.low else "higher" if rest[1] >= trace.high else "through a gap"
            what = f"{_named(trace)} reaches {size_mm:.0f} mm {end} than {_named(other)}"
            return _difference_finding("view-height", what.replace("gap than", "gap of"), trace, other, at)
        what = f"{_named(trace)} runs {size_mm:.0f} mm further than {_named(other)}"
        return _difference_finding("view-length", what, trace, other, at)

    def _one_view(self, trace: Trace, front: Front, missing: str) -> Finding:
        at_m, source = trace.place(front.wall, (trace.low + trace.high) / 2), trace.shown.line.source
        size_m = trace.high - trace.low
        return Finding(
            code="one-view",
            severity=Severity.WARNING,
            message=f"{source.file}: {_named(trace)} shows a joint of {size_m:.3f} m at {place_text(at_m)} that "
            f"{missing}; it is kept. Draw it in both or in neither.",
            at_m=at_m,
            sources=(source,),
        )


def _named(trace: Trace) -> str:
    source = trace.shown.line.source
    return f"{source.entity} on layer {source.layer!r} in view {trace.shown.view!r}"


def _difference_finding(code: str, what: str, one: Trace, two: Trace, at_m: Vector) -> Finding:
    sources = tuple(dict.fromkeys((one.shown.line.source, two.shown.line.source)))
    message = f"{one.shown.line.source.file}: {what}, at {place_text(at_m)}; mend one of them."
    return Finding(code=code, severity=Severity.WARNING, message=message, at_m=at_m, sources=sources)


def _counted(shown: Sequence[Shown]) -> Iterator[Finding]:
    """Note how many lines were dropped because another view shows them."""
    twice = [one for one in shown if one.removed]
    if twice:
        kept_m = sum(part.length_m for one in twice for part in without(one.line, one.removed))
        length_m = sum(one.line.length_m for one in twice) - kept_m
        lines = "1 line" if len(twice) == 1 else f"{len(twice)} lines"
        message = f"{lines} ({length_m:.3f} m) show joints that another view shows as well; each was counted once."
        yield Finding(
            code="same-joint",
            severity=Severity.NOTE,
            message=message,
            sources=tuple(dict.fromkeys(one.line.source for one in twice))[:3],
        )
