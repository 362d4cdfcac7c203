"""Read a drawing of any known kind, told by what the file holds and not by its name."""

import gzip
import re
import zipfile
import zlib
from pathlib import Path

from .drawing import Drawing, DrawingKind
from .errors import UnreadableDrawingError
from .selection import Selection
from .unit import LengthUnit
from .view import SheetBook

__all__ = ["kind_of", "read"]

_HEAD = 65536
_DXF_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_DXF_TEXT = re.compile(rb"(?:^|[\r\n])[ \t]*0[ \t]*\r?\n[ \t]*SECTION[ \t]*[\r\n]")
_IFC = b"ISO-10303-21"
_ZIP, _GZIP = b"PK\x03\x04", b"\x1f\x8b"
_DWG = re.compile(rb"AC10\d\d")


def read(path: Path, selection: Selection, *, unit: LengthUnit | None = None, book: SheetBook | None = None) -> Drawing:
    """Read the selected lines of a drawing.

    Parameters
    ----------
    path : Path
        The file.
    selection : Selection
        Which layers or elements are waterstop.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.
    book : SheetBook or None
        Views that put flat DXF drawings together; models stand in space as they are.

    Returns
    -------
    Drawing

    Raises
    ------
    UnreadableDrawingError
        The file is absent, of no known kind, or too damaged.
    MissingUnitError
        It states no unit, and none is given.
    NothingSelectedError
        Nothing that is selected is a line.
    RulesError
        A view does not fit the drawing.
    """
    if kind_of(path) is DrawingKind.IFC:
        from .ifc import read_ifc  # its library is imported only when an IFC is read

        return read_ifc(path, selection, unit=unit)
    from .dxf import read_dxf  # its library is imported only when a DXF is read

    return read_dxf(path, selection, unit=unit, book=book)


def kind_of(path: Path) -> DrawingKind:
    """Tell what kind of drawing a file is, by its first bytes.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    DrawingKind

    Raises
    ------
    UnreadableDrawingError
        It is absent, a folder, empty, or neither DXF nor IFC.
    """
    head = _head(path)
    if head.startswith(_DXF_BINARY):
        return DrawingKind.DXF
    if _is_ifc(head):
        return DrawingKind.IFC
    if _DXF_TEXT.search(head.removeprefix(b"\xef\xbb\xbf")):
        return DrawingKind.DXF
    if _DWG.match(head):
        raise UnreadableDrawingError(f"{path.name} is a DWG drawing; save it as DXF")
    if head.startswith((_ZIP, _GZIP)):
        return _packed_kind(path)
    raise UnreadableDrawingError(f"{path.name} is neither a DXF drawing nor an IFC model")


def _packed_kind(path: Path) -> DrawingKind:
    """Tell what lies in a packed file: an IFC model is read from it, anything else must be unpacked first."""
    with path.open("rb") as file:
        try:
            if file.read(2) == _GZIP:
                file.seek(0)
                with gzip.GzipFile(fileobj=file) as packed:
                    inside = packed.read(_HEAD)
            else:
                with zipfile.ZipFile(file) as archive:
                    inside = _IFC if any(name.lower().endswith(".ifc") for name in archive.namelist()) else b""
        except (OSError, EOFError, zlib.error, zipfile.BadZipFile):
            inside = b""
    if _is_ifc(inside):
        return DrawingKind.IFC
    raise UnreadableDrawingError(f"{path.name} is a packed file; unpack it and give the drawing inside")


def _is_ifc(head: bytes) -> bool:
    return head.removeprefix(b"\xef\xbb\xbf").lstrip().startswith(_IFC)


def _head(path: Path) -> bytes:
    if path.is_dir():
        raise UnreadableDrawingError(f"{path.name} is a folder; give the drawing inside")
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except FileNotFoundError as reason:
        raise UnreadableDrawingError(f"{path} does not exist; check the name and the folder") from reason
    except (OSError, ValueError) as reason:
        why = getattr(reason, "strerror", None) or reason
        raise UnreadableDrawingError(f"{path.name} cannot be read: {why}") from reason
    if not head.strip():
        raise UnreadableDrawingError(f"{path.name} is empty; save the drawing again")
    return head
