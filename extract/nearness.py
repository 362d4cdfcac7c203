"""Nearness: which of many points coincide, which lie within a distance of one another, which hang together by that."""

from collections.abc import Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray

from .errors import CrowdedError
from .line import Points
from .linework import Indices

__all__ = ["find_groups", "find_spots", "near_pairs"]

_MOST_PAIRS = 50_000_000
_CELL = 2.01
"""Width of the cells in distances: over two, so that of two grids half a cell apart one holds both of two points."""
_MIX = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9)
"""Odd numbers that spread three numbers over 64 bits; two cells that share a key cost time, nothing else."""
_SLOTS = 1 << 20


def find_spots(points_m: Points) -> tuple[Indices, Indices]:
    """Find which points coincide exactly.

    Parameters
    ----------
    points_m : Points
        Points [m], shape (n, 3).

    Returns
    -------
    spot : Indices
        Index of one point of each spot, shape (spots,).
    spot_of : Indices
        Number of the spot of each point, shape (n,).

    Examples
    --------
    >>> spot, spot_of = find_spots(np.array([[1.0, 0, 0], [2, 0, 0], [1, 0, -0.0]]))
    >>> len(spot), bool(spot_of[0] == spot_of[2])
    (2, True)
    """
    order = np.argsort(_mix((points_m + 0.0).view(np.uint64).T))  # -0.0 becomes 0.0
    new = np.ones(len(points_m), np.bool_)
    new[1:] = (points_m[order[1:]] != points_m[order[:-1]]).any(axis=1)
    spot_of = np.empty(len(points_m), np.intp)
    spot_of[order] = np.cumsum(new) - 1
    return order[new], spot_of


def near_pairs(points_m: Points, distance_m: float) -> Indices:
    """Find all pairs of points within a distance of each other.

    Points are sorted into grids of cells about two distances wide, moved by half a cell along none, one, two or all
    three axes; two points within the distance share a cell of one of them.

    Parameters
    ----------
    points_m : Points
        Points [m], shape (n, 3).
    distance_m : float
        Distance [m], > 0.

    Returns
    -------
    Indices
        Indices of points, the lower first, each pair once, in order, shape (pairs, 2).

    Raises
    ------
    CrowdedError
        There are more than fifty million pairs or so.

    Examples
    --------
    >>> near_pairs(np.array([[0.0, 0, 0], [4, 0, 0], [8, 0, 0]]), 5).tolist()
    [[0, 1], [1, 2]]
    """
    count = len(points_m)
    if not count:
        return np.empty((0, 2), np.intp)
    found, number = [np.empty(0, np.intp)], 0
    for first, second in _cell_mates(points_m, distance_m):
        low, high = np.minimum(first, second), np.maximum(first, second)
        close = ((points_m[low] - points_m[high]) ** 2).sum(axis=1) <= distance_m**2
        found.append(low[close] * count + high[close])
        number += len(found[-1])
        if number > _MOST_PAIRS:
            raise CrowdedError
    pairs = np.unique(np.concatenate(found))
    return np.column_stack(np.divmod(pairs, count)).astype(np.intp)


def _cell_mates(points_m: Points, distance_m: float) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs of points in one cell; some come from several grids, and some are not close."""
    cells = (points_m - points_m.min(axis=0)) / (_CELL * distance_m)
    shifts = [(0.0, 0.5) if width >= 0.5 else (0.0,) for width in cells.max(axis=0)]
    for shift in product(*shifts):
        key = _mix(np.floor(cells + shift).astype(np.uint64).T)
        slot = (key >> np.uint64(40)).astype(np.intp) % _SLOTS
        shared = np.flatnonzero(np.bincount(slot, minlength=_SLOTS)[slot] > 1)  # the others are alone in their cells
        order = shared[np.argsort(key[shared])]
        yield from _mates(order, key[order])


def _mates(order: Indices, key: NDArray[np.uint64]) -> Iterator[tuple[Indices, Indices]]:
    """Yield pairs of sorted points that share a key: neighbours, then those one further apart, and so on."""
    at, apart = np.flatnonzero(key[1:] == key[:-1]), 1
    size = np.unique(key[at], return_counts=True)[1] + 1
    if (size * (size - 1) // 2).sum() > 2 * _MOST_PAIRS:  # some of those in one cell are not close
        raise CrowdedError
    while len(at):
        yield order[at], order[at + apart]
        apart += 1
        at = at[at + apart < len(key)]
        at = at[key[at] == key[at + apart]]


def _mix(numbers: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Turn columns of three numbers into keys that hardly ever agree by chance."""
    x, y, z = (column * np.uint64(odd) for column, odd in zip(numbers, _MIX, strict=True))
    key: NDArray[np.uint64] = (
        x ^ (y << np.uint64(21)) ^ (y >> np.uint64(43)) ^ (z << np.uint64(42)) ^ (z >> np.uint64(22))
    )
    return key ^ (key >> np.uint64(31))


def find_groups(pairs: Indices, count: int) -> Indices:
    """Give a number to each group of points that hang together by pairs.

    Parameters
    ----------
    pairs : Indices
        Indices of points, shape (pairs, 2).
    count : int
        Number of points, >= 0.

    Returns
    -------
    Indices
        Number of the group of each point, from 0 in the order of their first points, shape (count,).

    Examples
    --------
    >>> find_groups(np.array([[1, 3], [3, 4]]), 5).tolist()
    [0, 1, 2, 1, 1]
    """
    label: NDArray[np.intp] = np.arange(count)
    first, second = pairs[:, 0], pairs[:, 1]
    while (open_ := label[first] != label[second]).any():
        first, second = first[open_], second[open_]
        low, high = np.minimum(label[first], label[second]), np.maximum(label[first], label[second])
        np.minimum.at(label, high, low)
        while (label[label] != label).any():
            label = label[label]
    return np.unique(label, return_inverse=True)[1].astype(np.intp)
