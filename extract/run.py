"""Runs: stretches of waterstop between two nodes."""

from dataclasses import dataclass

from .finding import Source
from .line import JointKind, Points, Vector
from .whereabouts import Whereabouts

__all__ = ["Run"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """One stretch of waterstop between two nodes, without a node inside.

    Attributes
    ----------
    mark : str
        Unique in the job, ``"R1"``, ``"R2"``… in the order of sorted coordinates.
    start, end : str
        Marks of the nodes it joins; the same mark twice for a ring.
    points_m : Points
        Centreline [m], shape (n, 3), from start to end.
    length_m : float
        Length along the centreline [m], > 0.
    profile : str or None
        Name of the profile.
    joint : JointKind or None
        Kind of joint.
    across : tuple of (Vector or None)
        Unit vectors across the strip's width at the start and at the end.
    sources : tuple of Source
        The drawn entities it follows, in order from start to end.
    width_m, thickness_m : float or None
        Width and thickness of the strip as the model draws it [m]; None where it does not tell.
    whereabouts : tuple of Whereabouts
        Where it stands and when it is poured, each once, in order from start to end; empty where nothing tells.
    """

    mark: str
    start: str
    end: str
    points_m: Points
    length_m: float
    profile: str | None
    joint: JointKind | None
    across: tuple[Vector | None, Vector | None]
    sources: tuple[Source, ...]
    width_m: float | None = None
    thickness_m: float | None = None
    whereabouts: tuple[Whereabouts, ...] = ()
