"""Tours: short ways from splice to splice."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

__all__ = ["short_tour"]

_Places: TypeAlias = NDArray[np.float64]
_Order: TypeAlias = NDArray[np.intp]
_Ways: TypeAlias = NDArray[np.int64]

_WHOLE = 200
"""Tours up to this many places are shortened as a whole, longer ones window by window, so that time grows with n."""
_WINDOW = 20
_PASSES = 4
_BITS = 10


def short_tour(places: _Places) -> _Order:
    """Order places so that the way through them is short.

    It starts and ends where it likes. Up to 200 places are taken nearest first and then untangled by 2-opt: wherever
    turning a part of the way round makes it shorter, it is turned round, the best part first. More places are first
    taken along a curve that fills the plane, and the way is untangled in windows of 20 that overlap by half.

    Parameters
    ----------
    places : NDArray, shape (n, k)
        Coordinates, scaled so that straight distances are what a move costs.

    Returns
    -------
    NDArray, shape (n,)
        Positions of the places along the way; the same for the same set of places, whatever their order, as far as
        places differ.

    References
    ----------
    G. A. Croes, A method for solving traveling-salesman problems, Operations Research 6, 1958: turning parts of a
    tour round (from memory).

    Examples
    --------
    >>> short_tour(np.array([[0.0, 0], [9, 0], [1, 0], [5, 0]])).tolist()
    [0, 2, 3, 1]
    """
    count = len(places)
    first: _Order = np.lexsort(places.round(6).T[::-1])
    if count < 3:
        return first
    ranked = places[first]
    if count <= _WHOLE:
        order: _Order = _untangled(ranked, _nearest_first(ranked)[np.newaxis, :], loose=True)[0]
        return np.take(first, order)
    order = np.argsort(_along_curve(ranked), kind="stable")
    for turn in range(_PASSES):
        shift = _WINDOW // 2 if turn % 2 else 0
        windows = (count - shift) // _WINDOW
        body = order[shift : shift + windows * _WINDOW].reshape(windows, _WINDOW)
        order[shift : shift + windows * _WINDOW] = _untangled(ranked, body, loose=False).ravel()
    return np.take(first, order)


def _nearest_first(places: _Places) -> _Order:
    """Start at the first place and always go on to the nearest that is left."""
    ways = _ways(places[np.newaxis])[0]
    left = np.ones(len(places), dtype=bool)
    order = np.zeros(len(places), dtype=np.intp)
    left[0] = False
    far = np.iinfo(np.int64).max
    for step in range(1, len(places)):
        order[step] = np.where(left, ways[order[step - 1]], far).argmin()
        left[order[step]] = False
    return order


def _ways(places: _Places) -> _Ways:
    """Distances within each group, in whole millionths, so that equal ones are equal; shape (groups, n, n)."""
    steps = places[:, :, np.newaxis, :] - places[:, np.newaxis, :, :]
    ways: _Ways = np.rint(np.sqrt((steps * steps).sum(axis=3)) * 1e6).astype(np.int64)
    return ways


def _untangled(places: _Places, orders: _Order, *, loose: bool) -> _Order:
    """Shorten many ways at once by 2-opt; their first and last places stay, unless they are loose."""
    groups, size = orders.shape
    ways = _ways(places[orders])
    if loose:  # a place that is no way from any other, before the first and after the last
        ways = np.pad(ways, ((0, 0), (1, 1), (1, 1)))
        size += 2
    place = np.tile(np.arange(size), (groups, 1))
    busy = np.arange(groups)
    later = np.triu(np.ones((size - 2, size - 2), dtype=bool), k=1)
    at = np.arange(size)
    while len(busy):
        step = ways[:, at[:-1], at[1:]]
        gain = step[:, :-1, np.newaxis] + step[:, np.newaxis, 1:] - ways[:, :-2, 1:-1] - ways[:, 1:-1, 2:]
        flat = np.where(later, gain, 0).reshape(len(busy), -1)
        best = flat.argmax(axis=1)
        better = flat[np.arange(len(busy)), best] > 0
        busy, ways, best = busy[better], ways[better], best[better]
        i, j = best // (size - 2) + 1, best % (size - 2) + 1
        turned = np.where((at >= i[:, None]) & (at <= j[:, None]), (i + j)[:, None] - at, at)
        place[busy] = np.take_along_axis(place[busy], turned, axis=1)
        ways = np.take_along_axis(np.take_along_axis(ways, turned[:, :, None], axis=1), turned[:, None, :], axis=2)
    if loose:
        place = place[:, 1:-1] - 1
    return np.take_along_axis(orders, place, axis=1)


def _along_curve(places: _Places) -> NDArray[np.int64]:
    """Give places their numbers along the Hilbert curve over their extent in plan.

    References
    ----------
    D. Hilbert, Ueber die stetige Abbildung einer Linie auf ein Flächenstück, Mathematische Annalen 38, 1891 (from
    memory).
    """
    plan = places[:, :2] - places[:, :2].min(axis=0)
    cells = np.minimum(plan / max(float(plan.max()), 1e-9) * 2**_BITS, 2**_BITS - 1).astype(np.int64)
    x, y = cells[:, 0], cells[:, 1]
    number = np.zeros(len(places), dtype=np.int64)
    for bit in range(_BITS - 1, -1, -1):
        side = 1 << bit
        right, upper = (x & side) > 0, (y & side) > 0
        number += side * side * ((3 * right) ^ upper)
        x, y = x & (side - 1), y & (side - 1)
        flipped = right & ~upper
        x, y = np.where(flipped, side - 1 - x, x), np.where(flipped, side - 1 - y, y)
        x, y = np.where(upper, x, y), np.where(upper, y, x)
    return number
