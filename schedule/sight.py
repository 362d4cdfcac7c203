"""Sight: where a drawing shows a place in space, in its own unit.

A drawing that stands in space shows a place where it is; a flat sheet shows it in every view that holds it, or in none.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from splicewright.extract.drawing import Drawing
from splicewright.extract.line import Points, Vector, vector

__all__ = ["Sight"]


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Where one drawing shows places.

    Attributes
    ----------
    drawing : Drawing
        The drawing.
    metres : float
        Length of its unit [m].
    """

    drawing: Drawing
    metres: float
    _scales: dict[str, float] = field(default_factory=dict)

    @staticmethod
    def of(drawing: Drawing) -> "Sight":
        """Look at a drawing."""
        views = drawing.sheet.views if drawing.sheet is not None else ()
        scales = {view.window.view.name: view.window.view.scale for view in views}
        return Sight(drawing, drawing.unit.metres, scales)

    def places(self, at_m: Vector) -> list[Vector]:
        """Return every place in the drawing that shows a place in space [drawing units]."""
        if self.drawing.sheet is None:
            x, y, z = at_m
            return [(x / self.metres, y / self.metres, z / self.metres)]
        return [(p.at_m[0] / self.metres, p.at_m[1] / self.metres, 0.0) for p in self.drawing.sheet.places(at_m)]

    def courses(self, points_m: Points) -> Iterator[tuple[Points, float]]:
        """Yield every course in the drawing that shows a line in space whole, and the size of a metre there.

        Parameters
        ----------
        points_m : Points
            Vertices [m], shape (n, 3).

        Yields
        ------
        points : Points
            Vertices [drawing units], shape (n, 3).
        metre : float
            Length of one metre as it is shown [drawing units].
        """
        if self.drawing.sheet is None:
            yield points_m / self.metres, 1 / self.metres
            return
        shown: dict[str, list[tuple[float, float, float]]] = {}
        for point in points_m:
            for place in self.drawing.sheet.places(vector(point)):
                shown.setdefault(place.view, []).append((*place.at_m, 0.0))
        for view, points in shown.items():
            if len(points) == len(points_m):  # neither left out in part, nor on both edges of a ring's seam
                yield np.array(points) / self.metres, 1 / (self.metres * self._scales[view])
