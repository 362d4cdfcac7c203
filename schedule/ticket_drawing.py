"""Ticket drawing: a fitting and its pieces as vector drawings to scale (SVG), in millimetres on paper."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from html import escape
from itertools import pairwise
from math import cos, radians, tan
from typing import NamedTuple, TypeAlias

from splicewright.extract.line import Vector

from .measure import Measure
from .profile import Profile
from .saw import Piece
from .saw_sheet import blade_text
from .seam import Cut
from .ticket import Ribbon, Ticket
from .vector import cross, dot, minus, times, unit

__all__ = ["STYLE", "draw_fitting", "draw_piece", "piece_scale"]

STYLE = """\
svg text { font: 2.9px Arial, Helvetica, sans-serif; fill: #000; paint-order: stroke;
stroke: #fff; stroke-width: 0.7px; stroke-linejoin: round; } svg text.small { font-size: 2.4px; }
polygon, polyline, circle { fill: none; stroke: #000; stroke-width: 0.18; vector-effect: none; }
polygon.fill { fill: #e9eef2; stroke: none; } polygon.strip { fill: #e9eef2; stroke-width: 0.35; }
polyline.edge { stroke-width: 0.3; } polyline.seam, polyline.cut { stroke-width: 0.6; }
polyline.bulb { stroke-width: 0.3; stroke-dasharray: 2 0.8; }
polyline.centre { stroke: #666; stroke-dasharray: 4 0.8 0.6 0.8; }
polyline.hidden { stroke-dasharray: 1 0.8; } polyline.leader, polyline.dim { stroke: #444; stroke-width: 0.15; }
circle { fill: #fff; stroke-width: 0.25; }
"""
"""How the parts of a drawing look; the page or picture that holds it carries this."""

_WIDE = 186.0
"""Width of a drawing [mm]."""

_HIGH = 76.0
"""Largest height of the drawing of a whole fitting [mm]."""

_MARGIN = 41.0
"""Room for notes on either side of a piece [mm]."""

_SCALES = (1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250, 500, 1000)

_TEXT = 2.9
"""Height of lettering [mm]."""

_LETTER_WIDE = 0.56
"""Width of a letter over its height, on the safe side."""

_Spot: TypeAlias = tuple[float, float]
_Paper: TypeAlias = Callable[[Vector], _Spot]


class _Rect(NamedTuple):
    """A rectangle on paper that a text takes up."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: "_Rect") -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def draw_fitting(ticket: Ticket, measure: Measure, *, scaled: bool = True) -> str:
    """Draw a whole fitting: in plan to scale where it is flat, else seen at an angle.

    Parameters
    ----------
    ticket : Ticket
    measure : Measure
        Units of its lengths.
    scaled : bool
        Whether its scale is written on it, which holds only where it is shown at its own size.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    right, up = _view(ticket)
    flat = ticket.normal is not None

    def seen(place: Vector) -> _Spot:
        return (dot(place, right) * 1000, -dot(place, up) * 1000)

    spots = [seen(place) for ribbon in ticket.ribbons for place in (*ribbon.outline, *ribbon.centre)]
    left, top = min(x for x, _ in spots), min(y for _, y in spots)
    wide, high = max(x for x, _ in spots) - left, max(y for _, y in spots) - top
    margin = (26.0, 9.0)
    scale = _scale(max(wide / (_WIDE - 2 * margin[0]), high / (_HIGH - 2 * margin[1])))
    tall = high / scale + 2 * margin[1]
    shift = ((_WIDE - wide / scale) / 2 - left / scale, margin[1] - top / scale)

    def paper(place: Vector) -> _Spot:
        x, y = seen(place)
        return (x / scale + shift[0], y / scale + shift[1])

    note = ("plan" + f", scale 1:{scale}" * scaled) if flat else "seen at an angle, not to scale"
    body = list(_ribbons(ticket, paper, right, up))
    body += _texts(ticket, paper, measure, tall)
    body.append(_text((_WIDE - 1, tall - 1), note, anchor="end", small=True))
    return _svg(tall, body, f"Fitting {ticket.fitting.mark}, {note}")


def piece_scale(longest_m: float, width_m: float) -> int:
    """Choose the scale for pieces that are drawn one over the other.

    Parameters
    ----------
    longest_m, width_m : float
        The longest piece and the widest [m].

    Returns
    -------
    int
        Length over its length on paper.

    Examples
    --------
    >>> piece_scale(1.2, 0.2)
    15
    """
    return _scale(max(longest_m, width_m / 2) * 1000 / (_WIDE - 2 * _MARGIN))


def draw_piece(piece: Piece, cuts: Sequence[Cut], profile: Profile, measure: Measure, *, scale: int) -> str:
    """Draw one piece flat on the saw table, face up, fence at the top, to scale.

    Parameters
    ----------
    piece : Piece
    cuts : sequence of Cut
        Its cuts.
    profile : Profile
        Its profile.
    measure : Measure
        Units of its lengths.
    scale : int
        Length over its length on paper.

    Returns
    -------
    str
        An ``<svg>`` element.
    """
    return _PieceDrawing(piece, cuts, profile, measure, scale).svg()


class _PieceDrawing:
    """Lays out the drawing of one piece; x runs along it and y from the fence to the front."""

    def __init__(self, piece: Piece, cuts: Sequence[Cut], profile: Profile, measure: Measure, scale: int) -> None:
        self._piece, self._cuts, self._measure = piece, cuts, measure
        self._profile = profile
        self._half_m, self._thick_m = profile.width_m / 2, profile.thickness_m / 2
        self._scale = scale
        ends = [self._end(side, y, self._thick_m) for side in ("left", "right") for y in (-1.0, 0.0, 1.0)]
        self._low_m, self._high_m = min(0.0, *ends), max(piece.length_m, *ends)
        self._notes_over, self._notes_under = self._notches(over=True), self._notches(over=False)
        self._top = 4.2 + (4.5 * len(self._notes_over) + 1.5 if self._notes_over else 0.0)
        self._middle = self._top + self._mm(self._half_m)
        self._bottom = self._top + 2 * self._mm(self._half_m)

    def svg(self) -> str:
        body = [*self._strip(), *self._hidden(), *self._marks()]
        dims, tall = self._dimensions()
        return _svg(tall, [*body, *dims], f"Piece {self._piece.letter}, scale 1:{self._scale}")

    def _mm(self, length_m: float) -> float:
        return length_m * 1000 / self._scale

    def _x(self, at_m: float) -> float:
        return (_WIDE - self._mm(self._high_m - self._low_m)) / 2 + self._mm(at_m - self._low_m)

    def _spot(self, at_m: float, across: float) -> _Spot:
        """Return the place at some way along, and across from -1 at the front to 1 at the fence."""
        return (self._x(at_m), self._middle - across * self._mm(self._half_m))

    def _plane(self, cut: Cut, across: float, through_m: float) -> float:
        """Return where the plane of a cut lies at some place of the section [m]."""
        miter, bevel = radians(cut.miter_deg or 0.0), radians(cut.bevel_deg or 0.0)
        return cut.at_m - tan(miter) * across * self._half_m - tan(bevel) / cos(miter) * through_m

    def _end(self, side: str, across: float, through_m: float) -> float:
        """Return where the piece ends at some place of the section [m]."""
        base = 0.0 if side == "left" else self._piece.length_m
        held = [self._plane(cut, across, through_m) for cut in self._cuts if cut.end == side]
        if len(held) == 1 and any(cut.end == side and cut.shape == "point" for cut in self._cuts):
            held.append(base)
        return (max if side == "left" else min)(held, default=base)

    def _profile_of_end(self, side: str, through_m: float) -> list[_Spot]:
        """Return the end of the piece from the front to the fence; the planes meet on the centreline, or nearly so."""
        return [self._spot(self._end(side, y, through_m), y) for y in (-1.0, 0.0, 1.0)]

    def _vee(self, half: str, side: float) -> list[list[_Spot]]:
        """Return the notches in one edge, each from left to right."""
        by_place: dict[float, list[Cut]] = {}
        for cut in self._cuts:
            if cut.end == "inside" and cut.part == half:
                by_place.setdefault(round(cut.at_m, 6), []).append(cut)
        notches = []
        for at_m, cuts in sorted(by_place.items()):
            mouths = sorted(self._plane(cut, side, self._thick_m) for cut in cuts)
            ends = (mouths[0], mouths[-1]) if len(mouths) > 1 else tuple(sorted((mouths[0], at_m)))
            notches.append([self._spot(ends[0], side), self._spot(at_m, 0.0), self._spot(ends[1], side)])
        return notches

    def _strip(self) -> Iterator[str]:
        left, right = (self._profile_of_end(side, self._thick_m) for side in ("left", "right"))
        front = [spot for notch in self._vee("front half", -1.0) for spot in notch]
        fence = [spot for notch in reversed(self._vee("fence half", 1.0)) for spot in reversed(notch)]
        yield _polygon([*front, *right, *fence, *reversed(left)], "strip")
        middle = [self._spot(self._end("left", 0, 0), 0.0), self._spot(self._end("right", 0, 0), 0.0)]
        yield _line(middle[0], middle[1], "bulb" if self._profile.centre_bulb else "centre")
        for cut in self._cuts:
            if cut.end == "inside" and cut.part == "upper half":
                at_m = self._plane(cut, 0.0, self._thick_m)
                yield _line(self._spot(at_m, -1.0), self._spot(at_m, 1.0), "cut")

    def _hidden(self) -> Iterator[str]:
        """Draw the lower ends of tilted cuts, dashed."""
        for side in ("left", "right"):
            upper, lower = (self._profile_of_end(side, z) for z in (self._thick_m, -self._thick_m))
            if any(abs(a[0] - b[0]) > 0.05 for a, b in zip(upper, lower, strict=True)):
                yield _polyline(lower, "hidden")
        for cut in self._cuts:
            if cut.end == "inside" and cut.part == "lower half":
                at_m = self._plane(cut, 0.0, -self._thick_m)
                yield _line(self._spot(at_m, -1.0), self._spot(at_m, 1.0), "hidden")

    def _marks(self) -> Iterator[str]:
        """Write letter, face and cuts; notes of notches stand over or under the strip, those of ends beside it."""
        x = (self._x(self._low_m) + self._x(self._high_m)) / 2
        clear = [self._x(cut.at_m) for cut in self._cuts if cut.end == "inside"]
        if any(abs(x - at) < 16 for at in clear):
            x = (self._x(self._low_m) + min(clear)) / 2
        yield _tag((x, self._middle), self._piece.letter)
        face = "face up" if self._profile.symmetric else "face up as it is installed"
        yield _text((1.0, 2.4), f"{self._piece.letter}: {face} ▲, fence on this side", small=True)
        yield from self._end_notes("left")
        yield from self._end_notes("right")
        for row, (at_m, note) in enumerate(self._notes_over):
            y = 6.4 + 4.5 * row
            yield _text((self._x(at_m), y), note, anchor="middle")
            yield _line((self._x(at_m), y + 0.9), (self._x(at_m), self._top - 0.4), "leader")

    def _notches(self, *, over: bool) -> list[tuple[float, str]]:
        """Return the notes of notches on one side of the strip, by place."""
        halves = {"fence half", "upper half"} if over else {"front half", "lower half", ""}
        notes: dict[float, list[Cut]] = {}
        for cut in self._cuts:
            if cut.end == "inside" and cut.part in halves:
                notes.setdefault(round(cut.at_m, 6), []).append(cut)
        return [(at_m, " · ".join(self._note(cut, brief=True) for cut in notes[at_m])) for at_m in sorted(notes)]

    def _note(self, cut: Cut, *, brief: bool) -> str:
        number = cut.mark.rpartition("-")[2]
        if cut.miter_deg is None or cut.bevel_deg is None:
            return f"{number}: not known"
        text = blade_text(cut.miter_deg, cut.bevel_deg)
        if brief:
            text = text.removesuffix(", upright").removeprefix("straight, ")
        return f"{number}: {text}"

    def _end_notes(self, side: str) -> Iterator[str]:
        cuts = [cut for cut in self._cuts if cut.end == side]
        notes = [self._note(cut, brief=True) + _half(cut) for cut in cuts] or ["square"]
        if len(cuts) == 1 and cuts[0].shape == "point":
            notes.append("square")
        edge = self._x(self._low_m) - 2.5 if side == "left" else self._x(self._high_m) + 2.5
        for row, note in enumerate(notes):
            y = self._middle + (row - (len(notes) - 1) / 2) * 4.2 + 1
            yield _text((edge, y), note, anchor="end" if side == "left" else "start")

    def _dimensions(self) -> tuple[list[str], float]:
        """Draw what must be measured, each length in a row of its own."""
        rows: list[tuple[float, float, str]] = []
        piece, measure = self._piece, self._measure
        stations = sorted({round(cut.at_m, 6) for cut in self._cuts if cut.end == "inside"})
        rows += [(0.0, at_m, f"to notch {measure.fine_text(at_m)}") for at_m in stations]
        rows.append((0.0, piece.length_m, measure.fine_text(piece.length_m)))
        if piece.long_m > piece.length_m + 5e-5:
            rows.append((self._low_m, self._high_m, f"long points {measure.fine_text(piece.long_m)}"))
        body, y = list[str](), self._bottom + (2.4 if self._notes_under else 0.4)
        for at_m, note in self._notes_under:
            body.append(_line((self._x(at_m), self._bottom + 0.4), (self._x(at_m), y), "leader"))
            body.append(_text((self._x(at_m), y + 2.6), note, anchor="middle"))
            y += 4.5
        for start, stop, note in rows:
            y += 4.6
            body += _dimension(self._x(start), self._x(stop), y, note)
        return body, y + 3.4


def _half(cut: Cut) -> str:
    return "" if cut.part in {"all", ""} else f" ({cut.part.removesuffix(' half')})"


def _dimension(left: float, right: float, y: float, note: str) -> list[str]:
    wide = len(note) * _TEXT * _LETTER_WIDE
    lines = [_line((x, y - 1.2), (x, y + 1.2), "dim") for x in (left, right)]
    if right - left > wide + 4:
        middle = (left + right) / 2
        lines.append(_line((left, y), (middle - wide / 2 - 1, y), "dim"))
        lines.append(_line((middle + wide / 2 + 1, y), (right, y), "dim"))
        return [*lines, _text((middle, y + 1), note, anchor="middle")]
    return [*lines, _line((left, y), (right, y), "dim"), _text((right + 2, y + 1), note)]


def _view(ticket: Ticket) -> tuple[Vector, Vector]:
    """Choose the directions that run right and up on paper."""
    if ticket.normal is not None:
        along = [minus(ribbon.centre[-1], ribbon.centre[0]) for ribbon in ticket.ribbons]
        longest = max(along, key=lambda v: round(dot(v, v), 6))
        right = unit(minus(longest, times(ticket.normal, dot(longest, ticket.normal)))) or (1.0, 0.0, 0.0)
        if (round(right[0], 6), round(right[1], 6), round(right[2], 6)) < (0.0, 0.0, 0.0):
            right = times(right, -1.0)
        return right, cross(ticket.normal, right)
    toward = max(_directions(), key=lambda d: (round(_openness(d, ticket.ribbons), 3), d))
    right = unit(cross((0.0, 0.0, 1.0), toward)) or (1.0, 0.0, 0.0)
    return right, cross(toward, right)


def _directions() -> Iterator[Vector]:
    """Yield directions to look from: round about, from above at two heights."""
    for turn in (25, 40, 50, 65):
        for quarter in range(4):
            for rise in (25, 40):
                a, h = radians(turn + 90 * quarter), radians(rise)
                yield (cos(h) * cos(a), cos(h) * cos(a - radians(90)), cos(radians(90) - h))


def _openness(toward: Vector, ribbons: Sequence[Ribbon]) -> float:
    """Rate a direction by the ribbon that is seen most on edge or end on."""
    sights = [abs(dot(ribbon.normal, toward)) for ribbon in ribbons if ribbon.normal]
    ways = [unit(minus(ribbon.centre[-1], ribbon.centre[0])) for ribbon in ribbons]
    sights += [1 - abs(dot(way, toward)) for way in ways if way]
    return min(sights, default=0.0)


def _ribbons(ticket: Ticket, paper: _Paper, right: Vector, up: Vector) -> Iterator[str]:
    toward = cross(right, up)

    def depth(ribbon: Ribbon) -> float:
        return round(sum(dot(place, toward) for place in ribbon.centre) / len(ribbon.centre), 6)

    for ribbon in sorted(ticket.ribbons, key=depth):
        if len(ribbon.outline) > 2:
            yield _polygon([paper(place) for place in ribbon.outline], "fill")
        yield from (_polyline([paper(place) for place in edge], "edge") for edge in ribbon.edges)
        yield _polyline([paper(place) for place in ribbon.centre], "bulb" if ribbon.bulb else "centre")
    for ribbon in ticket.ribbons:
        yield from (_polyline([paper(place) for place in seam], "seam") for seam in ribbon.seams)


def _texts(ticket: Ticket, paper: _Paper, measure: Measure, tall: float) -> list[str]:
    """Write letters and lengths where they meet nothing else."""
    shapes = [[paper(place) for place in ribbon.outline] for ribbon in ticket.ribbons]
    placed: list[_Rect] = []
    body = []
    longest: dict[str, Ribbon] = {}
    for ribbon in ticket.ribbons:
        held = longest.get(ribbon.letter)
        if held is None or _size(ribbon) > _size(held) + 1e-6:
            longest[ribbon.letter] = ribbon
    for letter, ribbon in longest.items():
        spot = _clear_spot([paper(place) for place in _stops(ribbon)], placed, 2.6)
        placed.append(_Rect(spot[0] - 2.6, spot[1] - 2.6, spot[0] + 2.6, spot[1] + 2.6))
        body.append(_tag(spot, letter))
    for label in ticket.labels:
        ahead = paper(label.at_m)
        behind = paper(minus(label.at_m, times(label.heading, 0.05)))
        note = measure.fine_text(label.length_m)
        spot, anchor, rect = _beside(ahead, behind, note, placed, shapes, tall)
        placed.append(rect)
        body.append(_text(spot, note, anchor=anchor))
    for span in ticket.spans:
        note = measure.fine_text(span.length_m)
        a, b = (paper(minus(span.at_m, times(span.heading, step))) for step in (0.0, 0.05))
        across = (b[1] - a[1], a[0] - b[0])
        spot, anchor, rect = _beside(a, (a[0] - across[0], a[1] - across[1]), note, placed, shapes, tall)
        placed.append(rect)
        body.append(_line(a, spot, "leader") + _text(spot, note, anchor=anchor))
    return body


def _size(ribbon: Ribbon) -> float:
    step = minus(ribbon.centre[-1], ribbon.centre[0])
    return round(dot(step, step), 9)


def _stops(ribbon: Ribbon) -> list[Vector]:
    """Return places along a ribbon where its letter may stand, the best first."""
    a, b = ribbon.centre[0], ribbon.centre[-1]
    step = minus(b, a)
    return [(a[0] + s * step[0], a[1] + s * step[1], a[2] + s * step[2]) for s in (0.6, 0.75, 0.45, 0.9)]


def _clear_spot(spots: Sequence[_Spot], placed: Sequence[_Rect], half: float) -> _Spot:
    for x, y in spots:
        rect = _Rect(x - half, y - half, x + half, y + half)
        if not any(rect.meets(other) for other in placed):
            return (x, y)
    return spots[0]


def _beside(
    ahead: _Spot, behind: _Spot, note: str, placed: Sequence[_Rect], shapes: Sequence[Sequence[_Spot]], tall: float
) -> tuple[_Spot, str, _Rect]:
    """Find room for a text beyond a place, away from what lies behind it."""
    dx, dy = ahead[0] - behind[0], ahead[1] - behind[1]
    size = (dx * dx + dy * dy) ** 0.5 or 1.0
    dx, dy = dx / size, dy / size
    wide = len(note) * _TEXT * _LETTER_WIDE
    choices = []
    for away in (3.0, 6.0, 10.0, 15.0, 21.0):
        for turn in (0, 35, -35, 70, -70, 110, -110):
            c, s = cos(radians(turn)), cos(radians(90 - turn))
            x, y = ahead[0] + away * (c * dx - s * dy), ahead[1] + away * (s * dx + c * dy)
            anchor = "start" if c * dx - s * dy > 0.4 else "end" if c * dx - s * dy < -0.4 else "middle"
            left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
            rect = _Rect(left - 0.4, y - 1.8, left + wide + 0.4, y + 2.0)
            choices.append(((x, y + 1.0), anchor, rect))
    inside = [c for c in choices if c[2].left > 0 and c[2].right < _WIDE and c[2].top > 0 and c[2].bottom < tall - 3]
    for choice in inside:
        if not any(choice[2].meets(other) for other in placed) and not any(_covers(s, choice[2]) for s in shapes):
            return choice
    for choice in inside:
        if not any(choice[2].meets(other) for other in placed):
            return choice
    return choices[0]


def _covers(shape: Sequence[_Spot], rect: _Rect) -> bool:
    """Tell whether a shape and a rectangle meet, as near as lettering needs."""
    xs = [rect.left + k * (rect.right - rect.left) / 6 for k in range(7)]
    return any(_within(shape, x, y) for x in xs for y in (rect.top, (rect.top + rect.bottom) / 2, rect.bottom))


def _within(shape: Sequence[_Spot], x: float, y: float) -> bool:
    inside = False
    for (ax, ay), (bx, by) in pairwise([*shape, shape[0]]):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            inside = not inside
    return inside


def _scale(least: float) -> int:
    """Return the usual scale that is no larger than would fit."""
    return next((scale for scale in _SCALES if scale >= least), int(least) + 1)


def _svg(tall: float, body: Iterable[str], title: str) -> str:
    size = f'width="{_WIDE:g}mm" height="{tall:.2f}mm" viewBox="0 0 {_WIDE:g} {tall:.2f}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img"><title>{escape(title)}</title>'
    return f"{head}{''.join(body)}</svg>"


def _points(spots: Iterable[_Spot]) -> str:
    return " ".join(f"{x + 0.0:.2f},{y + 0.0:.2f}" for x, y in spots)


def _polygon(spots: Iterable[_Spot], name: str) -> str:
    return f'<polygon class="{name}" points="{_points(spots)}"/>'


def _polyline(spots: Iterable[_Spot], name: str) -> str:
    return f'<polyline class="{name}" points="{_points(spots)}"/>'


def _line(a: _Spot, b: _Spot, name: str) -> str:
    return _polyline((a, b), name)


def _text(spot: _Spot, text: str, *, anchor: str = "start", small: bool = False) -> str:
    name = ' class="small"' if small else ""
    return f'<text x="{spot[0]:.2f}" y="{spot[1]:.2f}" text-anchor="{anchor}"{name}>{escape(text)}</text>'


def _tag(spot: _Spot, letter: str) -> str:
    circle = f'<circle cx="{spot[0]:.2f}" cy="{spot[1]:.2f}" r="2.4"/>'
    return circle + _text((spot[0], spot[1] + 1.05), letter, anchor="middle")
