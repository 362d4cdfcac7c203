"""The geometry kernel of ifcopenshell, asked only for what cannot be read directly."""

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .curve import CHORD_TURN_DEG
from .ifc_course import Course
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_file import DAMAGE
from .line import Points

__all__ = ["Kernel"]

_MOST_VERTICES = 20_000


@dataclass(slots=True, kw_only=True, eq=False)
class Kernel:
    """What the kernel makes of a model's items, in the model's own unit.

    Attributes
    ----------
    metres : float
        Length of the model's unit [m]; the kernel's own is the metre.
    """

    metres: float

    def course(self, curve: Entity) -> Course:
        """Evaluate a curve that is given by its distance along.

        Raises
        ------
        IfcFault
            The kernel cannot evaluate it.
        """
        geom, wrapper = _library()
        try:
            settings = geom.settings()
            function = wrapper.map_shape(settings, curve)
            evaluator = wrapper.function_item_evaluator(settings, function)
            start, end = float(function.start()), float(function.end())
            rough = np.array(evaluator.evaluation_points(), dtype=np.float64)

            def place(at: float) -> Points:
                return np.array(evaluator.evaluate(at), dtype=np.float64)[:3, 3]

            at, points = _refined(place, start, end, rough)
        except DAMAGE as reason:
            raise IfcFault("unread-curve", curve.is_a()) from reason
        drawn = np.zeros(len(points), dtype=bool)
        drawn[[0, -1]] = True
        return Course(points=points / self.metres, at=at / self.metres, drawn=drawn, metric=True)

    def mesh(self, item: Entity) -> tuple[Points, list[list[int]]]:
        """Return vertices, shape (n, 3), and triangles of a body.

        Raises
        ------
        IfcFault
            The kernel makes nothing of it.
        """
        geom, _ = _library()
        try:
            shape = geom.create_shape(geom.settings(), item)
            body: Any = getattr(shape, "geometry", shape)
            points = np.array(body.verts, dtype=np.float64).reshape(-1, 3) / self.metres
            faces = np.array(body.faces, dtype=np.intp).reshape(-1, 3).tolist()
        except DAMAGE as reason:
            raise IfcFault("no-centre-line", item.is_a()) from reason
        if not faces:
            raise IfcFault("no-centre-line", item.is_a())
        return points, faces


def _library() -> tuple[Any, Any]:
    """Import the kernel, which costs time and is seldom needed; it is not annotated throughout."""
    return import_module("ifcopenshell.geom"), import_module("ifcopenshell.ifcopenshell_wrapper")


def _refined(
    place: Callable[[float], Points], start: float, end: float, rough: NDArray[np.float64]
) -> tuple[NDArray[np.float64], Points]:
    """Evaluate a curve so finely that it turns little along each chord."""
    inside = rough[(rough > start) & (rough < end)]
    at = np.concatenate(([start], inside[:: max(1, len(inside) // 400)], [end]))
    points = np.array([place(value) for value in at])
    for _ in range(12):
        step = np.diff(points, axis=0)
        across = np.linalg.norm(np.cross(step[:-1], step[1:]), axis=1)
        turn = np.degrees(np.arctan2(across, np.einsum("ij,ij->i", step[:-1], step[1:])))
        coarse = np.zeros(len(step), dtype=bool)
        coarse[:-1] |= turn > CHORD_TURN_DEG
        coarse[1:] |= turn > CHORD_TURN_DEG
        coarse &= np.diff(at) > 1e-6 * (end - start)
        if not coarse.any() or len(at) > _MOST_VERTICES:
            break
        middle = (at[:-1][coarse] + at[1:][coarse]) / 2
        where = np.flatnonzero(coarse) + 1
        at = np.insert(at, where, middle)
        points = np.insert(points, where, [place(value) for value in middle], axis=0)
    return at, points
