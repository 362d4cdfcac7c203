"""Stock: what is to be cut and what it is cut from, in whole ticks, so that lengths compare exactly.

A run of length G that is welded together from k parts needs ``G + (k - 1) * loss`` of strip. So a chain of rolls, each
cut into the next, is worth the sum of ``roll - loss``, plus one loss; that sum is all that a group of runs asks for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

__all__ = [
    "TICKS_PER_M",
    "CuttingJob",
    "Demand",
    "Group",
    "Part",
    "RollCut",
    "Stock",
    "renumbered",
    "splices_of",
    "ticks",
]

TICKS_PER_M = 1_000_000
"""Lengths closer than one of them are equal."""

_SPLICE_TIE = 1e-7
_LENGTH_TIE = 1e-11
"""What a splice and a longest roll weigh beside the price of a roll, to break ties: fewer splices, then less waste."""


def ticks(length_m: float) -> int:
    """Turn a length [m] into whole ticks.

    Examples
    --------
    >>> ticks(15.24)
    15240000
    """
    return round(length_m * TICKS_PER_M)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """Runs of one length.

    Attributes
    ----------
    length : int
        Strip that one takes in one part, trim of its cut included [ticks], > 0.
    quantity : int
        Number of such runs, >= 1.
    first, last : int
        Shortest part that may stand at its start and at its end if it is spliced [ticks].
    """

    length: int
    quantity: int = 1
    first: int = 0
    last: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One length of strip to cut from.

    Attributes
    ----------
    length : int
        Usable length, with the trim of the cut that the last part does without [ticks], > 0.
    price : float
        Cost of one, >= 0.
    available : int or None
        How many there are; None where more can be bought.
    """

    length: int
    price: float
    available: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part cut from a roll.

    Attributes
    ----------
    demand : int
        Position of its demand.
    copy : int
        Which of the runs of that demand within the group, from 0.
    place : int
        Its place along the run, from 0.
    length : int
        Length with the trim of its cut [ticks].
    """

    demand: int
    copy: int
    place: int
    length: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RollCut:
    """One roll and the parts cut from it; `stock` is the position of its length in the job's stock."""

    stock: int
    parts: tuple[Part, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Runs that share rolls, and how often the same is done; no run has parts in two groups."""

    rolls: tuple[RollCut, ...]
    times: int = 1

    @property
    def parts(self) -> int:
        """Number of parts, done once."""
        return sum(len(roll.parts) for roll in self.rolls)

    @property
    def runs(self) -> int:
        """Number of runs, done once."""
        return sum(part.place == 0 for roll in self.rolls for part in roll.parts)


@dataclass(frozen=True, kw_only=True)
class CuttingJob:
    """What is to be cut.

    Attributes
    ----------
    demands : tuple of Demand
        Lengths, no two alike.
    stocks : tuple of Stock
        At least one without limit.
    splice_price : float
        Cost of one splice inside a run, >= 0.
    loss : int
        Strip that one splice takes: what it melts away, and the trim of one more cut [ticks], less than a roll.
    least : int
        Shortest part of a spliced run, trim included [ticks].
    splices : bool
        Whether runs may be spliced inside.
    """

    demands: tuple[Demand, ...]
    stocks: tuple[Stock, ...]
    splice_price: float = 0.0
    loss: int = 0
    least: int = 0
    splices: bool = True

    @cached_property
    def buyable(self) -> tuple[int, ...]:
        """Positions of the stock lengths without limit."""
        return tuple(i for i, stock in enumerate(self.stocks) if stock.available is None)

    @cached_property
    def longest(self) -> int:
        """Longest stock length without limit [ticks]."""
        return max(self.stocks[i].length for i in self.buyable)

    @cached_property
    def total(self) -> int:
        """Length of all demands [ticks]."""
        return sum(demand.length * demand.quantity for demand in self.demands)

    @cached_property
    def _price_unit(self) -> float:
        return max((self.stocks[i].price for i in self.buyable), default=0.0) or 1.0

    @cached_property
    def weights(self) -> tuple[float, ...]:
        """Price of every stock length with the tie-break for its length."""
        unit = self._price_unit * _LENGTH_TIE / self.longest
        return tuple(stock.price + unit * stock.length for stock in self.stocks)

    @cached_property
    def splice_weight(self) -> float:
        """Price of a splice with its tie-break."""
        return self.splice_price + self._price_unit * _SPLICE_TIE

    def weigh(self, groups: Iterable[Group]) -> float:
        """Cost of a plan with its tie-breaks."""
        return sum(group.times * self._weigh_one(group) for group in groups)

    def cost(self, groups: Iterable[Group]) -> float:
        """Cost of a plan: its rolls, and its splices inside runs."""
        return sum(
            group.times
            * (
                sum(self.stocks[roll.stock].price for roll in group.rolls)
                + self.splice_price * (group.parts - group.runs)
            )
            for group in groups
        )

    def _weigh_one(self, group: Group) -> float:
        return sum(self.weights[roll.stock] for roll in group.rolls) + self.splice_weight * (group.parts - group.runs)


def splices_of(groups: Sequence[Group]) -> int:
    """Count the splices inside runs in a plan."""
    return sum(group.times * (group.parts - group.runs) for group in groups)


def renumbered(plan: Iterable[Group], stocks: Sequence[int], demands: Sequence[int] | None = None) -> list[Group]:
    """Name the stock lengths and demands of a part of a job as the whole job does.

    Parameters
    ----------
    plan : iterable of Group
        Of the part.
    stocks : sequence of int
        Position in the whole job of each of its stock lengths.
    demands : sequence of int, optional
        Position of each of its demands; without it the same.

    Returns
    -------
    list of Group
    """
    return [
        replace(
            group,
            rolls=tuple(
                RollCut(
                    stock=stocks[roll.stock],
                    parts=tuple(
                        replace(p, demand=p.demand if demands is None else demands[p.demand]) for p in roll.parts
                    ),
                )
                for roll in group.rolls
            ),
        )
        for group in plan
    ]
