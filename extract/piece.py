"""Pieces: what lines have been cut into, and the places where they meet."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .line import Points
from .linework import Indices, Linework

__all__ = ["Pieces"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pieces:
    """What the lines have been cut into, and the places where the pieces meet.

    All arrays but `place_m` have a row a piece.

    Attributes
    ----------
    work : Linework
        The lines that were cut.
    place_m : Points
        Places where pieces end [m], relative to the linework's origin, shape (places, 3).
    line : Indices
        Line of each piece.
    start, end : Indices
        Places at its ends; the same for a ring.
    start_station_m, end_station_m : NDArray[np.float64]
        Stations at its ends; the end of a piece that runs through the start of a closed line lies past that line.
    inner : Indices
        Its inner vertices ``[a:b]`` and then ``[c:d]``, shape (n, 4); the second range serves closed lines.
    start_heading, end_heading : Points
        Unit vectors at its ends, pointing into the piece, shape (n, 3).
    start_across, end_across : Points or None
        Unit vectors across the strip at its ends as drawn, NaN where not, shape (n, 3); None where no line tells.
    """

    work: Linework
    place_m: Points
    line: Indices
    start: Indices
    end: Indices
    start_station_m: NDArray[np.float64]
    end_station_m: NDArray[np.float64]
    inner: Indices
    start_heading: Points
    end_heading: Points
    start_across: Points | None = None
    end_across: Points | None = None

    def __len__(self) -> int:
        return len(self.line)

    def take(self, which: Indices | NDArray[np.bool_]) -> "Pieces":
        """Return some of the pieces."""
        return replace(
            self,
            line=self.line[which],
            start=self.start[which],
            end=self.end[which],
            start_station_m=self.start_station_m[which],
            end_station_m=self.end_station_m[which],
            inner=self.inner[which],
            start_heading=self.start_heading[which],
            end_heading=self.end_heading[which],
            start_across=None if self.start_across is None else self.start_across[which],
            end_across=None if self.end_across is None else self.end_across[which],
        )

    def points_m(self, piece: int) -> Points:
        """Return the course of one piece from place to place [m], shape (n, 3)."""
        a, b, c, d = self.inner[piece]
        vertices = self.work.points_m
        ends = self.place_m[[self.start[piece], self.end[piece]]]
        return np.concatenate((ends[:1], vertices[a:b], vertices[c:d], ends[1:]))

    @property
    def length_m(self) -> NDArray[np.float64]:
        """Length of each piece along the line as drawn [m]."""
        return self.end_station_m - self.start_station_m
