"""Snapping: which of many points are one place."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from .line import Points
from .linework import Indices

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
        Index of the point that each place is, shape (places,).

    Examples
    --------
    >>> place_of, centre = snap(np.array([[0.0, 0, 0], [0.004, 0, 0], [0.008, 0, 0]]), np.zeros(3, int), 0.005)
    >>> place_of.tolist(), centre.tolist()
    ([0, 0, 0], [1])
    """
    count = len(points_m)
    if not count:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    pairs = cKDTree(points_m).query_pairs(tolerance_m, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    neighbours = np.bincount(pairs.ravel(), minlength=count)
    order = np.lexsort((points_m[:, 2], points_m[:, 1], points_m[:, 0], -neighbours, rank, group))
    centre_of = _first_of_group(order, group)
    size = np.bincount(group)
    clique = np.bincount(group[pairs[:, 0]], minlength=len(size)) == size * (size - 1) // 2
    if not clique.all():
        _take_turns(centre_of, order[~clique[group[order]]], pairs)
    centre, place_of = np.unique(centre_of, return_inverse=True)
    return place_of.astype(np.intp), centre.astype(np.intp)


def _first_of_group(order: Indices, group: Indices) -> Indices:
    ordered = group[order]
    starts = np.concatenate(([True], ordered[1:] != ordered[:-1]))
    first = np.empty(ordered[-1] + 1, np.intp)
    first[ordered[starts]] = order[starts]
    taken: Indices = first[group]
    return taken


def _take_turns(centre_of: Indices, order: Indices, pairs: Indices) -> None:
    """Settle the groups in which not all points are within the tolerance of all others."""
    centre_of[order] = -1
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
