"""The joint network: every node and run of one drawing over one networkx multigraph."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import networkx as nx

from .drawing import Drawing
from .finding import Finding
from .node import Node, NodeKind
from .run import Run

__all__ = ["JointNetwork", "Limits", "build_network"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The distances and angles that decide what is one place, one line, one bend.

    Attributes
    ----------
    tolerance_m : float
        Distance at which two drawn points are one [m], > 0.
    reach_m : float
        A free end closer than this to another line is a near miss [m], >= `tolerance_m`.
    bend_limit_deg : float
        The strip bends through turns up to this without a cut [degrees], 0 to 90.
    """

    tolerance_m: float
    reach_m: float
    bend_limit_deg: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointNetwork:
    """The classified network of one drawing.

    Attributes
    ----------
    drawing : Drawing
        Where it comes from.
    graph : networkx.MultiGraph
        Nodes are marks with one attribute ``node`` (a `Node`); edges are keyed by the run's mark with one
        attribute ``run`` (a `Run`).
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
        raise NotImplementedError

    def node(self, mark: str) -> Node:
        """Return the node of that mark."""
        found: Node = self.graph.nodes[mark]["node"]
        return found

    def count_kinds(self) -> dict[str, int]:
        """Count the nodes of each kind; kinds that do not occur are left out."""
        return dict(Counter(node.kind.value for node in self.nodes()))


def build_network(drawing: Drawing, limits: Limits, *, first_node: int = 1, first_run: int = 1) -> JointNetwork:
    """Node, classify and lay the lines of one drawing.

    Parameters
    ----------
    drawing : Drawing
        What a reader returned.
    limits : Limits
        Tolerance, reach and bend limit.
    first_node, first_run : int
        Numbers of the first marks, so that several drawings of one job share none.

    Returns
    -------
    JointNetwork
    """
    raise NotImplementedError(NodeKind)
