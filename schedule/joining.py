"""Joining: which nodes become one assembly, so that as few splices as can be are made on site.

Runs too short for both legs of their fittings lie inside one assembly; where the rules ask, neighbours are joined on
purpose. An assembly stays within the box and the mass that can be shipped: what does not fit is parted, and the two
legs are welded on site.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from splicewright.extract.finding import Finding, Severity

from .parting import part_runs
from .rules import Rules
from .stretch import Layout, Role, Stretch, Use
from .tie import Bench, Tie, group_ties

__all__ = ["Joining", "Parting", "find_partings", "join_nodes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Parting:
    """One run that is too short for both legs but is welded on site, since its assembly would be too large.

    Attributes
    ----------
    run : str
        Mark of the run.
    reason : str
        What would be too large.
    """

    run: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Joining:
    """What joining nodes to assemblies came to.

    Attributes
    ----------
    field_splices : int
        Splices made on site on runs between two fittings.
    least_field_splices : int
        Proven least number of them within the limits, with the legs of the rules.
    saved : int
        Field splices that joining on purpose saves.
    joined : tuple of str
        Runs that lie inside an assembly on purpose.
    partings : tuple of Parting
        Runs that are welded on site against their length.
    """

    field_splices: int
    least_field_splices: int
    saved: int
    joined: tuple[str, ...]
    partings: tuple[Parting, ...]


def join_nodes(layout: Layout, rules: Rules) -> tuple[Layout, Joining]:
    """Join nodes to assemblies within what can be shipped, with as few field splices as can be.

    First as few runs as can be are parted that are too short for both legs; then, where the rules join on purpose,
    as few field splices as can be are left.

    Parameters
    ----------
    layout : Layout
        What becomes of every node and run by the lengths alone.
    rules : Rules
        Limits, and whether to join on purpose.

    Returns
    -------
    Layout
        The same with some runs taken into assemblies and others parted.
    Joining
    """
    between = [i for i, stretch in enumerate(layout.stretches) if _between_fittings(stretch, layout)]
    ties = [Tie(i, layout.stretches[i], rules) for i in between]
    open_ties = [tie for tie in ties if tie.forced or (rules.assemblies.join and tie.cost)]
    parted: set[int] = set()
    reasons: dict[int, str] = {}
    least = sum(tie.splices for tie in ties) - sum(tie.splices for tie in open_ties)
    for group in group_ties(open_ties):
        bench = Bench(group, layout, rules)
        cut, bound = part_runs(bench)
        least += bound
        for number in cut:
            tie = bench.ties[number]
            parted.add(tie.position)
            if tie.forced:
                reasons[tie.position] = bench.reason(number, cut)
    joined = [tie for tie in open_ties if not tie.forced and tie.position not in parted]
    changed = {tie.position: _inside(layout.stretches[tie.position]) for tie in joined}
    melt_m = rules.splices.melt_m
    changed |= {i: _welded(layout.stretches[i], reason, melt_m) for i, reason in reasons.items()}
    stretches = [changed.get(i, stretch) for i, stretch in enumerate(layout.stretches)]
    marks = [layout.stretches[i].run.mark for i in sorted(reasons)]
    inside = {tie.position for tie in joined}
    return replace(layout, stretches=tuple(stretches)) if changed else layout, Joining(
        field_splices=sum(tie.cost for tie in ties if tie.position in reasons)
        + sum(tie.splices for tie in ties if tie.position not in inside),
        least_field_splices=least,
        saved=sum(tie.cost for tie in joined),
        joined=tuple(layout.stretches[i].run.mark for i in sorted(inside)),
        partings=tuple(Parting(run=mark, reason=reasons[i]) for mark, i in zip(marks, sorted(reasons), strict=True)),
    )


def find_partings(joining: Joining, layout: Layout) -> Iterator[Finding]:
    """Report the runs that are welded on site against their length.

    Parameters
    ----------
    joining : Joining
    layout : Layout
        With these runs parted.

    Yields
    ------
    Finding
        ``assembly-parted``, one a run, at its middle.
    """
    for parting in joining.partings:
        stretch = layout.stretch(parting.run)
        run, points = stretch.run, stretch.run.points_m
        middle = points[len(points) // 2] if len(points) > 2 else (points[0] + points[1]) / 2
        yield Finding(
            code="assembly-parted",
            severity=Severity.WARNING,
            message=(
                f"Nodes {run.start} and {run.end} stand {run.length_m:.2f} m apart, too close for both legs of their "
                f"fittings, but {parting.reason}: legs of {stretch.legs_m[0]:.2f} and {stretch.legs_m[1]:.2f} m are "
                "welded on site there; agree on that, or on larger limits."
            ),
            at_m=(float(middle[0]), float(middle[1]), float(middle[2])),
            sources=run.sources[:1],
        )


def _between_fittings(stretch: Stretch, layout: Layout) -> bool:
    roles = (layout.roles[layout.node_at[node]] for node in (stretch.run.start, stretch.run.end))
    return all(role is Role.FITTING for role in roles)


def _inside(stretch: Stretch) -> Stretch:
    none = (0.0, 0.0)
    return replace(stretch, use=Use.INNER, legs_m=none, legs_made_m=none, net_m=0.0, melts_m=none)


def _welded(stretch: Stretch, reason: str, melt_m: float) -> Stretch:
    half_m = stretch.run.length_m / 2
    made_m = half_m + melt_m / 2
    return replace(stretch, use=Use.MEETING, legs_m=(half_m, half_m), legs_made_m=(made_m, made_m), note=reason)
