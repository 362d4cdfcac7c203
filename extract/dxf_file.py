"""DXF files: opened, recovered where damaged, with the unit they state and the drawings they refer to.

| $INSUNITS | unit |
| --- | --- |
| 0 or absent | none: the user must say |
| 1, 2, 3, 10 | inch, foot, mile, yard |
| 4, 5, 6, 7 | millimetre, centimetre, metre, kilometre |
| 9, 13 | mil, micrometre |
| 14, 15, 16 | decimetre, decametre, hectometre |
| 21, 22, 23, 24 | US survey foot, inch, yard, mile |
| 8, 11, 12, 17 to 20 | microinch, angstrom, nanometre, gigametre, astronomical unit, light year, parsec: refused |
"""

import hashlib
import logging
import re
import struct
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO, TextIOWrapper
from pathlib import Path, PureWindowsPath

from ezdxf import recover
from ezdxf.document import Drawing as Document
from ezdxf.filemanagement import read, readfile
from ezdxf.lldxf.const import DXFError

from .errors import MissingUnitError, UnreadableDrawingError
from .finding import Finding, Severity
from .unit import LengthUnit

__all__ = ["DAMAGE", "DxfFile", "open_dxf", "unit_of_code", "xref_path"]

DAMAGE: tuple[type[Exception], ...] = (
    DXFError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    LookupError,
    OSError,
    RuntimeError,
    StopIteration,
    TypeError,
    ValueError,
    struct.error,
)
"""What a damaged file may raise inside ezdxf: its own errors and many others."""

