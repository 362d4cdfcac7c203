"""Rolls: how the stretches between fittings are cut from rolls."""

from dataclasses import dataclass

__all__ = ["Piece", "Roll", "RollOrder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One length cut from a roll.

    Attributes
    ----------
    mark : str
        ``"P1"``, ``"P2"``…, in the order of runs and along each run.
    run : str
        Run it goes into.
    number, of : int
        Its place along the run, from 1, and the number of pieces in that run.
    length_m : float
        Length to cut [m], welds included.
    """

    mark: str
    run: str
    number: int
    of: int
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """One roll and what is cut from it.

    Attributes
    ----------
    mark : str
        ``"L1"``, ``"L2"``…
    profile : str
        Profile.
    length_m : float
        Length of the whole roll [m].
    pieces : tuple of Piece
        In cutting order.
    offcut_m : float
        What is left [m], >= 0.
    """

    mark: str
    profile: str
    length_m: float
    pieces: tuple[Piece, ...]
    offcut_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RollOrder:
    """Rolls of one profile and length to order.

    Attributes
    ----------
    profile : str
        Profile.
    length_m : float
        Length of one roll [m].
    quantity : int
        Number of rolls.
    cost : float or None
        Price of all of them in the rules' currency, None where the rules give no price.
    pieces_m : float
        Length of the pieces cut from them [m].
    least_quantity : int
        Proven lower bound on the number of rolls of this length.
    """

    profile: str
    length_m: float
    quantity: int
    cost: float | None
    pieces_m: float
    least_quantity: int
