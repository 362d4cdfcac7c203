"""The command line: survey a drawing, start a rules file, make the schedule."""

import gc
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from importlib.metadata import version
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from splicewright.extract.errors import OutputError, SplicewrightError
from splicewright.extract.unit import LengthUnit

if TYPE_CHECKING:  # everything else is imported by the command that needs it, so that help comes at once
    from rich.console import Console, RenderableType

    from splicewright.extract.layer import Survey

    from .carryover import EarlierLog
    from .plan import Schedule

__all__ = ["app", "main", "run"]

_WRONG_USE = 2
_ERRORS_LEFT = 3
_INTERRUPTED = 130
_UNFIT_IN_NAMES = '<>:"/\\|?*'
"""What one system or another does not take in a file name."""

app = typer.Typer(
    name="splicewright",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


class Units(StrEnum):
    """Units to show."""

    IMPERIAL = "imperial"
    METRIC = "metric"


_Drawings = Annotated[list[Path], typer.Argument(metavar="DRAWING", help="DXF drawings or IFC models of one job.")]
_Unit = Annotated[
    LengthUnit | None,
    typer.Option(
        "--drawing-unit", metavar="UNIT", case_sensitive=False, help="Unit of the drawings: mm, cm, m, in, ft, us-ft..."
    ),
]
_Units = Annotated[
    Units | None, typer.Option("--units", case_sensitive=False, help="Units to show; default: as drawn.")
]


def main() -> None:
    """Run the command line and leave with its exit status."""
    # One job, then the process ends: hunting for cycles among millions of drawn entities only costs time (about a
    # quarter of it on large drawings), and what it would free is freed at the end anyway.
    gc.disable()
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : list of str
        What follows the program's name.

    Returns
    -------
    int
        0 done; 2 unusable input or wrong use, with one sentence on stderr and nothing written; 3 with ``--strict``
        where an error remains in the drawing; 130 interrupted.
    """
    try:
        status = app(arguments, prog_name="splicewright", standalone_mode=False)
        sys.stdout.flush()
    except typer.TyperException as error:
        command = getattr(getattr(error, "ctx", None), "command_path", "splicewright")
        said = error.format_message().replace("Value error, ", "").rstrip(".")
        return _refuse(f"{said}; see '{command} --help'")
    except SplicewrightError as error:
        return _refuse(str(error))
    except KeyboardInterrupt:
        return _INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output wanted no more of it; nothing is left to flush at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return status if isinstance(status, int) else 0


@app.callback(invoke_without_command=True)
def _splicewright(
    context: typer.Context,
    *,
    show_version: Annotated[bool, typer.Option("--version", help="Show the version and exit.")] = False,
) -> None:
    """From joint drawings to a fabrication schedule for heat-welded PVC waterstop."""
    if show_version:
        typer.echo(f"splicewright {version('splicewright')}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def _print_requirements(*, asked: bool) -> None:
    """Print what a model must hold, and leave: no drawing is needed for it."""
    if asked:
        from splicewright.extract.requirement import requirements

        _print_file(requirements())
        raise typer.Exit


@app.command()
def survey(
    drawings: _Drawings,
    drawing_unit: _Unit = None,
    units: _Units = None,
    *,
    rules_file: Annotated[
        Path | None, typer.Option("--rules", metavar="FILE", help="Rules file whose views the picture shows.")
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Draw a flat sheet, its windows and its network in 3D as SVG."),
    ] = None,
    _requirements: Annotated[
        bool,
        typer.Option(
            "--requirements",
            is_eager=True,
            callback=lambda value: _print_requirements(asked=value),
            help="Print what an IFC model must hold to be read in full, as an IDS file, and exit.",
        ),
    ] = False,
) -> None:
    """Show what is in drawings: unit, layers, lengths, problems."""
    from splicewright.extract.survey import survey as survey_drawing

    from .measure import Measure
    from .report import reads_imperial, survey_report

    with _progress() as tell:
        surveys = []
        for path in drawings:
            tell(f"Reading {path.name}")
            surveys.append(survey_drawing(path, unit=drawing_unit))
        if picture is not None:
            tell(f"Drawing {picture.name}")
            _draw_sheet(drawings, surveys, rules_file, picture, drawing_unit)
    for found in surveys:
        imperial = units is Units.IMPERIAL if units else reads_imperial([found.unit])
        _show(survey_report(found, Measure(imperial=imperial)))


def _draw_sheet(
    drawings: list[Path], surveys: "list[Survey]", rules_file: Path | None, picture: Path, unit: LengthUnit | None
) -> None:
    from .output import write_outputs
    from .picture import write_picture
    from .rules import load_rules
    from .sheet_picture import sheet_picture

    if len(drawings) != 1:
        raise OutputError("--picture shows one drawing; survey the drawings one by one")
    text = sheet_picture(drawings[0], load_rules(rules_file), surveys[0], unit=unit)
    write_outputs(picture.parent, {picture.name: lambda path: write_picture(text, path)})


@app.command()
def rules(drawings: _Drawings, drawing_unit: _Unit = None) -> None:
    """Print a commented starter rules file for drawings."""
    from splicewright.extract.survey import survey as survey_drawing

    from .starter import starter

    with _progress() as tell:
        surveys = []
        for path in drawings:
            tell(f"Reading {path.name}")
            surveys.append(survey_drawing(path, unit=drawing_unit))
    _print_file(starter(surveys, unit=drawing_unit))


def _print_file(text: str) -> None:
    """Print what is to become a file, in UTF-8 whatever the terminal is."""
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8")
    typer.echo(text, nl=False)


@app.command()
def schedule(
    drawings: _Drawings,
    *,
    rules_file: Annotated[
        Path | None, typer.Option("--rules", metavar="FILE", help="Rules file; see 'splicewright rules'.")
    ] = None,
    select: Annotated[
        list[str] | None, typer.Option("--select", metavar="GLOB", help="Layers that are waterstop; repeatable.")
    ] = None,
    drawing_unit: _Unit = None,
    tolerance: Annotated[
        str | None, typer.Option(metavar="LENGTH", help="Points this close are one; default: by the rules.")
    ] = None,
    units: _Units = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where to write; default: beside the drawing.")
    ] = None,
    write: Annotated[
        str | None,
        typer.Option(
            "--write",
            metavar="LIST",
            help="What to write, of: xlsx,json,html,dxf,ifc,pdf,ics,csv,bcf,tickets; "
            "default: the first three and dxf or ifc.",
        ),
    ] = None,
    previous: Annotated[
        Path | None,
        typer.Option("--previous", metavar="XLSX", help="Earlier workbook, whose log is carried over."),
    ] = None,
    pours: Annotated[
        Path | None, typer.Option("--pours", metavar="CSV", help="Which runs, layers, entities lie in a pour.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit with 3 when an error remains.")] = False,
    name: Annotated[
        str | None, typer.Option("--name", metavar="JOB", help="Name of the job; default: the first drawing's.")
    ] = None,
) -> int:
    """Make the fabrication schedule of one job."""
    from splicewright.extract.finding import Severity

    from .job import schedule_job
    from .measure import Measure
    from .output import write_outputs
    from .report import reads_imperial, schedule_report
    from .rules import load_rules

    job, kinds = _job_name(name, drawings), _kinds(write)
    in_force = load_rules(rules_file, options={"drawing.tolerance": tolerance} if tolerance else None, pours=pours)
    earlier = _earlier(previous, kinds)
    with _progress(quiet=quiet) as tell:
        made = schedule_job(
            drawings, in_force, name=job, patterns=select or (), unit=drawing_unit, earlier=earlier, tell=tell
        )
        imperial = units is Units.IMPERIAL if units else reads_imperial([drawing.unit for drawing in made.drawings])
        tell("Writing")
        writers = _writers(made, kinds, imperial=imperial)
        writers |= _handbacks(
            made, drawings, out or drawings[0].parent, kinds, unit=drawing_unit, asked=write is not None
        )
        outputs = write_outputs(out or drawings[0].parent, writers, keep=(".xlsx", ".marked.dxf", ".marked.ifc"))
    if not quiet:
        _show(schedule_report(made, outputs, Measure(imperial=imperial)))
    broken = any(finding.severity is Severity.ERROR for finding in made.findings)
    return _ERRORS_LEFT if strict and broken else 0


def _earlier(previous: Path | None, kinds: list[str]) -> "EarlierLog | None":
    """Read an earlier inspection log, before any work is done."""
    if previous is None:
        return None
    if "xlsx" not in kinds:
        raise OutputError("--previous: the inspection log stands in the workbook; let --write hold xlsx too")
    from .earlier_log import read_log

    return read_log(previous)


def _writers(made: "Schedule", kinds: list[str], *, imperial: bool) -> dict[str, Callable[[Path], None]]:
    """Return what writes each file of the job."""

    def workbook(path: Path) -> None:
        from .workbook import write_workbook

        write_workbook(made, path, imperial=imperial, map_file=f"{made.job}.map.html" if "html" in kinds else "")

    def record(path: Path) -> None:
        from .record import to_json

        path.write_bytes(to_json(made))

    def agenda(path: Path) -> None:
        from .agenda import to_ics

        path.write_bytes(to_ics(made))

    def tasks(path: Path) -> None:
        from .agenda import to_csv

        path.write_bytes(to_csv(made))

    def page(path: Path) -> None:
        from .page import write_page

        write_page(made, path, imperial=imperial)

    def topics(path: Path) -> None:
        from .topic import write_topics

        write_topics(made, path)

    def packet(path: Path) -> None:
        from .packet import write_packet

        write_packet(made, path, imperial=imperial)

    def tickets(path: Path) -> None:
        from .ticket_page import write_tickets

        write_tickets(made, path, imperial=imperial)

    writers: dict[str, Callable[[Path], None]] = {
        "xlsx": workbook,
        "json": record,
        "html": page,
        "pdf": packet,
        "ics": agenda,
        "csv": tasks,
        "bcf": topics,
        "tickets": tickets,
    }
    ends = {kind: f"{_NOUNS.get(kind, 'schedule')}.{_SUFFIXES.get(kind, kind)}" for kind in kinds}
    return {f"{made.job}.{end}": writers[kind] for kind, end in ends.items() if kind in writers}


def _handbacks(
    made: "Schedule", drawings: list[Path], folder: Path, kinds: list[str], *, unit: LengthUnit | None, asked: bool
) -> dict[str, Callable[[Path], None]]:
    """Return what writes the drawings with marks; kinds that the user has asked for must be there."""
    from splicewright.extract.drawing import DrawingKind

    from .handback import handbacks, require

    marked = [kind for kind in DrawingKind if kind.value in kinds]
    if asked:
        require(made, marked)
    return handbacks(made, drawings, folder, marked, unit=unit)


def _kinds(listed: str | None) -> list[str]:
    """Read what to write."""
    if listed is None:
        return list(_USUAL)
    kinds = [kind.strip().lower() for kind in listed.split(",")]
    for kind in kinds:
        if kind not in _KINDS:
            raise OutputError(f"--write: {kind!r} cannot be written; choose from {', '.join(_KINDS)}")
    return [kind for kind in _KINDS if kind in kinds]


_USUAL = ("xlsx", "json", "html", "dxf", "ifc")
"""Outputs where nothing else is asked for; of the last two those of the kinds that the job's drawings are."""
_KINDS = (*_USUAL, "pdf", "ics", "csv", "bcf", "tickets")
"""Outputs, in the order they are written."""
_NOUNS = {"html": "map", "pdf": "packet", "bcf": "findings", "tickets": "tickets"}
"""What the outputs are called that are not simply the schedule."""
_SUFFIXES = {"tickets": "html"}
"""Ends of files that do not end as the output is called."""


def _job_name(name: str | None, drawings: list[Path]) -> str:
    job = drawings[0].resolve().stem if name is None else name.strip()
    if not job or job.startswith(".") or any(sign in _UNFIT_IN_NAMES or not sign.isprintable() for sign in job):
        raise OutputError(f"{job!r} cannot begin the name of a file; give the job another with --name")
    return job


@contextmanager
def _progress(*, quiet: bool = False) -> Iterator[Callable[[str], None]]:
    """Tell on a terminal what is being done; say nothing in a pipe."""
    if quiet or not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.text import Text

    with _console(sys.stderr).status("") as status:
        yield lambda text: status.update(Text(text))


def _show(report: "RenderableType") -> None:
    """Print a report; in a pipe without the blanks that fill up tables."""
    console = _console(sys.stdout)
    if console.is_terminal:
        console.print(report)
        return
    with console.capture() as captured:
        console.print(report)
    typer.echo("\n".join(line.rstrip() for line in captured.get().splitlines()))


def _console(stream: object) -> "Console":
    from rich.console import Console

    if isinstance(stream, TextIOWrapper):
        stream.reconfigure(errors="replace")
    return Console(stderr=stream is sys.stderr, markup=False, highlight=False, emoji=False, width=_width(stream))


def _width(stream: object) -> int | None:
    """Let lines in a pipe be as long as they are; a terminal's are wrapped at its edge."""
    return None if getattr(stream, "isatty", lambda: False)() else 10_000


def _refuse(sentence: str) -> int:
    from .report import one_line

    print(f"splicewright: {one_line(sentence)}", file=sys.stderr)  # noqa: T201
    return _WRONG_USE
