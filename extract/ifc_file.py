"""IFC files: opened, unpacked, their schema told apart, what was lost in opening them counted.

| file says | read as |
| --- | --- |
| IFC2X3, IFC4, IFC4X3_ADD2 | itself |
| IFC2X_FINAL, IFC2X2… and other IFC2X | IFC2X3 |
| IFC4_ADD1, IFC4_ADD2… | IFC4 |
| IFC4X1, IFC4X2, IFC4X3, IFC4X3_RC1… | the one of IFC4X3_ADD2 and IFC4 that knows more of its classes |
"""

import gzip
import hashlib
import re
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any

import ifcopenshell
from ifcopenshell import ifcopenshell_wrapper

from .errors import UnreadableDrawingError
from .finding import Finding, Severity
from .ifc_entity import Entity, Log, Model

__all__ = ["DAMAGE", "IfcFile", "content_of", "open_ifc"]

DAMAGE: tuple[type[Exception], ...] = (
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    RecursionError,
    RuntimeError,
    TypeError,
    ValueError,
    ifcopenshell.Error,
)
"""What a damaged model may raise inside ifcopenshell, or when what should be there is not."""

_KNOWN = ("IFC2X3", "IFC4", "IFC4X3_ADD2")
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_CLASSES = re.compile(rb"=\s*(IFC[A-Z0-9_]+)\s*\(", re.IGNORECASE)
_UNKNOWN_CLASS = re.compile(r"Entity with name '(IFC[A-Z0-9_]+)' not found in schema", re.IGNORECASE)
_MISSING = re.compile(r"Instance reference #(\d+) used by instance #(\d+)")
_TOKEN = re.compile(rb"'[^']*'|/\*.*?(?:\*/|\Z)|[#]\d+\s*=\s*[A-Z]", re.DOTALL | re.IGNORECASE)
_UNKNOWN_WORD = re.compile(r"Entity with name '(?:nan|inf|infinity|ind|snan|qnan)' not found", re.IGNORECASE)
_NOT_FINITE = re.compile(rb"(?<=[(,])\s*[-+]?(?:nan(?:\([a-z]*\))?|inf(?:inity)?|\d*\.?\d*#[a-z]+\d*)\s*(?=[,)])", re.I)
_COPY = "model.ifc"
_LARGEST = 1 << 31


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IfcFile:
    """An opened IFC model.

    Attributes
    ----------
    path : Path
        Where it lies.
    sha256 : str
        Digest of its bytes, lower-case hexadecimal.
    model : Model
        What ifcopenshell made of it.
    project : Entity
        Its project.
    log : Log
        What the library notes while instances are read, which it does only when they are asked for.
    findings : tuple of Finding
        What was odd or lost in opening it.
    copy : TemporaryDirectory or None
        Folder of the unpacked or mended copy that was opened in its place.
    """

    path: Path
    sha256: str
    model: Model
    project: Entity
    log: Log
    findings: tuple[Finding, ...]
    copy: "tempfile.TemporaryDirectory[str] | None" = None

    @property
    def opened(self) -> Path:
        """Where what was opened lies."""
        return self.path if self.copy is None else Path(self.copy.name) / _COPY

    @property
    def name(self) -> str:
        """Name of the file, without its folder."""
        return self.path.name

    @property
    def lost_numbers(self) -> bool:
        """Whether the library has dropped words such as NAN that stood in a number's place in what was read."""
        words = (_UNKNOWN_WORD.search(message.message) for message in self.log.log_messages())
        return any(found is not None for found in words)

    def late_findings(self) -> Iterator[Finding]:
        """Tell of references into nowhere that have come up while instances were read."""
        broken = [_MISSING.search(message.message) for message in self.log.log_messages()]
        pairs = list(dict.fromkeys((found[2], found[1]) for found in broken if found))
        if pairs:
            shown = ", ".join(f"#{user} to #{target}" for user, target in pairs[:3])
            more = f" and {len(pairs) - 3} more" if len(pairs) > 3 else ""
            message = f"{self.name}: references lead to instances that are not there ({shown}{more}); export it again"
            yield Finding(code="reference-missing", severity=Severity.WARNING, message=message)


