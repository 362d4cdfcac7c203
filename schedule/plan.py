"""The plan: networks and rules in, one fabrication schedule out."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from splicewright.extract.drawing import Drawing
from splicewright.extract.finding import Finding, Severity
from splicewright.extract.network import JointNetwork
from splicewright.extract.node import Node, NodeKind
from splicewright.extract.pause import paused_collector
from splicewright.extract.run import Run

from .assembly import Assembly, gather
from .bend import find_tight_bends
from .carryover import Carryover, EarlierLog, carry
from .chance import play
from .crew import CrewPlan, Roster, plan_crews, staff
from .doubt import find_doubts
from .fitting import Fitting, FittingType, group_alike, list_fittings
from .footage import Footage, balance
from .inspection import LogEntry, open_log
from .joining import Joining, find_partings, join_nodes
from .order import OrderLine, list_orders
from .placing import count_placing
from .power import plan_power
from .roll import (
    CutList,
    Roll,
    RollOrder,
    RollPlan,
    cut_rolls,
    find_cramped_runs,
    find_long_runs,
    find_short_pieces,
    in_order_of_work,
)
from .rules import Policy, Rules
from .saw import Piece, list_cuts, list_cuts_in_place
from .saw_sheet import SawSetup, list_setups
from .seam import Cut
from .sequence import Course, lots_of_runs, order_splices
from .shopwork import ShopWork, find_faults, work_out
from .splice import Made, Splice, draft_splices, list_factory_splices, list_field_splices
from .stretch import Layout, lay_out
from .what_if import WhatIf, look_around

__all__ = ["Schedule", "carry_over", "plan"]


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
    roll_plans : tuple of RollPlan
        How good the plan of each profile is.
    order_list : tuple of OrderLine
    what_if : tuple of WhatIf
        The plan and its neighbours.
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
    pieces : tuple of Piece
        Pieces of strip by fitting type.
    works : tuple of ShopWork
        What one fitting of each type takes.
    setups : tuple of SawSetup
        The saw sheet.
    types : tuple of FittingType
        The assemblies behind the fittings, for drawing them.
    joining : Joining or None
        What joining nodes to assemblies came to.
    carried : Carryover or None
        What was filled into the inspection log of an earlier workbook.
    spans : tuple of (int, int)
        Numbers of nodes and of runs of each drawing, which follow one another in `nodes` and `runs`.
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
    pieces: tuple[Piece, ...] = ()
    works: tuple[ShopWork, ...] = ()
    setups: tuple[SawSetup, ...] = ()
    types: tuple[FittingType, ...] = ()
    joining: Joining | None = None
    spans: tuple[tuple[int, int], ...] = ()
    roll_plans: tuple[RollPlan, ...] = ()
    order_list: tuple[OrderLine, ...] = ()
    what_if: tuple[WhatIf, ...] = ()
    carried: Carryover | None = None


def carry_over(schedule: Schedule, log: EarlierLog) -> Schedule:
    """Carry what was filled into an earlier inspection log over to a schedule, with the findings that come of it."""
    carried = carry(log, schedule.log, tolerance_m=schedule.rules.drawing.tolerance_m)
    return replace(schedule, carried=carried, findings=_ranked((*schedule.findings, *carried.findings)))


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
    with paused_collector():  # a schedule of many records has no cycles, and looking costs a third of the time
        return _plan(networks, rules, job)


def _plan(networks: Sequence[JointNetwork], rules: Rules, job: str) -> Schedule:
    layout, joining = join_nodes(lay_out(networks, rules), rules)
    assemblies = gather(layout, rules)
    in_place = [assembly for assembly in assemblies if assembly.policy is Policy.FIELD]
    types = group_alike([assembly for assembly in assemblies if assembly.policy is not Policy.FIELD], rules)
    pieces, cuts = list_cuts(types, rules)
    cuts += list_cuts_in_place(in_place, rules)
    works = work_out(types, pieces, cuts, rules)
    setups = list_setups(cuts, rules)
    fittings = list_fittings(types, rules)
    lots = () if rules.cutting.share_between_pours else lots_of_runs(layout, networks, rules)
    cut_list = cut_rolls(layout, rules, lots)
    drafts = draft_splices(layout, cut_list.lengths_m, types, in_place, rules)
    course = order_splices(drafts, layout, networks, rules)
    roster = staff(course, rules)
    splices = _mark(course, roster, types, rules)
    cut_list = in_order_of_work(cut_list, _turns(course))
    footage = balance(layout, types, cut_list, splices, melt_m=rules.splices.melt_m)
    crew = _crew(course, roster, layout, footage, rules)
    own = chain(
        _unknown_profiles(layout, rules),
        find_doubts(layout, rules),
        find_partings(joining, layout),
        find_faults(types, works, rules),
        find_tight_bends(layout.stretches, rules),
        find_short_pieces(layout, cut_list, rules),
        find_cramped_runs(layout, cut_list, rules),
        find_long_runs(layout, cut_list, rules),
        course.findings,
        roster.findings,
    )
    return Schedule(
        job=job,
        drawings=tuple(network.drawing for network in networks),
        nodes=layout.nodes,
        runs=tuple(stretch.run for stretch in layout.stretches),
        fittings=tuple(fittings),
        cuts=tuple(cuts),
        splices=splices,
        rolls=cut_list.rolls,
        orders=cut_list.orders,
        roll_plans=cut_list.plans,
        order_list=tuple(list_orders(cut_list, fittings, splices, crew, footage, rules)),
        what_if=tuple(look_around(networks, layout, cut_list, rules, splices=len(course.drafts), lots=lots)),
        footage=tuple(footage),
        crew=crew,
        log=tuple(open_log(splices)),
        findings=_ranked(chain.from_iterable((*(network.findings for network in networks), own))),
        rules=rules,
        totals=_totals(layout, fittings, cuts, splices, cut_list, footage, crew, in_place, types),
        pieces=tuple(pieces),
        works=tuple(works),
        setups=tuple(setups),
        types=tuple(types),
        joining=joining,
        spans=tuple((network.graph.number_of_nodes(), network.graph.number_of_edges()) for network in networks),
    )


def _turns(course: Course) -> dict[str, int]:
    """Tell of every run which splice inside it or at its legs comes first."""
    turns: dict[str, int] = {}
    for turn, draft in enumerate(course.drafts):
        if draft.run is not None:
            turns.setdefault(draft.run, turn)
    return turns


def _mark(course: Course, roster: Roster, types: Sequence[FittingType], rules: Rules) -> tuple[Splice, ...]:
    """Mark all splices, those on site in the order they are made."""
    turns = ((shift.crew, shift.day) for shift in roster.shifts for _ in range(shift.first, shift.stop))
    zones = (zone.name for zone in course.zones for _ in range(zone.first, zone.stop))
    ways = zip(course.walked_m, course.climbed_m, course.cover_min, strict=True)
    field = list_field_splices(course.drafts, turns, zones, ways)
    return (*field, *list_factory_splices(types, rules, first=len(field) + 1))


def _crew(course: Course, roster: Roster, layout: Layout, footage: Sequence[Footage], rules: Rules) -> CrewPlan:
    """Lay out the crews' days, how sure they are, and what they need."""
    turns = [(shift.crew, shift.day) for shift in roster.shifts for _ in range(shift.first, shift.stop)]
    minutes = [draft.minutes for draft in course.drafts]
    return plan_crews(
        roster,
        course,
        {stretch.profile for stretch in layout.stretches},
        rules,
        odds=play(minutes, course.move_min, course.cover_min, rules, crews=roster.crews, due=roster.due),
        power=plan_power(course.drafts, layout, turns, rules),
        placing=count_placing(footage, rules),
    )


