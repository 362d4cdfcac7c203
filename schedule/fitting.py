"""Fittings: what the shop makes, so that the site welds straight butts only."""

from dataclasses import dataclass

__all__ = ["Fitting"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """One type of shop-made piece, and where its identical copies go.

    Attributes
    ----------
    mark : str
        ``"F1"``, ``"F2"``…, in the order of the first node of each type.
    kind : str
        Kind of its node (``"corner"``, ``"tee"``…) or ``"assembly"`` where it holds several.
    contents : str
        What it holds in words, for example ``"corner + tee"``.
    orientation : str
        Orientation of its node; of an assembly the one all share, else ``"mixed"``.
    profiles : tuple of str
        Profiles it is made of, sorted.
    quantity : int
        Number of identical copies, >= 1.
    legs_m : tuple of float
        Lengths of its free legs from node to square end [m], sorted from long to short.
    strip_m : float
        Centreline length of strip in one copy, legs and inner runs [m].
    factory_seams : int
        Seams in one copy.
    mass_kg : float
        Mass of one copy from its centreline length [kg].
    nodes : tuple of tuple of str
        For each copy, the marks of the nodes it serves.
    turn_deg : float
        Turn of its node [degrees]; 0 for assemblies.
    """

    mark: str
    kind: str
    contents: str
    orientation: str
    profiles: tuple[str, ...]
    quantity: int
    legs_m: tuple[float, ...]
    strip_m: float
    factory_seams: int
    mass_kg: float
    nodes: tuple[tuple[str, ...], ...]
    turn_deg: float
