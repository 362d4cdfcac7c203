"""Covers: the fewest places from which all others are reached, with proof or gap."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Cover", "cover_all"]

_MOST_EXACT = 40_000
"""Pairs of place and demand up to which the exact answer is sought, after alike ones are merged."""
_MOST_MERGED = 1_000_000
_MOST_NODES = 500
"""Branches after which the search for it ends; a count, not a time, so that every machine ends at the same one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Places that together reach everything.

    Attributes
    ----------
    chosen : tuple of int
        Positions of the places.
    least : int
        Number of places that no choice can go below; equal to the number chosen where the answer is proven.
    """

    chosen: tuple[int, ...]
    least: int


def cover_all(reach: NDArray[np.bool_]) -> Cover:
    """Choose the fewest places that reach every demand.

    First the place that reaches most of what is left, again and again. Demands of which no two share a place prove how
    few can do; where that does not settle it and the job is small, an integer programme does.

    Parameters
    ----------
    reach : NDArray of bool, shape (places, demands)
        Whether a place reaches a demand; every demand is reached by some place.

    Returns
    -------
    Cover

    References
    ----------
    V. Chvátal, A greedy heuristic for the set-covering problem, Mathematics of Operations Research 4, 1979 (from
    memory).

    Examples
    --------
    >>> cover_all(np.array([[True, True, False], [False, True, True], [True, False, False]]))
    Cover(chosen=(0, 1), least=2)
    """
    if not reach.shape[1]:
        return Cover(chosen=(), least=0)
    chosen = _greedy(reach)
    least = _packed(reach)
    if least == len(chosen):
        return Cover(chosen=chosen, least=least)
    if reach.size > _MOST_MERGED:
        return Cover(chosen=chosen, least=least)
    places, demands = _merged(reach)
    small = reach[np.ix_(places, demands)]
    if small.size <= _MOST_EXACT:
        found, bound = _exact(small, len(chosen))
        least = max(least, bound)
        if len(found) < len(chosen) and len(found):
            chosen = tuple(int(places[i]) for i in found)
    return Cover(chosen=chosen, least=min(least, len(chosen)))


def _greedy(reach: NDArray[np.bool_]) -> tuple[int, ...]:
    """Take the place that reaches most of what is left, again and again; then drop those that turn out needless."""
    chosen: list[int] = []
    left = np.ones(reach.shape[1], dtype=bool)
    by_demand = np.ascontiguousarray(reach.T)
    gains = reach.sum(axis=1)
    while left.any():
        best = int(gains.argmax())
        chosen.append(best)
        new = reach[best] & left
        gains = gains - by_demand[new].sum(axis=0)
        left &= ~new
    times = reach[chosen].sum(axis=0)
    for place in reversed(tuple(chosen)):
        if (times - reach[place] > 0).all():
            chosen.remove(place)
            times = times - reach[place]
    return tuple(sorted(chosen))


def _packed(reach: NDArray[np.bool_]) -> int:
    """Count demands of which no two share a place, taking those first that share with the fewest places."""
    count = 0
    free = np.ones(reach.shape[1], dtype=bool)
    for demand in np.argsort(reach.sum(axis=0), kind="stable").tolist():
        if free[demand]:
            count += 1
            free &= ~reach[reach[:, demand]].any(axis=0)
    return count


def _merged(reach: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Keep one of the places, and one of the demands, that are alike."""
    demands = np.sort(np.unique(reach, axis=1, return_index=True)[1])
    places = np.sort(np.unique(reach[:, demands], axis=0, return_index=True)[1])
    return places, demands


def _exact(reach: NDArray[np.bool_], most: int) -> tuple[list[int], int]:
    """Solve by branch and bound; return the places, none where it ended without, and the bound."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (only where counting does not settle it)

    count = reach.shape[0]
    found = milp(
        np.ones(count),
        integrality=np.ones(count),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(reach.T.astype(float), lb=1),
        options={"node_limit": _MOST_NODES},
    )
    bound = found.mip_dual_bound
    least = int(np.ceil(bound - 1e-6)) if bound is not None and np.isfinite(bound) else 1
    places = np.flatnonzero(found.x > 0.5).tolist() if found.x is not None else []
    if len(places) < most and places and not reach[places].any(axis=0).all():
        return [], least
    return places, least
