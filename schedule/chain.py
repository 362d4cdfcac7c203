"""Chain: how a group of runs is cut from its rolls, end to end, so that every part is long enough.

The rolls are filled one after the other: whole runs first, then one run that goes on into the next roll. What is left
unused may add up to the group's slack and no more.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations
from typing import NamedTuple, TypeAlias

from .stock import CuttingJob, Group, Part, RollCut

__all__ = ["cut_chain", "cut_in_order"]

_MOST_STEPS = 4000
_MOST_ORDERS = 6

_Filled: TypeAlias = tuple[RollCut, ...]
_Left: TypeAlias = tuple[tuple[int, int], ...]
"""Position and number of each demand, from long to short."""


class _Carry(NamedTuple):
    """A run that goes on into the next roll."""

    demand: int
    copy: int
    place: int
    length: int
    last: int
    step: int
    """1 where its parts are cut from start to end, -1 where from end to start."""


def cut_chain(job: CuttingJob, counts: Sequence[tuple[int, int]], rolls: Sequence[int]) -> Group | None:
    """Cut a group of runs from a chain of rolls.

    Parameters
    ----------
    job : CuttingJob
    counts : sequence of (int, int)
        Position and number of each demand in the group, each position once.
    rolls : sequence of int
        Positions of the stock lengths.

    Returns
    -------
    Group or None
        None where no way was found in which every part is long enough.
    """
    total = sum(job.demands[demand].length * number for demand, number in counts)
    slack = sum(job.stocks[roll].length for roll in rolls) - (len(rolls) - 1) * job.loss - total
    if slack < 0 or not rolls:
        return None
    search = _Search(job)
    left = tuple(sorted(counts, key=lambda entry: (-job.demands[entry[0]].length, entry[0])))
    orders = sorted(set(permutations(rolls))) if len(rolls) < 5 else [tuple(rolls), tuple(reversed(rolls))]
    for order in orders[:_MOST_ORDERS]:
        filled = search.fill(order, left, None, slack)
        if filled is not None:
            return Group(rolls=_numbered(filled))
    return None


def _numbered(rolls: _Filled) -> _Filled:
    """Count the parts of every run from its start, from 0."""
    places: dict[tuple[int, int], list[int]] = {}
    for part in (part for roll in rolls for part in roll.parts):
        places.setdefault((part.demand, part.copy), []).append(part.place)
    first = {run: min(taken) for run, taken in places.items()}
    return tuple(
        RollCut(
            stock=roll.stock,
            parts=tuple(replace(part, place=part.place - first[part.demand, part.copy]) for part in roll.parts),
        )
        for roll in rolls
    )


class _Way(NamedTuple):
    """One way to fill a roll: whole runs, the run that goes on, its part here, its shortest part there, the waste."""

    whole: _Left
    straddler: int | None
    part: int
    last: int
    step: int
    waste: int


class _Search:
    """Goes through the ways to fill the rolls of one chain, up to a fixed number of steps."""

    def __init__(self, job: CuttingJob) -> None:
        self._job = job
        self._steps = _MOST_STEPS
        self._quantity: dict[int, int] = {}

    def fill(self, rolls: tuple[int, ...], left: _Left, carry: _Carry | None, slack: int) -> _Filled | None:
        """Fill these rolls with the runs that are left, and with the one that was begun in the roll before."""
        if not self._quantity:
            self._quantity = dict(left)
        self._steps -= 1
        if self._steps < 0 or slack < 0:
            return None
        room = self._job.stocks[rolls[0]].length
        begun: tuple[Part, ...] = ()
        if carry is not None:
            if carry.length > room:
                return self._pass_through(rolls, left, carry, slack)
            begun = (Part(demand=carry.demand, copy=carry.copy, place=carry.place, length=carry.length),)
            room -= carry.length
        if len(rolls) == 1:
            return self._finish(rolls[0], left, begun, room)
        for way in self._ways(left, room, slack):
            after, parts = self._take(left, way.whole)
            on = None
            if way.straddler is not None:
                after, (head,) = self._take(after, ((way.straddler, 1),))
                parts += (replace(head, length=way.part),)
                on = _Carry(
                    head.demand, head.copy, way.step, head.length + self._job.loss - way.part, way.last, way.step
                )
            rest = self.fill(rolls[1:], after, on, slack - way.waste)
            if rest is not None:
                return (RollCut(stock=rolls[0], parts=begun + parts), *rest)
            if self._steps < 0:
                break
        return None

    def _pass_through(self, rolls: tuple[int, ...], left: _Left, carry: _Carry, slack: int) -> _Filled | None:
        """Fill a whole roll with the run that was begun before and goes on after."""
        room = self._job.stocks[rolls[0]].length
        part = min(room, carry.length + self._job.loss - carry.last)
        if part < self._job.least or len(rolls) == 1:
            return None
        on = carry._replace(place=carry.place + carry.step, length=carry.length + self._job.loss - part)
        rest = self.fill(rolls[1:], left, on, slack - (room - part))
        here = Part(demand=carry.demand, copy=carry.copy, place=carry.place, length=part)
        return None if rest is None else (RollCut(stock=rolls[0], parts=(here,)), *rest)

    def _finish(self, roll: int, left: _Left, begun: tuple[Part, ...], room: int) -> _Filled | None:
        if sum(self._job.demands[demand].length * number for demand, number in left) > room:
            return None
        return (RollCut(stock=roll, parts=begun + self._take(left, left)[1]),)

    def _take(self, left: _Left, taken: Sequence[tuple[int, int]]) -> tuple[_Left, tuple[Part, ...]]:
        """Take whole runs; return what is left, and the parts."""
        numbers = dict(taken)
        parts = tuple(
            Part(demand=d, copy=self._quantity[d] - n + k, place=0, length=self._job.demands[d].length)
            for d, n in left
            for k in range(numbers.get(d, 0))
        )
        return tuple((d, n - numbers.get(d, 0)) for d, n in left if n > numbers.get(d, 0)), parts

    def _ways(self, left: _Left, room: int, slack: int) -> Iterator[_Way]:
        """Yield the ways to fill a roll that is not the last."""
        if self._job.splices:
            for demand, _ in left:
                first, last = self._job.demands[demand].first, self._job.demands[demand].last
                yield from self._straddled(left, room, slack, demand, (first, last, 1))
                if first != last:
                    yield from self._straddled(left, room, slack, demand, (last, first, -1))
        for whole, used in self._subsets(left, room - slack, room):
            yield _Way(whole, None, 0, 0, 1, room - used)

    def _straddled(self, left: _Left, room: int, slack: int, demand: int, ends: tuple[int, int, int]) -> Iterator[_Way]:
        """Yield the ways in which a run of that demand goes on into the next roll."""
        first, last, step = ends
        others = tuple((d, n - (d == demand)) for d, n in left if n > (d == demand))
        most_part = self._job.demands[demand].length + self._job.loss - last
        for whole, used in self._subsets(others, room - most_part - slack, room - first):
            part = min(room - used, most_part)
            if part >= first:
                yield _Way(whole, demand, part, last, step, room - used - part)

    def _subsets(self, left: _Left, least: int, most: int) -> Iterator[tuple[_Left, int]]:
        """Yield the choices of whole runs whose length lies within bounds, fullest first at each step."""
        sums = [0] * (len(left) + 1)
        for i in range(len(left) - 1, -1, -1):
            sums[i] = sums[i + 1] + left[i][1] * self._job.demands[left[i][0]].length

        def choose(i: int, used: int) -> Iterator[tuple[_Left, int]]:
            if used > most or used + sums[i] < least or self._steps < 0:
                return
            if i == len(left):
                self._steps -= 1
                yield (), used
                return
            demand, number = left[i]
            length = self._job.demands[demand].length
            for n in range(min(number, (most - used) // length), -1, -1):
                for rest, total in choose(i + 1, used + n * length):
                    yield ((demand, n), *rest) if n else rest, total

        return choose(0, 0)


def cut_in_order(job: CuttingJob, stock: int) -> Group | None:
    """Cut all runs one after the other from rolls of one length, each roll into the next.

    Parameters
    ----------
    job : CuttingJob
    stock : int
        Position of the stock length.

    Returns
    -------
    Group or None
        None where a run cannot be had from these rolls.
    """
    roll = job.stocks[stock].length
    rolls: list[list[Part]] = [[]]
    room = roll
    for number, demand in enumerate(job.demands):
        for copy in range(demand.quantity):
            left, place = demand.length, 0
            while left > room:
                floor = job.least if place else demand.first
                part = min(room, left + job.loss - demand.last)
                if job.splices and part >= floor:
                    rolls[-1].append(Part(demand=number, copy=copy, place=place, length=part))
                    left, place = left + job.loss - part, place + 1
                elif not rolls[-1]:
                    return None
                rolls.append([])
                room = roll
            rolls[-1].append(Part(demand=number, copy=copy, place=place, length=left))
            room -= left
    return Group(rolls=tuple(RollCut(stock=stock, parts=tuple(parts)) for parts in rolls if parts))
