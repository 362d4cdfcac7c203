"""Limits: the distances and angles that decide what is one place, one line, one bend."""

from dataclasses import dataclass

__all__ = ["Limits"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The distances and angles that decide what is one place, one line, one bend.

    Attributes
    ----------
    tolerance_m : float
        Distance at which two drawn points are one [m], > 0.
    reach_m : float
        A free end closer than this to another line is a near miss [m], >= `tolerance_m`.
    rise_m : float
        Largest height between a slab joint and the wall-base joint that it should rise to [m], > 0.
    bend_limit_deg : float
        The strip bends through turns up to this without a cut, and yields as far in its lay [degrees], 0 to 45.
    """

    tolerance_m: float
    reach_m: float
    rise_m: float
    bend_limit_deg: float
