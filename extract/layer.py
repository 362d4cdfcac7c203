"""Layers as a survey tells of them: what a drawing holds, before anyone says what is waterstop."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from .cluster import WindowProposal
from .drawing import DrawingKind
from .finding import Finding
from .unit import LengthUnit

__all__ = ["LayerSurvey", "Survey"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSurvey:
    """What one layer (DXF) or element type (IFC) holds.

    Attributes
    ----------
    name : str
        Its name.
    lines : int
        Number of line-like entities that have a length, those in blocks counted as often as they are shown.
    length : float
        Their length [drawing units].
    length_m : float or None
        Their length [m]; None where the unit is not known.
    others : Mapping of str to int
        All other entities, counted by type, with the reason in brackets where the type alone is none.
    hidden : str or None
        ``"layer-off"`` or ``"layer-frozen"`` where a schedule would leave the layer out, else None.
    usual : bool
        Whether the name looks like waterstop.
    match : str
        Pattern that finds these elements and no others by name, where it is not simply the name; "" else.
    classes : Mapping of str to int
        How many elements of each class it holds (IFC).
    representations : Mapping of str to int
        How many elements carry each kind of representation, such as ``"Axis Curve3D"`` (IFC).
    """

    name: str
    lines: int
    length: float
    length_m: float | None
    others: Mapping[str, int]
    hidden: str | None
    usual: bool
    match: str = ""
    classes: Mapping[str, int] = field(default_factory=dict)
    representations: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """What a drawing holds.

    Attributes
    ----------
    file : str
        Name of the file, without its folder.
    kind : DrawingKind
        File format.
    unit : LengthUnit or None
        Unit it states, or was said to be drawn in; None where neither.
    layers : tuple of LayerSurvey
        Every layer or element type in use, sorted by name.
    findings : tuple of Finding
        What is odd about it.
    windows : tuple of WindowProposal
        Windows that views may have, where it looks like a flat set.
    """

    file: str
    kind: DrawingKind
    unit: LengthUnit | None
    layers: tuple[LayerSurvey, ...]
    findings: tuple[Finding, ...]
    windows: tuple[WindowProposal, ...] = ()

    @property
    def lines(self) -> int:
        """Number of line-like entities on all layers."""
        return sum(layer.lines for layer in self.layers)
