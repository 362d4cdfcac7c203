"""Network picture: the whole network seen from above at a slant, for the first page of the workbook."""

from collections.abc import Sequence
from functools import cache
from io import BytesIO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from pymupdf_fonts import myfont

from splicewright.extract.finding import Severity
from splicewright.extract.line import Vector

from .picture import COLOURS, slant
from .plan import Schedule
from .splice import Made

__all__ = ["network_picture"]

_SIZE = (1680, 620)
"""Width and height [dots]; shown at a third of it, so that it prints sharply."""
_FINER = 2
"""How much finer it is drawn before it is made smaller, which smooths slanted lines."""
_MARGIN, _LEGEND = 40, 64
_INK, _SITE, _ERROR = "#16202c", "#E69F00", "#9a3412"
_WIDTHS = {"slab": 5, "wall-base": 8, "wall": 4, "base-seal": 6, None: 4}
_NAMES = {"slab": "slab joint", "wall-base": "wall base", "wall": "wall joint", "base-seal": "base seal"}
_SMALL = 400
"""Splices from which dots are drawn smaller; from five times as many smaller still."""


def network_picture(schedule: Schedule) -> bytes | None:
    """Draw runs by kind of joint, nodes, site splices, and what is open.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    bytes or None
        PNG; the same schedule gives the same picture. None where there is nothing to draw.
    """
    if not schedule.runs:
        return None
    image = Image.new("RGB", (_SIZE[0] * _FINER, _SIZE[1] * _FINER), "#ffffff")
    _Drawing(ImageDraw.Draw(image), schedule).draw()
    file = BytesIO()
    image.resize(_SIZE, Image.Resampling.LANCZOS).save(file, "PNG", optimize=True)
    return file.getvalue()


class _Drawing:
    """The picture while it is drawn."""

    def __init__(self, draw: ImageDraw.ImageDraw, schedule: Schedule) -> None:
        self._draw, self._schedule = draw, schedule
        points = slant(np.concatenate([run.points_m for run in schedule.runs]))
        low, high = points.min(axis=0), points.max(axis=0)
        wide = (np.array(_SIZE) - (2 * _MARGIN, 2 * _MARGIN + _LEGEND)) * _FINER
        self._scale = float((wide / np.maximum(high - low, 1e-9)).min())
        self._shift = (wide - (high - low) * self._scale) / 2 + _MARGIN * _FINER
        self._low, self._top = low, float((high - low)[1] * self._scale)

    def draw(self) -> None:
        """Draw lines first, then what stands on them, then what it all means."""
        schedule = self._schedule
        for run in schedule.runs:
            kind = run.joint.value if run.joint else None
            self._line(self._places(run.points_m), kind)
        site = [splice.at_m for splice in schedule.splices if splice.made is Made.FIELD]
        size = 1.0 if len(site) < _SMALL else 0.5 if len(site) < 5 * _SMALL else 0.3
        for node in schedule.nodes:
            self._square(self._place(node.at_m), 6 * size)
        for at_m in site:
            self._dot(self._place(at_m), 7 * size)
        for finding in schedule.findings:
            if finding.at_m is not None and finding.severity is not Severity.NOTE:
                self._ring(self._place(finding.at_m), _ERROR if finding.severity is Severity.ERROR else _INK)
        self._legend(any(splice.made is Made.FIELD for splice in schedule.splices))

    def _places(self, points_m: NDArray[np.float64]) -> list[tuple[float, float]]:
        across, up = ((slant(points_m) - self._low) * self._scale).T
        return [(x, y) for x, y in (np.column_stack([across, self._top - up]) + self._shift).tolist()]

    def _place(self, at_m: Vector) -> tuple[float, float]:
        return self._places(np.array([at_m], float))[0]

    def _line(self, places: Sequence[tuple[float, float]], kind: str | None) -> None:
        self._draw.line(places, fill=COLOURS[kind], width=_WIDTHS[kind] * _FINER, joint="curve")

    def _square(self, at: tuple[float, float], half: float) -> None:
        self._draw.rectangle(_box(at, half * _FINER), fill=_INK)

    def _dot(self, at: tuple[float, float], half: float) -> None:
        self._draw.ellipse(_box(at, half * _FINER), fill=_SITE, outline=_INK, width=_FINER * 2)

    def _ring(self, at: tuple[float, float], colour: str) -> None:
        self._draw.ellipse(_box(at, 19 * _FINER), outline=colour, width=_FINER * 4)

    def _legend(self, has_site: bool) -> None:  # noqa: FBT001 (private)
        x, y = float(_MARGIN * _FINER), (_SIZE[1] - _LEGEND / 2) * _FINER
        used = sorted({run.joint.value if run.joint else "" for run in self._schedule.runs}, reverse=True)
        for kind in used:
            self._line([(x, y), (x + 60 * _FINER, y)], kind or None)
            x = self._word(x + 72 * _FINER, y, _NAMES.get(kind, "kind not known"))
        self._square((x + 8 * _FINER, y), 6)
        x = self._word(x + 26 * _FINER, y, "node")
        if has_site:
            self._dot((x + 8 * _FINER, y), 7)
            x = self._word(x + 26 * _FINER, y, "site splice")
        open_ones = [f for f in self._schedule.findings if f.at_m is not None and f.severity is not Severity.NOTE]
        if open_ones:
            self._ring((x + 19 * _FINER, y), _INK)
            self._word(x + 50 * _FINER, y, "open finding")

    def _word(self, x: float, y: float, text: str) -> float:
        font = _font()
        self._draw.text((x, y), text, fill=_INK, font=font, anchor="lm")
        return x + float(font.getlength(text)) + 44 * _FINER


@cache
def _font() -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(BytesIO(myfont("notos")), 25 * _FINER)


def _box(at: tuple[float, float], half: float) -> tuple[float, float, float, float]:
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)
