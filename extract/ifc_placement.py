"""Placements of an IFC model as affine maps for row vectors, in the model's own unit."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .ifc_curve import Curves
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_frame import IDENTITY, Matrix, axis_matrix, direction_of, frame_matrix
from .line import Points

__all__ = ["Placements"]

_Z = np.array([0.0, 0.0, 1.0])


@dataclass(slots=True, kw_only=True, eq=False)
class Placements:
    """The placements of one model, each worked out once.

    Attributes
    ----------
    curves : Curves
        Reads the axes of grids and the curves that linear placements follow.
    """

    curves: Curves
    known: dict[int, Matrix | IfcFault] = field(default_factory=dict)

    def of(self, placement: Entity | None) -> Matrix:
        """Return the map from a placement's own coordinates to those of the model.

        Raises
        ------
        IfcFault
            The placement is relative to itself, or of a kind that cannot be read.
        """
        if placement is None:
            return IDENTITY
        chain: list[Entity] = []
        at: Entity | None = placement
        while at is not None and at.id() not in self.known:
            if any(at.id() == other.id() for other in chain):
                raise IfcFault("cyclic-placement")
            chain.append(at)
            at = _parent(at)
        matrix = IDENTITY if at is None else self.known[at.id()]
        for own in reversed(chain):
            if not isinstance(matrix, IfcFault):
                matrix = self._step(own, matrix)
            self.known[own.id()] = matrix
        if isinstance(matrix, IfcFault):
            raise matrix
        return matrix

    def _step(self, placement: Entity, parent: Matrix) -> Matrix | IfcFault:
        try:
            if placement.is_a("IfcLocalPlacement"):
                return axis_matrix(placement.get_argument(1)) @ parent
            if placement.is_a("IfcGridPlacement"):
                return self._grid(placement, parent)
            if placement.is_a("IfcLinearPlacement"):
                return self._linear(placement, parent)
        except IfcFault as fault:
            return fault
        return IfcFault("unread-placement", placement.is_a())

    def _linear(self, placement: Entity, parent: Matrix) -> Matrix:
        """Take the Cartesian fallback where the model gives one, else measure along the curve."""
        fallback = placement.CartesianPosition
        if fallback is not None:
            return axis_matrix(fallback) @ parent
        own = placement.RelativePlacement
        where = own.Location
        course = self.curves.course(where.BasisCurve)
        point, along = course.at_distance(float(where.DistanceAlong.wrappedValue))
        z = direction_of(own.Axis, _Z)
        x = direction_of(own.RefDirection, along)
        side = np.cross(z, along)
        offsets = (where.OffsetLongitudinal, where.OffsetLateral, where.OffsetVertical)
        shift = [float(offset or 0.0) for offset in offsets]
        origin = point + along * shift[0] + side * shift[1] + z * shift[2]
        matrix: Matrix = frame_matrix(origin, z, x) @ parent
        return matrix

    def _grid(self, placement: Entity, parent: Matrix) -> Matrix:
        crossing = placement.PlacementLocation
        origin, along, grid = self._crossing(crossing)
        direction = placement.PlacementRefDirection
        if direction is not None and direction.is_a("IfcVirtualGridIntersection"):
            along = self._crossing(direction)[0] - origin
        elif direction is not None:
            along = direction_of(direction, along)
        own = frame_matrix(origin, _Z, along)
        # A grid's axes lie in the grid's own placement; the later schemas may name a parent of their own besides.
        matrix: Matrix = own @ self.of(grid.ObjectPlacement) if grid is not None else own @ parent
        return matrix

    def _crossing(self, crossing: Entity) -> tuple[Points, Points, Entity | None]:
        """Return where two axes of a grid cross, the direction of the first, and the grid."""
        first, second = crossing.IntersectingAxes
        offsets = [float(value) for value in crossing.OffsetDistances]
        one = self._axis(first, offsets[0])
        two = self._axis(second, offsets[1])
        point = _meet(one, two)
        if len(offsets) > 2:
            point = point + np.array([0.0, 0.0, offsets[2]])
        inverse = (*first.PartOfU, *first.PartOfV, *first.PartOfW)
        return point, _unit(one[1] - one[0]), inverse[0] if inverse else None

    def _axis(self, axis: Entity, offset: float) -> Points:
        """Return two points of a straight grid axis, moved to the left by the offset."""
        curve = axis.AxisCurve
        points = self.curves.line_ends(curve) if curve.is_a("IfcLine") else self.curves.course(curve).points
        if len(points) > 2 and np.linalg.norm(np.cross(points[1:] - points[0], points[-1] - points[0])) > 1e-6:
            raise IfcFault("unread-placement", "a grid axis that is not straight")
        ends = points[[0, -1]] if axis.SameSense else points[[-1, 0]]
        along = _unit(ends[1] - ends[0])
        moved: Points = ends + np.array([-along[1], along[0], 0.0]) * offset
        return moved


def _parent(placement: Entity) -> Entity | None:
    parent: Entity | None = getattr(placement, "PlacementRelTo", None)
    return parent


def _meet(one: Points, two: Points) -> Points:
    """Return where two lines in plan cross, each given by two points."""
    u, v, w = one[1] - one[0], two[1] - two[0], two[0] - one[0]
    turn = u[0] * v[1] - u[1] * v[0]
    if abs(turn) <= 1e-12 * float(np.linalg.norm(u) * np.linalg.norm(v)):
        raise IfcFault("unread-placement", "grid axes that do not cross")
    point: Points = one[0] + u * ((w[0] * v[1] - w[1] * v[0]) / turn)
    return point


def _unit(vector: NDArray[np.float64]) -> Points:
    size = float(np.linalg.norm(vector))
    unit: Points = vector / size if size > 0 else np.array([1.0, 0.0, 0.0])
    return unit
