"""Picture: a flat sheet with its windows, and beside it the network that its views give, seen from above at a slant."""

import math
from collections.abc import Iterator, Sequence
from html import escape
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import JointLine
from splicewright.extract.network import JointNetwork
from splicewright.extract.node import NodeKind
from splicewright.extract.window import Window

__all__ = ["COLOURS", "Frame", "frames_of", "picture", "slant", "write_picture"]

_WIDTH, _HEIGHT, _MARGIN, _HEAD = 900.0, 720.0, 24.0, 44.0
COLOURS = {"slab": "#b5562a", "wall-base": "#1f6f9c", "wall": "#6a3d9a", "base-seal": "#55702a", None: "#555555"}
_STYLE = (
    "text{font:13px sans-serif;fill:#222}.h{font:bold 16px sans-serif}.w{fill:#2e7d3214;stroke:#2e7d32}"
    ".s{fill:none;stroke:#666;stroke-width:.8}.r{fill:none;stroke-width:2}"
)
_Plane = NDArray[np.float64]


class Frame(NamedTuple):
    """A window as the picture shows it: its name, and its corners on the sheet [m], shape (k, 2)."""

    name: str
    corners_m: _Plane


def frames_of(windows: Sequence[Window]) -> list[Frame]:
    """Return the windows of views as the picture shows them."""
    return [Frame(window.view.name, window.outline_m) for window in windows]


def picture(lines: Sequence[JointLine], frames: Sequence[Frame], network: JointNetwork | None, *, title: str) -> str:
    """Draw a sheet with its windows beside its network.

    Parameters
    ----------
    lines : sequence of JointLine
        As they lie on the sheet.
    frames : sequence of Frame
        Windows on the sheet.
    network : JointNetwork or None
        What the views give; None where there is none yet.
    title : str
        Name of the drawing.

    Returns
    -------
    str
        SVG that needs nothing else; the same input gives the same text.
    """
    whole = _WIDTH * (1 if network is None else 2)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole:g} {_HEIGHT:g}" width="{whole:g}" '
        f'height="{_HEIGHT:g}"><title>{escape(title)}</title><style>{_STYLE}</style>',
        f'<rect width="{whole:g}" height="{_HEIGHT:g}" fill="#fff"/>',
        *_sheet(lines, frames, title),
    ]
    if network is not None:
        parts += _network(network)
    return "\n".join([*parts, "</svg>\n"])


def write_picture(text: str, path: Path) -> None:
    """Write a picture as UTF-8."""
    path.write_text(text, encoding="utf-8", newline="\n")


def _sheet(lines: Sequence[JointLine], frames: Sequence[Frame], title: str) -> Iterator[str]:
    courses = [line.points_m[:, :2] for line in lines]
    fit = _Fit([*courses, *(frame.corners_m for frame in frames)], left=0.0)
    yield f'<text class="h" x="{_MARGIN:g}" y="28">{escape(title)}: the sheet, {len(frames)} windows</text>'
    for frame in frames:
        yield f'<polygon class="w" points="{fit(frame.corners_m)}"/>'
    for course in courses:
        yield f'<polyline class="s" points="{fit(course)}"/>'
    for frame in frames:
        x, y = fit.place(frame.corners_m).min(axis=0)
        yield f'<text x="{x + 4:.1f}" y="{y + 14:.1f}">{escape(frame.name)}</text>'


def _network(network: JointNetwork) -> Iterator[str]:
    runs, nodes = list(network.runs()), list(network.nodes())
    fit = _Fit([slant(run.points_m) for run in runs], left=_WIDTH)
    head = f"the network: {len(nodes)} nodes, {len(runs)} runs, {network.length_m:.3f} m"
    yield f'<text class="h" x="{_WIDTH + _MARGIN:g}" y="28">{head}</text>'
    for run in runs:
        colour = COLOURS[run.joint.value if run.joint else None]
        told = escape(f"{run.mark}: {run.joint or 'kind unknown'}, {run.length_m:.3f} m")
        course = fit(slant(run.points_m))
        yield f'<polyline class="r" stroke="{colour}" points="{course}"><title>{told}</title></polyline>'
    for node in nodes:
        x, y = fit.place(slant(np.array([node.at_m])))[0]
        fill = "#fff" if node.kind is NodeKind.END else "#222"
        told = escape(f"{node.mark}: {node.kind}, {node.orientation}")
        yield f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3.2" fill="{fill}" stroke="#222"><title>{told}</title></circle>'
    used = sorted({run.joint.value if run.joint else "" for run in runs})
    for number, kind in enumerate(used):
        x, y = _WIDTH + _MARGIN + 130 * number, _HEIGHT - 12
        stroke = f'stroke="{COLOURS[kind or None]}" class="r"'
        yield f'<line x1="{x:g}" x2="{x + 24:g}" y1="{y - 4:g}" y2="{y - 4:g}" {stroke}/>'
        yield f'<text x="{x + 30:g}" y="{y:g}">{kind or "kind unknown"}</text>'


def slant(points_m: _Plane) -> _Plane:
    """Look from the south-west, from above: x runs down to the right, y up to the right, z up."""
    x, y, z = points_m.T
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    return np.column_stack([(x + y) * c, (y - x) * s + z])


class _Fit:
    """The map that brings courses into one half of the picture."""

    def __init__(self, courses: Sequence[_Plane], *, left: float) -> None:
        points = np.concatenate(courses) if courses else np.zeros((1, 2))
        self.low, self.high = points.min(axis=0), points.max(axis=0)
        room = np.array([_WIDTH - 2 * _MARGIN, _HEIGHT - _HEAD - 2 * _MARGIN])
        self.scale = float((room / np.maximum(self.high - self.low, 1e-9)).min())
        self.shift = np.array([left + _MARGIN, _HEAD]) + (room - (self.high - self.low) * self.scale) / 2

    def place(self, points: _Plane) -> _Plane:
        across, up = ((points - self.low) * self.scale).T
        height = (self.high[1] - self.low[1]) * self.scale
        placed: _Plane = np.column_stack([across, height - up]) + self.shift
        return placed

    def __call__(self, points: _Plane) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in self.place(points).tolist())
