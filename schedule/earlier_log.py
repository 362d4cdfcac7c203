"""Earlier log: reads what people filled into the inspection log of an earlier workbook, in whatever form they did."""

import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TypeVar
from xml.etree.ElementTree import ParseError

from openpyxl import Workbook, load_workbook
from openpyxl.cell import Cell
from openpyxl.styles.numbers import is_date_format, is_timedelta_format
from openpyxl.utils import get_column_letter
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.utils.escape import unescape
from openpyxl.utils.exceptions import InvalidFileException
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from splicewright.extract.errors import RecordError

from .carryover import EarlierLog, EarlierRow, Typed
from .log_form import ENTRIES, LOG_SHEET, OWN, TITLE_KEY, VERSION, LogKey

__all__ = ["read_log"]

_KEY_TITLE = re.compile(r"key, form (\d{1,9})", re.IGNORECASE)
_PERCENT = re.compile(r"0(\.0{1,9})?%")
_FIRST_ROWS = 60
_MOST_TITLE = 100
_MOST_BYTES = 2 << 30
_LAST_DATE = 2_958_466
_DAYS_TO_1904 = 1_462
_LOCKED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    ParseError,
    InvalidFileException,
    ArithmeticError,
    AssertionError,
    AttributeError,
    EOFError,
    LookupError,
    MemoryError,
    OSError,
    RuntimeError,
    TypeError,
    ValueError,
)
"""What reading a damaged workbook may end in."""

_REMEDY = "give --previous the workbook of an earlier run of this job"

_T = TypeVar("_T")


