"""Viewbook: what a rules file says about flat sheets: views, levels, risers."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING, Annotated, TypeAlias

from pydantic import BeforeValidator, Field, Strict, with_config

from splicewright.extract.unit import parse_length

from .basis import RulePath
from .rulefield import TABLE, Length, LengthOrZero, Patterns, Text
from .rulefile import Problem, nearest, shown

if TYPE_CHECKING:  # numpy, only where a drawing is read
    from splicewright.extract.view import SheetBook

__all__ = ["LevelEntry", "RiserEntry", "SheetRules", "ViewEntry", "sheet_book", "sheet_problems"]

_SCALE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*:\s*(\d+(?:\.\d+)?)\s*")
_MOST = 1e9


def _height(value: object) -> float:
    """Read a height: a length with a unit that may be negative."""
    if not isinstance(value, str):
        raise ValueError(f"must be a text with a unit, such as '-250 mm', not {shown(value)}")  # noqa: TRY004
    bare = value.strip()
    if bare[:1] in {"-", "−"}:
        return -parse_length(bare[1:])
    return parse_length(bare.removeprefix("+"))


def _scale(value: object) -> float:
    """Read how many times as long in space as on the sheet: ``"1:50"``, ``"1/4 in = 1 ft"``."""
    if not isinstance(value, str):
        raise ValueError(f"must be a text such as '1:50' or '1/4 in = 1 ft', not {shown(value)}")  # noqa: TRY004
    if ratio := _SCALE.fullmatch(value):
        sheet, space = Fraction(ratio[1]), Fraction(ratio[2])
    elif value.count("=") == 1:
        sheet, space = (Fraction(parse_length(side)) for side in value.split("="))
    else:
        raise ValueError(f"must be a scale such as '1:50' or '1/4 in = 1 ft', not {shown(value)}")
    if sheet == 0 or space == 0:
        raise ValueError(f"a scale of zero shows nothing, {shown(value)}; state the drawn one, such as '1:50'")
    return float(space / sheet)


class ViewWay(StrEnum):
    """What a view shows, spelt as in `splicewright.extract.view.ViewKind`."""

    PLAN = "plan"
    ELEVATION = "elevation"
    DEVELOPED = "developed elevation"


class Side(StrEnum):
    """Where the viewer stands, spelt as in `splicewright.extract.view.SeenFrom`."""

    INSIDE = "inside"
    OUTSIDE = "outside"


Coordinate: TypeAlias = Annotated[float, Strict(), Field(ge=-_MOST, le=_MOST, allow_inf_nan=False)]
Extent: TypeAlias = Annotated[float, Strict(), Field(gt=0, le=_MOST, allow_inf_nan=False)]
Point: TypeAlias = tuple[Coordinate, Coordinate]
Scale: TypeAlias = Annotated[float, BeforeValidator(_scale)]
Height: TypeAlias = Annotated[float, BeforeValidator(_height)]
Turn: TypeAlias = Annotated[float, Strict(), Field(ge=-360, le=360, allow_inf_nan=False)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRules:
    """How views of flat sheets are compared.

    Attributes
    ----------
    match_m : float
        Distance up to which what two views show is one joint [m], > 0.
    tick_m : float
        Lines on plan up to this length in space are marks of risers where their layer is one of risers [m].
    """

    match_m: Length
    tick_m: LengthOrZero


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class LevelEntry:
    """One level; attributes as in `splicewright.extract.level.Level`."""

    name: Text
    height: Height
    match: Patterns = ()


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class RiserEntry:
    """Which marks are risers; attributes as in `splicewright.extract.view.RiserRule`, levels as texts."""

    match: Text
    block: Text | None = None
    foot: Text | None = None
    top: Text | None = None
    height_m: Length | None = None
    attribute: Text | None = None
    profile: Text | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class ViewEntry:
    """One view; attributes as in `splicewright.extract.view.View`, levels as texts."""

    name: Text
    kind: ViewWay
    scale: Scale
    drawing: Text | None = None
    window: tuple[Coordinate, Coordinate, Extent, Extent] | None = None
    outline: Text | None = None
    viewport: Text | None = None
    turn_deg: Turn | None = None
    origin: Point | None = None
    level: Text | None = None
    levels: Patterns = ()
    wall: tuple[Point, Point] | None = None
    path: Text | None = None
    start: Point | None = None
    seen_from: Side | None = None
    inside: Point | None = None
    datum: Point | None = None

    @property
    def level_texts(self) -> tuple[str, ...]:
        """All levels named."""
        return (*((self.level,) if self.level else ()), *self.levels)


_OF_PLANS = ("origin", "levels")
_OF_ELEVATIONS = ("wall", "path", "start", "seen_from", "inside", "datum")


def sheet_problems(
    views: Sequence[ViewEntry], risers: Sequence[RiserEntry], levels: Sequence[LevelEntry]
) -> Iterator[Problem]:
    """List what in the tables of flat sheets cannot be together.

    Parameters
    ----------
    views : sequence of ViewEntry
    risers : sequence of RiserEntry
    levels : sequence of LevelEntry

    Yields
    ------
    Problem
    """
    yield from _twice("levels", [level.name for level in levels])
    yield from _twice("views", [view.name for view in views])
    several = sum(view.kind is ViewWay.PLAN for view in views) > 1
    for i, view in enumerate(views):
        yield from _window(("views", i), view)
        yield from _belonging(("views", i), view)
        yield from _placed(("views", i), view, several=several)
        name = "level" if view.level else "levels"
        yield from (
            _unknown(("views", i, name), text, levels) for text in view.level_texts if _at(text, levels) is None
        )
    for i, riser in enumerate(risers):
        yield from _riser(("risers", i), riser, levels)


def _twice(table: str, names: Sequence[str]) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    for i, name in enumerate(names):
        first = seen.setdefault(name.casefold(), i)
        if first != i:
            yield Problem(path=(table, i, "name"), text=f"{name!r} is the name of {table}[{first + 1}] already")


def _window(path: RulePath, view: ViewEntry) -> Iterator[Problem]:
    given = [name for name in ("window", "outline", "viewport") if getattr(view, name) is not None]
    if not given:
        text = "missing; give its rectangle [x, y, width, height], or the layer of its outline, or a layout's viewport"
        yield Problem(path=(*path, "window"), text=text)
    elif len(given) > 1:
        yield Problem(path=(*path, given[1]), text=f"the window is given by {given[0]} already; keep one")


def _belonging(path: RulePath, view: ViewEntry) -> Iterator[Problem]:
    """Tell of fields that belong to views of another kind."""
    plan = view.kind is ViewWay.PLAN
    foreign = _OF_ELEVATIONS if plan else _OF_PLANS
    if view.kind is ViewWay.ELEVATION:
        foreign = (*foreign, "path", "start")
    elif view.kind is ViewWay.DEVELOPED:
        foreign = (*foreign, "wall")
    for name in foreign:
        if getattr(view, name) not in {None, ()}:
            yield Problem(
                path=(*path, name), text=f"has no meaning for a view of kind {view.kind.value!r}; leave it out"
            )


def _placed(path: RulePath, view: ViewEntry, *, several: bool) -> Iterator[Problem]:
    """Tell what a view lacks to have its place in space."""
    if view.kind is ViewWay.PLAN:
        if several and view.origin is None:
            text = "missing; with several plans each needs the point on the sheet that stands for the same place"
            yield Problem(path=(*path, "origin"), text=text)
        return
    needed = {
        "datum": "the point on the sheet where the wall's left end meets a line of known level",
        "level": "the level of its datum, a name or a height",
    }
    if view.kind is ViewWay.ELEVATION:
        needed["wall"] = "its two ends, picked on a plan"
    else:
        needed["path"] = "the layer of the line on plan along which it is unrolled"
    for name, meaning in needed.items():
        if getattr(view, name) is None:
            yield Problem(path=(*path, name), text=f"missing; state it: {meaning}")
    if view.wall is not None and view.wall[0] == view.wall[1]:
        yield Problem(path=(*path, "wall"), text="the wall has no length; pick its two ends")


def _riser(path: RulePath, riser: RiserEntry, levels: Sequence[LevelEntry]) -> Iterator[Problem]:
    for name, text in (("foot", riser.foot), ("top", riser.top)):
        if text is not None and _at(text, levels) is None:
            yield _unknown((*path, name), text, levels)
    if riser.top is None and riser.height_m is None and riser.attribute is None:
        yield Problem(path=(*path, "top"), text="missing; state its level, or give height or attribute")
    if riser.foot is not None and riser.top is not None:
        foot, top = _at(riser.foot, levels), _at(riser.top, levels)
        if foot is not None and top is not None and foot >= top:
            yield Problem(path=(*path, "top"), text=f"{riser.top!r} must be above the foot, {riser.foot!r}")


def _at(text: str, levels: Sequence[LevelEntry]) -> float | None:
    """Return the height of a level given by its name or as a height [m]."""
    named = next((level.height for level in levels if level.name.casefold() == text.casefold()), None)
    if named is not None:
        return named
    try:
        return _height(text)
    except ValueError:
        return None


def _unknown(path: RulePath, text: str, levels: Sequence[LevelEntry]) -> Problem:
    names = [level.name for level in levels]
    guess = nearest(text, names)
    hint = f"did you mean {guess!r}?" if guess else f"known: {', '.join(names) or 'none'}; add it to [[levels]]"
    return Problem(path=path, text=f"{text!r} is neither a level nor a height with a unit; {hint}")


def sheet_book(
    file: str,
    sheet: SheetRules,
    views: Sequence[ViewEntry],
    risers: Sequence[RiserEntry],
    levels: Sequence[LevelEntry],
    *,
    tolerance_m: float,
) -> "SheetBook | None":
    """Put the tables into the form the reader of drawings takes; None without views.

    Parameters
    ----------
    file : str
        Name of the rules file.
    sheet : SheetRules
    views, risers, levels : sequence
        Free of problems.
    tolerance_m : float
        Distance at which two points are one [m].
    """
    if not views:
        return None
    from splicewright.extract.level import Level  # noqa: PLC0415 (numpy, only where a flat drawing is read)
    from splicewright.extract.view import RiserRule, SeenFrom, SheetBook, View, ViewKind  # noqa: PLC0415

    height = partial(_at, levels=levels)
    seen = {None: None} | {side: SeenFrom(side.value) for side in Side}
    return SheetBook(
        file=file,
        views=tuple(
            View(
                field=f"views[{i}]",
                name=view.name,
                kind=ViewKind(view.kind.value),
                scale=view.scale,
                drawing=view.drawing or "*",
                window=view.window,
                outline=view.outline,
                viewport=view.viewport,
                turn_deg=view.turn_deg,
                origin=view.origin,
                levels_m=tuple(h for h in map(height, view.level_texts) if h is not None),
                wall=view.wall,
                path=view.path,
                start=view.start,
                seen_from=seen[view.seen_from],
                inside=view.inside,
                datum=view.datum,
                datum_m=(height(view.level) or 0.0) if view.level else 0.0,
            )
            for i, view in enumerate(views, 1)
        ),
        risers=tuple(
            RiserRule(
                field=f"risers[{i}]",
                match=riser.match,
                block=riser.block,
                from_m=height(riser.foot) if riser.foot else None,
                to_m=height(riser.top) if riser.top else None,
                height_m=riser.height_m,
                attribute=riser.attribute,
                profile=riser.profile,
            )
            for i, riser in enumerate(risers, 1)
        ),
        levels=tuple(Level(name=level.name, height_m=level.height, match=level.match) for level in levels),
        tolerance_m=tolerance_m,
        match_m=max(sheet.match_m, tolerance_m),
        tick_m=sheet.tick_m,
    )
