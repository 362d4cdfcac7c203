"""The joint network: every node and run of one drawing over one networkx multigraph."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from .chain import BEND_SLACK_DEG, Chains, join_pieces
from .drawing import Drawing
from .finding import Finding, Severity, place_text
from .lay import joint_of_lay, lay_across, mismatched, orient
from .limits import Limits
from .line import JointKind, JointLine, Vector, vector
from .linework import Indices
from .loose_end import loose_ends
from .node import Arm, Node, NodeKind, Orientation, classify, narrowest_deg
from .noding import cut_lines
from .overpass import overpasses
from .run import Run
from .whereabouts import Whereabouts

__all__ = ["JointNetwork", "build_network"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointNetwork:
    """The classified network of one drawing.

    Attributes
    ----------
    drawing : Drawing
        Where it comes from.
    graph : networkx.MultiGraph
        Nodes are marks with one attribute ``node`` (a `Node`); edges are keyed by the run's mark with one
        attribute ``run`` (a `Run`). It is a multigraph because two runs may join the same nodes, and a ring may come
        back to its own.
    findings : tuple of Finding
        What the reader, the noding, the classification and the lay noticed.
    """

    drawing: Drawing
    graph: "nx.MultiGraph[str]"
    findings: tuple[Finding, ...]

    def nodes(self) -> Iterator[Node]:
        """Iterate over the nodes in the order of their marks."""
        return (data["node"] for _, data in self.graph.nodes(data=True))

    def runs(self) -> Iterator[Run]:
        """Iterate over the runs in the order of their marks."""
        return (data["run"] for _, _, data in self.graph.edges(data=True))

    def node(self, mark: str) -> Node:
        """Return the node of that mark."""
        found: Node = self.graph.nodes[mark]["node"]
        return found

    def count_kinds(self) -> dict[str, int]:
        """Count the nodes of each kind; kinds that do not occur are left out."""
        return dict(Counter(node.kind.value for node in self.nodes()))

    @property
    def length_m(self) -> float:
        """Length of all runs [m], doubled lines counted once."""
        return float(sum(run.length_m for run in self.runs()))


def build_network(drawing: Drawing, limits: Limits, *, first_node: int = 1, first_run: int = 1) -> JointNetwork:
    """Node, classify and lay the lines of one drawing.

    Parameters
    ----------
    drawing : Drawing
        What a reader returned.
    limits : Limits
        Tolerance, reach, rise and bend limit.
    first_node, first_run : int
        Numbers of the first marks, so that several drawings of one job share none.

    Returns
    -------
    JointNetwork
    """
    lines = drawing.lines
    if not lines:
        return JointNetwork(drawing=drawing, graph=nx.MultiGraph(), findings=drawing.findings)
    limit_deg = limits.bend_limit_deg + BEND_SLACK_DEG
    pieces, slips = cut_lines(lines, tolerance_m=limits.tolerance_m, corner_turn_deg=limit_deg)
    chains = join_pieces(pieces, lines, limits.bend_limit_deg)
    across = lay_across(chains, lines, limit_deg)
    joints = _joints(chains, lines, across)
    runs = _runs(chains, lines, across, joints, first_node, first_run)
    nodes, bad, narrow = _nodes(chains, across, runs, _end_whereabouts(chains, lines), limit_deg, first_node)
    findings = (*drawing.findings, *slips, *_node_findings(nodes, runs, bad, narrow), *_lay_findings(runs))
    degree = {node.mark: len(node.arms) for node in nodes}
    findings += loose_ends(runs, degree, tolerance_m=limits.tolerance_m, reach_m=limits.reach_m, rise_m=limits.rise_m)
    findings += overpasses(runs, degree, tolerance_m=limits.tolerance_m, reach_m=limits.reach_m)
    return JointNetwork(drawing=drawing, graph=_graph(nodes, runs), findings=findings)


def _graph(nodes: Iterable[Node], runs: Iterable[Run]) -> "nx.MultiGraph[str]":
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    graph.add_nodes_from((node.mark, {"node": node}) for node in nodes)
    graph.add_edges_from((run.start, run.end, run.mark, {"run": run}) for run in runs)
    return graph


def _joints(chains: Chains, lines: Sequence[JointLine], across: NDArray[np.float64]) -> list[JointKind | None]:
    """Return the joint kind of every chain: the one its line carries, else the one that its drawn lay shows."""
    carried = [lines[followed[0]].joint for followed in chains.lines]
    if chains.across is None:
        return carried
    shown = joint_of_lay(chains.heading, np.where(np.isnan(chains.across), np.nan, across))
    return [own or seen for own, seen in zip(carried, shown, strict=True)]


def _runs(
    chains: Chains,
    lines: Sequence[JointLine],
    across: NDArray[np.float64],
    joints: Sequence[JointKind | None],
    first_node: int,
    first_run: int,
) -> tuple[Run, ...]:
    chains.points_m.flags.writeable = False  # runs hold views of it
    sides = [tuple(vectors) for vectors in zip(*(_vectors(across[:, end]) for end in (0, 1)), strict=True)]
    first, start, end, length = (array.tolist() for array in (chains.first, chains.start, chains.end, chains.length_m))
    told = any(line.whereabouts for line in lines)
    return tuple(
        Run(
            mark=f"R{first_run + i}",
            start=f"N{first_node + start[i]}",
            end=f"N{first_node + end[i]}",
            points_m=chains.points_m[first[i] : first[i + 1]],
            length_m=length[i],
            profile=lines[followed[0]].profile,
            joint=joints[i],
            across=(sides[i][0], sides[i][1]),
            sources=tuple([lines[line].source for line in followed]),
            width_m=lines[followed[0]].width_m,
            thickness_m=lines[followed[0]].thickness_m,
            whereabouts=_whereabouts([lines[line] for line in followed]) if told else (),
        )
        for i, followed in enumerate(chains.lines)
    )


def _whereabouts(lines: Sequence[JointLine]) -> tuple[Whereabouts, ...]:
    return tuple(dict.fromkeys([line.whereabouts for line in lines if line.whereabouts]))


def _end_whereabouts(chains: Chains, lines: Sequence[JointLine]) -> list[Whereabouts | None] | None:
    """Return where each end of each chain stands, two a chain; None where no line tells."""
    if not any(line.whereabouts for line in lines):
        return None
    return [lines[followed[end]].whereabouts for followed in chains.lines for end in (0, -1)]


def _vectors(rows: NDArray[np.float64]) -> list[Vector | None]:
    return [None if x != x else (x, y, z) for x, y, z in rows.tolist()]  # noqa: PLR0124 (only NaN differs from itself)


def _nodes(
    chains: Chains,
    across: NDArray[np.float64],
    runs: Sequence[Run],
    told: Sequence[Whereabouts | None] | None,
    limit_deg: float,
    first_node: int,
) -> tuple[list[Node], list[str], dict[str, float]]:
    """Make the nodes, and list the marks of those whose strips cannot be welded to each other, or hardly part.

    Of the latter the smallest angle between two strips is told [degrees].
    """
    count = len(chains.node_m)
    node = np.stack((chains.start, chains.end), axis=1).ravel()
    heading, side = chains.heading.reshape(-1, 3), across.reshape(-1, 3)
    order = _round_the_node(node, heading)
    first = np.searchsorted(node[order], np.arange(count + 1))
    arms = np.diff(first)
    kinds: list[NodeKind] = [NodeKind.OTHER] * count
    turns, orientations, bad = np.zeros(count), [Orientation.NONE] * count, np.zeros(count, np.bool_)
    narrow = np.full(count, np.inf)
    for number in np.unique(arms).tolist():
        here = np.flatnonzero(arms == number)
        ends = order[first[here][:, None] + np.arange(number)]
        found, turns[here] = classify(heading[ends], limit_deg)
        lies = orient(heading[ends], side[ends], limit_deg) if number > 1 else []
        bad[here] = mismatched(heading[ends], side[ends], limit_deg)
        narrow[here] = narrowest_deg(heading[ends])
        for at, i in enumerate(here.tolist()):
            kinds[i] = found[at]
            if (lies and found[at] is not NodeKind.OTHER) or number > 2:
                orientations[i] = lies[at]
    for i in np.flatnonzero(chains.closure).tolist():
        kinds[i], orientations[i], turns[i] = NodeKind.CLOSURE, Orientation.NONE, 0.0
    all_arms = _arms(order, heading, side, runs)
    bounds, places, turn_deg = first.tolist(), chains.node_m.tolist(), turns.tolist()
    owner = (order // 2).tolist()
    stands = [told[end] for end in order.tolist()] if told else []
    nodes = [
        _node(
            f"N{first_node + i}",
            kinds[i],
            orientations[i],
            places[i],
            turn_deg[i],
            all_arms[a:b],
            [runs[number] for number in owner[a:b]],
            stands[a:b],
        )
        for i, (a, b) in enumerate(pairwise(bounds))
    ]
    hardly = np.flatnonzero(narrow < limit_deg).tolist()
    return (
        nodes,
        [nodes[i].mark for i in np.flatnonzero(bad).tolist()],
        {nodes[i].mark: float(narrow[i]) for i in hardly},
    )


def _round_the_node(node: Indices, heading: NDArray[np.float64]) -> Indices:
    """Sort ends by node, then counter-clockwise from east, then by slope; plumb ones come last."""
    azimuth = np.round(np.degrees(np.arctan2(heading[:, 1], heading[:, 0])) % 360, 6) % 360
    azimuth[np.hypot(heading[:, 0], heading[:, 1]) < 1e-6] = 360.0
    return np.lexsort((np.round(heading[:, 2], 9), azimuth, node))


def _arms(order: Indices, heading: NDArray[np.float64], side: NDArray[np.float64], runs: Sequence[Run]) -> list[Arm]:
    headings = [tuple(row) for row in heading[order].tolist()]
    sides = _vectors(side[order])
    return [
        Arm(run=runs[end // 2].mark, at_start=end % 2 == 0, heading=headings[i], across=sides[i])
        for i, end in enumerate(order.tolist())
    ]


def _node(
    mark: str,
    kind: NodeKind,
    orientation: Orientation,
    at_m: Sequence[float],
    turn_deg: float,
    arms: Sequence[Arm],
    met: Sequence[Run],
    stands: Sequence[Whereabouts | None],
) -> Node:
    sources = [run.sources[0 if arm.at_start else -1] for run, arm in zip(met, arms, strict=True)]
    return Node(
        mark=mark,
        kind=kind,
        orientation=orientation,
        at_m=(at_m[0], at_m[1], at_m[2]),
        turn_deg=turn_deg,
        arms=tuple(arms),
        profiles=tuple(sorted({run.profile or "" for run in met})),
        sources=tuple(dict.fromkeys(sources)),
        whereabouts=tuple(sorted({place for place in stands if place})) if stands else (),
    )


def _node_findings(
    nodes: Sequence[Node], runs: Sequence[Run], bad: Sequence[str], narrow: Mapping[str, float]
) -> Iterator[Finding]:
    run_of = {run.mark: run for run in runs} if bad or any(node.kind is NodeKind.OTHER for node in nodes) else {}
    cannot_join = set(bad)
    for node in nodes:
        if node.mark in cannot_join:
            yield _mismatch(node, [run_of[arm.run] for arm in node.arms])
        elif node.kind is NodeKind.OTHER and len(node.arms) == 2:
            yield _change(node, [run_of[arm.run] for arm in node.arms])
        elif node.kind is NodeKind.OTHER:
            yield _unusual(node)
        elif node.mark in narrow:
            yield _sharp(node, narrow[node.mark])
        if len(node.profiles) > 1 and len(node.arms) > 2:
            yield _finding(
                node,
                "profile-change",
                Severity.WARNING,
                f"{_and(node.profiles)} meet in one {node.kind} at {place_text(node.at_m)}; confirm how they join.",
            )


def _mismatch(node: Node, runs: Sequence[Run]) -> Finding:
    what = f"The strips that meet at {place_text(node.at_m)} share no plane, so no fitting can join them"
    joints = {run.joint for run in runs}
    if {JointKind.SLAB, JointKind.WALL_BASE} <= joints:
        remedy = (
            "draw the slab joint below, on to the wall's mid-plane, and let it turn up there and rise to the wall-base "
            "joint at this place"
        )
    else:
        remedy = "have the designer detail how one becomes the other"
    return _finding(node, "lay-mismatch", Severity.ERROR, f"{what}; {remedy}.")


def _change(node: Node, runs: Sequence[Run]) -> Finding:
    one, two = runs[0], runs[-1]
    if one.profile != two.profile:
        message = (
            f"Profile {one.profile or 'unknown'} meets {two.profile or 'unknown'} end to end at "
            f"{place_text(node.at_m)}; a centre bulb must be closed where only one of them has it."
        )
        return _finding(node, "profile-change", Severity.WARNING, message)
    if one.profile is None and _section(one) != _section(two):
        message = (
            f"A strip drawn {_section(one)} meets one drawn {_section(two)} end to end at {place_text(node.at_m)}; "
            "confirm how they join, and give both their profiles in the rules."
        )
        return _finding(node, "profile-change", Severity.WARNING, message)
    message = (
        f"A {one.joint or 'joint of unknown kind'} goes on as a {two.joint or 'joint of unknown kind'} at "
        f"{place_text(node.at_m)}; confirm that the strip lies the same way on both sides."
    )
    return _finding(node, "lay-change", Severity.WARNING, message)


def _section(run: Run) -> str:
    sizes = ["?" if size is None else f"{size * 1000:.0f}" for size in (run.width_m, run.thickness_m)]
    return f"{sizes[0]} x {sizes[1]} mm"


def _unusual(node: Node) -> Finding:
    return _finding(
        node,
        "unusual-node",
        Severity.ERROR,
        f"{len(node.arms)} strips meet at {place_text(node.at_m)} in no usual way; have the designer detail the place.",
    )


def _sharp(node: Node, angle_deg: float) -> Finding:
    return _finding(
        node,
        "sharp-angle",
        Severity.ERROR,
        f"Two strips leave {place_text(node.at_m)} only {angle_deg:.1f} degrees apart, so they lie on each other and "
        "no fitting can part them; draw them further apart, or have the designer detail the place.",
    )


def _finding(node: Node, code: str, severity: Severity, message: str) -> Finding:
    return Finding(code=code, severity=severity, message=message, at_m=node.at_m, sources=node.sources)


def _and(names: Sequence[str]) -> str:
    return " and ".join(name or "a line without a profile" for name in names)


def _lay_findings(runs: Sequence[Run]) -> Iterator[Finding]:
    """Report once a layer and joint kind the runs whose lay nothing tells."""
    unknown: dict[tuple[str, str, JointKind | None], list[Run]] = {}
    for run in runs:
        if None in run.across:
            unknown.setdefault((run.sources[0].file, run.sources[0].layer, run.joint), []).append(run)
    for (_, layer, joint), group in unknown.items():
        remedy = (
            "give the layer its joint kind in the rules"
            if joint is None
            else f"as a {joint} joint it must meet another that shows how its wall runs"
        )
        count = "1 run" if len(group) == 1 else f"{len(group)} runs"
        length = sum(run.length_m for run in group)
        yield Finding(
            code="lay-unknown",
            severity=Severity.WARNING,
            message=f"Nothing tells how the strip lies in {count} ({length:.3f} m) on layer {layer!r}, so saw settings "
            f"there stay open; {remedy}.",
            at_m=vector(group[0].points_m[0]),
            sources=group[0].sources[:1],
        )
