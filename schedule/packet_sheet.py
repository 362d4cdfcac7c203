"""Packet sheets: paper, headings, paragraphs, tables and page numbers of the PDF."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, LongTable, Paragraph, Spacer, TableStyle

from .typeface import BOLD, REGULAR, clipped, set_up, shown

__all__ = ["INK", "RULE", "SOFT", "Leaf", "Lines", "gap", "heading", "numbered", "paragraph", "table"]

INK, SOFT, RULE = colors.HexColor("#16202c"), colors.HexColor("#55637a"), colors.HexColor("#b8c2cf")
_PALE = colors.HexColor("#eef1f5")
_MARGIN = 40.0
_HEAD = 12.0
_PAD = 6.0
_APART = 16.0  # between a number and the text right of it
_ROWS = 400
"""Rows of one table; longer ones follow one another, since setting a table takes the square of its rows."""

_STYLES = {
    "title": ParagraphStyle("title", fontName=BOLD, fontSize=20, leading=25, textColor=INK),
    "head": ParagraphStyle("head", fontName=BOLD, fontSize=14, leading=18, textColor=INK, spaceAfter=4),
    "subhead": ParagraphStyle("subhead", fontName=BOLD, fontSize=10, leading=13, textColor=INK, spaceBefore=9),
    "body": ParagraphStyle("body", fontName=REGULAR, fontSize=9, leading=12, textColor=INK),
    "note": ParagraphStyle("note", fontName=REGULAR, fontSize=8, leading=10.5, textColor=SOFT, spaceAfter=4),
    "cell": ParagraphStyle("cell", fontName=REGULAR, fontSize=8.5, leading=10.5, textColor=INK),
    "number": ParagraphStyle("number", fontName=REGULAR, fontSize=8.5, leading=10.5, textColor=INK, alignment=TA_RIGHT),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    """The paper of a packet, and what stands at the edge of each page.

    Attributes
    ----------
    job, drawings : str
        Name of the job; names of the drawings with the start of their digests.
    imperial : bool
        Letter rather than A4.
    """

    job: str
    drawings: str
    imperial: bool

    @property
    def upright(self) -> tuple[float, float]:
        """Width and height of a page [pt]."""
        width, height = LETTER if self.imperial else A4
        return (float(width), float(height))

    def room(self, *, across: bool = False) -> tuple[float, float]:
        """Return width and height of what is inside the margins [pt]."""
        width, height = self.upright[::-1] if across else self.upright
        return (width - 2 * _MARGIN, height - 2 * _MARGIN - _HEAD)

    def frame(self, *, across: bool = False) -> tuple[float, float, float, float]:
        """Return left, lower edge, width and height of what is inside the margins [pt]."""
        return (_MARGIN, _MARGIN, *self.room(across=across))


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """Rows to set as a table.

    Attributes
    ----------
    heads : tuple of str
        Headings; where all are empty there is no row of them.
    shares : tuple of float
        Widths of the columns, in any unit.
    rows : sequence of sequence of str
    wraps : frozenset of int
        Columns whose texts go on in the next line; all others are cut where the column ends.
    right : frozenset of int
        Columns of numbers.
    tall : bool
        Whether rows are high enough to write into, with lines between the columns.
    """

    heads: tuple[str, ...]
    shares: tuple[float, ...]
    rows: Sequence[Sequence[str]]
    wraps: frozenset[int] = frozenset()
    right: frozenset[int] = frozenset()
    tall: bool = False


def paragraph(text: str, style: str = "body") -> Paragraph:
    """Set a text; whatever it holds, it is read as letters and never as markup."""
    set_up()
    return Paragraph(escape(shown(text)), _STYLES[style])


def heading(text: str, key: str) -> Paragraph:
    """Set the heading of a part, which the PDF's outline leads to."""
    made = paragraph(text, "head")
    made.outline = (shown(text), key)
    return made


def gap(height_pt: float) -> Spacer:
    """Leave room."""
    return Spacer(1, height_pt)


