"""Box: the size and mass of what is shipped, and whether they stay within the limits."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import Vector

from .rules import Rules
from .stretch import SLACK_M, place_along
from .vector import cross, dot, minus, plus, times, unit

__all__ = ["Extent", "Frame", "Limits", "Sides", "frames_of", "leg_places", "side_places"]

Frame: TypeAlias = tuple[Vector, Vector, Vector]
"""Three directions square to one another: those of the edges of a box."""

_MOST_FRAMES = 12
"""Boxes that are tried; a piece with more directions than this is boxed along its most frequent ones."""


class Sides(NamedTuple):
    """Sides of a box from long to short [m]."""

    first_m: float
    second_m: float
    third_m: float


class Limits(NamedTuple):
    """What can be shipped and handled.

    Attributes
    ----------
    sides : Sides
        Largest box [m].
    mass_kg : float
        Largest mass [kg].
    """

    sides: Sides
    mass_kg: float

    @classmethod
    def of(cls, rules: Rules) -> "Limits":
        """Return the limits of the rules; no side may be longer than the one before it."""
        held = rules.assemblies
        first = rules.fittings.largest_m
        second = min(first, held.second_side_m)
        return cls(Sides(first, second, min(second, held.third_side_m)), held.heaviest_kg)

    def hold(self, sides: Sides, mass_kg: float) -> bool:
        """Tell whether a box and a mass stay within the limits."""
        small = all(side <= most + SLACK_M for side, most in zip(sides, self.sides, strict=True))
        return small and mass_kg <= self.mass_kg + 1e-9

    def hold_any(self, extent: "Extent", mass_kg: float) -> bool:
        """Tell whether the box of one frame at least, and a mass, stay within the limits."""
        return mass_kg <= self.mass_kg + 1e-9 and extent.within(self.sides)

    def excess(self, sides: Sides, mass_kg: float) -> str:
        """Say in words which limit is exceeded; "" where none is.

        Examples
        --------
        >>> Limits(Sides(3.0, 2.0, 1.0), 50.0).excess(Sides(4.2, 1.0, 0.1), 20.0)
        '4.20 m long, more than the 3.00 m that can be delivered'
        """
        for side, most, word in zip(sides, self.sides, ("long", "wide", "high"), strict=True):
            if side > most + SLACK_M:
                return f"{side:.2f} m {word}, more than the {most:.2f} m that can be delivered"
        if mass_kg > self.mass_kg + 1e-9:
            return f"{mass_kg:.1f} kg, more than the {self.mass_kg:.1f} kg that can be handled"
        return ""


class Extent:
    """How far places reach along the edges of several boxes at once."""

    __slots__ = ("_reach",)

    def __init__(self, reach: NDArray[np.float64]) -> None:
        self._reach = reach
        """How far along each edge, forward in the first row, backward in the second [m]."""

    @classmethod
    def of(cls, places: Sequence[Sequence[float]], frames: Sequence[Frame]) -> "Extent":
        """Measure places [m] along the directions of frames."""
        along = np.array(places) @ np.array(frames).reshape(-1, 3).T
        return cls(np.array((along.max(axis=0), -along.min(axis=0))))

    def __or__(self, other: "Extent") -> "Extent":
        """Return the extent of both together."""
        return Extent(np.maximum(self._reach, other._reach))

    def boxes(self) -> list[Sides]:
        """Return the sides of the box in every frame."""
        return [Sides(*row) for row in self._sides()[:, ::-1].tolist()]

    def within(self, most: Sides) -> bool:
        """Tell whether the box of one frame at least has no side longer than those given."""
        return any(
            a <= most.third_m + SLACK_M and b <= most.second_m + SLACK_M and c <= most.first_m + SLACK_M
            for a, b, c in self._sides().tolist()
        )

    def _sides(self) -> NDArray[np.float64]:
        sides: NDArray[np.float64] = (self._reach[0] + self._reach[1]).reshape(-1, 3)
        sides.sort(axis=1)
        return sides

    def best(self) -> Sides:
        """Return the sides of the box whose longest sides are shortest."""
        return min(self.boxes(), key=lambda sides: tuple(round(side, 6) for side in sides))


def frames_of(headings: Iterable[Sequence[Vector]]) -> list[Frame]:
    """Find the directions that a box may follow: along an arm, and square to the plane of two arms of its node.

    Parameters
    ----------
    headings : iterable of sequence of Vector
        For every node the unit vectors along its arms.

    Returns
    -------
    list of Frame
        The most frequent ones first; never empty.
    """
    counted: Counter[Frame] = Counter()
    for node, times_found in Counter(map(tuple, headings)).items():  # most nodes of a job are like many others
        for frame in _frames_of_node(node):
            counted[frame] += times_found
    ranked = sorted(counted, key=lambda frame: (-counted[frame], frame))
    return ranked[:_MOST_FRAMES] or [((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))]


def _frames_of_node(headings: Sequence[Vector]) -> Iterator[Frame]:
    normals = [cross(headings[0], heading) for heading in headings[1:]]
    normal = unit(max(normals, key=lambda n: dot(n, n), default=(0.0, 0.0, 0.0)))
    if normal is None:
        return
    for heading in headings:
        flat = unit(minus(heading, times(normal, dot(heading, normal))))
        if flat:
            axes = sorted(_one_sense(axis) for axis in (flat, cross(normal, flat), normal))
            yield axes[0], axes[1], axes[2]


def _one_sense(axis: Vector) -> Vector:
    """Round an axis and turn it such that its first component other than 0 is positive."""
    x, y, z = (round(value, 5) + 0.0 for value in axis)
    return (-x + 0.0, -y + 0.0, -z + 0.0) if (x, y, z) < (0.0, 0.0, 0.0) else (x, y, z)


def leg_places(points: Sequence[Sequence[float]], leg_m: float, *, at_start: bool) -> list[Vector]:
    """Return places along a leg that follows a drawn run: its node, the run's vertices, its square end.

    Parameters
    ----------
    points : sequence of (x, y, z)
        Vertices of the run [m].
    leg_m : float
        Length of the leg [m].
    at_start : bool
        Whether it starts at the run's start.
    """
    way = points if at_start else points[::-1]
    if len(way) == 2:
        return [_vector(way[0]), place_along(way, [leg_m])[0]]
    places, walked = [_vector(way[0])], 0.0
    for a, b in pairwise(way):
        step = minus(_vector(b), _vector(a))
        walked += dot(step, step) ** 0.5
        if walked >= leg_m:
            break
        places.append(_vector(b))
    return [*places, place_along(way, [leg_m])[0]]


def side_places(places: Iterable[Vector], across: Vector | None, width_m: float) -> list[Vector]:
    """Return the places on both edges of the strip beside places on its centreline."""
    if across is None:
        return list(places)
    half = times(across, width_m / 2)
    return [side for place in places for side in (plus(place, half), minus(place, half))]


def _vector(point: Sequence[float]) -> Vector:
    return (point[0], point[1], point[2])
