"""The shape of an element of an IFC model: its centre lines in world coordinates."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from .ifc_body import Bodies
from .ifc_curve import Curves
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_file import DAMAGE, IfcFile
from .ifc_frame import IDENTITY, Matrix, axis_matrix
from .ifc_kernel import Kernel
from .ifc_placement import Placements
from .ifc_selection import text_of
from .ifc_strip import Strip, with_across_of
from .ifc_unit import IfcUnits, size_of

__all__ = ["Shapes", "representations"]

_PLACEMENT, _REPRESENTATION, _ITEMS = 5, 6, 3  # places of attributes, the same in every schema
_AXIS = frozenset({"axis", "reference"})
_BODY = frozenset({"body", "facetation", "body-fallback", "surface"})
_NO_SHAPE = frozenset({"box", "annotation", "profile", "clearance", "lighting", "cog", "survey points", "footprint"})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shapes:
    """Works out the shapes of one model's elements.

    Attributes
    ----------
    units : IfcUnits
        Its units.
    placements : Placements
        Its placements.
    bodies : Bodies
        Its bodies and curves.
    world : Matrix
        Map from the model's coordinates to the world's, in the model's own unit.
    """

    units: IfcUnits
    placements: Placements
    bodies: Bodies
    world: Matrix

    @classmethod
    def of(cls, file: IfcFile, units: IfcUnits) -> "Shapes":
        """Set up for one file."""
        curves = Curves(radians=units.radians, kernel=Kernel(path=file.opened, metres=units.metres))
        return cls(
            units=units,
            placements=Placements(curves=curves),
            bodies=Bodies(curves=curves),
            world=world_matrix(file, units),
        )

    @property
    def map_m(self) -> Matrix | None:
        """Map from the model's coordinates to the world's, both in metres; None where they are the same."""
        if (self.world == IDENTITY).all():
            return None
        matrix = self.world.copy()
        matrix[3, :3] *= self.units.metres
        return matrix

    def close(self) -> None:
        """End what was started to work shapes out."""
        self.bodies.curves.kernel.close()

    def strips(self, element: Entity) -> tuple[Strip, ...]:
        """Return the strips of an element in world coordinates, in the model's own unit.

        The lines of an axis representation come first; its bodies then only tell how they lie. Where an axis cannot
        be read, the bodies give the line.

        Raises
        ------
        IfcFault
            It has no shape, or none that can be read.
        """
        axis, body = self._parts(element)
        self.bodies.upright_plan = element.is_a("IfcWall")
        placement = element.get_argument(_PLACEMENT)
        matrix = self.placements.of(placement) @ self.world
        strips = tuple([strip.mapped(matrix) for strip in self._local(axis, body)])
        if placement is None:
            return tuple(strip.noted("no-placement") for strip in strips)
        return strips

    def _local(self, axis: list[Entity], body: list[Entity]) -> tuple[Strip, ...]:
        faults: list[IfcFault] = []
        lines = self._first(axis, faults)
        if not lines:
            lines = self._first(body, faults)
            if lines:
                return tuple(line.noted("axis-unread") for line in lines) if faults and axis else lines
            raise faults[0] if faults else IfcFault("no-representation")
        told: list[IfcFault] = []
        bodies = [] if not body else [strip for strip in self._first(body, told) if strip.width is not None]
        return tuple(with_across_of(line, bodies) for line in lines) if bodies else lines

    def _first(self, shown: list[Entity], faults: list[IfcFault]) -> tuple[Strip, ...]:
        """Return the strips of the first representation that can be read."""
        for representation in shown:
            try:
                return self.bodies.strips(representation.get_argument(_ITEMS))
            except IfcFault as fault:
                faults.append(fault)
            except DAMAGE as reason:
                faults.append(IfcFault("damaged", str(reason).split("\n")[0][:80]))
        return ()

    def _parts(self, element: Entity) -> tuple[list[Entity], list[Entity]]:
        """Return the representations that may hold the axis, and those that may hold the body."""
        axis: list[Entity] = []
        body: list[Entity] = []
        others: list[Entity] = []
        for shown in representations(element):
            name, kind = (text_of(shown.get_argument(place)).lower() for place in (1, 2))
            if name in _AXIS:
                axis.append(shown)
            elif name in _BODY:
                body.append(shown)
            elif name not in _NO_SHAPE and kind not in ("boundingbox", "annotation2d"):
                others.append(shown)
        return axis, body + others


def representations(element: Entity) -> Iterator[Entity]:
    """Yield the representations of an element that hold items."""
    shape = element.get_argument(_REPRESENTATION)
    for shown in (shape.get_argument(2) if shape is not None else None) or ():
        if shown is not None and shown.get_argument(_ITEMS):
            yield shown


def world_matrix(file: IfcFile, units: IfcUnits) -> Matrix:
    """Return the map from the model's coordinates to the world's, in the model's own unit.

    It is that of the model context's coordinate system and of its conversion to a map. The map's scale is left out:
    strips are cut to true lengths, which a map's scale would change.
    """
    try:
        contexts = [context for context in file.project.RepresentationContexts or () if context.ContextType != "Plan"]
        own = axis_matrix(contexts[0].WorldCoordinateSystem) if contexts else IDENTITY
        for context in contexts:
            for operation in getattr(context, "HasCoordinateOperation", None) or ():
                if operation.is_a("IfcMapConversion"):
                    return own @ _map(operation, units)
    except DAMAGE:  # an IfcFault is one of them
        return IDENTITY
    return own


def _map(operation: Entity, units: IfcUnits) -> Matrix:
    matrix = np.eye(4)
    east = np.array([operation.XAxisAbscissa or 0.0, operation.XAxisOrdinate or 0.0])
    east = np.array([1.0, 0.0]) if not east.any() else east / np.linalg.norm(east)
    matrix[0, :2], matrix[1, :2] = east, (-east[1], east[0])
    target = operation.TargetCRS
    unit_of_map = getattr(target, "MapUnit", None)
    ratio = 1.0
    if unit_of_map is not None:
        ratio = (size_of(unit_of_map) or units.metres) / units.metres
    matrix[3, :3] = np.array([operation.Eastings, operation.Northings, operation.OrthogonalHeight]) * ratio
    return matrix
