"""Packet drawings: the shop drawing of a fitting, set on paper as the ticket has it."""

from typing import NamedTuple
from xml.etree.ElementTree import Element, fromstring

from reportlab.lib import colors
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from .packet_sheet import INK
from .typeface import REGULAR, set_up, shown

__all__ = ["FittingDrawing"]

_NAMESPACE = "{http://www.w3.org/2000/svg}"


class _Pen(NamedTuple):
    """How a line or an area of the drawing is set: width [mm], dashes [mm], colour, filling."""

    width_mm: float
    dashes_mm: tuple[float, ...] = ()
    colour: str = "#000000"
    filling: str = ""


_PENS = {
    "fill": _Pen(0.0, filling="#e9eef2"),
    "strip": _Pen(0.35, filling="#e9eef2"),
    "edge": _Pen(0.3),
    "seam": _Pen(0.6),
    "cut": _Pen(0.6),
    "bulb": _Pen(0.3, (2, 0.8)),
    "centre": _Pen(0.18, (4, 0.8, 0.6, 0.8), "#666666"),
    "hidden": _Pen(0.18, (1, 0.8)),
    "leader": _Pen(0.15, (), "#444444"),
    "dim": _Pen(0.15, (), "#444444"),
}
_USUAL = _Pen(0.18)
_LETTERS_MM, _SMALL_MM = 2.9, 2.4


class FittingDrawing(Flowable):  # type: ignore[misc]  # the library carries no types
    """A drawing in millimetres, made small enough for the width there is.

    Parameters
    ----------
    drawing : str
        What `ticket_drawing.draw_fitting` has drawn.
    width_pt : float
        Width there is [pt].
    """

    def __init__(self, drawing: str, width_pt: float) -> None:
        super().__init__()
        set_up()
        self._root = fromstring(drawing)  # noqa: S314 (drawn by this very program)
        wide, high = (float(value) for value in self._root.attrib["viewBox"].split()[2:])
        self._scale = min(1.0, width_pt / (wide * mm))
        self._high = high
        self.width, self.height = width_pt, high * mm * self._scale

    def draw(self) -> None:
        """Draw onto the canvas that the library has given."""
        canvas = self.canv
        canvas.saveState()
        canvas.scale(self._scale * mm, self._scale * mm)
        for item in self._root:
            name = item.tag.removeprefix(_NAMESPACE)
            if name in {"polygon", "polyline"}:
                self._course(item, closed=name == "polygon")
            elif name == "circle":
                canvas.setStrokeColor(INK)
                canvas.setFillColor(colors.white)
                canvas.setLineWidth(0.25)
                x, y, radius = (float(item.attrib[key]) for key in ("cx", "cy", "r"))
                canvas.circle(x, self._high - y, radius, fill=1)
            elif name == "text":
                self._text(item)
        canvas.restoreState()

    def _course(self, item: Element, *, closed: bool) -> None:
        canvas, pen = self.canv, _PENS.get(item.attrib.get("class", ""), _USUAL)
        spots = [tuple(map(float, spot.split(","))) for spot in item.attrib["points"].split()]
        path = canvas.beginPath()
        path.moveTo(spots[0][0], self._high - spots[0][1])
        for x, y in spots[1:]:
            path.lineTo(x, self._high - y)
        if closed:
            path.close()
        canvas.setStrokeColor(colors.HexColor(pen.colour))
        canvas.setLineWidth(pen.width_mm)
        canvas.setDash(list(pen.dashes_mm))
        if pen.filling:
            canvas.setFillColor(colors.HexColor(pen.filling))
        canvas.drawPath(path, stroke=int(pen.width_mm > 0), fill=int(bool(pen.filling)))
        canvas.setDash([])

    def _text(self, item: Element) -> None:
        canvas = self.canv
        size = _SMALL_MM if item.attrib.get("class") == "small" else _LETTERS_MM
        canvas.setFont(REGULAR, size)
        write = {"end": canvas.drawRightString, "middle": canvas.drawCentredString}.get(
            item.attrib.get("text-anchor", ""), canvas.drawString
        )
        canvas.setFillColor(INK)
        write(float(item.attrib["x"]), self._high - float(item.attrib["y"]), shown(item.text or ""))
