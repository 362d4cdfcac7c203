"""The marked drawing: a DXF handed back with marks on layers of their own, nothing of the original changed.

| layer | colour | holds |
| --- | --- | --- |
| SPLICEWRIGHT-NODES | 5 | rings and marks of nodes |
| SPLICEWRIGHT-RUNS | 8 | marks of runs and pieces |
| SPLICEWRIGHT-FITTINGS | 30 | outlines and types of fittings |
| SPLICEWRIGHT-FIELD-SPLICES | 6 | ticks and marks of splices on site |
| SPLICEWRIGHT-SHOP-SPLICES | 150 | marks of splices in the shop |
| SPLICEWRIGHT-FINDINGS | 1 | clouds and texts of findings |
| SPLICEWRIGHT-LEGEND | 7 | what all this means, beside the drawing |

Where the drawing has layers of that name already, all of ours are called SPLICEWRIGHT-2-…, and so on. Marks stand in
model space, in the drawing's unit. The file is written as text, in the version of the original; ezdxf writes neither
R13 nor R14, which become R2000, nor anything before R12, which becomes R12.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from ezdxf import const
from ezdxf.document import Drawing as Document
from ezdxf.entities.mtext import MText
from ezdxf.entities.text import Text as DxfText
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace
from ezdxf.tools.codepage import tocodepage

from splicewright.extract.dxf_block import layer_of
from splicewright.extract.dxf_file import DAMAGE, DxfFile, open_dxf
from splicewright.extract.errors import OutputError
from splicewright.extract.line import Points, Vector
from splicewright.extract.pause import paused_collector

from .label import Board, text_width
from .legend import LegendLine, legend_of
from .mark import Marks, Meaning, letters_height, marks_of
from .plan import Schedule
from .share import Share, share_of
from .sight import Sight
from .spread import Box, Spread

__all__ = ["write_marked"]

_NAME = "SPLICEWRIGHT"
_LEGEND = "LEGEND"
_COLOURS = {
    Meaning.NODES: 5,
    Meaning.RUNS: 8,
    Meaning.FITTINGS: 30,
    Meaning.FIELD_SPLICES: 6,
    Meaning.SHOP_SPLICES: 150,
    Meaning.FINDINGS: 1,
}
_BULGE = 0.5  # of a cloud's arcs: 4 atan(0.5), some 106 degrees each
_LEADING = 1.7  # distance of a legend's lines over the height of letters
_NOT_TEXT = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_LONGEST = 2000
_NEW_YEAR = 2451544.5  # 2000-01-01 as a Julian date, for drawings that state no date
_NO_GUID = "{00000000-0000-0000-0000-000000000000}"
_SIMPLER = str.maketrans({"–": "-", "—": "-", "…": "...", "’": "'"})
"""Signs that the drawn fonts of CAD programs lack."""


def write_marked(schedule: Schedule, number: int, original: Path, path: Path) -> None:
    """Write one drawing of a job with its marks.

    Parameters
    ----------
    schedule : Schedule
    number : int
        Which of its drawings, from 0; a DXF.
    original : Path
        The file it was read from.
    path : Path
        File to write; an existing one is replaced.

    Raises
    ------
    UnreadableDrawingError
        The original cannot be read any more.
    OutputError
        It has changed since it was read, or the file cannot be written.
    """
    with paused_collector():
        file = open_dxf(original)
        share = share_of(schedule, number)
        if file.sha256 != share.drawing.sha256:
            raise OutputError(f"{original} has changed while it was being scheduled; run again")
        try:
            _Draftsman(file, share).draw()
        except DAMAGE as reason:
            said = " ".join(str(reason).split())[:80]
            raise OutputError(
                f"{original.name} is too damaged to be marked ({said}); save it again, or leave dxf out of --write"
            ) from reason
        _save(file, path)


class _Draftsman:
    """Draws marks into one document."""

    def __init__(self, file: DxfFile, share: Share) -> None:
        self.document, self.share = file.document, share
        self.space: Modelspace = file.document.modelspace()
        self.sight = Sight.of(share.drawing)
        self.name = _free_name(file.document)
        self.plain = file.document.dxfversion == const.DXF12

    def draw(self) -> None:
        """Draw all marks and the legend."""
        own = list(_own_texts(self.space))
        places = self._places()
        height = letters_height(places, [size for size, _ in own])
        board = Board(height=height)
        for _, (left, low, right, high) in own:
            board.keep_text((left, low), (right, high))
        marks = marks_of(self.share, self.sight, height, board)
        boxes = list(Spread().boxes(self.space.entity_space))
        self._add_layers()
        self._add_marks(marks)
        self._add_legend(legend_of(self.share, marks), marks, boxes, places)

    def _places(self) -> Points:
        found = [(node.at_m, node.mark) for node in self.share.nodes] + [(s.at_m, s.mark) for s in self.share.splices]
        places = [place for at_m, _ in found for place in self.sight.places(at_m)]
        return np.array(places or [(0.0, 0.0, 0.0)])

    def _layer(self, meaning: Meaning | None) -> str:
        return f"{self.name}-{meaning.value.upper().replace(' ', '-') if meaning else _LEGEND}"

    def _add_layers(self) -> None:
        for meaning in (*Meaning, None):
            self.document.layers.add(self._layer(meaning), color=_COLOURS[meaning] if meaning else 7)
        self.document.styles.add(self.name, font="arial.ttf")

    def _add_marks(self, marks: Marks) -> None:
        for stroke in marks.strokes:
            self._line(stroke.points, self._layer(stroke.meaning), closed=stroke.closed)
        for circle in marks.circles:
            self.space.add_circle(circle.at, circle.radius, {"layer": self._layer(circle.meaning)})
        for cloud in marks.clouds:
            self._ring([(x, y, _BULGE) for x, y, _ in cloud.corners], cloud.corners[0][2], self._layer(cloud.meaning))
        for text in marks.texts:
            self._text(text.text, text.at, marks.height, self._layer(text.meaning), from_right=text.from_right)

    def _line(self, points: Sequence[Vector], layer: str, *, closed: bool) -> None:
        if closed:
            self._ring([(x, y, 0.0) for x, y, _ in points], points[0][2], layer)
        elif len(points) == 2:
            self.space.add_line(points[0], points[1], {"layer": layer})
        else:
            self.space.add_polyline3d(points, dxfattribs={"layer": layer})

    def _ring(self, points: Sequence[tuple[float, float, float]], z: float, layer: str) -> None:
        """Draw a closed level line through points of x, y and bulge; R12 knows the old kind of polyline only."""
        if self.plain:
            attributes = {"layer": layer, "elevation": (0.0, 0.0, z)}
            self.space.add_polyline2d(points, format="xyb", close=True, dxfattribs=attributes)
        else:
            self.space.add_lwpolyline(points, "xyb", close=True, dxfattribs={"layer": layer, "elevation": z})

    def _text(self, text: str, at: Vector, height: float, layer: str, *, from_right: bool = False) -> None:
        written = self.space.add_text(_plain(text), height=height, dxfattribs={"layer": layer, "style": self.name})
        written.set_placement(at, align=TextEntityAlignment.RIGHT if from_right else TextEntityAlignment.LEFT)

    def _add_legend(self, lines: Sequence[LegendLine], marks: Marks, boxes: Iterable[Box], places: Points) -> None:
        """Write the legend to the right of everything, level with the top of the waterstop."""
        height = marks.height
        wide = (max(text_width(line.text) for line in lines) + 9) * height
        deep = (len(lines) + 1) * _LEADING * height
        right, top = places[:, :2].max(axis=0).tolist()
        reach = [text.at[0] + text_width(text.text) * height for text in marks.texts if not text.from_right]
        x = _clear(max(right, *reach), top - deep, top, wide, height, boxes)
        y = top - _LEADING * height
        layer = self._layer(None)
        for line in lines:
            if line.sample is not None:
                self._sample(line.sample, x + height, y, height)
            inset = 8 * height if line.sample is not None or line.text.startswith(" ") else height
            if line.text:
                self._text(line.text, (x + inset, y, 0.0), height, layer)
            y -= _LEADING * height
        corners = [(x, top), (x + wide, top), (x + wide, y), (x, y)]
        self._ring([(a, b, 0.0) for a, b in corners], 0.0, layer)

    def _sample(self, meaning: Meaning, x: float, y: float, height: float) -> None:
        """Draw a sample of a mark."""
        layer, middle = self._layer(meaning), y + height / 2
        if meaning is Meaning.NODES:
            self.space.add_circle((x + 3 * height, middle), 0.4 * height, {"layer": layer})
        elif meaning is Meaning.FITTINGS:
            corners = [(x, y), (x + 6 * height, y), (x + 6 * height, y + height), (x, y + height)]
            self._ring([(a, b, 0.0) for a, b in corners], 0.0, layer)
        elif meaning is Meaning.FIELD_SPLICES:
            self.space.add_line((x + 3 * height, y - height / 5), (x + 3 * height, y + 1.2 * height), {"layer": layer})
        elif meaning is Meaning.FINDINGS:
            corners = [(x, y), (x + 5 * height, y), (x + 5 * height, y + height), (x, y + height)]
            self._ring([(a, b, _BULGE / 2) for a, b in corners], 0.0, layer)
        else:
            self._text("R1 P1" if meaning is Meaning.RUNS else "S9", (x, y, 0.0), height, layer)


def _free_name(document: Document) -> str:
    """Return a beginning for our names that no layer or text style of the drawing has."""
    used = {str(layer.dxf.name).upper() for layer in document.layers}
    used |= {str(style.dxf.name).upper() for style in document.styles}
    used |= {layer_of(entity).upper() for entity in document.entitydb.values() if entity.dxf.hasattr("layer")}
    name, number = _NAME, 1
    while any(one == name or one.startswith(f"{name}-") for one in used if not _numbered(one, name)):
        number += 1
        name = f"{_NAME}-{number}"
    return name


def _numbered(one: str, name: str) -> bool:
    """Tell whether a layer belongs to earlier marks with a number of their own, so that it is not in the way."""
    return re.match(rf"{re.escape(name)}-\d", one) is not None


def _own_texts(space: Modelspace) -> Iterator[tuple[float, Box]]:
    """Yield the height and the box of the drawing's own texts."""
    spread = Spread()
    for entity in space.entity_space:
        if isinstance(entity, MText):
            height = float(entity.dxf.char_height)
        elif isinstance(entity, DxfText):
            height = float(entity.dxf.height)
        else:
            continue
        for box in spread.boxes((entity,)):
            yield height, box


