"""Walls: the line on plan along which an elevation is unrolled."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from .line import Points

__all__ = ["Wall", "start_at"]

_BEND_DEG = 1.0  # twice and more what one chord of a flattened curve turns by; a real corner turns by far more


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wall:
    """A line on plan, from the left end of its elevation to the right.

    Attributes
    ----------
    points_m : Points
        Vertices [m], shape (n, 2), no two neighbours equal; a ring repeats its first as its last.
    drawn : NDArray[np.bool_]
        Which vertices were drawn and not made by flattening a curve, shape (n,).
    """

    points_m: Points
    drawn: NDArray[np.bool_]

    @property
    def ring(self) -> bool:
        """Whether the wall closes on itself."""
        return len(self.points_m) > 3 and bool((self.points_m[0] == self.points_m[-1]).all())

    @property
    def station_m(self) -> NDArray[np.float64]:
        """How far along the wall each vertex is [m]."""
        steps = np.linalg.norm(np.diff(self.points_m, axis=0), axis=1)
        return np.concatenate(([0.0], np.cumsum(steps)))

    @property
    def length_m(self) -> float:
        """Length on plan [m]."""
        return float(self.station_m[-1])

    def reversed(self) -> "Wall":
        """Return the same wall seen from the other side."""
        return Wall(points_m=self.points_m[::-1], drawn=self.drawn[::-1])

    def at(self, u_m: NDArray[np.float64]) -> Points:
        """Return the places on plan at distances along the wall, shape (k, 2)."""
        station = self.station_m
        return np.stack([np.interp(u_m, station, column) for column in self.points_m.T], axis=1)

    def direction(self, u_m: NDArray[np.float64]) -> Points:
        """Return the wall's direction on plan at distances along it, shape (k, 2); NaN at a corner."""
        station, step = self.station_m, np.diff(self.points_m, axis=0)
        unit = step / np.linalg.norm(step, axis=1)[:, None]
        last, hair = len(unit) - 1, 1e-6
        before = np.clip(np.searchsorted(station, u_m - hair) - 1, 0, last)
        after = np.clip(np.searchsorted(station, u_m + hair) - 1, 0, last)
        if self.ring:
            before = np.where(u_m <= hair, last, before)
            after = np.where(u_m >= station[-1] - hair, 0, after)
        mean = unit[before] + unit[after]
        mean /= np.maximum(np.linalg.norm(mean, axis=1), 1e-12)[:, None]
        corner = np.einsum("ij,ij->i", unit[before], unit[after]) < np.cos(np.radians(_BEND_DEG))
        return np.where(corner[:, None], np.nan, mean)

    def project(self, xy_m: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return how far along the wall the nearest place to each point is, and how far off it lies [m]."""
        line, points = shapely.LineString(self.points_m), shapely.points(xy_m)
        return shapely.line_locate_point(line, points), shapely.distance(line, points)

    def left_of(self, xy_m: Points) -> bool:
        """Tell whether a point lies to the left of the wall, looking from its start to its end."""
        step = np.diff(self.points_m, axis=0)
        offset = xy_m - self.points_m[:-1]
        t = np.clip(np.einsum("ij,ij->i", offset, step) / np.einsum("ij,ij->i", step, step), 0, 1)
        i = int(np.argmin(np.linalg.norm(offset - step * t[:, None], axis=1)))
        return bool(step[i, 0] * offset[i, 1] - step[i, 1] * offset[i, 0] > 0)

    @property
    def encloses_left(self) -> bool:
        """Whether a ring's inside lies to its left, so that it runs counter-clockwise."""
        x, y = (self.points_m - self.points_m[0]).T
        return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) > 0


def start_at(wall: Wall, xy_m: Points) -> Wall:
    """Return a ring that starts at the place nearest to a point."""
    (u,), _ = wall.project(xy_m[None])
    u = 0.0 if u >= wall.length_m - 1e-9 else float(u)
    station, (seam,) = wall.station_m, wall.at(np.array([u]))
    after = int(np.searchsorted(station, u + 1e-9))
    before = int(np.searchsorted(station, u - 1e-9))
    points = np.vstack([seam, wall.points_m[after:-1], wall.points_m[:before], seam])
    on_vertex = bool(wall.drawn[before]) if before != after else False
    drawn = np.concatenate(([on_vertex], wall.drawn[after:-1], wall.drawn[:before], [on_vertex]))
    return Wall(points_m=points, drawn=drawn)