def read_log(path: Path) -> EarlierLog:
    """Read the lines of an earlier inspection log in which someone has filled in something.

    Lines are known by their keys, and columns by their headings, so rows may be sorted, filtered, inserted or removed,
    and columns added or moved. Values stay what was typed; a formula counts as what it last came to, or as its text
    where no program has worked it out.

    Parameters
    ----------
    path : Path
        A workbook (.xlsx) of an earlier schedule, whatever program has saved it since.

    Returns
    -------
    EarlierLog

    Raises
    ------
    RecordError
        It cannot be read, is locked, is no workbook of a schedule, or is of a newer version.
    """
    content = _content(path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of things in the workbook that do not concern the log
        values = _safely(path, lambda: _open(content, worked_out=True))
        sheets = _safely(path, lambda: list(_logs(path.name, values)))
        if not sheets:
            raise RecordError(
                f"{path} has no inspection log to carry over: no sheet has a heading 'Key, form {VERSION}'; {_REMEDY}"
            )
        texts = _safely(path, lambda: _open(content, worked_out=False))
        rows = _safely(path, lambda: [row for sheet in sheets for row in _rows(sheet, texts, alone=len(sheets) == 1)])
    extras = dict.fromkeys(title for row in rows for title in row.typed if title not in ENTRIES)
    return EarlierLog(file=path.name, rows=tuple(rows), extras=tuple(extras))


def _content(path: Path) -> bytes:
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise RecordError(f"{path}: there is no such file; {_REMEDY}") from None
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise RecordError(f"{path} cannot be read: {why}; close it where it is open, or {_REMEDY}") from None
    if content.startswith(_LOCKED):
        raise RecordError(
            f"{path} is locked with a password, or of a format before .xlsx; save it as .xlsx without a password"
        )
    if not zipfile.is_zipfile(BytesIO(content)):
        raise RecordError(f"{path} is no workbook (.xlsx), or is damaged; {_REMEDY}")
    return content


def _safely(path: Path, read: Callable[[], _T]) -> _T:
    try:
        return read()
    except _BROKEN as error:
        why = " ".join(str(error).split())[:200] or type(error).__name__
        raise RecordError(f"{path} cannot be read as a workbook (.xlsx): {why}; {_REMEDY}") from None


def _open(content: bytes, *, worked_out: bool) -> Workbook:
    with zipfile.ZipFile(BytesIO(content)) as archive:
        if "mimetype" in archive.namelist():
            raise ValueError("it is an OpenDocument file; save it as .xlsx")
        if sum(one.file_size for one in archive.infolist()) > _MOST_BYTES:
            raise ValueError("it holds more than 2 GB")
    book = load_workbook(BytesIO(content), read_only=True, data_only=worked_out, keep_links=False)
    # Dates stay numbers, for a number beyond the last date would be lost otherwise; there is no public way to it.
    book._date_formats, book._timedelta_formats = set(), set()
    return book


@dataclass(frozen=True, slots=True, kw_only=True)
class _Log:
    """One sheet with a log: every row of it, where the headings stand, and which column is what."""

    name: str
    rows: Sequence[Sequence[Cell]]
    head: int
    key_at: int
    titles: Mapping[int, str]


def _logs(file: str, book: Workbook) -> Iterator[_Log]:
    """Yield every sheet that has the log's headings: people may have copied it."""
    named = [sheet for sheet in book.worksheets if sheet.title.strip().casefold() == LOG_SHEET.casefold()]
    for sheet in (*named, *(sheet for sheet in book.worksheets if sheet not in named)):
        if sheet not in named and not _has_head(sheet):
            continue
        rows = _cells(sheet)
        for number, row in enumerate(rows):
            found = [(at, match) for at, cell in enumerate(row) if (match := _KEY_TITLE.fullmatch(_text(cell)))]
            if found:
                key_at, match = found[0]
                if int(match[1]) > VERSION:
                    raise _newer(file)
                yield _Log(name=sheet.title, rows=rows, head=number, key_at=key_at, titles=_titles(row, key_at, rows))
                break


def _newer(file: str) -> RecordError:
    return RecordError(f"{file} was written by a newer version of Splicewright; update the program to carry it over")


def _has_head(sheet: ReadOnlyWorksheet) -> bool:
    sheet.reset_dimensions()
    return any(_KEY_TITLE.fullmatch(_text(cell)) for row in sheet.iter_rows(max_row=_FIRST_ROWS) for cell in row)


def _cells(sheet: ReadOnlyWorksheet) -> list[Sequence[Cell]]:
    sheet.reset_dimensions()  # what a file says of its size need not be so
    return list(sheet.iter_rows())


def _titles(head: Sequence[Cell], key_at: int, rows: Iterable[Sequence[Cell]]) -> dict[int, str]:
    """Name every column; those that people added get names that no other has."""
    width = max(len(row) for row in rows)
    titles: dict[int, str] = {}
    taken: set[str] = set()
    for known in (True, False):
        for at in (at for at in range(width) if at != key_at and at not in titles):
            title = " ".join(_text(head[at]).split())[:_MOST_TITLE] if at < len(head) else ""
            match = next((one for one in (*OWN, *ENTRIES) if one.casefold() == title.casefold()), None)
            if known and match is not None and match.casefold() not in taken:
                titles[at] = match
            elif not known:
                titles[at] = _free_title(title or f"Column {get_column_letter(at + 1)}", taken)
            if at in titles:
                taken.add(titles[at].casefold())
    return titles


def _free_title(title: str, taken: set[str]) -> str:
    number, free = 1, title
    while free.casefold() in taken or _KEY_TITLE.fullmatch(free):
        number += 1
        free = f"{title} ({number})"
    return free


def _rows(log: _Log, texts: Workbook, *, alone: bool) -> Iterator[EarlierRow]:
    """Yield the lines of a sheet that hold something people filled in."""
    formulas = _cells(texts[log.name])
    epoch = _DAYS_TO_1904 if texts.epoch == CALENDAR_MAC_1904 else 0
    head = _text(log.rows[log.head][log.key_at])
    for number, row in enumerate(log.rows):
        key_text = _text(row[log.key_at]) if log.key_at < len(row) else ""
        if number == log.head or key_text == head:
            continue
        cells = {
            log.titles[at]: typed
            for at, cell in enumerate(row)
            if at != log.key_at and (typed := _typed(cell, formulas[number][at], epoch)) is not None
        }
        where = f"row {number + 1}" if alone else f"row {number + 1} of sheet {log.name!r}"
        if (found := _row(key_text, cells, where)) is not None:
            yield found


def _row(key_text: str, cells: Mapping[str, Typed], where: str) -> EarlierRow | None:
    """Make a line, None where nobody has filled in anything."""
    key = LogKey.parse(key_text)
    if key_text == TITLE_KEY:  # the program's own text stands in the first column
        cells = {title: cell for title, cell in cells.items() if title != OWN[0]}
    own = {title: cell for title, cell in cells.items() if title in OWN}
    typed = {title: cell for title, cell in cells.items() if title not in OWN}
    if not typed and (key is not None or not own):
        return None
    return EarlierRow(where=where, key=key, own=own, typed=typed)


def _text(cell: Cell) -> str:
    return "" if cell.value is None else _meant(str(cell.value)).strip()


def _meant(text: str) -> str:
    """Return a text with the signs that a workbook spells out, as ``_x000D_``; every line end is one sign."""
    meant: str = unescape(text).encode("utf-16", "surrogatepass").decode("utf-16", "replace")  # no half characters
    return meant.replace("\r\n", "\n").replace("\r", "\n")


def _typed(cell: Cell, formula: Cell, epoch: int) -> Typed | None:
    """Return what was typed into a cell, None for nothing."""
    value = cell.value
    if value is None and formula.value is not None:
        value = str(getattr(formula.value, "text", formula.value))  # of arrays too
    elif isinstance(value, str):
        value = _meant(value)
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    if isinstance(value, bool | str):
        return Typed(value=value)
    if isinstance(value, int | float):
        return _number(value, cell.number_format or "", epoch)
    return Typed(value=str(value))


def _number(value: float, form: str, epoch: int) -> Typed:
    """Keep a number, and whether it is shown as a date, a time or a share; dates are written the neutral way."""
    if _PERCENT.fullmatch(form):
        return Typed(value=value, form=form)
    if not is_date_format(form) or not 0 <= value < _LAST_DATE:
        return Typed(value=value)
    if is_timedelta_format(form):
        return Typed(value=value, form="[h]:mm:ss")
    if value < 1:
        return Typed(value=value, form="hh:mm:ss")
    return Typed(value=value + epoch, form="yyyy-mm-dd hh:mm" if value % 1 else "yyyy-mm-dd")
