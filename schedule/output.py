"""Output: a set of files written whole or not at all, with earlier workbooks kept."""

import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

from splicewright.extract.errors import OutputError

__all__ = ["Output", "write_outputs"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """One file that has been written.

    Attributes
    ----------
    path : Path
        The file.
    kept : Path or None
        Where the earlier file of that name has been kept, None where there was none or it was the same.
    """

    path: Path
    kept: Path | None


def write_outputs(
    folder: Path, writers: Mapping[str, Callable[[Path], None]], *, keep: Sequence[str] = ()
) -> tuple[Output, ...]:
    """Write files into a folder, all of them or none.

    Each is written under a temporary name in the folder first; when all are complete they are put in place one after
    the other, and should that fail half-way, or be interrupted, what was there before is put back.

    Parameters
    ----------
    folder : Path
        Where to; it is made where it does not exist.
    writers : Mapping of str to callable
        What writes a file to a path, by the file's name.
    keep : sequence of str
        Endings of the files that people fill in: an earlier one that differs is kept beside the new one as
        ``<stem>.previous-<number>``.

    Returns
    -------
    tuple of Output
        In the order of `writers`.

    Raises
    ------
    OutputError
        The folder or a file in it cannot be written; nothing has changed.
    """
    with ExitStack() as made:
        _make(folder, made)
        drafts = _drafts(folder)
        try:
            written = _write(folder, drafts, writers, keep)
        finally:
            shutil.rmtree(drafts, ignore_errors=True)
        made.pop_all()
    return written


def _write(
    folder: Path, drafts: Path, writers: Mapping[str, Callable[[Path], None]], keep: Sequence[str]
) -> tuple[Output, ...]:
    for name, write in writers.items():
        _draft(write, drafts / name, folder / name)
    with ExitStack() as undo:
        written = tuple([_place(drafts / name, folder / name, keep, undo) for name in writers])
        undo.pop_all()
    return written


def _make(folder: Path, made: ExitStack) -> None:
    missing = [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        for path in reversed(missing):
            path.mkdir()
            made.callback(_remove_folder, path)
    except OSError as error:
        raise _refusal(folder, error) from None
    if not folder.is_dir():
        raise OutputError(f"{folder} is no folder; choose another with --out")


def _drafts(folder: Path) -> Path:
    """Make a place for drafts on the same disk, so that moving them out of it is one step that cannot half happen."""
    try:
        return Path(tempfile.mkdtemp(prefix=".splicewright-", dir=folder))
    except OSError as error:
        raise _refusal(folder, error) from None


def _draft(write: Callable[[Path], None], draft: Path, target: Path) -> None:
    try:
        write(draft)
    except OSError as error:
        raise _refusal(target, error) from None
    except OutputError as error:
        raise OutputError(str(error).replace(str(draft), str(target))) from None


def _place(draft: Path, target: Path, keep: Sequence[str], undo: ExitStack) -> Output:
    """Put a finished draft in place; the earlier file is there under one name or another at every moment."""
    try:
        if not target.exists():
            undo.callback(target.unlink, missing_ok=True)
            draft.replace(target)
            return Output(path=target, kept=None)
        if _same(draft, target):
            return Output(path=target, kept=None)
        kept = _free_name(target) if target.name.endswith(tuple(keep)) else None
        earlier = kept or draft.with_name(f"{draft.name}.earlier")
        _copy(target, earlier)
        undo.callback(_put_back, earlier, target)
        draft.replace(target)
    except OSError as error:
        raise _refusal(target, error) from None
    return Output(path=target, kept=kept)


def _same(one: Path, other: Path) -> bool:
    return one.stat().st_size == other.stat().st_size and one.read_bytes() == other.read_bytes()


def _free_name(target: Path) -> Path:
    number = 1
    while (path := target.with_name(f"{target.stem}.previous-{number}{target.suffix}")).exists():
        number += 1
    return path


def _copy(source: Path, target: Path) -> None:
    """Give a file a second name; where the disk knows no second names, copy it."""
    try:
        target.hardlink_to(source)
    except OSError:
        shutil.copy2(source, target)


def _put_back(earlier: Path, target: Path) -> None:
    with suppress(OSError):
        earlier.replace(target)


def _remove_folder(path: Path) -> None:
    with suppress(OSError):
        path.rmdir()


def _refusal(path: Path, error: OSError) -> OutputError:
    why = (error.strerror or str(error)).lower()
    if isinstance(error, PermissionError) and path.is_file():
        return OutputError(f"{path} cannot be replaced: {why}; close it where it is open and run again")
    return OutputError(f"{path} cannot be written: {why}; choose another folder with --out")
