"""Typefaces: the letters that the PDF is set in, and what to do about those they lack."""

from functools import cache
from io import BytesIO

from pymupdf_fonts import myfont
from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily, stringWidth
from reportlab.pdfbase.ttfonts import TTFont

__all__ = ["BOLD", "REGULAR", "clipped", "set_up", "shown"]

REGULAR, BOLD = "NotoSans", "NotoSans-Bold"
_FILES = {REGULAR: "notos", BOLD: "notosbo"}
_MOST = 2000
"""Letters of one text that are set; what is longer is in the record."""


@cache
def set_up() -> frozenset[int]:
    """Make the typefaces known to the PDF library, and return the code points that both can show."""
    known = []
    for name, file in _FILES.items():
        font = TTFont(name, BytesIO(myfont(file)))
        registerFont(font)
        known.append(frozenset(font.face.charToGlyph))
    registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)
    return known[0] & known[1]


def shown(text: str, *, most: int = _MOST) -> str:
    r"""Return a text in letters that can be shown; any other is named by its code point.

    Parameters
    ----------
    text : str
    most : int
        Letters after which it is cut, and says so.

    Returns
    -------
    str

    Examples
    --------
    >>> shown("Fuge ąЖ"), shown("joint 水"), shown("a\tb"), shown("a" * 9, most=4)
    ('Fuge ąЖ', 'joint ‹U+6C34›', 'a b', 'aaaa… (5 more letters)')
    """
    known = set_up()
    cut = text[:most]
    letters = "".join(_letter(sign, known) for sign in cut)
    return letters if len(text) <= most else f"{letters}… ({len(text) - most:,} more letters)"


def _letter(sign: str, known: frozenset[int]) -> str:
    if sign.isspace():
        return " "
    return sign if sign.isprintable() and ord(sign) in known else f"‹U+{ord(sign):04X}›"


def clipped(text: str, width_pt: float, size_pt: float, *, face: str = REGULAR) -> str:
    """Return a text cut so that it fits into a width, with an ellipsis where it was cut.

    Parameters
    ----------
    text : str
    width_pt : float
        Width there is [pt], > 0.
    size_pt : float
        Size of the letters [pt], > 0.
    face : str
        One of `REGULAR` and `BOLD`.

    Returns
    -------
    str

    Examples
    --------
    >>> clipped("S-WATERSTOP-BASE", 40, 9)
    'S-WATE…'
    """
    fits = shown(text, most=400)
    if stringWidth(fits, face, size_pt) <= width_pt:
        return fits
    while fits and stringWidth(f"{fits}…", face, size_pt) > width_pt:
        fits = fits[:-1]
    return f"{fits}…"
