"""The walk through a DXF: every entity that stands in model space, block inserts and references opened up."""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeAlias

from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.entitydb import EntitySpace
from ezdxf.layouts.blocklayout import BlockLayout
from ezdxf.xclip import XClip

from .curve import Matrix
from .dxf_block import ANYTHING, DEEPEST, BlockIndex, cells_of, is_reference, layer_of, matrix_of, shift
from .dxf_file import DAMAGE, DxfFile, open_dxf, unit_of_code, xref_path
from .dxf_layer import Layer, LayerBook
from .errors import UnreadableDrawingError
from .finding import Finding, Severity, Source
from .selection import Selection
from .unit import LengthUnit

__all__ = ["Place", "Step", "Walk"]

MOST_ENTITIES = 2_000_000
"""Block inserts that open up to more entities than this are a bomb, not a drawing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Place:
    """Where the walk stands.

    Attributes
    ----------
    file : DxfFile
        The drawing or external reference.
    book : LayerBook
        Its layers.
    matrix : Matrix or None
        Map to the world; None in model space.
    layer : Layer or None
        What layer 0 stands for here; None in model space.
    hidden : str or None
        Why nothing here is shown, or None.
    via : str
        Handle of the outermost insert, empty in model space.
    chain : tuple of str
        Blocks and references on the way here.
    """

    file: DxfFile
    book: LayerBook
    matrix: Matrix | None = None
    layer: Layer | None = None
    hidden: str | None = None
    via: str = ""
    chain: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of the file."""
        return self.file.name

    def source(self, entity: DXFEntity, layer: Layer) -> Source:
        """Name an entity that stands here."""
        within = f" in INSERT {self.via}" if self.via else ""
        text = f"{entity.dxftype()} {entity.dxf.__dict__.get('handle') or 'without handle'}{within}"
        return Source(file=self.name, layer=layer.name, entity=text)


Step: TypeAlias = tuple[DXFEntity, Layer, Place, str | None]
"""An entity, the layer that counts for it, where it stands, and why it is not to be read, or None."""


