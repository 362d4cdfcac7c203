"""Formula: a formula of the workbook, written together with the value it has, for programs that work nothing out."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedIOBase
from os import PathLike, fspath
from pathlib import Path
from typing import IO, TYPE_CHECKING
from zipfile import ZipInfo

from openpyxl.xml.constants import ARC_APP

from .archive import SteadyArchive

if TYPE_CHECKING:
    from _typeshed import SizedBuffer

__all__ = ["Formula", "FormulaArchive"]

_APART = "\ue000"
"""Stands between a formula and its value until the sheet goes into the archive; no formula of ours holds it."""

_WRITTEN = re.compile(rb"<f>([^<]*?)(?:\xee\x80\x80|&#57344;)([^<]*)</f><v\s*(?:/>|></v>)")
_PROGRAM = re.compile(rb"(<Application>)[^<]*(</Application>)")
_ROW_END = b"</row>"
_BLOCK = 1 << 20


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula of our own; nothing in it comes from a drawing.

    Attributes
    ----------
    text : str
        The formula, without the equals sign.
    value : int or float
        What it gives.
    """

    text: str
    value: float

    @property
    def written(self) -> str:
        """The formula as the spreadsheet library is to write it, the value behind it."""
        return f"={self.text}{_APART}{self.value!r}"


class FormulaArchive(SteadyArchive):
    """A workbook's zip file, in whose sheets every `Formula` gets its value where spreadsheets look for it."""

    def writestr(self, zinfo_or_arcname: str | ZipInfo, data: "str | SizedBuffer", *_: object, **__: object) -> None:
        """Add a part from memory; the library would state another program as the one that wrote the workbook."""
        if str(zinfo_or_arcname) == ARC_APP:
            data = _PROGRAM.sub(rb"\1Splicewright\2", data.encode() if isinstance(data, str) else bytes(data))
        super().writestr(zinfo_or_arcname, data)

    def write(
        self, filename: str | PathLike[str], arcname: str | PathLike[str] | None = None, *_: object, **__: object
    ) -> None:
        """Add a sheet from the file that the library has written it to."""
        with Path(filename).open("rb") as source, self.entry(fspath(arcname or filename)) as stream:
            for block in _whole_rows(source):
                stream.write(_WRITTEN.sub(rb"<f>\1</f><v>\2</v>", block))


def _whole_rows(source: "BufferedIOBase | IO[bytes]") -> Iterator[bytes]:
    """Yield a sheet block by block, none of which ends within a row."""
    left = b""
    while block := source.read(_BLOCK):
        rows, end, rest = (left + block).rpartition(_ROW_END)
        yield rows + end
        left = rest
    yield left
