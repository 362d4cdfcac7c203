"""Archive: a zip file that holds nothing of the hour it was written, so that equal contents are equal bytes."""

from os import PathLike
from pathlib import Path
from typing import IO, TYPE_CHECKING
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

if TYPE_CHECKING:
    from _typeshed import SizedBuffer

__all__ = ["SteadyArchive"]

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The earliest time a zip file can state."""


class SteadyArchive(ZipFile):
    """A zip file whose entries all carry the earliest time there is."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "w", ZIP_DEFLATED, allowZip64=True)

    def writestr(self, zinfo_or_arcname: str | ZipInfo, data: "str | SizedBuffer", *_: object, **__: object) -> None:
        """Add an entry from memory."""
        with self.entry(str(zinfo_or_arcname)) as stream:
            stream.write(data.encode() if isinstance(data, str) else data)

    def write(
        self, filename: str | PathLike[str], arcname: str | PathLike[str] | None = None, *_: object, **__: object
    ) -> None:
        """Add an entry from a file."""
        with Path(filename).open("rb") as source, self.entry(str(arcname or filename)) as stream:
            while block := source.read(1 << 20):
                stream.write(block)

    def entry(self, name: str) -> IO[bytes]:
        """Open a new entry to write to."""
        return self.open(_entry(name), "w")


def _entry(name: str) -> ZipInfo:
    entry = ZipInfo(name.lstrip("/"), date_time=_EARLIEST)
    entry.create_system = 3  # otherwise it tells which system wrote it
    entry.compress_type = ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry
