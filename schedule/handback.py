"""Handback: which drawings of a job are handed back with marks, under which names, and what writes them."""

from collections.abc import Callable, Collection, Sequence
from pathlib import Path

from splicewright.extract.drawing import DrawingKind
from splicewright.extract.errors import OutputError
from splicewright.extract.unit import LengthUnit

from .plan import Schedule

__all__ = ["handbacks", "require"]

_SAID = {DrawingKind.DXF: "DXF drawing", DrawingKind.IFC: "IFC model"}


def handbacks(
    schedule: Schedule,
    drawings: Sequence[Path],
    folder: Path,
    kinds: Collection[DrawingKind],
    *,
    unit: LengthUnit | None = None,
) -> dict[str, Callable[[Path], None]]:
    """Return what writes the marked drawings of a job, by file name.

    A drawing is handed back as ``<its name>.marked.dxf`` or ``.marked.ifc``; where that is taken, by another drawing of
    the job or its mark-up, a number follows the name.

    Parameters
    ----------
    schedule : Schedule
    drawings : sequence of Path
        The files of its drawings, in their order.
    folder : Path
        Where the marked ones will stand.
    kinds : collection of DrawingKind
        Which to hand back.
    unit : LengthUnit or None
        Unit the user gave for all of them.

    Returns
    -------
    dict of str to callable

    Examples
    --------
    The name of a drawing handed back never is that of a drawing given:

    >>> _free_name(Path("a.dxf"), "dxf", Path("."), {Path("a.marked.dxf").resolve()}, set())
    'a-2.marked.dxf'
    """
    given = {path.resolve() for path in drawings}
    writers: dict[str, Callable[[Path], None]] = {}
    for number, (drawing, path) in enumerate(zip(schedule.drawings, drawings, strict=True)):
        if drawing.kind in kinds:
            name = _free_name(path, drawing.kind.value, folder, given, {name.casefold() for name in writers})
            writers[name] = _writer(schedule, number, path, unit)
    return writers


def require(schedule: Schedule, kinds: Collection[DrawingKind]) -> None:
    """Refuse to hand back what the job has not.

    Raises
    ------
    OutputError
        No drawing of the job is of a kind that was asked for.
    """
    for kind in sorted(kinds):
        if all(drawing.kind is not kind for drawing in schedule.drawings):
            raise OutputError(
                f"--write: {kind.value!r} cannot be written, for the job has no {_SAID[kind]}; leave it out"
            )


def _free_name(path: Path, kind: str, folder: Path, given: set[Path], taken: set[str]) -> str:
    name, number = f"{path.stem}.marked.{kind}", 1
    while name.casefold() in taken or (folder / name).resolve() in given:
        number += 1
        name = f"{path.stem}-{number}.marked.{kind}"
    return name


def _writer(schedule: Schedule, number: int, original: Path, unit: LengthUnit | None) -> Callable[[Path], None]:
    def write_dxf(path: Path) -> None:
        from .marked import write_marked  # noqa: PLC0415 (its library is imported only when a DXF is written)

        write_marked(schedule, number, original, path)

    def write_ifc(path: Path) -> None:
        from .marked_model import write_marked_model  # noqa: PLC0415 (its library, only when an IFC is written)

        write_marked_model(schedule, number, original, path, unit=unit)

    return write_ifc if schedule.drawings[number].kind is DrawingKind.IFC else write_dxf