_UNITS: dict[int, LengthUnit] = {
    1: LengthUnit.INCH,
    2: LengthUnit.FOOT,
    3: LengthUnit.MILE,
    4: LengthUnit.MILLIMETRE,
    5: LengthUnit.CENTIMETRE,
    6: LengthUnit.METRE,
    7: LengthUnit.KILOMETRE,
    9: LengthUnit.MIL,
    10: LengthUnit.YARD,
    13: LengthUnit.MICROMETRE,
    14: LengthUnit.DECIMETRE,
    15: LengthUnit.DECAMETRE,
    16: LengthUnit.HECTOMETRE,
    21: LengthUnit.US_SURVEY_FOOT,
    22: LengthUnit.US_SURVEY_INCH,
    23: LengthUnit.US_SURVEY_YARD,
    24: LengthUnit.US_SURVEY_MILE,
}
_REFUSED: dict[int, str] = {
    8: "microinches",
    11: "angstroms",
    12: "nanometres",
    17: "gigametres",
    18: "astronomical units",
    19: "light years",
    20: "parsecs",
}
_BINARY = b"AutoCAD Binary DXF\r\n\x1a\x00"
_END = re.compile(rb"[\r\n][ \t]*0[ \t]*\r?\n[ \t]*(?:EOF[ \t]*(?:[\r\n]|$)|ENDSEC[\0\x1a\s]*$)")
_COMMA = re.compile(
    rb"[\r\n][ \t]*(?:[1-5]\d|14\d|2[1-3]\d|46\d|10[1-5]\d)[ \t]*\r?\n[ \t]*([-+]?\d+,\d+)[ \t]*(?=[\r\n])"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DxfFile:
    """An opened DXF file.

    Attributes
    ----------
    path : Path
        Where it lies.
    sha256 : str
        Digest of its bytes, lower-case hexadecimal.
    document : Document
        What ezdxf made of it.
    unit_code : int or None
        ``$INSUNITS`` as the file states it; None where it does not, whatever ezdxf fills in.
    findings : tuple of Finding
        What was lost in opening it.
    """

    path: Path
    sha256: str
    document: Document
    unit_code: int | None
    findings: tuple[Finding, ...]

    @property
    def name(self) -> str:
        """Name of the file, without its folder."""
        return self.path.name

    @property
    def unit(self) -> LengthUnit | None:
        """Unit the file states, None where it states none that a job can be built in."""
        return unit_of_code(self.unit_code or 0)

    def require_unit(self, unit: LengthUnit | None) -> LengthUnit:
        """Return the unit that counts: the given one before the one the file states.

        Raises
        ------
        MissingUnitError
            The file states none, or one that no job is built in.
        """
        known = unit or self.unit
        if known is not None:
            return known
        stated = "no length unit ($INSUNITS is absent or 0)"
        if self.unit_code:
            stated = f"a length unit of no use here, {_REFUSED.get(self.unit_code, f'$INSUNITS {self.unit_code}')}"
        raise MissingUnitError(f"{self.name} states {stated}; say which it is drawn in with --drawing-unit")


def open_dxf(path: Path) -> DxfFile:
    """Open a DXF file, ASCII or binary, R12 or newer, repairing what can be repaired.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    DxfFile

    Raises
    ------
    UnreadableDrawingError
        It is absent, no DXF, cut off, written with decimal commas, or too damaged.
    """
    data = _bytes(path)
    findings: tuple[Finding, ...] = ()
    with _listening() as heard:
        try:
            document = readfile(path) if _states_version(data) else read(_text(_with_version(data)))
        except DAMAGE as reason:
            document, findings = _recover(path, data, reason)
    return DxfFile(
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        document=document,
        unit_code=_unit_code(data, document),
        findings=findings or _warnings(path.name, heard),
    )


def _bytes(path: Path) -> bytes:
    try:
        data = path.read_bytes()
    except OSError as reason:
        raise UnreadableDrawingError(f"{path.name} cannot be read: {reason.strerror or reason}") from reason
    if not data.strip():
        raise UnreadableDrawingError(f"{path.name} is empty; save the drawing again")
    return data


def _states_version(data: bytes) -> bool:
    return b"$ACADVER" in data or b"AcDb" not in data or data.startswith(_BINARY)


def _with_version(data: bytes) -> bytes:
    """State the version that a file without it needs.

    ezdxf takes such a file for R12 and then misses all that stands behind the subclass markers of later versions:
    layers that are off, degrees of splines, whole polylines.
    """
    version = b"9\n$ACADVER\n1\nAC1015\n"
    head, mark, rest = data.partition(b"HEADER")
    if mark:
        return head + mark + b"\n" + version + rest.lstrip(b"\r\n")
    return b"0\nSECTION\n2\nHEADER\n" + version + b"0\nENDSEC\n" + data


def _text(data: bytes) -> TextIOWrapper:
    try:
        data.decode("utf-8")
        encoding = "utf-8"
    except UnicodeDecodeError:
        encoding = "cp1252"
    return TextIOWrapper(BytesIO(data), encoding=encoding, errors="surrogateescape")


@contextmanager
def _listening() -> Iterator[list[str]]:
    """Collect what ezdxf's loader warns of, which it tells to its log only."""
    heard: list[str] = []

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            heard.append(record.getMessage())

    ear, logger = Ear(level=logging.WARNING), logging.getLogger("ezdxf")
    spread = logger.propagate
    logger.addHandler(ear)
    logger.propagate = False
    try:
        yield heard
    finally:
        logger.removeHandler(ear)
        logger.propagate = spread


def _recover(path: Path, data: bytes, reason: BaseException) -> tuple[Document, tuple[Finding, ...]]:
    """Open a file that ezdxf refuses, or say in one sentence why it cannot be used."""
    name = path.name
    again = "save it again from the program that wrote it"
    if data.startswith(_BINARY):
        raise UnreadableDrawingError(f"{name} is a binary DXF that is cut off or damaged; {again}") from reason
    if comma := _COMMA.search(data):
        raise UnreadableDrawingError(
            f"{name} writes numbers with decimal commas, such as {comma[1].decode()}; save it again with points"
        ) from reason
    if not _END.search(data):
        raise UnreadableDrawingError(f"{name} is cut off before its end, lines may be missing; {again}") from reason
    try:
        document, auditor = recover.read(BytesIO(data if _states_version(data) else _with_version(data)))
    except DAMAGE as worse:
        raise UnreadableDrawingError(f"{name} is too damaged to read as a DXF ({_short(worse)}); {again}") from worse
    lost = [entry.message for entry in (*auditor.errors, *auditor.fixes)]
    return document, (_recovered(name, f"it was damaged ({_short(reason)}) and has been repaired", lost),)


def _warnings(name: str, heard: list[str]) -> tuple[Finding, ...]:
    return (_recovered(name, "it was read, but is not in order", heard),) if heard else ()


def _recovered(name: str, what: str, messages: list[str]) -> Finding:
    told = Counter(re.sub(r"#[0-9A-F]+|\(.*\)", "…", message).rstrip(".") for message in messages)
    parts = [f"{text} ({count} times)" if count > 1 else text for text, count in told.most_common(5)]
    if len(told) > len(parts):
        parts.append(f"{len(told) - len(parts)} more")
    detail = f": {'; '.join(parts)}" if parts else ""
    return Finding(
        code="recovered",
        severity=Severity.WARNING,
        message=f"{name}: {what}{detail}; check that no line is missing",
    )


def _short(reason: BaseException) -> str:
    text = " ".join(str(reason).split()).rstrip(".")
    return text[:120] or type(reason).__name__


def _unit_code(data: bytes, document: Document) -> int | None:
    """Return ``$INSUNITS`` where the file itself states it: ezdxf fills in metres where it does not."""
    start = data.find(b"HEADER")
    if start < 0 or data.find(b"$INSUNITS", start, data.find(b"ENDSEC", start)) < 0:
        return None
    try:
        return int(document.header.get("$INSUNITS", 0))
    except (TypeError, ValueError):
        return 0


def unit_of_code(code: int) -> LengthUnit | None:
    """Return the unit of an ``$INSUNITS`` code, None where it is none that a job is built in."""
    return _UNITS.get(code)


def xref_path(host: Path, folder: Path, written: str) -> Path | None:
    """Find the drawing that an external reference names, if it lies in a folder we may look into.

    Parameters
    ----------
    host : Path
        The drawing that holds the reference.
    folder : Path
        The only folder that may be read, with its subfolders.
    written : str
        The path as the drawing writes it.

    Returns
    -------
    Path or None
        None where the path leads out of the folder, through a link, or to no file.
    """
    stated = PureWindowsPath(written)  # knows both kinds of slash and drive letters
    if not written or stated.drive or stated.root or ".." in stated.parts:
        return None
    try:
        home = folder.resolve(strict=True)
        place = host.parent.resolve(strict=True).joinpath(*stated.parts)
        real = place.resolve(strict=True)
    except (OSError, RuntimeError, ValueError):
        return None
    return place if real == place and real.is_relative_to(home) and real.is_file() else None