@dataclass(slots=True, kw_only=True, eq=False)
class Walk:
    """One pass over a drawing.

    Attributes
    ----------
    file : DxfFile
        The drawing.
    selection : Selection
        Which layers are waterstop; blocks that hold none of them are not opened up.
    findings : list of Finding
        What was met on the way: references not followed, clipped blocks, blocks of another unit.
    """

    file: DxfFile
    selection: Selection
    findings: list[Finding] = field(default_factory=list)
    _opened: dict[Path, DxfFile] = field(default_factory=dict)
    _index: BlockIndex = field(default_factory=BlockIndex)
    _told: set[str] = field(default_factory=set)

    _books: list[LayerBook] = field(default_factory=list)
    _planned: int = 0
    _met: int = 0

    def steps(self) -> Iterator[Step]:
        """Iterate over every entity of model space, then of paper space; the latter are not to be read.

        Raises
        ------
        UnreadableDrawingError
            The blocks open up to an absurd number of entities.
        """
        place = Place(file=self.file, book=self._book(self.file))
        yield from self._through(self.file.document.modelspace().entity_space, place)
        paper = replace(place, hidden="paper-space")
        for block in self.file.document.blocks:
            if block.name.lower().startswith("*paper_space"):
                yield from self._through(block.entity_space, paper)

    def layers(self) -> Iterator[Layer]:
        """Iterate over the layers in use that the walk has met."""
        return (layer for book in self._books for layer in book.known.values())

    def _book(self, file: DxfFile, *, prefix: str = "", host: LayerBook | None = None) -> LayerBook:
        book = LayerBook(document=file.document, selection=self.selection, prefix=prefix, host=host)
        self._books.append(book)
        return book

    def _through(self, entities: Iterable[DXFEntity], place: Place) -> Iterator[Step]:
        find, inherited, hidden = place.book.find, place.layer, place.hidden
        for entity in entities:
            attributes = entity.dxf.__dict__
            raw = attributes.get("layer") or layer_of(entity)
            layer = inherited if raw == "0" and inherited is not None else find(raw)
            reason = hidden or layer.hidden or ("invisible" if attributes.get("invisible") else None)
            if isinstance(entity, Insert):
                yield from self._insert(entity, layer, replace(place, hidden=reason))
            else:
                yield entity, layer, place, reason

    def _insert(self, insert: Insert, layer: Layer, place: Place) -> Iterator[Step]:
        """Open up a block insert; `place.hidden` tells whether the insert itself is shown."""
        for attribute in insert.attribs:
            own = place.book.find(attribute.dxf.get("layer", "0"))
            yield attribute, own, place, place.hidden or own.hidden
        # A layer that is off hides what lies on it; a frozen one hides all that a block inserted on it holds.
        inside = replace(place, hidden=None if place.hidden == "layer-off" else place.hidden, layer=layer)
        block = insert.block()
        if block is None:
            yield insert, layer, place, place.hidden or "missing-block"
        elif is_reference(block):
            yield from self._reference(insert, block, layer, inside)
        elif _key(place.file, block) in place.chain:
            yield insert, layer, place, place.hidden or "recursive-block"
        elif self._may_hold_waterstop(block, inside):
            self._note_clip(insert, block, layer, place)
            self._note_unit(insert, block, layer, place)
            yield from self._copies(insert, layer, inside, block.entity_space, _key(place.file, block))

    def _copies(self, insert: Insert, layer: Layer, place: Place, entities: EntitySpace, link: str) -> Iterator[Step]:
        """Go through the entities once for each copy that an insert makes of them."""
        via = place.via or str(insert.dxf.get("handle", "without handle"))
        try:
            cells, matrix = cells_of(insert), matrix_of(insert)
        except DAMAGE:
            yield insert, layer, place, place.hidden or "damaged"
            return
        amount = len(cells) * self._index.size_of(entities)
        # What a block in model space opens up to holds the inserts inside it; references are seen on the way only.
        self._planned += amount if place.matrix is None else 0
        for cell in cells:
            self._met += len(entities)
            if max(amount, self._planned, self._met) > MOST_ENTITIES or len(place.chain) >= DEEPEST:
                raise UnreadableDrawingError(
                    f"{self.file.name} opens up to more than {MOST_ENTITIES} entities, or is nested deeper than "
                    f"{DEEPEST} blocks, at INSERT {via} on layer {layer.name!r}; explode or purge its blocks"
                )
            copy = shift(insert, matrix, cell)
            whole = copy if place.matrix is None else copy @ place.matrix
            yield from self._through(entities, replace(place, matrix=whole, via=via, chain=(*place.chain, link)))

    def _reference(self, insert: Insert, block: BlockLayout, layer: Layer, place: Place) -> Iterator[Step]:
        """Follow an external reference inside the drawing's own folder."""
        written = str(block.block.dxf.get("xref_path", "")) if block.block is not None else ""
        path = xref_path(place.file.path, self.file.path.parent, written)
        if place.hidden or path is None:
            trouble = "it leads out of the drawing's own folder, or to no file there"
        elif str(path) in (*place.chain, str(self.file.path.resolve())):
            path, trouble = None, "it leads back to itself"
        else:
            trouble = "it cannot be read as a DXF"
        file = None if path is None or place.hidden else self._open(path)
        if file is None:
            if not place.hidden:
                message = f"the external reference {written!r} is left out: {trouble}; bind it or copy it there"
                self._note("xref", message, place.source(insert, layer))
            yield insert, layer, place, place.hidden or "xref"
            return
        self._note_scale(insert, file.unit, f"the external reference {written!r}", layer, place)
        book = self._book(file, prefix=block.name, host=place.book)
        entities = file.document.modelspace().entity_space
        yield from self._copies(insert, layer, replace(place, file=file, book=book), entities, str(path))

    def _open(self, path: Path) -> DxfFile | None:
        if path not in self._opened:
            try:
                self._opened[path] = open_dxf(path)
            except UnreadableDrawingError:
                return None
            self.findings.extend(self._opened[path].findings)
        return self._opened[path]

    def _may_hold_waterstop(self, block: BlockLayout, place: Place) -> bool:
        names = self._index.layers_in(block)
        return ANYTHING in names or any(
            (place.layer if name == "0" and place.layer else place.book.find(name)).selected for name in names
        )

    def _note_clip(self, insert: Insert, block: BlockLayout, layer: Layer, place: Place) -> None:
        if insert.extension_dict is None or place.hidden:
            return
        clip = XClip(insert)
        if clip.has_clipping_path and clip.is_clipping_enabled:
            message = f"block {block.name!r} is shown clipped; its lines are read whole"
            self._note("clipped-block", message, place.source(insert, layer))

    def _note_unit(self, insert: Insert, block: BlockLayout, layer: Layer, place: Place) -> None:
        unit = unit_of_code(int(block.units)) if block.units else None
        self._note_scale(insert, unit, f"block {block.name!r}", layer, place)

    def _note_scale(self, insert: Insert, unit: LengthUnit | None, what: str, layer: Layer, place: Place) -> None:
        """Tell of a part that is drawn in one unit and stands unscaled in a drawing of another.

        CAD works the ratio of units into the scale factors when a block is inserted, and shows what they say ever
        after; so the factors alone count here.
        """
        own = place.file.unit
        if unit is None or own is None or unit == own or not math.isclose(abs(insert.dxf.xscale), 1.0):
            return
        message = f"{what} is drawn in {unit} but inserted unscaled in a drawing in {own}; it is read at that size"
        self._note("block-unit", message, place.source(insert, layer))

    def _note(self, code: str, message: str, source: Source) -> None:
        if (told := f"{code} {source}") not in self._told:
            self._told.add(told)
            text = f"{source}: {message}"
            self.findings.append(Finding(code=code, severity=Severity.WARNING, message=text, sources=(source,)))


def _key(file: DxfFile, block: BlockLayout) -> str:
    return f"{id(file)} {block.name.lower()}"
