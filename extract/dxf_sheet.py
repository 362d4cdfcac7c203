"""Read what a flat DXF sheet holds besides its joint lines: windows, paths, viewports, texts, marks on plans."""

from collections.abc import Iterable, Iterator, Sequence
from typing import TypeAlias

import numpy as np
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.insert import Insert
from ezdxf.entities.mtext import MText
from ezdxf.entities.point import Point
from ezdxf.entities.text import Text
from ezdxf.entities.viewport import Viewport
from ezdxf.layouts.layout import Paperspace

from .dxf_block import layer_of
from .dxf_file import DAMAGE, DxfFile
from .dxf_haul import gather, lines_of
from .dxf_layer import Layer, LayerBook, plain_name
from .dxf_shape import is_line, shape_of
from .dxf_walk import Step, Walk
from .finding import Source
from .line import JointLine, Points
from .plan_view import plans_of
from .selection import Selection
from .sheet_part import SheetMark, SheetParts, SheetText, SheetViewport
from .view import SheetBook, View
from .window import Window

__all__ = ["MarkedEntities", "marks_of", "parts_of", "texts_of", "unmarked"]

MarkedEntities: TypeAlias = frozenset[int | str]
"""Identities of entities, and handles of inserts, that have been read as marks."""


def parts_of(file: DxfFile, views: Sequence[View], metres: float) -> SheetParts:
    """Read what views name: lines of outlines and paths, viewports of layouts, and texts.

    Parameters
    ----------
    file : DxfFile
    views : sequence of View
    metres : float
        Length of a drawing unit [m].
    """
    layers = {name for view in views for name in (view.outline, view.path) if name is not None}
    layouts = {view.viewport for view in views if view.viewport is not None}
    known = {page.name.casefold(): page for page in file.document.layouts if isinstance(page, Paperspace)}
    return SheetParts(
        metres=metres,
        lines=_lines(file, layers, metres) if layers else {},
        viewports={
            name: tuple(_viewports(known[name.casefold()].viewports(), metres))
            for name in layouts
            if name.casefold() in known
        },
        texts=tuple(texts_of(file, metres)) if layers else (),
    )


def _lines(file: DxfFile, layers: Iterable[str], metres: float) -> dict[str, tuple[JointLine, ...]]:
    """Read the lines on named layers, hidden ones too, since windows and paths are often not plotted."""
    wanted = {name.casefold(): name for name in layers}
    walk = Walk(file=file, selection=Selection(patterns=("*",)))
    steps = (
        (entity, layer, place, None if reason == layer.hidden else reason)
        for entity, layer, place, reason in walk.steps()
        if layer.name.casefold() in wanted
    )
    haul = gather(steps)
    found: dict[str, list[JointLine]] = {
        name: [] for key, name in wanted.items() if file.document.layers.has_entry(name)
    }
    for line in lines_of(haul, metres):
        found.setdefault(wanted[line.source.layer.casefold()], []).append(line)
    return {name: tuple(lines) for name, lines in found.items()}


def _viewports(viewports: Iterable[DXFEntity], metres: float) -> Iterator[SheetViewport]:
    """Yield what the viewports of a layout show; the first is the layout's own page."""
    for port in viewports:
        if not isinstance(port, Viewport) or port.dxf.get("id", 0) == 1 or not port.dxf.get("height", 0):
            continue
        half_high = float(port.dxf.view_height) / 2
        half_wide = half_high * float(port.dxf.width) / float(port.dxf.height)
        twist = np.radians(float(port.dxf.get("view_twist_angle", 0.0)))
        # The twist turns the camera's picture; what is level in it is turned back in the model.
        c, s = np.cos(-twist), np.sin(-twist)
        axes = np.array([[c, s], [-s, c]])
        centre = np.array(port.dxf.view_center_point.xyz[:2]) @ axes + port.dxf.view_target_point.xyz[:2]
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (half_wide, half_high)
        yield SheetViewport(corners_m=(corners @ axes + centre) * metres, turn_deg=float(-np.degrees(twist)))


