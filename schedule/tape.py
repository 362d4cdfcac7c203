"""Tape: lengths as a labourer measures them, rounded so that what is cut for a run is never short.

A piece is measured to the next sixteenth of an inch or millimetre above its length; the trim that every cut takes has
room for that. A whole roll is not measured: what it lacks of a sixteenth is added to another piece of its run.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import ceil, floor

from splicewright.extract.unit import LengthUnit

from .roll import Piece, Roll

__all__ = ["TapeLengths", "read_tape"]

_SIXTEENTHS = 16
_SLACK = 1e-3
"""Part of a step that is no more than rounding: lengths are known to a micrometre."""
_SEEN_M = 1e-5
"""More than this is more than rounding of numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeLengths:
    """The lengths of all pieces on the tape, and how they compare with the exact ones.

    Attributes
    ----------
    lengths_m : Mapping of str to float
        Length to measure for each piece, by mark [m]: whole millimetres or sixteenths of an inch.
    least_more_m, most_more_m : float
        By how much the pieces of a run exceed what it takes, at least and at most [m].
    fullest_m : float
        By how much the pieces of the fullest roll exceed it [m]; <= 0 where all can be cut.
    """

    lengths_m: Mapping[str, float]
    least_more_m: float
    most_more_m: float
    fullest_m: float

    @property
    def fits(self) -> bool:
        """Whether all rolls have room for the rounding."""
        return self.fullest_m < _SEEN_M


def read_tape(rolls: Iterable[Roll], *, imperial: bool) -> TapeLengths:
    """Round all pieces for the tape and check their sums.

    Parameters
    ----------
    rolls : iterable of Roll
    imperial : bool
        Sixteenths of an inch; otherwise millimetres.

    Returns
    -------
    TapeLengths
    """
    step_m = LengthUnit.INCH.metres / _SIXTEENTHS if imperial else LengthUnit.MILLIMETRE.metres
    rolls = list(rolls)
    whole = {roll.pieces[0].mark for roll in rolls if _is_whole(roll, step_m)}
    steps = {piece.mark: _steps(piece, step_m, whole) for roll in rolls for piece in roll.pieces}
    runs: dict[str, list[Piece]] = {}
    for piece in (piece for roll in rolls for piece in roll.pieces):
        runs.setdefault(piece.run, []).append(piece)
    more = []
    for pieces in runs.values():
        exact = sum(piece.length_m for piece in pieces) / step_m
        lacking = ceil(exact - _SLACK) - sum(steps[piece.mark] for piece in pieces)
        measured = [piece for piece in pieces if piece.mark not in whole]
        if lacking > 0 and measured:
            steps[min(measured, key=lambda piece: piece.length_m).mark] += lacking
        if measured:
            more.append((sum(steps[piece.mark] for piece in pieces) - exact) * step_m)
    sums = ((sum(steps[piece.mark] for piece in roll.pieces) * step_m, roll.length_m) for roll in rolls)
    return TapeLengths(
        lengths_m={mark: number * step_m for mark, number in steps.items()},
        least_more_m=min(more, default=0.0),
        most_more_m=max(more, default=0.0),
        fullest_m=max((total - length for total, length in sums), default=0.0),
    )


def _is_whole(roll: Roll, step_m: float) -> bool:
    """Tell whether a roll is one piece that, rounded up, it would be too short for."""
    lengths = [ceil(piece.length_m / step_m - _SLACK) * step_m for piece in roll.pieces]
    return len(lengths) == 1 and lengths[0] > roll.length_m + _SLACK * step_m


def _steps(piece: Piece, step_m: float, whole: set[str]) -> int:
    exact = piece.length_m / step_m
    return floor(exact + _SLACK) if piece.mark in whole else ceil(exact - _SLACK)
