"""Days: how splices and the ways between them fill working days, none split over two."""

from collections.abc import Sequence

from splicewright.extract.errors import RulesError

from .rules import Rules

__all__ = ["TICKS", "even_out", "refuse_long", "split_days", "ticks"]

TICKS = 1_000_000
"""Parts of a minute; times are added as whole numbers, so that sums do not depend on their order."""

_SLACK = TICKS // 1000
"""A day that is full to the minute is not over-full by rounding [parts of a minute]."""


def ticks(minutes: float) -> int:
    """Return a time [min] in whole parts of a minute."""
    return round(minutes * TICKS)


def split_days(needed: Sequence[int], moves: Sequence[int], room: int) -> list[int]:
    """Cut a sequence of splices into days, each as full as can be.

    Filling each day before the next is begun needs the fewest days of all ways to cut the sequence: no day of any
    other way can end later in the sequence.

    Parameters
    ----------
    needed : sequence of int
        Time of each splice [parts of a minute], in the order they are made.
    moves : sequence of int
        Time to come to each from the one before it; the day's first is reached during the warm-up.
    room : int
        Time a day leaves, at least the longest of `needed`.

    Returns
    -------
    list of int
        Position of each day's first splice.

    Examples
    --------
    >>> split_days([ticks(40)] * 3, [0, ticks(10), ticks(10)], ticks(90))
    [0, 2]
    """
    starts: list[int] = []
    left = -1
    room += _SLACK
    for i, (time, move) in enumerate(zip(needed, moves, strict=True)):
        left -= time + move
        if left < 0:
            starts.append(i)
            left = room - time
    return starts


def even_out(needed: Sequence[int], moves: Sequence[int], room: int, last: Sequence[tuple[int, int]]) -> list[int]:
    """Cut a sequence into as many days as `split_days` does, the fullest as short as can be.

    Parameters
    ----------
    needed, moves, room
        As in `split_days`.
    last : sequence of (int, int)
        Position of a splice and the number of days, from the first, by which it must be made.

    Returns
    -------
    list of int
        Position of each day's first splice.
    """
    starts = split_days(needed, moves, room)
    least, most = max(needed, default=0), room
    while least < most:
        middle = (least + most) // 2
        tried = split_days(needed, moves, middle)
        good = len(tried) <= len(starts) and all(_day_of(tried, at) <= by for at, by in last)
        least, most = (least, middle) if good else (middle + 1, most)
    return split_days(needed, moves, least)


def refuse_long(minutes: Sequence[float], rules: Rules) -> None:
    """Refuse a splice that takes longer than a day leaves.

    Raises
    ------
    RulesError
        One sentence with the rules that would mend it.
    """
    welding_min = rules.crew.welding_min
    if minutes and ticks(max(minutes)) > ticks(welding_min) + _SLACK:
        raise RulesError(
            f"crew.shift: a splice of {max(minutes):g} min does not fit into the {max(welding_min, 0):g} min that a "
            f"shift of {rules.crew.shift_min:g} min leaves for welding; lengthen crew.shift or shorten crew.minutes"
        )


def _day_of(starts: Sequence[int], at: int) -> int:
    """Count the days until the splice at a position is made."""
    return sum(start <= at for start in starts)
