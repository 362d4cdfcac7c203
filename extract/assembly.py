"""Assembly: the views of a flat drawing put together to lines in space."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .drawing import Drawing
from .elevation import fold, wall_of
from .errors import NothingSelectedError
from .finding import Finding, Severity, Source
from .line import JointKind, JointLine
from .matching import Front, match
from .plan_view import footprint_of, plans_of, raised
from .riser import WallBases, climb
from .sheet import Sheet, SheetView
from .sheet_part import SheetMark, SheetParts
from .trace import Shown, levels_along, may_run_along
from .view import SheetBook, ViewKind
from .wall import Wall
from .window import Window

__all__ = ["assemble"]


def assemble(
    drawing: Drawing, marks: Sequence[SheetMark], windows: Sequence[Window], parts: SheetParts, book: SheetBook
) -> Drawing:
    """Put a flat drawing together in space.

    1. Every line belongs to the window that holds it; of several, to the one listed first.
    2. Lines of plans are raised to their levels.
    3. Elevations find their walls on the plans, and their lines are folded back onto them.
    4. Marks on plans become joints that climb.
    5. A joint drawn in several views is counted once.

    Parameters
    ----------
    drawing : Drawing
        Lines as they lie on the sheet.
    marks : sequence of SheetMark
        Marks on its plans.
    windows : sequence of Window
        At least one.
    parts : SheetParts
        Lines that views name.
    book : SheetBook
        The rules.

    Returns
    -------
    Drawing
        Lines in space. `selected` and `skipped` count entities on the sheet, so that lines, which may be repeated on
        several levels or drawn in several views, no longer add up to them.

    Raises
    ------
    NothingSelectedError
        No line lies in a window.
    RulesError
        A view does not fit the drawing; the sentence starts with the rules file and the path of the field.
    """
    sorted_in, findings, outside = _sorted_in(drawing.lines, windows)  # RULE 1
    plan = [
        Shown(line=lifted, view=window.view.name)
        for window in plans_of(windows)
        for line in sorted_in[id(window)]
        for lifted in raised(line, window, book)  # RULE 2
    ]
    footprint = footprint_of([shown.line for shown in plan], book.tolerance_m)
    walls = {  # RULE 3
        id(window): wall_of(window, windows, footprint, parts, book)
        for window in windows
        if window.view.kind is not ViewKind.PLAN
    }
    _name_bases(plan, list(walls.values()), book.tolerance_m)
    fronts = []
    for window in windows:
        if id(window) in walls:
            front, told = _front(window, walls[id(window)], sorted_in[id(window)], book)
            fronts.append(front)
            findings += told
    risers, told = _risers(marks, windows, plan, parts, book)  # RULE 4
    lines, differ = match(  # RULE 5
        plan, risers, fronts, marked=bool(book.risers), tolerance_m=book.tolerance_m, match_m=book.match_m
    )
    if not lines:
        raise NothingSelectedError(
            f"{drawing.file} has {len(drawing.lines)} lines of waterstop, none of them in the window of a view; "
            f"check the windows in {book.file}"
        )
    skipped = dict(drawing.skipped) | ({"outside-views": outside} if outside else {})
    return replace(
        drawing,
        lines=tuple(lines),
        selected=drawing.selected + len(marks),
        skipped=skipped,
        findings=(*drawing.findings, *findings, *told, *differ),
        sheet=_sheet(windows, walls, plan, book),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stay:
    """How much of a line lies in each window."""

    whole: list[int]
    partly: list[int]


def _sorted_in(
    lines: Sequence[JointLine], windows: Sequence[Window]
) -> tuple[dict[int, list[JointLine]], list[Finding], int]:
    """Give every line its window; tell of those in none, in several, and across an edge."""
    found: dict[int, list[JointLine]] = {id(window): [] for window in windows}
    findings: list[Finding] = []
    outside: dict[str, list[Source]] = {}
    for line, stay in zip(lines, _stays(lines, windows), strict=True):
        if not (stay.whole or stay.partly):
            outside.setdefault(line.source.layer, []).append(line.source)
            continue
        chosen = (stay.whole or stay.partly)[0]
        found[id(windows[chosen])].append(line)
        if len(stay.whole) > 1:
            findings.append(_doubtful(line, [windows[i].view.name for i in stay.whole]))
        elif not stay.whole:
            findings.append(_crossing(line, windows[chosen].view.name))
    findings += [_outside(layer, sources) for layer, sources in sorted(outside.items())]
    return found, findings, sum(len(sources) for sources in outside.values())


def _stays(lines: Sequence[JointLine], windows: Sequence[Window]) -> Iterator[_Stay]:
    """Tell for every line which windows hold all its vertices, or some."""
    if not lines:
        return
    points = np.concatenate([line.points_m[:, :2] for line in lines])
    first = np.cumsum([0, *(len(line.points_m) for line in lines[:-1])])
    count = np.diff(np.append(first, len(points)))
    held = np.stack([np.add.reduceat(window.holds(points), first, dtype=np.intp) for window in windows])
    for number in range(len(lines)):
        share = held[:, number]
        order = np.argsort(-share, kind="stable").tolist()
        whole = [i for i in range(len(windows)) if share[i] == count[number]]
        yield _Stay(whole=whole, partly=[i for i in order if share[i]])


def _name_bases(plan: Sequence[Shown], walls: Sequence[Wall], tolerance_m: float) -> None:
    """Make wall-base joints of the lines of no kind that run along a wall."""
    unnamed = [shown for shown in plan if shown.line.joint is None and may_run_along(shown.line)]
    for wall in walls if unnamed else ():
        along_m: dict[int, float] = {}
        for trace in levels_along(unnamed, wall, 2 * tolerance_m):
            along_m[id(trace.shown)] = along_m.get(id(trace.shown), 0.0) + trace.high - trace.low
        for shown in unnamed:
            if along_m.get(id(shown), 0.0) > shown.line.length_m / 2:
                shown.line = replace(shown.line, joint=JointKind.WALL_BASE)


def _front(window: Window, wall: Wall, lines: Sequence[JointLine], book: SheetBook) -> tuple[Front, list[Finding]]:
    shown: list[Shown] = []
    findings: list[Finding] = []
    for line in lines:
        parts, told = fold(line, window, wall, book.tolerance_m)
        shown += [Shown(line=part.line, view=window.view.name, course_m=part.course_m) for part in parts]
        findings += told
    return Front(window=window, wall=wall, lines=tuple(shown)), findings


def _risers(
    marks: Sequence[SheetMark], windows: Sequence[Window], plan: Sequence[Shown], parts: SheetParts, book: SheetBook
) -> tuple[list[Shown], list[Finding]]:
    bases = WallBases([shown.line for shown in plan])
    risers: list[Shown] = []
    findings: list[Finding] = []
    for mark in marks:
        rule = book.riser_of(mark.source.layer, mark.block)
        window = next((plan for plan in plans_of(windows) if plan.holds(mark.points_m).all()), None)
        if rule is not None and window is not None:
            lines, told = climb(mark, window, rule, bases, book, parts.metres)
            risers += [Shown(line=line, view=window.view.name) for line in lines]
            findings += told
    return risers, findings


def _sheet(windows: Sequence[Window], walls: dict[int, Wall], plan: Sequence[Shown], book: SheetBook) -> Sheet:
    heights: dict[str, set[float]] = {}
    for shown in plan:
        heights.setdefault(shown.view, set()).add(float(shown.line.points_m[0, 2]))
    views = tuple(
        SheetView(
            window=window,
            wall=walls.get(id(window)),
            levels_m=tuple(sorted(heights.get(window.view.name, ()))) if id(window) not in walls else (),
        )
        for window in windows
    )
    return Sheet(views=views, reach_m=2 * book.tolerance_m)


def _outside(layer: str, sources: Sequence[Source]) -> Finding:
    lines, were = ("1 line lies", "was") if len(sources) == 1 else (f"{len(sources)} lines lie", "were")
    return Finding(
        code="outside-views",
        severity=Severity.WARNING,
        message=f"layer {layer!r}: {lines} in the window of no view and {were} left out; widen a window or add a view.",
        sources=tuple(sources[:3]),
    )


def _doubtful(line: JointLine, names: Sequence[str]) -> Finding:
    told = " and ".join(map(repr, names))
    return Finding(
        code="window-overlap",
        severity=Severity.WARNING,
        message=f"{line.source} lies in the windows of {told}; it is read in the first. Draw the windows apart.",
        sources=(line.source,),
    )


def _crossing(line: JointLine, name: str) -> Finding:
    return Finding(
        code="window-crossed",
        severity=Severity.WARNING,
        message=f"{line.source} runs out of the window of {name!r} and is read whole; widen the window.",
        sources=(line.source,),
    )
