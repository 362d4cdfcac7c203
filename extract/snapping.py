"""Snapping: which of many points are one place."""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from .errors import CrowdedError
from .line import Points
from .linework import Indices

__all__ = ["snap"]

_MOST_PAIRS = 50_000_000
_SAMPLES = 200


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

    Raises
    ------
    CrowdedError
        More than fifty million pairs of points or so are within the tolerance.

    Examples
    --------
    >>> place_of, centre = snap(np.array([[0.0, 0, 0], [0.004, 0, 0], [0.008, 0, 0]]), np.zeros(3, int), 0.005)
    >>> place_of.tolist(), centre.tolist()
    ([0, 0, 0], [1])
    """
    count = len(points_m)
    if not count:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    tree = cKDTree(points_m, balanced_tree=False, compact_nodes=False)  # asked once, so the quicker tree to build
    some = points_m[:: max(1, count // _SAMPLES)]
    if tree.query_ball_point(some, tolerance_m, return_length=True).mean() * count / 2 > _MOST_PAIRS:
        raise CrowdedError
    pairs = tree.query_pairs(tolerance_m, output_type="ndarray")
    graph = coo_array((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    _, group = connected_components(graph, directed=False)
    one_spot = np.ones(group.max() + 1, dtype=np.bool_)
    one_spot[group[pairs[(points_m[pairs[:, 0]] != points_m[pairs[:, 1]]).any(axis=1), 0]]] = False
    _, first = np.unique(group, return_index=True)
    centre_of = first[group]
    crowd = np.flatnonzero(~one_spot[group])  # points that are not all in one spot; usually few
    if len(crowd):
        _settle(centre_of, crowd, points_m, rank, group, pairs)
    centre, place_of = np.unique(centre_of, return_inverse=True)
    return place_of.astype(np.intp), centre.astype(np.intp)


def _settle(
    centre_of: Indices, crowd: Indices, points_m: Points, rank: NDArray[np.intp], group: Indices, pairs: Indices
) -> None:
    """Choose the places of the groups whose points differ, the first of each group where all are close."""
    neighbours = np.bincount(pairs.ravel(), minlength=len(points_m))[crowd]
    x, y, z = points_m[crowd].T
    order = crowd[np.lexsort((z, y, x, -neighbours, rank[crowd], group[crowd]))]
    starts, number = np.unique(group[order], return_index=True, return_inverse=True)[1:]
    centre_of[order] = order[starts][number]
    size = np.bincount(group)
    clique = np.bincount(group[pairs[:, 0]], minlength=len(size)) == size * (size - 1) // 2
    if not clique[group[order]].all():
        _take_turns(centre_of, order[~clique[group[order]]], pairs)


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