def texts_of(file: DxfFile, metres: float) -> Iterator[SheetText]:
    """Yield the texts that stand in model space itself."""
    for entity in file.document.modelspace().entity_space:
        try:
            if isinstance(entity, MText):
                text, height = str(entity.plain_text()), float(entity.dxf.char_height)
            elif type(entity) is Text:
                text, height = entity.plain_text(), float(entity.dxf.height)
            else:
                continue
            at = np.array(entity.dxf.insert.xyz) * metres
        except DAMAGE:
            continue
        yield SheetText(text=plain_name(" ".join(text.split())), at_m=at, height_m=height * metres)


def marks_of(
    file: DxfFile, windows: Sequence[Window], selection: Selection, book: SheetBook, metres: float
) -> tuple[list[SheetMark], MarkedEntities]:
    """Read the marks of risers on plans: points, circles, blocks, and lines no longer than a tick.

    Parameters
    ----------
    file : DxfFile
    windows : sequence of Window
        Marks stand in those that show plans.
    selection : Selection
        What the layers of marks carry.
    book : SheetBook
        Which marks are risers.
    metres : float
        Length of a drawing unit [m].

    Returns
    -------
    list of SheetMark
        In file order.
    MarkedEntities
        What has been read, for `unmarked`.
    """
    layers = LayerBook(document=file.document, selection=selection)
    marks: list[SheetMark] = []
    taken: set[int | str] = set()
    for entity in file.document.modelspace().entity_space if book.risers else ():
        layer = layers.find(layer_of(entity))
        block = str(entity.dxf.name) if isinstance(entity, Insert) else None
        if layer.hidden or entity.dxf.get("invisible", 0) or book.riser_of(layer.name, block) is None:
            continue
        points = _mark_points(entity)
        if points is None:
            continue
        plan = next((window for window in plans_of(windows) if window.holds(points * metres).all()), None)
        if plan is None or _size(points * metres) * plan.view.scale > book.tick_m:
            continue
        taken.add(id(entity))
        if isinstance(entity, Insert):
            taken |= {*(id(attribute) for attribute in entity.attribs), str(entity.dxf.get("handle"))}
        handle = entity.dxf.__dict__.get("handle") or "without handle"
        source = Source(file=file.name, layer=layer.name, entity=f"{entity.dxftype()} {handle}")
        marks.append(_mark(entity, points * metres, source, layer))
    return marks, frozenset(taken)


def _mark_points(entity: DXFEntity) -> Points | None:
    """Return the outline of what may be a mark, in drawing units; None for anything else."""
    try:
        if isinstance(entity, Point):
            return np.array([entity.dxf.location.xyz])
        if isinstance(entity, Insert):
            return np.array([entity.ocs().to_wcs(entity.dxf.insert).xyz])
        if is_line(entity):
            return shape_of(entity, None).points
    except DAMAGE:
        return None
    return None


def _mark(entity: DXFEntity, points_m: Points, source: Source, layer: Layer) -> SheetMark:
    """Make a mark: a straight line is a tick with two ends, anything else a symbol round one point."""
    middle = (points_m.min(axis=0) + points_m.max(axis=0))[None] / 2
    attributes = entity.attribs if isinstance(entity, Insert) else ()
    return SheetMark(
        source=source,
        points_m=points_m if len(points_m) == 2 else middle,
        block=str(entity.dxf.name) if isinstance(entity, Insert) else None,
        profile=layer.profile,
        attributes={attribute.dxf.tag.upper(): attribute.plain_text() for attribute in attributes},
    )


def _size(points: Points) -> float:
    return float(np.linalg.norm(np.ptp(points[:, :2], axis=0)))


def unmarked(steps: Iterable[Step], taken: MarkedEntities) -> Iterator[Step]:
    """Leave out what has been read as a mark, with all that a marking block holds."""
    for step in steps:
        entity, _, place, _ = step
        if id(entity) not in taken and place.via not in taken:
            yield step
