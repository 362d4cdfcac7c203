"""Job: from the files of one job to its schedule."""

from collections.abc import Callable, Sequence
from pathlib import Path

from splicewright.extract.drawing import Drawing
from splicewright.extract.errors import DrawingError, MissingUnitError
from splicewright.extract.network import JointNetwork, build_network
from splicewright.extract.reader import read
from splicewright.extract.unit import LengthUnit

from .plan import Schedule, plan
from .rules import Rules

__all__ = ["schedule_job"]


def schedule_job(
    paths: Sequence[Path],
    rules: Rules,
    *,
    name: str,
    patterns: Sequence[str] = (),
    unit: LengthUnit | None = None,
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
        drawing = _read(path, rules, tuple(patterns), unit)
        tell(f"Tracing {path.name}")
        network = build_network(drawing, rules.limits(), first_node=nodes + 1, first_run=runs + 1)
        nodes += network.graph.number_of_nodes()
        runs += network.graph.number_of_edges()
        networks.append(network)
    tell("Planning")
    return plan(networks, rules, job=name)


def _refuse_twins(paths: Sequence[Path]) -> None:
    """Refuse a drawing given twice: its waterstop would be ordered twice."""
    known: set[Path] = set()
    for path in paths:
        if path.resolve() in known:
            raise DrawingError(f"{path.name} is given twice; give every drawing of the job once")
        known.add(path.resolve())


def _read(path: Path, rules: Rules, patterns: tuple[str, ...], unit: LengthUnit | None) -> Drawing:
    selection = rules.selection(patterns)
    try:
        return read(path, selection, unit=unit, book=rules.sheet)
    except MissingUnitError:
        if rules.drawing.unit is None:
            raise
        return read(path, selection, unit=rules.drawing.unit, book=rules.sheet)
