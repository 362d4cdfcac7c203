"""The plan: networks and rules in, one fabrication schedule out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from splicewright.extract.drawing import Drawing
from splicewright.extract.finding import Finding
from splicewright.extract.network import JointNetwork
from splicewright.extract.node import Node
from splicewright.extract.run import Run

from .crew import CrewPlan
from .fitting import Fitting
from .footage import Footage
from .inspection import LogEntry
from .roll import Roll, RollOrder
from .rules import Rules
from .seam import Cut
from .splice import Splice

__all__ = ["Schedule", "plan"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Schedule:
    """Everything that the writers show; they compute nothing.

    Attributes
    ----------
    job : str
        Name of the job.
    drawings : tuple of Drawing
        What was read.
    nodes : tuple of Node
    runs : tuple of Run
    fittings : tuple of Fitting
        Fitting types.
    cuts : tuple of Cut
        Mitred cuts by fitting type.
    splices : tuple of Splice
    rolls : tuple of Roll
        The cut list.
    orders : tuple of RollOrder
    footage : tuple of Footage
        The ledger, a row a profile.
    crew : CrewPlan
    log : tuple of LogEntry
    findings : tuple of Finding
        Errors first, then warnings, then notes; by place within each.
    rules : Rules
        The rules in force.
    totals : Mapping of str to int, float or None
        The totals of the JSON contract, in its order.
    """

    job: str
    drawings: tuple[Drawing, ...]
    nodes: tuple[Node, ...]
    runs: tuple[Run, ...]
    fittings: tuple[Fitting, ...]
    cuts: tuple[Cut, ...]
    splices: tuple[Splice, ...]
    rolls: tuple[Roll, ...]
    orders: tuple[RollOrder, ...]
    footage: tuple[Footage, ...]
    crew: CrewPlan
    log: tuple[LogEntry, ...]
    findings: tuple[Finding, ...]
    rules: Rules
    totals: Mapping[str, int | float | None]


def plan(networks: Sequence[JointNetwork], rules: Rules, *, job: str) -> Schedule:
    """Plan the fabrication of one job.

    Parameters
    ----------
    networks : sequence of JointNetwork
        One a drawing, with marks unique across them.
    rules : Rules
        Profiles, splicing, crew and prices.
    job : str
        Name of the job.

    Returns
    -------
    Schedule
    """
    raise NotImplementedError
