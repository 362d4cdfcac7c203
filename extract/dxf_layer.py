"""DXF layers: which are waterstop, what they carry, and whether they are shown."""

from dataclasses import dataclass, field

from ezdxf.document import Drawing as Document
from ezdxf.lldxf.encoding import decode_dxf_unicode, has_dxf_unicode

from .line import JointKind
from .selection import Selection

__all__ = ["Layer", "LayerBook"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """One layer as the lines on it see it.

    Attributes
    ----------
    name : str
        Name as the layer table spells it, else as the entity does; in an external reference led by the block's
        name and a bar.
    bare : str
        The same without the block's name.
    hidden : str or None
        ``"layer-frozen"``, ``"layer-off"`` or None.
    selected : bool
        Whether the selection takes it.
    profile, joint : str or None, JointKind or None
        What the selection says it carries.
    """

    name: str
    bare: str
    hidden: str | None
    selected: bool
    profile: str | None
    joint: JointKind | None

    @property
    def names(self) -> tuple[str, str]:
        """The names a pattern may match."""
        return (self.name, self.bare)


@dataclass(slots=True, kw_only=True, eq=False)
class LayerBook:
    """The layers of one document; layer names differ by more than letter case.

    Attributes
    ----------
    document : Document
        Whose layer table counts.
    selection : Selection
        Which are waterstop.
    prefix : str
        Name of the external reference's block, empty for the drawing itself.
    host : LayerBook or None
        Book of the drawing that holds the reference; its own entries for ``prefix|name`` come first.
    """

    document: Document
    selection: Selection
    prefix: str = ""
    host: "LayerBook | None" = None
    known: dict[str, Layer] = field(default_factory=dict)

    def find(self, raw: str) -> Layer:
        """Return the layer of that name, whether the table lists it or not."""
        layer = self.known.get(raw)
        if layer is None:
            layer = self.known[raw] = self._make(raw)
        return layer

    def _make(self, raw: str) -> Layer:
        spelled, hidden = self._state(raw)
        bare = plain_name(spelled)
        name = bare
        if self.prefix and bare.casefold() not in ("0", "defpoints"):
            name = f"{self.prefix}|{bare}"
            if self.host is not None and self.host.document.layers.has_entry(name):
                hidden = self.host.find(name).hidden
        names = (name, bare)
        carrier = self.selection.carrier_of(names)
        return Layer(
            name=name,
            bare=bare,
            hidden=hidden,
            selected=self.selection.selects(names),
            profile=carrier.profile if carrier else None,
            joint=carrier.joint if carrier else None,
        )

    def _state(self, raw: str) -> tuple[str, str | None]:
        if not self.document.layers.has_entry(raw):
            return raw, None
        entry = self.document.layers.get(raw)
        hidden = "layer-frozen" if entry.is_frozen() else "layer-off" if entry.is_off() else None
        return str(entry.dxf.name), hidden


def plain_name(raw: str) -> str:
    r"""Decode ``\U+XXXX`` and bytes that are no text in the file's encoding.

    Examples
    --------
    >>> plain_name(r"FU\U+00DF")
    'FUß'
    """
    name = decode_dxf_unicode(raw) if has_dxf_unicode(raw) else raw
    if name.isprintable():
        return name
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
