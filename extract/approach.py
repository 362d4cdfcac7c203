"""Approaches: stretches along which a curve and another line stay so close that they can meet only once."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .linework import Indices, Linework
from .nearness import find_groups
from .tangent import tangents

__all__ = ["Meetings", "approaches", "meet_once"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meetings:
    """Pairs of segments and places where they come close to each other, a row a place.

    Attributes
    ----------
    first, second : Indices
        First vertices of the two segments, the lower first.
    first_m, second_m : NDArray[np.float64]
        Stations of the two places [m].
    gap_m : NDArray[np.float64]
        How far these are apart [m].
    touch : NDArray[np.bool_]
        Whether a drawn vertex of one lies on the other.
    """

    first: Indices
    second: Indices
    first_m: NDArray[np.float64]
    second_m: NDArray[np.float64]
    gap_m: NDArray[np.float64]
    touch: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.first)

    def take(self, which: Indices | NDArray[np.bool_]) -> "Meetings":
        """Return some of the pairs."""
        return Meetings(**{name: getattr(self, name)[which] for name in self.__slots__})

    @classmethod
    def gather(cls, parts: "list[Meetings]") -> "Meetings":
        """Put pairs together, in the order of their segments."""
        none = (np.empty(0, np.intp),) * 2 + (np.empty(0),) * 3 + (np.empty(0, np.bool_),)
        columns = {
            name: np.concatenate([nothing, *(getattr(part, name) for part in parts)])
            for name, nothing in zip(cls.__slots__, none, strict=True)
        }
        whole = cls(**columns)
        return whole.take(np.lexsort((whole.second, whole.first)))


def approaches(
    work: Linework, first: Indices, second: Indices, touch: NDArray[np.bool_], tolerance_m: float
) -> Meetings:
    """Return where segments of which one at least is a chord of a curve come within the tolerance of each other.

    It is told at their ends; where they only cross between those, they do so at no small angle. Parts of one line that
    are close because they follow one another are left out.
    """
    curved = ~(work.drawn[first] & work.drawn[first + 1] & work.drawn[second] & work.drawn[second + 1])
    which = np.flatnonzero(curved)
    first, second, touch = first[which], second[which], touch[which]
    found = []
    for end in (0, 1):
        foot_m, gap_m = _foot(work, first + end, second)
        found.append((work.station_m[first + end], foot_m, gap_m))
        foot_m, gap_m = _foot(work, second + end, first)
        found.append((foot_m, work.station_m[second + end], gap_m))
    places = [
        Meetings(first=first, second=second, first_m=first_m, second_m=second_m, gap_m=gap_m, touch=touch).take(
            (gap_m <= tolerance_m) & ~_follow(work, first, first_m, second_m, 4 * tolerance_m)
        )
        for first_m, second_m, gap_m in found
    ]
    return Meetings.gather(places)


def _foot(work: Linework, vertex: Indices, segment: Indices) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the station of the place on a segment that is nearest to a vertex, and how far it is from there."""
    along = work.points_m[segment + 1] - work.points_m[segment]
    length = work.station_m[segment + 1] - work.station_m[segment]
    offset = work.points_m[vertex] - work.points_m[segment]
    foot = np.clip(np.einsum("ij,ij->i", offset, along) / length, 0.0, length)
    return work.station_m[segment] + foot, np.linalg.norm(offset - along * (foot / length)[:, None], axis=1)


def _follow(
    work: Linework, first: Indices, first_m: NDArray[np.float64], second_m: NDArray[np.float64], apart_m: float
) -> NDArray[np.bool_]:
    """Tell which places of one line are close because the way along it from one to the other is short."""
    line = work.line[first]
    way = np.abs(second_m - first_m)
    low, high = work.station_m[work.first[line]], work.station_m[work.first[line + 1] - 1]
    way = np.where(work.closed[line], np.minimum(way, high - low - way), way)
    near: NDArray[np.bool_] = (second_m <= high) & (way <= apart_m)
    return near


