"""Rounding: numbers of the record, to the micrometre and the ten-thousandth of a degree."""

from collections.abc import Iterator, Sequence
from itertools import chain

import numpy as np

from splicewright.extract.line import Vector

__all__ = ["rounded", "rounded_angle", "rounded_vectors"]

_LENGTH_DECIMALS = 6
_ANGLE_DECIMALS = 4


def rounded(value: float, decimals: int = _LENGTH_DECIMALS) -> float:
    """Round a length [m] or another number; whole numbers stay as they are."""
    return value if isinstance(value, int) else round(value, decimals) + 0.0  # + 0.0 turns -0.0 into 0.0


def rounded_angle(value: float) -> float:
    """Round an angle [degrees]."""
    return rounded(float(value), _ANGLE_DECIMALS)


def rounded_vectors(vectors: Sequence[Vector]) -> Iterator[Vector]:
    """Round many vectors at once; one by one this would take longer than all the rest of the record."""
    flat = np.fromiter(chain.from_iterable(vectors), dtype=np.float64, count=3 * len(vectors))
    numbers = iter((np.round(flat, _LENGTH_DECIMALS) + 0.0).tolist())
    return zip(numbers, numbers, numbers, strict=True)
