"""Packet maps: the network in plan on paper, whole and, where it is crowded, field by field."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, cos, hypot, pi, sin, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from reportlab.lib import colors
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from splicewright.extract.finding import Severity

from .measure import Measure
from .packet_sheet import INK, RULE, SOFT
from .plan import Schedule
from .splice import Made
from .typeface import BOLD, REGULAR, clipped, set_up

__all__ = ["Field", "MapSheet", "divide", "map_sheets"]

_MOST_SPLICES = 110
"""Site splices on one field of the map; more would not leave room for their marks."""
_DASHES: tuple[tuple[float, ...], ...] = ((), (6, 3), (1.5, 2), (6, 2, 1.5, 2), (10, 3))
_FOOT = 34.0


class Field(NamedTuple):
    """A rectangle of the plan [m], with its name."""

    name: str
    west: float
    south: float
    east: float
    north: float


class _Mark(NamedTuple):
    x: float
    y: float
    shape: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Content:
    """All that maps show, in plan [m]."""

    courses: list[tuple[int, NDArray[np.float64]]]
    marks: list[_Mark]
    labels: list[_Mark]
    profiles: list[str]


def divide(schedule: Schedule) -> Iterator[Field]:
    """Divide the plan into fields: first the whole, then, where it holds many splices, its parts from north-west on.

    Parameters
    ----------
    schedule : Schedule

    Yields
    ------
    Field
    """
    if not schedule.runs:
        return
    points = np.concatenate([run.points_m for run in schedule.runs])
    west, south = points[:, :2].min(axis=0).tolist()
    east, north = points[:, :2].max(axis=0).tolist()
    yield Field("whole job", west, south, east, north)
    places = np.array([splice.at_m[:2] for splice in schedule.splices if splice.made is Made.FIELD]).reshape(-1, 2)
    if len(places) <= _MOST_SPLICES:
        return
    side = sqrt(max(east - west, 1e-6) * max(north - south, 1e-6) * _MOST_SPLICES / len(places))
    columns, rows = max(1, ceil((east - west) / side)), max(1, ceil((north - south) / side))
    wide, high = (east - west) / columns, (north - south) / rows
    number = 0
    for row in range(rows):
        for column in range(columns):
            left, top = west + column * wide, north - row * high
            inside = (np.abs(places - (left + wide / 2, top - high / 2)) <= (wide / 2, high / 2)).all(axis=1)
            if inside.any():
                number += 1
                yield Field(f"field {number}", left, top - high, left + wide, top)


def map_sheets(schedule: Schedule, measure: Measure, size: tuple[float, float]) -> "Iterator[tuple[str, MapSheet]]":
    """Draw the map: the whole job and, where it is crowded, each field.

    Parameters
    ----------
    schedule : Schedule
    measure : Measure
        Units of the scale.
    size : tuple of float
        Room for one sheet [pt].

    Yields
    ------
    tuple of str and MapSheet
        Name of what the sheet shows, and the sheet.
    """
    fields, content = list(divide(schedule)), _content(schedule)
    for number, field in enumerate(fields):
        yield field.name, MapSheet(content, measure, field, fields[1:] if number == 0 else [], size)


class MapSheet(Flowable):  # type: ignore[misc]  # the library carries no types
    """One sheet of the map.

    Parameters
    ----------
    content : _Content
        What the whole map shows.
    measure : Measure
        Units of the scale.
    field : Field
        What it shows.
    fields : list of Field
        Parts outlined with their names, where it shows the whole.
    size : tuple of float
        Room there is [pt].
    """

    def __init__(
        self, content: _Content, measure: Measure, field: Field, fields: list[Field], size: tuple[float, float]
    ) -> None:
        super().__init__()
        set_up()
        self.width, self.height = size
        self._measure, self._field, self._fields = measure, field, fields
        self._content = content
        self._quiet = bool(fields)

    def draw(self) -> None:
        """Draw the sheet onto the canvas that the library has given it."""
        canvas, field = self.canv, self._field
        wide, high = max(field.east - field.west, 1e-3), max(field.north - field.south, 1e-3)
        room_x, room_y = self.width - 24, self.height - _FOOT - 24
        scale = min(room_x / wide, room_y / high)
        left = 12 + (room_x - wide * scale) / 2
        low = _FOOT + 12 + (room_y - high * scale) / 2
        shift = np.array([left - field.west * scale, low - field.south * scale])
        canvas.saveState()
        canvas.setStrokeColor(RULE)
        canvas.rect(0, _FOOT, self.width, self.height - _FOOT)
        clip = canvas.beginPath()
        clip.rect(0, _FOOT, self.width, self.height - _FOOT)
        canvas.clipPath(clip, stroke=0)
        self._strips(scale, shift)
        self._outlines(scale, shift)
        self._marks(scale, shift)
        canvas.restoreState()
        self._legend(scale)

    def _strips(self, scale: float, shift: NDArray[np.float64]) -> None:
        canvas = self.canv
        canvas.setStrokeColor(RULE if self._quiet else INK)
        canvas.setLineWidth(0.8 if self._quiet else 1.4)
        canvas.setLineCap(0)
        for profile, course in self._content.courses:
            points = course * scale + shift
            if not self._near(points):
                continue
            canvas.setDash(list(_DASHES[profile]))
            path = canvas.beginPath()
            path.moveTo(*points[0])
            for point in points[1:]:
                path.lineTo(*point)
            canvas.drawPath(path)
        canvas.setDash([])

    def _near(self, points: NDArray[np.float64]) -> bool:
        low, high = points.min(axis=0), points.max(axis=0)
        return bool(high[0] >= 0 and low[0] <= self.width and high[1] >= _FOOT and low[1] <= self.height)

    def _outlines(self, scale: float, shift: NDArray[np.float64]) -> None:
        canvas = self.canv
        for field in self._fields:
            x, y = field.west * scale + shift[0], field.south * scale + shift[1]
            wide, high = (field.east - field.west) * scale, (field.north - field.south) * scale
            canvas.setStrokeColor(SOFT)
            canvas.setLineWidth(0.5)
            canvas.rect(x, y, wide, high)
            canvas.setFillColor(INK)
            size = max(5.0, min(10.0, high / 3, wide / 5))
            canvas.setFont(BOLD, size)
            canvas.drawCentredString(x + wide / 2, y + high / 2 - size / 3, field.name)

    def _marks(self, scale: float, shift: NDArray[np.float64]) -> None:
        if self._quiet:
            return
        canvas, taken = self.canv, set[tuple[int, int]]()
        for mark in self._content.marks:
            x, y = mark.x * scale + shift[0], mark.y * scale + shift[1]
            if 0 <= x <= self.width and _FOOT <= y <= self.height:
                _draw_mark(canvas, mark.shape, x, y)
                if mark.label:
                    taken |= {(int((x + dx) // 4), int((y + dy) // 4)) for dx in (-3, 0, 3) for dy in (-3, 0, 3)}
        canvas.setFillColor(INK)
        canvas.setFont(REGULAR, 6.5)
        for mark in self._content.labels:
            x, y = mark.x * scale + shift[0], mark.y * scale + shift[1]
            if 0 <= x <= self.width and _FOOT <= y <= self.height:
                _write(canvas, taken, mark.label, (x, y), self.width)

    def _legend(self, scale: float) -> None:
        canvas, x = self.canv, 0.0
        canvas.setFont(REGULAR, 7.5)
        if not self._quiet:
            for shape, name in _NAMES.items():
                if any(mark.shape == shape for mark in self._content.marks):
                    room = 4.0 * (shape in {"error", "warning"})
                    _draw_mark(canvas, shape, x + 5 + room, 16)
                    canvas.setFillColor(INK)
                    canvas.drawString(x + 12 + 2 * room, 13.5, name)
                    x += 20 + 2 * room + canvas.stringWidth(name, REGULAR, 7.5)
        x = 0.0
        for number, name in enumerate(self._content.profiles[: len(_DASHES)]):
            text = clipped(name, 110, 7.5)
            canvas.setStrokeColor(INK)
            canvas.setLineWidth(1.4)
            canvas.setDash(list(_DASHES[number]))
            canvas.line(x, 4, x + 24, 4)
            canvas.setDash([])
            canvas.setFillColor(INK)
            canvas.drawString(x + 28, 1.5, text)
            x += 40 + canvas.stringWidth(text, REGULAR, 7.5)
        self._scale_bar(scale)

    def _scale_bar(self, scale: float) -> None:
        canvas = self.canv
        per_unit = scale / self._measure.long(1.0)
        raw = 110 / per_unit
        power = 10.0 ** np.floor(np.log10(raw))
        nice = next((step * power for step in (5, 2, 1) if step * power <= raw), power)
        long = nice * per_unit
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.8)
        right = self.width
        for start, stop in (
            ((right - long, 9), (right - long, 4)),
            ((right - long, 4), (right, 4)),
            ((right, 4), (right, 9)),
        ):
            canvas.line(*start, *stop)
        canvas.setFillColor(INK)
        canvas.setFont(REGULAR, 7.5)
        canvas.drawRightString(right - long - 6, 4, f"{nice:g} {self._measure.long_unit}")


_NAMES = {
    "corner": "corner",
    "tee": "tee",
    "wye": "wye",
    "cross": "cross",
    "closure": "ring closure",
    "other": "other node",
    "end": "free end",
    "site": "site splice",
    "error": "finding: error",
    "warning": "finding: warning",
}
_POLYGONS: dict[str, tuple[float, int, float]] = {
    # size, corners, turn [degrees]
    "corner": (4.2, 4, 45),
    "tee": (4.8, 3, -90),
    "wye": (4.8, 3, 90),
    "closure": (4.6, 4, 0),
    "error": (8.5, 6, 90),
    "warning": (8.5, 4, 0),
}
_FILLS = {"corner": "#0072B2", "tee": "#009E73", "wye": "#ffffff", "closure": "#ffffff"}


def _draw_mark(canvas: Canvas, shape: str, x: float, y: float) -> None:
    """Draw a mark; shapes tell the kinds apart in grey print too."""
    canvas.setStrokeColor(colors.HexColor("#9a3412") if shape == "error" else INK)
    canvas.setLineWidth(1.6 if shape in {"error", "warning"} else 0.8)
    if shape == "site":
        canvas.setFillColor(colors.HexColor("#E69F00"))
        canvas.circle(x, y, 2.4, fill=1)
    elif shape in {"end", "other"}:
        canvas.circle(x, y, 3.4 if shape == "end" else 4.4)
    elif shape == "cross":
        for dx, dy in ((4.5, 0), (0, 4.5)):
            canvas.setLineWidth(2.6)
            canvas.line(x - dx, y - dy, x + dx, y + dy)
    else:
        size, corners, turn = _POLYGONS[shape]
        path = canvas.beginPath()
        for number in range(corners):
            angle = (turn / 180 + 2 * number / corners) * pi
            (path.lineTo if number else path.moveTo)(x + size * cos(angle), y + size * sin(angle))
        path.close()
        if fill := _FILLS.get(shape):
            canvas.setFillColor(colors.HexColor(fill))
        canvas.drawPath(path, fill=int(shape in _FILLS))


def _write(canvas: Canvas, taken: set[tuple[int, int]], text: str, at: tuple[float, float], edge: float) -> None:
    """Write a mark's name beside it, on the side where there is room for it; nowhere where there is none."""
    long = canvas.stringWidth(text, REGULAR, 6.5)
    for across, rise in ((7.0, 2.0), (7.0, -7.5), (-7.0 - long, 2.0), (-7.0 - long, -7.5)):
        x, y = at[0] + across, at[1] + rise
        cells = {
            (column, row)
            for column in range(int(x // 4), int((x + long) // 4) + 1)
            for row in range(int(y // 4), int((y + 4.5) // 4) + 1)
        }
        if x >= 0 and x + long <= edge and not cells & taken:
            taken |= cells
            canvas.drawString(x, y, text)
            return


def _content(schedule: Schedule) -> _Content:
    footage = sorted(schedule.footage, key=lambda row: -row.measured_m)
    places = {row.profile: min(number, len(_DASHES) - 1) for number, row in enumerate(footage)}
    courses = [(places.get(run.profile or "", 0), run.points_m[:, :2]) for run in schedule.runs]
    nodes = [_Mark(node.at_m[0], node.at_m[1], node.kind.value, node.mark) for node in schedule.nodes]
    site = [
        _Mark(splice.at_m[0], splice.at_m[1], "site", splice.mark)
        for splice in schedule.splices
        if splice.made is Made.FIELD
    ]
    findings = [
        _Mark(finding.at_m[0], finding.at_m[1], finding.severity.value, "")
        for finding in schedule.findings
        if finding.at_m and finding.severity is not Severity.NOTE
    ]
    runs = [_Mark(*_middle(run.points_m), "", run.mark) for run in schedule.runs]
    names = [row.profile or "not known" for row in footage]
    return _Content(courses=courses, marks=[*findings, *nodes, *site], labels=[*nodes, *site, *runs], profiles=names)


def _middle(points: NDArray[np.float64]) -> tuple[float, float]:
    """Return the place half-way along a course, seen in plan [m]."""
    steps = [hypot(*step) for step in np.diff(points[:, :2], axis=0)]
    left = sum(steps) / 2
    for number, step in enumerate(steps):
        if step >= left and step > 0:
            x, y = (points[number, :2] + (points[number + 1, :2] - points[number, :2]) * (left / step)).tolist()
            return (x, y)
        left -= step
    return (float(points[0, 0]), float(points[0, 1]))