def open_ifc(path: Path, *, mend_numbers: bool = False) -> IfcFile:
    """Open an IFC model in STEP form, packed by gzip or zip or not.

    Parameters
    ----------
    path : Path
        The file.
    mend_numbers : bool
        Whether words such as NAN in a number's place are made such that what needs them cannot be read; else the
        library leaves them out of their list without a word.

    Returns
    -------
    IfcFile

    Raises
    ------
    UnreadableDrawingError
        It is absent, no IFC in STEP form, of a schema unlike any known, cut off, or holds no project.
    """
    data = _bytes(path)
    digest = hashlib.sha256(data).hexdigest()
    content, findings = _unpacked(path.name, data), []
    _check_ends(path.name, content)
    content, schema_findings = _with_known_schema(path.name, content)
    findings += schema_findings
    if mend_numbers:
        content, count = _NOT_FINITE.subn(b"1.E999", content)
        message = f"{path.name}: {count} coordinates or measures are no numbers; what needs them is left out"
        findings.append(Finding(code="number-missing", severity=Severity.WARNING, message=message))
    copy = None if content is data else _copy(content)
    model, log = _open(path, path if copy is None else Path(copy.name) / _COPY)
    findings += _losses(path.name, content, model, log)
    try:
        project = model.by_type("IfcProject")[0]
    except DAMAGE as reason:
        raise UnreadableDrawingError(
            f"{path.name} holds no IfcProject, so much of it is missing; export it again from the program that wrote it"
        ) from reason
    return IfcFile(path=path, sha256=digest, model=model, project=project, log=log, findings=tuple(findings), copy=copy)


def _bytes(path: Path) -> bytes:
    try:
        data = path.read_bytes()
    except OSError as reason:
        raise UnreadableDrawingError(f"{path.name} cannot be read: {reason.strerror or reason}") from reason
    if not data[:4096].strip() and not data.strip():
        raise UnreadableDrawingError(f"{path.name} is empty; save the model again")
    return data


def content_of(path: Path) -> bytes:
    """Return the text of a model as it stands in the file, unpacked.

    Raises
    ------
    UnreadableDrawingError
        The file is absent, empty, or cannot be unpacked.
    """
    return _unpacked(path.name, _bytes(path))


def _unpacked(name: str, data: bytes) -> bytes:
    """Return the model inside a gzip or zip file, and anything else as it is but for a byte order mark."""
    try:
        if data.startswith(b"\x1f\x8b"):
            with gzip.GzipFile(fileobj=BytesIO(data)) as packed:
                data = packed.read(_LARGEST)
        elif data.startswith(b"PK\x03\x04"):
            data = _from_zip(name, data)
    except (OSError, EOFError, zlib.error, zipfile.BadZipFile, RuntimeError) as reason:
        raise UnreadableDrawingError(f"{name} is packed and cannot be unpacked ({reason}); pack it again") from reason
    if len(data) >= _LARGEST:
        raise UnreadableDrawingError(f"{name} unpacks to more than 2 GiB; export the waterstop alone")
    return data.removeprefix(b"\xef\xbb\xbf").lstrip() if data[:1] != b"I" else data


def _from_zip(name: str, data: bytes) -> bytes:
    with zipfile.ZipFile(BytesIO(data)) as archive:
        inner = [entry for entry in archive.namelist() if entry.lower().endswith(".ifc")]
        if len(inner) != 1:
            held = f"{len(inner)} .ifc files" if inner else "no .ifc file"
            raise UnreadableDrawingError(f"{name} is a packed file that holds {held}; pack one model in it")
        with archive.open(inner[0]) as entry:
            return entry.read(_LARGEST)


def _check_ends(name: str, content: bytes) -> None:
    if content[:12].upper() != b"ISO-10303-21":
        what = "XML, which cannot be read; export it" if content.lstrip()[:1] == b"<" else "not in STEP form; export it"
        raise UnreadableDrawingError(f"{name} is {what} as IFC in STEP form (.ifc)")
    tail = content[-4096:].rstrip(b"\0\x1a \t\r\n").upper()
    if not re.search(rb"(?:END-ISO-10303-21|ENDSEC)\s*;?\s*$", tail) or b"DATA;" not in content:
        raise UnreadableDrawingError(
            f"{name} is cut off before its end, elements may be missing; export it again from the program that wrote it"
        )


def _with_known_schema(name: str, content: bytes) -> tuple[bytes, list[Finding]]:
    """State a schema that the library knows where the file states a relative of it."""
    found = _SCHEMA.search(content, 0, 1 << 16)
    if found is None:
        raise UnreadableDrawingError(f"{name} does not state its IFC schema in its header; export it again")
    stated = found[1].decode("latin-1").strip()
    if stated in _KNOWN:
        return content, []
    nearest = _nearest(stated.upper(), content)
    if nearest is None:
        raise UnreadableDrawingError(f"{name} states the schema {stated!r}; export it as IFC4, IFC2X3 or IFC4X3")
    content = content[: found.start(1)] + nearest.encode() + content[found.end(1) :]
    message = f"{name} states the schema {stated}, which is read as {nearest}; check that nothing is missing"
    return content, [Finding(code="schema-read-as", severity=Severity.NOTE, message=message)]