def meet_once(work: Linework, close: Meetings, crossing: Meetings, tolerance_m: float) -> Meetings:
    """Let a curve and another line meet once on every stretch along which they stay within the tolerance.

    1. Where a drawn vertex of one lies on the other on the way, they meet there, and other crossings stay as they are.
    2. Where they cross once, they meet there.
    3. Where they only touch, and where they cross several times, as a line does that cuts off less than the tolerance
       from a circle, they meet where their directions are most alike.

    Parameters
    ----------
    work : Linework
        All lines.
    close : Meetings
        What `approaches` has found, gathered.
    crossing : Meetings
        All pairs of segments that cross, gathered.
    tolerance_m : float
        Crossings this close are one [m].

    Returns
    -------
    Meetings
        The crossings that stay, and the meetings of rule 3.
    """
    if not len(close):
        return crossing
    stretch = _stretches(work, close)
    count = int(stretch.max()) + 1
    touched = np.zeros(count, np.bool_)
    touched[stretch[close.touch]] = True
    own = _stretch_of(close, stretch, crossing)
    times = _times(own, crossing.first_m, count, tolerance_m)
    open_ = ~touched & (times != 1)
    if not open_.any():
        return crossing
    order = np.lexsort((close.gap_m, -np.round(_likeness(work, close), 8), stretch))
    best = order[np.searchsorted(stretch[order], np.flatnonzero(open_))]
    stays = (own < 0) | ~open_[own]
    return Meetings.gather([crossing.take(stays), close.take(best)])


def _stretches(work: Linework, close: Meetings) -> Indices:
    """Give each pair the number of its stretch: pairs of segments that follow one another on both lines are one."""
    count = len(work.points_m)
    key, pair = np.unique(close.first * count + close.second, return_inverse=True)
    first, second = np.divmod(key, count)
    following, preceding = np.arange(1, count + 1), np.arange(-1, count)
    last = work.first[1:][work.closed] - 2
    following[last], preceding[work.first[:-1][work.closed]] = work.first[:-1][work.closed], last
    steps = [
        (following[first], second),
        (first, following[second]),
        (following[first], following[second]),
        (following[first], preceding[second]),
    ]
    return find_groups(np.concatenate([_edges(key, *step, count) for step in steps]), len(key))[pair]


def _edges(key: Indices, first: Indices, second: Indices, count: int) -> Indices:
    wanted = np.minimum(first, second) * count + np.maximum(first, second)
    at = np.minimum(np.searchsorted(key, wanted), len(key) - 1)
    found = np.flatnonzero(key[at] == wanted)
    return np.column_stack((found, at[found]))


def _stretch_of(close: Meetings, stretch: Indices, crossing: Meetings) -> Indices:
    """Return the stretch that each crossing lies on, -1 for those of straight lines."""
    count = int(max(close.second.max(), crossing.second.max(initial=0))) + 1
    key, wanted = close.first * count + close.second, crossing.first * count + crossing.second
    at = np.minimum(np.searchsorted(key, wanted), len(key) - 1)
    return np.where(key[at] == wanted, stretch[at], -1)


def _times(own: Indices, station_m: NDArray[np.float64], count: int, tolerance_m: float) -> Indices:
    """Count the crossings on each stretch; those within the tolerance, as at a vertex of a curve, are one."""
    order = np.lexsort((station_m, own))
    stretch, station = own[order], station_m[order]
    new = np.ones(len(order), np.bool_)
    new[1:] = (stretch[1:] != stretch[:-1]) | (np.diff(station) > tolerance_m)
    return np.bincount(stretch[new & (stretch >= 0)], minlength=count)


def _likeness(work: Linework, close: Meetings) -> NDArray[np.float64]:
    """Return the cosine of the angle between the two lines at the nearest places of each pair, 0 to 1."""
    one = tangents(work, close.first, close.first_m, 180.0)
    other = tangents(work, close.second, close.second_m, 180.0)
    likeness: NDArray[np.float64] = np.abs(np.einsum("ij,ij->i", one, other))
    return likeness
