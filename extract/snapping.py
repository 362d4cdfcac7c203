"""Snapping: which of many points are one place."""

import numpy as np
from numpy.typing import NDArray

from .line import Points
from .linework import Indices
from .nearness import find_groups, find_spots, near_pairs

__all__ = ["snap"]


def snap(points_m: Points, rank: NDArray[np.intp], tolerance_m: float) -> tuple[Indices, Indices]:
    """Gather points within the tolerance of one another into places.

    One of the points becomes the place; nothing is averaged. Points are taken in the order of rank, then of the
    number of points within the tolerance, then of coordinates; each takes all points within the tolerance that no
    other has taken. So no point moves further than the tolerance, places are further apart than it, a chain of close
    points does not collapse into one, and snapping again changes nothing.

    Parameters
    ----------
    points_m : Points
        Points [m], shape (n, 3).
    rank : NDArray[np.intp]
        Points of lower rank become places first, shape (n,).
    tolerance_m : float
        Distance at which two points are one [m], > 0.

    Returns
    -------
    place_of : Indices
        Number of the place of each point, shape (n,), from 0 in the order of `centre`.
    centre : Indices
        Index of a point that stands where the place is, shape (places,).

    Raises
    ------
    CrowdedError
        More than fifty million pairs of spots or so are within the tolerance.

    Examples
    --------
    >>> place_of, centre = snap(np.array([[0.0, 0, 0], [0.004, 0, 0], [0.008, 0, 0]]), np.zeros(3, int), 0.005)
    >>> place_of.tolist(), centre.tolist()
    ([0, 0, 0], [1])
    """
    spot, spot_of = find_spots(points_m)
    pairs = near_pairs(points_m[spot], tolerance_m)
    centre_of = np.arange(len(spot))
    if len(pairs):
        first_rank = np.full(len(spot), np.iinfo(np.intp).max)
        np.minimum.at(first_rank, spot_of, rank)
        _settle(centre_of, points_m[spot], np.bincount(spot_of), first_rank, pairs)
    centre, place_of = np.unique(centre_of, return_inverse=True)
    return place_of[spot_of].astype(np.intp), spot[centre]


def _settle(centre_of: Indices, points_m: Points, weight: Indices, rank: Indices, pairs: Indices) -> None:
    """Choose the places of spots that are not alone, the first of each group where all are close."""
    crowd, where = np.unique(pairs, return_inverse=True)
    pairs = where.reshape(pairs.shape)
    points_m, weight, rank = points_m[crowd], weight[crowd], rank[crowd]
    group = find_groups(pairs, len(crowd))
    around = weight + sum(np.bincount(pairs[:, i], weight[pairs[:, 1 - i]], len(crowd)) for i in (0, 1))
    x, y, z = points_m.T
    order = np.lexsort((z, y, x, -around, rank, group))
    first = order[np.unique(group[order], return_index=True)[1]]
    size = np.bincount(group)
    clique = (np.bincount(group[pairs[:, 0]], minlength=len(size)) == size * (size - 1) // 2)[group]
    centre = np.where(clique, first[group], -1)
    _take_turns(centre, order[~clique[order]], pairs)
    centre_of[crowd] = crowd[centre]


def _take_turns(centre_of: Indices, order: Indices, pairs: Indices) -> None:
    """Settle the groups in which not all spots are within the tolerance of all others, still without a centre."""
    members = np.zeros(len(centre_of), np.bool_)
    members[order] = True
    near: dict[int, list[int]] = {int(i): [] for i in order}
    for a, b in pairs[members[pairs[:, 0]]].tolist():
        near[a].append(b)
        near[b].append(a)
    for point in order.tolist():
        if centre_of[point] < 0:
            free = [i for i in near[point] if centre_of[i] < 0]
            centre_of[[point, *free]] = point
