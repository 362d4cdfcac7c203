"""Chance: how sure the days are, by playing the job through many times with minutes, rework and weather at random."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from .day import TICKS
from .rules import ChanceRules, Rules

__all__ = ["Odds", "play"]

_Times: TypeAlias = NDArray[np.int64]
_Numbers: TypeAlias = NDArray[np.float64]

_MOST_TIMES = 1_000_000
"""Times drawn in all; larger jobs are played through fewer times, for in them single splices even out."""
_LEAST_DRAWS = 100
_BATCH_TIMES = 500_000
"""Times drawn at once, so that memory stays small."""
_MOST_REDONE = 5
_SLACK = TICKS // 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """How many working days the job takes, by how sure one wants to be.

    Attributes
    ----------
    draws : int
        Times the job was played through.
    days_50, days_80, days_95 : int
        Working days, those lost to weather among them, that are enough in 50, 80 and 95 percent of the draws.
    kept : tuple of float
        For each date asked for, the share of the draws that keep it, 0 to 1.
    """

    draws: int
    days_50: int
    days_80: int
    days_95: int
    kept: tuple[float, ...]


def play(
    minutes: Sequence[float],
    move_min: Sequence[float],
    cover_min: Sequence[float],
    rules: Rules,
    *,
    crews: int,
    due: Sequence[tuple[int, int]] = (),
) -> Odds | None:
    """Play the job through at random.

    In each draw the whole job has one pace and every splice its own share of the minutes on top, both between their
    least and most and likeliest 1 (triangular); a splice fails inspection with the share of rework and is made again
    at once; and before every working day so many are lost as the weather takes. A splice never takes more than a day.
    Days are then filled as in the plan.

    Parameters
    ----------
    minutes, move_min, cover_min : sequence of float
        Time of each splice, of the way to it and of a cover before it [min], in the order they are made.
    rules : Rules
        Shift and chance.
    crews : int
        Crews at work.
    due : sequence of (int, int)
        Position of a splice and the working day by which it must be made, in the order of the positions.

    Returns
    -------
    Odds or None
        None where the rules ask for no draws or there is nothing to weld.
    """
    chance = rules.chance
    if not chance.draws or not minutes:
        return None
    draws = min(chance.draws, max(_LEAST_DRAWS, _MOST_TIMES // len(minutes)))
    random = np.random.default_rng(chance.seed)
    job = _Job(
        minutes=np.array(minutes), move_min=np.array(move_min), cover_min=np.array(cover_min), rules=rules, due=due
    )
    batch = max(1, _BATCH_TIMES // len(minutes))
    counts = [job.draw(random, min(batch, draws - done)) for done in range(0, draws, batch)]
    marks = -(-np.concatenate(counts) // crews)  # crew-days until each date and the end, then working days
    marks = _weathered(marks, chance.weather, random)
    days = [int(np.quantile(marks[:, -1], share, method="inverted_cdf")) for share in (0.5, 0.8, 0.95)]
    kept = tuple(float((marks[:, i] <= day).mean()) for i, (_, day) in enumerate(due))
    return Odds(draws=draws, days_50=days[0], days_80=days[1], days_95=days[2], kept=kept)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Job:
    """A job that can be played through."""

    minutes: _Numbers
    move_min: _Numbers
    cover_min: _Numbers
    rules: Rules
    due: Sequence[tuple[int, int]]

    def draw(self, random: np.random.Generator, draws: int) -> _Times:
        """Count crew-days until each date and the end, shape (draws, dates + 1)."""
        chance, shape = self.rules.chance, (draws, len(self.minutes))
        room = round(self.rules.crew.welding_min * TICKS)
        pace = _triangular(random, (draws, 1), chance.pace_least, chance.pace_most)
        own = _triangular(random, shape, chance.splice_least, chance.splice_most)
        times = np.minimum(np.rint((self.minutes * own + self.cover_min) * pace * TICKS).astype(np.int64), room)
        moves = np.rint(self.move_min * pace * TICKS).astype(np.int64)
        positions = [position for position, _ in self.due] + [len(self.minutes) - 1]
        if chance.rework:
            again = np.minimum(_redone(random, shape, chance) * times, room)
            times = np.stack((times, again), axis=2).reshape(draws, -1)
            moves = np.stack((moves, np.zeros_like(moves)), axis=2).reshape(draws, -1)
            positions = [2 * position + 1 for position in positions]
        return _count_days(times, moves, room + _SLACK, positions)


def _triangular(random: np.random.Generator, shape: tuple[int, int], least: float, most: float) -> _Numbers:
    """Draw factors between least and most, likeliest 1."""
    if least == most:
        return np.ones(shape)
    share = random.random(shape)
    low = least + np.sqrt(share * ((most - least) * (1 - least)))
    high = most - np.sqrt((1 - share) * ((most - least) * (most - 1)))
    return np.where(share * (most - least) < 1 - least, low, high)


def _redone(random: np.random.Generator, shape: tuple[int, int], chance: ChanceRules) -> _Times:
    """Draw how often each splice is made again; each time it fails with the same share."""
    share = random.random(shape)
    times = np.zeros(shape, dtype=np.int64)
    failed = share >= 1 - chance.rework
    times[failed] = np.minimum(np.log1p(-share[failed]) / np.log(chance.rework), _MOST_REDONE)
    return times


def _count_days(times: _Times, moves: _Times, room: int, positions: Sequence[int]) -> _Times:
    """Fill days in all draws at once, and count them until each position is done."""
    draws, count = times.shape
    sums = np.cumsum(times + moves, axis=1)
    apart = int(sums[:, -1].max()) + room + 1
    rows = np.arange(draws)
    sums += rows[:, np.newaxis] * apart  # one rising sequence, in which all draws are searched at once
    flat = sums.ravel()
    first = np.zeros(draws, dtype=np.int64)
    days = np.zeros((draws, len(positions)), dtype=np.int64)
    number, at = 0, rows
    while len(at):
        number += 1
        start = at * count + first
        done_before = flat[start] - times[at, first]  # with the way to the day's first splice, which costs nothing
        stop = np.searchsorted(flat, done_before + room, side="right") - at * count
        for column, position in enumerate(positions):
            days[at[(first <= position) & (position < stop)], column] = number
        left = stop < count
        at, first = at[left], stop[left]
    return days


def _weathered(days: _Times, lost: float, random: np.random.Generator) -> _Times:
    """Add the days that the weather takes before each good one."""
    if not lost:
        return days
    good = np.diff(days, axis=1, prepend=0)
    bad = np.where(good > 0, random.negative_binomial(np.maximum(good, 1), 1 - lost), 0)
    with_bad: _Times = days + np.cumsum(bad, axis=1)
    return with_bad