def _unknown_profiles(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """Report every layer whose lines carry no profile that the rules know."""
    layers: dict[tuple[str, str, str], list[Run]] = {}
    for stretch in layout.stretches:
        run = stretch.run
        if run.profile not in rules.profiles:
            file, layer = (run.sources[0].file, run.sources[0].layer) if run.sources else ("", "")
            layers.setdefault((file, layer, run.profile or ""), []).append(run)
    for (file, layer, name), runs in sorted(layers.items()):
        lacks = f"carries profile {name!r}, which the rules do not know" if name else "carries no profile"
        yield Finding(
            code="unknown-profile",
            severity=Severity.WARNING,
            message=(
                f"Layer {layer!r} of {file} {lacks}: {len(runs)} run{'s' * (len(runs) > 1)} taken as "
                f"{rules.profile_of(None).name!r}; give its profile in a [[lines]] entry of the rules file."
            ),
            sources=runs[0].sources[:1],
        )


_RANKS = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def _ranked(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings: the gravest first, then by place, those without a place last."""
    return tuple(sorted(findings, key=_rank))


def _rank(finding: Finding) -> tuple[object, ...]:
    place = finding.at_m or (0.0, 0.0, 0.0)
    return (
        _RANKS[finding.severity],
        finding.at_m is None,
        *(round(v, 6) for v in place),
        finding.code,
        finding.message,
    )


def _totals(
    layout: Layout,
    fittings: Sequence[Fitting],
    cuts: Sequence[Cut],
    splices: Sequence[Splice],
    cut_list: CutList,
    footage: Sequence[Footage],
    crew: CrewPlan,
    in_place: Sequence[Assembly],
    types: Sequence[FittingType],
) -> dict[str, int | float | None]:
    kinds = Counter(node.kind for node in layout.nodes)
    field = sum(splice.made is Made.FIELD for splice in splices)
    pieces = sum(len(lengths) for lengths in cut_list.lengths_m)
    legs = sum(fitting.quantity * len(fitting.legs_m) for fitting in fittings)
    squares = sum(len(kind.copies) * kind.copies[0].square_count for kind in types)
    squares += sum(assembly.square_count for assembly in in_place)
    mitred_ends = sum(len(junction.strips) for assembly in in_place for junction in assembly.junctions)
    return {
        "length_m": sum(row.measured_m for row in footage),
        "ends": kinds[NodeKind.END],
        "corners": kinds[NodeKind.CORNER],
        "tees": kinds[NodeKind.TEE],
        "wyes": kinds[NodeKind.WYE],
        "crosses": kinds[NodeKind.CROSS],
        "others": kinds[NodeKind.OTHER],
        "closures": kinds[NodeKind.CLOSURE],
        "factory_splices": len(splices) - field,
        "field_splices": field,
        "miter_cuts": sum(cut.quantity for cut in cuts),
        "square_cuts": legs + 2 * (pieces + squares) - mitred_ends,
        "fittings": sum(fitting.quantity for fitting in fittings),
        "rolls": sum(order.quantity for order in cut_list.orders),
        "order_length_m": sum(row.order_m for row in footage),
        "crew_days": crew.crew_days,
    }
