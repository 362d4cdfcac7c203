"""Cutting: the runs of one profile as a job of cutting, and its plan as pieces of rolls."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from .packing import Effort, Packing, pack
from .profile import Profile
from .rules import Rules, Weld
from .stock import TICKS_PER_M, CuttingJob, Demand, Group, Stock, ticks
from .stretch import Stretch

__all__ = ["CutRoll", "LotPlan", "plan_lot", "splice_price"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutRoll:
    """One roll or offcut, and what is cut from it.

    Attributes
    ----------
    length_m : float
        Its length [m].
    offcut : str or None
        Mark of the offcut in stock, may be empty; None for a new roll.
    parts : tuple of (int, int)
        For each piece the position of its stretch and its place along it, from 0.
    """

    length_m: float
    offcut: str | None
    parts: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPlan:
    """How the runs of one profile that may share rolls are cut.

    Attributes
    ----------
    rolls : tuple of CutRoll
    lengths_m : dict of int to tuple of float
        For each stretch, by position, the lengths of its pieces from start to end [m].
    cost, least_cost : float
        What rolls and splices inside runs cost, and what any plan costs at least: in the rules' currency where all
        rolls are priced, else as a length of strip [m].
    priced : bool
        Whether costs are money.
    splices : int
        Splices inside runs.
    method : str
        How the bound was proven.
    cramped : tuple of int
        Stretches with no room for a splice that keeps clear of both nodes.
    too_long : tuple of int
        Stretches longer than any roll, where no splices are wanted.
    interrupted : bool
        Whether the user has ended the search.
    """

    rolls: tuple[CutRoll, ...]
    lengths_m: dict[int, tuple[float, ...]]
    cost: float
    least_cost: float
    priced: bool
    splices: int
    method: str
    cramped: tuple[int, ...] = ()
    too_long: tuple[int, ...] = ()
    interrupted: bool = False


def plan_lot(stretches: Sequence[tuple[int, Stretch]], profile: Profile, rules: Rules, effort: Effort) -> LotPlan:
    """Plan how runs are cut from the stock of their profile.

    Parameters
    ----------
    stretches : sequence of (int, Stretch)
        Position and stretch of every run that takes strip, in the order in which equal ones are served.
    profile : Profile
    rules : Rules
    effort : Effort
        How long to search.

    Returns
    -------
    LotPlan
    """
    lot = _Lot(stretches, profile, rules)
    if rules.cutting.splices_in_runs or not lot.long:
        return lot.plan([(lot.job(), pack(lot.job(), effort))])
    # Runs longer than a roll are spliced after all, apart from the others, and reported.
    jobs = [job for job in (lot.job(long=False), lot.job(long=True)) if job.demands]
    return lot.plan([(job, pack(job, effort)) for job in jobs])


def splice_price(profile: Profile, rules: Rules) -> tuple[float, bool]:
    """Return what one more splice inside a run costs, and whether that is money or a length of strip [m].

    Money: the price of a field splice, crew time and the price put on its risk, as far as the rules state them; where
    they state none, the strip that a splice is worth at the price of the cheapest roll.

    Parameters
    ----------
    profile : Profile
    rules : Rules

    Returns
    -------
    float, bool
    """
    prices, worth_m = rules.prices, rules.cutting.splice_worth_m
    if any(roll.price is None for roll in profile.rolls):
        return worth_m, False
    stated = (prices.field_splice, prices.splice_risk, prices.crew_hour)
    if all(price is None for price in stated):
        return worth_m * min((roll.price or 0.0) / roll.length_m for roll in profile.rolls), True
    hours = rules.crew.splice_min(Weld.BUTT, width_m=profile.width_m) / 60
    return (prices.field_splice or 0.0) + (prices.splice_risk or 0.0) + hours * (prices.crew_hour or 0.0), True


class _Lot:
    """The runs of one profile, by equal lengths."""

    def __init__(self, stretches: Sequence[tuple[int, Stretch]], profile: Profile, rules: Rules) -> None:
        self._stretches = dict(stretches)
        self._profile, self._rules = profile, rules
        self._trim = ticks(rules.cutting.trim_m)
        self._loss = ticks(rules.splices.melt_m) + self._trim
        self._least = ticks(rules.splices.least_piece_m) + self._trim
        self._price, self.priced = splice_price(profile, rules)
        self._stocks = tuple(self._list_stocks())
        self._longest = max(stock.length for stock in self._stocks if stock.available is None)
        self.cramped: list[int] = []
        self._alike: dict[Demand, list[int]] = {}
        for at, stretch in stretches:
            self._alike.setdefault(self._demand(at, stretch), []).append(at)
        self.long = [at for demand, members in self._alike.items() if demand.length > self._longest for at in members]

    def job(self, *, long: bool | None = None) -> CuttingJob:
        """Return all runs as a job; or only those longer than a roll, spliced; or only the others."""
        demands = (
            replace(demand, quantity=len(members))
            for demand, members in self._alike.items()
            if long is None or long == (demand.length > self._longest)
        )
        return CuttingJob(
            demands=tuple(demands),
            stocks=self._stocks if not long else tuple(s for s in self._stocks if s.available is None),
            splice_price=self._price,
            loss=self._loss,
            least=self._least,
            splices=self._rules.cutting.splices_in_runs or bool(long),
        )

    def plan(self, packings: Sequence[tuple[CuttingJob, Packing]]) -> LotPlan:
        """Turn plans of cutting into rolls and pieces."""
        rolls: list[CutRoll] = []
        lengths: dict[int, dict[int, int]] = {at: {} for at in self._stretches}
        marks = [offcut.mark for offcut in self._profile.offcuts for _ in range(offcut.quantity)]
        waiting = {demand: iter(members) for demand, members in self._alike.items()}
        for job, packing in packings:
            for group in packing.groups:
                for _ in range(group.times):
                    served = self._serve(group, job, waiting)
                    rolls += self._cut(group, job, served, lengths, marks)
        return LotPlan(
            rolls=tuple(rolls),
            lengths_m={at: self._lengths(at, parts) for at, parts in lengths.items()},
            cost=sum(packing.cost for _, packing in packings),
            least_cost=sum(packing.least_cost for _, packing in packings),
            priced=self.priced,
            splices=sum(packing.splices for _, packing in packings),
            method=" and ".join(dict.fromkeys(packing.method for _, packing in packings)),
            cramped=tuple(self.cramped),
            interrupted=any(packing.interrupted for _, packing in packings),
            too_long=() if self._rules.cutting.splices_in_runs else tuple(self.long),
        )

    def _list_stocks(self) -> Iterator[Stock]:
        # What is cut last from a roll needs no cut of its own where nothing is left: hence the trim that is added.
        ends = self._trim - ticks(self._rules.cutting.roll_trim_m)
        for roll in self._profile.rolls:
            price = (roll.price or 0.0) if self.priced else roll.length_m
            yield Stock(length=ticks(roll.length_m) + ends, price=price)
        for offcut in self._profile.offcuts:
            yield Stock(length=ticks(offcut.length_m) + self._trim, price=0.0, available=offcut.quantity)

    def _demand(self, at: int, stretch: Stretch) -> Demand:
        """Tell what a run takes, and how close to its ends it may be spliced."""
        length = ticks(stretch.net_m + sum(stretch.melts_m)) + self._trim
        first, last = (self._end_part(stretch, end) for end in (0, 1))
        must = length > self._longest
        if must and not self._has_room(length, first, last):
            self.cramped.append(at)
            first = last = self._least
        if must and not self._has_room(length, first, last):
            first = last = 0
        return Demand(length=length, quantity=1, first=first, last=last)

    def _has_room(self, length: int, first: int, last: int) -> bool:
        return first + last <= length + self._loss and max(first, last) + self._least <= self._longest

    def _end_part(self, stretch: Stretch, end: int) -> int:
        """Return the shortest part at one end whose splice keeps clear of the node."""
        splices = self._rules.splices
        clear_m = self._rules.fittings.leg_m if splices.keep_clear_m is None else splices.keep_clear_m
        part_m = clear_m - stretch.legs_m[end] + stretch.melts_m[end] + splices.melt_m / 2
        return max(self._least, ticks(part_m) + self._trim)

    def _serve(self, group: Group, job: CuttingJob, waiting: dict[Demand, Iterator[int]]) -> dict[tuple[int, int], int]:
        """Give the next runs of each length their part in a group."""
        runs = sorted({(part.demand, part.copy) for roll in group.rolls for part in roll.parts})
        return {run: next(waiting[replace(job.demands[run[0]], quantity=1)]) for run in runs}

    def _cut(
        self,
        group: Group,
        job: CuttingJob,
        served: dict[tuple[int, int], int],
        lengths: dict[int, dict[int, int]],
        marks: list[str],
    ) -> Iterator[CutRoll]:
        for roll in group.rolls:
            parts = [(served[part.demand, part.copy], part.place, part.length) for part in roll.parts]
            for at, place, length in parts:
                lengths[at][place] = length - self._trim
            length_m, offcut = self._bought(job, roll.stock, marks)
            yield CutRoll(length_m=length_m, offcut=offcut, parts=tuple((at, place) for at, place, _ in parts))

    def _bought(self, job: CuttingJob, stock: int, marks: list[str]) -> tuple[float, str | None]:
        """Return length and, for an offcut in stock, mark of what is cut."""
        if job.stocks[stock].available is None:
            return self._profile.rolls[stock].length_m, None
        offcut = self._profile.offcuts[stock - len(self._profile.rolls)]
        marks.remove(offcut.mark)
        return offcut.length_m, offcut.mark

    def _lengths(self, at: int, parts: dict[int, int]) -> tuple[float, ...]:
        """Return the lengths of all pieces of a run, the last one such that nothing is lost by rounding."""
        stretch = self._stretches[at]
        whole_m = stretch.net_m + sum(stretch.melts_m) + (len(parts) - 1) * self._rules.splices.melt_m
        before = [parts[place] / TICKS_PER_M for place in range(len(parts) - 1)]
        return (*before, whole_m - sum(before))
