"""Footage: measured, supplied in fittings, cut from rolls, lost in welds; the ledger that must balance."""

from dataclasses import dataclass

__all__ = ["Footage"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """The lengths of one profile.

    Attributes
    ----------
    profile : str
        Profile.
    measured_m : float
        Length of all runs along the centreline [m]: the pay length, nothing added.
    in_fittings_m : float
        Of that, supplied as fittings [m], including what their legs lose in welds.
    in_pieces_m : float
        Length of all pieces cut from rolls [m].
    lost_in_welds_m : float
        What the field splices melt away [m].
    order_m : float
        Length of the rolls to order [m].
    runs : int
        Number of runs.
    """

    profile: str
    measured_m: float
    in_fittings_m: float
    in_pieces_m: float
    lost_in_welds_m: float
    order_m: float
    runs: int

    @property
    def difference_m(self) -> float:
        """What the ledger fails to account for [m]; less than a millimetre in a sound schedule."""
        return self.measured_m - (self.in_fittings_m + self.in_pieces_m - self.lost_in_welds_m)