def _nearest(stated: str, content: bytes) -> str | None:
    if stated in _KNOWN or stated.startswith("IFC2X"):
        return stated if stated in _KNOWN else "IFC2X3"
    if not stated.startswith("IFC4"):
        return None
    rivals = ("IFC4X3_ADD2", "IFC4") if stated.startswith("IFC4X") else ("IFC4", "IFC4X3_ADD2")
    used = {found.decode().upper() for found in set(_CLASSES.findall(content))}
    return min(rivals, key=lambda rival: len(used - _classes(rival)))


def _classes(schema: str) -> set[str]:
    return {declaration.name().upper() for declaration in ifcopenshell_wrapper.schema_by_name(schema).declarations()}


def _copy(content: bytes) -> "tempfile.TemporaryDirectory[str]":
    """Write what was unpacked or mended to a folder that goes when nobody needs it."""
    folder = tempfile.TemporaryDirectory(prefix="splicewright-")
    (Path(folder.name) / _COPY).write_bytes(content)
    return folder


def _open(path: Path, place: Path) -> tuple[Model, Log]:
    opened: Any = ifcopenshell.open  # its annotations do not tell of all that it takes
    log: Any = ifcopenshell_wrapper.logger()
    log.output_format(ifcopenshell_wrapper.logger.FMT_INMEMORY)
    try:
        return opened(place, ".ifc", lazy=True, logger=log), log
    except DAMAGE as reason:
        said = str(reason).strip().split("\n")[0][:80]
        raise UnreadableDrawingError(
            f"{path.name} is too damaged to read as IFC ({said}); export it again from the program that wrote it"
        ) from reason
    except OSError as reason:
        raise UnreadableDrawingError(f"{path.name} cannot be read: {reason.strerror or reason}") from reason


def _losses(name: str, content: bytes, model: Model, log: Log) -> Iterator[Finding]:
    """Compare what was loaded with what stands in the file; account for the difference, or refuse."""
    loaded = len(model.entity_names())
    messages = [message.message for message in log.log_messages()]
    names = {found[1].upper() for found in map(_UNKNOWN_CLASS.search, messages) if found}
    unknown = {kind: _count_class(content, kind) for kind in sorted(names)}  # the library tells of each class once
    if unknown:
        listed = ", ".join(f"{count} {kind}" for kind, count in unknown.items())
        message = f"{name}: the schema knows none of {listed}, which are left out; export it as IFC4 or IFC4X3"
        yield Finding(code="class-unknown", severity=Severity.WARNING, message=message)
    doubled = sum(message.startswith("Overwriting instance") for message in messages)
    if doubled:
        message = f"{name}: {doubled} instance numbers are given twice, the last one counts; export it again"
        yield Finding(code="instance-doubled", severity=Severity.WARNING, message=message)
    if loaded + sum(unknown.values()) == content.count(b"=IFC"):
        return
    written, in_comments = _count_instances(name, content)
    if in_comments:
        message = f"{name}: {in_comments} instances stand inside comments and are left out"
        yield Finding(code="commented-out", severity=Severity.WARNING, message=message)
    lost = written - loaded - sum(unknown.values()) - doubled
    if lost > 0:
        raise UnreadableDrawingError(
            f"{name} is damaged: of its {written} instances only {loaded} can be read; export it again from the "
            "program that wrote it"
        )


def _count_class(content: bytes, kind: str) -> int:
    return len(re.findall(rb"=\s*%s\s*\(" % kind.encode(), content, re.IGNORECASE))


def _count_instances(name: str, content: bytes) -> tuple[int, int]:
    """Count instances outside and inside comments, not minding what stands in texts."""
    written = in_comments = 0
    for token in _TOKEN.finditer(content, content.index(b"DATA;")):
        text = token[0]
        if text[:1] == b"#":
            written += 1
        elif text[:2] == b"/*":
            if not text.endswith(b"*/"):
                raise UnreadableDrawingError(
                    f"{name} opens a comment and never closes it, so all behind it is lost; export it again"
                )
            in_comments += len(re.findall(rb"#\d+\s*=\s*[A-Z]", text))
    return written, in_comments