def table(lines: Lines, width_pt: float) -> Iterator[Flowable]:
    """Set rows as tables of the given width, with the headings again on every page."""
    set_up()
    widths = [width_pt * share / sum(lines.shares) for share in lines.shares]
    head = [[_head(text, right=i in lines.right) for i, text in enumerate(lines.heads)]] if any(lines.heads) else []
    rows = iter(lines.rows)
    while batch := list(islice(rows, _ROWS)):
        cells = [[_value(lines, i, value, widths[i]) for i, value in enumerate(row)] for row in batch]
        heights = [20.0 if lines.tall else None] * len(cells)
        made = LongTable(
            [*head, *cells], colWidths=widths, rowHeights=[*([None] * len(head)), *heights], repeatRows=len(head)
        )
        made.setStyle(TableStyle(_looks(lines, headed=bool(head))))
        yield made


def _value(lines: Lines, column: int, text: str, width: float) -> str | Paragraph:
    if column in lines.wraps:
        return Paragraph(escape(shown(text)), _STYLES["cell"])
    return clipped(text, width - _left(lines, column) - _PAD, 8.5)


def _left(lines: Lines, column: int) -> float:
    """Choose the room left of a column; a text keeps clear of the number that ends just left of it."""
    return _APART if column - 1 in lines.right and column not in lines.right else _PAD


def _head(text: str, *, right: bool) -> Paragraph:
    return Paragraph(f"<b>{escape(shown(text))}</b>", _STYLES["number" if right else "cell"])


def _looks(lines: Lines, *, headed: bool) -> list[tuple[Any, ...]]:
    looks: list[tuple[Any, ...]] = [
        ("FONT", (0, 0), (-1, -1), REGULAR, 8.5, 10.5),
        ("TEXTCOLOR", (0, 0), (-1, -1), INK),
        ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
        ("VALIGN", (0, 0), (-1, -1), "MIDDLE" if lines.tall else "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), _PAD),
        ("RIGHTPADDING", (0, 0), (-1, -1), _PAD),
        ("TOPPADDING", (0, 0), (-1, -1), 2.5),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    if headed:
        looks += [("BACKGROUND", (0, 0), (-1, 0), _PALE), ("LINEBELOW", (0, 0), (-1, 0), 0.8, INK)]
    looks += [("ALIGN", (column, 0), (column, -1), "RIGHT") for column in sorted(lines.right)]
    looks += [("LEFTPADDING", (i, 0), (i, -1), _left(lines, i)) for i in range(len(lines.shares))]
    return looks + ([("GRID", (0, 0), (-1, -1), 0.4, RULE)] if lines.tall else [])


def numbered(leaf: Leaf) -> type[Canvas]:
    """Return a canvas that writes job, part, page and number of pages onto every page.

    The pages are kept until the last is done, since only then their number is known.
    """

    class Numbered(Canvas):  # type: ignore[misc]  # the library carries no types
        part = ""

        def __init__(self, *given: object, **named: object) -> None:
            super().__init__(*given, **named)
            self._pages: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 (the library's name)
            self._pages.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            for number, page in enumerate(self._pages, 1):
                self.__dict__.update(page)
                _edge(self, leaf, number, len(self._pages))
                super().showPage()
            super().save()

    return Numbered


def _edge(canvas: Canvas, leaf: Leaf, number: int, of: int) -> None:
    """Write what stands above and below every page."""
    width, height = canvas._pagesize
    top = height - _MARGIN + 4
    inner = width - 2 * _MARGIN
    canvas.setFillColor(INK)
    canvas.setFont(BOLD, 9)
    canvas.drawString(_MARGIN, top, clipped(leaf.job, inner * 0.6, 9, face=BOLD))
    canvas.setFont(REGULAR, 9)
    canvas.drawRightString(width - _MARGIN, top, getattr(canvas, "part", ""))
    canvas.setStrokeColor(INK)
    canvas.setLineWidth(0.8)
    canvas.line(_MARGIN, top - 5, width - _MARGIN, top - 5)
    canvas.setFillColor(SOFT)
    canvas.setFont(REGULAR, 7.5)
    canvas.drawString(_MARGIN, _MARGIN - 16, clipped(leaf.drawings, inner * 0.8, 7.5))
    canvas.drawRightString(width - _MARGIN, _MARGIN - 16, f"page {number} of {of}")
