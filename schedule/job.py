"""Job: from the files of one job to its schedule."""

from collections.abc import Callable, Sequence
from pathlib import Path

from splicewright.extract.drawing import Drawing
from splicewright.extract.errors import DrawingError, MissingUnitError
from splicewright.extract.network import JointNetwork, build_network
from splicewright.extract.reader import read
from splicewright.extract.unit import LengthUnit

from .carryover import EarlierLog
from .plan import Schedule, carry_over, plan
from .rules import Rules
from .section import take_sections

__all__ = ["read_drawing", "schedule_job"]


def schedule_job(
    paths: Sequence[Path],
    rules: Rules,
    *,
    name: str,
    patterns: Sequence[str] = (),
    unit: LengthUnit | None = None,
    earlier: EarlierLog | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Schedule:
    """Read the drawings of one job and plan its fabrication.

    Parameters
    ----------
    paths : sequence of Path
        The drawings; each gives a network of its own, with marks unique in the job.
    rules : Rules
        The rules in force.
    name : str
        Name of the job.
    patterns : sequence of str
        Names to read, before those in the rules.
    unit : LengthUnit or None
        Unit of all drawings, before what they state.
    earlier : EarlierLog or None
        An earlier inspection log, whose entries are carried over.
    tell : callable
        Told what is being done, for a progress display.

    Returns
    -------
    Schedule

    Raises
    ------
    DrawingError
        A drawing cannot be used, or is given twice.
    """
    _refuse_twins(paths)
    networks: list[JointNetwork] = []
    nodes = runs = 0
    for path in paths:
        tell(f"Reading {path.name}")
        drawing, rules = take_sections(read_drawing(path, rules, patterns=patterns, unit=unit), rules)
        tell(f"Tracing {path.name}")
        network = build_network(drawing, rules.limits(), first_node=nodes + 1, first_run=runs + 1)
        nodes += network.graph.number_of_nodes()
        runs += network.graph.number_of_edges()
        networks.append(network)
    tell("Planning")
    made = plan(networks, rules, job=name)
    return made if earlier is None else carry_over(made, earlier)


def _refuse_twins(paths: Sequence[Path]) -> None:
    """Refuse a drawing given twice: its waterstop would be ordered twice."""
    known: set[Path] = set()
    for path in paths:
        if path.resolve() in known:
            raise DrawingError(f"{path.name} is given twice; give every drawing of the job once")
        known.add(path.resolve())


def read_drawing(
    path: Path, rules: Rules, *, patterns: Sequence[str] = (), unit: LengthUnit | None = None, sheet: bool = True
) -> Drawing:
    """Read one drawing by the rules.

    Parameters
    ----------
    path : Path
        The file.
    rules : Rules
        Selection, unit and views.
    patterns : sequence of str
        Names to read, before those in the rules.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.
    sheet : bool
        Whether views put a flat drawing together; otherwise its lines lie as on the sheet.

    Raises
    ------
    DrawingError
        It cannot be used.
    RulesError
        A view does not fit it.
    """
    selection, book = rules.selection(tuple(patterns)), rules.sheet if sheet else None
    try:
        return read(path, selection, unit=unit, book=book)
    except MissingUnitError:
        if rules.drawing.unit is None:
            raise
        return read(path, selection, unit=rules.drawing.unit, book=book)
