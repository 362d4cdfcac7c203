"""Sheet: a flat set put together, which knows for every place in space where views show it."""

from dataclasses import dataclass

import numpy as np

from .line import Vector
from .view import ViewKind
from .wall import Wall
from .window import Window

__all__ = ["Sheet", "SheetPlace", "SheetView"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPlace:
    """Where a view shows a place.

    Attributes
    ----------
    view : str
        Name of the view.
    at_m : tuple of float
        Point on the sheet [m]: drawing units times the length of a unit.
    """

    view: str
    at_m: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SheetView:
    """One view in its window.

    Attributes
    ----------
    window : Window
        Where on the sheet.
    wall : Wall or None
        What an elevation shows; None for a plan.
    levels_m : tuple of float
        Heights of the lines that a plan shows [m].
    """

    window: Window
    wall: Wall | None = None
    levels_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sheet:
    """The views of one flat drawing.

    Attributes
    ----------
    views : tuple of SheetView
        In the order of the rules.
    reach_m : float
        Distance from a wall or a level up to which a view shows a place [m].
    """

    views: tuple[SheetView, ...]
    reach_m: float

    def places(self, at_m: Vector) -> tuple[SheetPlace, ...]:
        """Return every place on the sheet where a view shows a place in space, in the order of the views.

        A plan shows what lies on one of its levels; an elevation what stands on its wall, on both edges where that is
        a ring's seam.
        """
        return tuple(
            SheetPlace(view=view.window.view.name, at_m=(float(x), float(y)))
            for view in self.views
            for x, y in self._in(view, np.array(at_m))
        )

    def _in(self, view: SheetView, at_m: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]") -> list[list[float]]:
        window = view.window
        if window.view.kind is ViewKind.PLAN:
            if all(abs(level - at_m[2]) > self.reach_m for level in view.levels_m):
                return []
            spots = [at_m[:2]]
        elif view.wall is not None:
            (u,), (off,) = view.wall.project(at_m[None, :2])
            if off > self.reach_m:
                return []
            length = view.wall.length_m
            at_seam = view.wall.ring and min(u, length - u) <= self.reach_m
            spots = [np.array([s, at_m[2] - window.view.datum_m]) for s in ((0.0, length) if at_seam else (float(u),))]
        else:
            return []
        sheet = window.to_sheet(np.array(spots))
        found: list[list[float]] = sheet[window.holds(sheet)].tolist()
        return found