def _clear(x: float, low: float, high: float, wide: float, height: float, boxes: Iterable[Box]) -> float:
    """Move a box to the right until it lies on nothing that is drawn."""
    x += 6 * height
    level = sorted(box for box in boxes if box[1] <= high and box[3] >= low)
    for left, _, right, _ in level:
        if left <= x + wide + 3 * height and right >= x - 3 * height:
            x = right + 6 * height
    return x


def _plain(text: str) -> str:
    """Write a text from anywhere so that CAD shows it as it stands: its own signs for codes must not be met in it."""
    clean = _NOT_TEXT.sub(" ", text)[:_LONGEST]
    return (
        clean.translate(_SIMPLER)
        .replace("%%", "% %")
        .replace("^", "^ ")
        .replace("\\U+", "\\ U+")
        .replace("\\M+", "\\ M+")
    )


def _save(file: DxfFile, path: Path) -> None:
    document = file.document
    if file.unit_code is None:
        document.header["$INSUNITS"] = 0  # ezdxf would state metres for a drawing that states none
    with _identity_kept(document, file.path.read_bytes()):
        document.saveas(path, fmt="asc")


@contextmanager
def _identity_kept(document: Document, data: bytes) -> Iterator[None]:
    """Keep the dates and identity that the drawing states, which ezdxf renews: equal input gives equal bytes."""
    born = re.search(rb"\$TDCREATE[ \t]*\r?\n[ \t]*40[ \t]*\r?\n[ \t]*([\d.]+)", data)

    def update() -> None:
        document.header["$TDCREATE"] = float(born[1]) if born else _NEW_YEAR
        for name in ("$FINGERPRINTGUID", "$VERSIONGUID"):
            stated = re.search(rb"\%b[^{$]{1,12}(\{[-0-9A-Fa-f]{36}\})" % name.encode(), data)
            document.header[name] = stated[1].decode() if stated else _NO_GUID
        document.header["$HANDSEED"] = str(document.entitydb.handles)
        document.header["$DWGCODEPAGE"] = tocodepage(document.encoding)

    document.__dict__["_update_metadata"] = update
    try:
        yield
    finally:
        del document.__dict__["_update_metadata"]
