"""Rolls: how the stretches between fittings are cut from rolls."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, count
from math import ceil

from splicewright.extract.errors import RulesError
from splicewright.extract.finding import Finding, Severity

from .profile import Profile, StockRoll
from .rules import Rules
from .stretch import SLACK_M, Layout, Stretch, Use, place_along

__all__ = ["CutList", "Piece", "Roll", "RollOrder", "cut_rolls", "fill", "find_short_pieces", "pack"]


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutList:
    """How all strip from rolls is cut.

    Attributes
    ----------
    rolls : tuple of Roll
        By profile.
    orders : tuple of RollOrder
        By profile; profiles without pieces have none.
    lengths_m : tuple of tuple of float
        For each stretch of the job the lengths of its pieces [m], from start to end; none where no strip is needed.
    """

    rolls: tuple[Roll, ...]
    orders: tuple[RollOrder, ...]
    lengths_m: tuple[tuple[float, ...], ...]


def cut_rolls(layout: Layout, rules: Rules) -> CutList:
    """Cut the strip of all runs from rolls.

    Each profile is cut from the one stock length that costs least: by price where every length has one, price of
    the splices included, else by the length to order, then by splices.

    Parameters
    ----------
    layout : Layout
        What becomes of every run.
    rules : Rules
        Stock, least piece, melt and prices.

    Returns
    -------
    CutList

    Raises
    ------
    RulesError
        A roll is no longer than what a weld melts away.
    """
    by_profile: dict[str, list[int]] = {}
    for i, stretch in enumerate(layout.stretches):
        if stretch.use is Use.STRIP:
            by_profile.setdefault(stretch.profile, []).append(i)
    lengths: list[tuple[float, ...]] = [()] * len(layout.stretches)
    chosen: list[_Cutting] = []
    for name in sorted(by_profile):
        profile, places = rules.profiles[name], by_profile[name]
        stretches = [layout.stretches[i] for i in places]
        cutting = min((_Cutting(stretches, profile, stock, rules) for stock in profile.rolls), key=_Cutting.rank)
        chosen.append(cutting)
        for i, filled in zip(places, cutting.lengths, strict=True):
            lengths[i] = filled
    pieces = _name_pieces(layout.stretches, lengths)
    marks = count(1)
    return CutList(
        rolls=tuple(chain.from_iterable(cutting.rolls(pieces, marks) for cutting in chosen)),
        orders=tuple(cutting.order() for cutting in chosen),
        lengths_m=tuple(lengths),
    )


def find_short_pieces(layout: Layout, cut_list: CutList, rules: Rules) -> Iterator[Finding]:
    """Report the runs that need a piece shorter than the least.

    Parameters
    ----------
    layout : Layout
    cut_list : CutList
    rules : Rules
        The least piece.

    Yields
    ------
    Finding
        ``short-piece``, one a run.
    """
    least_m = rules.splices.least_piece_m
    for stretch, pieces in zip(layout.stretches, cut_list.lengths_m, strict=True):
        if pieces and min(pieces) < least_m - SLACK_M:
            run = stretch.run
            yield Finding(
                code="short-piece",
                severity=Severity.WARNING,
                message=(
                    f"Run {run.mark} needs a piece of {min(pieces):.3f} m, shorter than the {least_m:.3f} m that "
                    "splices.least_piece asks for: draw it longer, or agree on a shorter least piece."
                ),
                at_m=place_along(run.points_m.tolist(), [run.length_m / 2])[0],
                sources=run.sources[:1],
            )


def fill(net_m: float, melts_m: float, *, roll_m: float, melt_m: float, least_m: float) -> tuple[float, ...]:
    """Fill one stretch with pieces.

    The number of pieces is the smallest that reaches; all but the last are whole rolls; a last piece shorter than the
    least is evened out with the one before.

    Parameters
    ----------
    net_m : float
        Length to fill [m], > 0.
    melts_m : float
        What the welds at its two ends melt away of it [m], >= 0.
    roll_m : float
        Length of a roll [m], > `melt_m`.
    melt_m : float
        What a weld between two pieces melts away [m], >= 0.
    least_m : float
        Shortest piece to weld in [m].

    Returns
    -------
    tuple of float
        Lengths of the pieces [m], from start to end.

    Examples
    --------
    >>> fill(20.0, 0.0, roll_m=15.0, melt_m=0.5, least_m=1.0)
    (15.0, 5.5)
    >>> fill(15.25, 0.0, roll_m=15.0, melt_m=0.25, least_m=1.0)
    (7.75, 7.75)
    """
    gross_m = net_m + melts_m
    if gross_m <= roll_m + SLACK_M:
        return (min(gross_m, roll_m),)
    number = ceil((gross_m - melt_m - SLACK_M) / (roll_m - melt_m))
    last_m = gross_m + (number - 1) * (melt_m - roll_m)
    if last_m >= least_m - SLACK_M:
        return (*[roll_m] * (number - 1), min(last_m, roll_m))
    half_m = (roll_m + last_m) / 2
    return (*[roll_m] * (number - 2), half_m, half_m)


def pack(lengths_m: Sequence[float], roll_m: float) -> list[list[int]]:
    """Pack pieces into rolls, first-fit decreasing.

    Parameters
    ----------
    lengths_m : sequence of float
        Lengths of the pieces [m], each no longer than a roll.
    roll_m : float
        Length of a roll [m], > 0.

    Returns
    -------
    list of list of int
        For each roll the positions of its pieces, from long to short.

    Examples
    --------
    >>> pack([4.0, 6.0, 5.0, 3.0], 10.0)
    [[1, 0], [2, 3]]
    """
    order = sorted(range(len(lengths_m)), key=lambda i: -lengths_m[i])
    shortest = lengths_m[order[-1]] if order else 0.0
    rolls: list[list[int]] = []
    left = _Remainders(len(order))
    for i in order:
        length = lengths_m[i] - SLACK_M
        roll = left.first(length) if left.most >= length else None
        if roll is None:
            roll = len(rolls)
            rolls.append([i])
            left.put(roll, roll_m - lengths_m[i], shortest)
        else:
            rolls[roll].append(i)
            left.put(roll, left.of(roll) - lengths_m[i], shortest)
    return rolls


class _Remainders:
    """What is left of each open roll, as a tree in which every knot holds the most of what hangs under it."""

    def __init__(self, capacity: int) -> None:
        self._leaves = 1 << max(0, capacity - 1).bit_length()
        self._most = [-1.0] * (2 * self._leaves)

    @property
    def most(self) -> float:
        return self._most[1]

    def of(self, roll: int) -> float:
        return self._most[self._leaves + roll]

    def put(self, roll: int, left_m: float, shortest_m: float) -> None:
        """Note what is left of a roll; one too short for every piece is closed."""
        at = self._leaves + roll
        value = left_m if left_m >= shortest_m - SLACK_M else -1.0
        if value == self._most[at]:
            return
        most = self._most
        most[at] = value
        while at > 1:
            at //= 2
            value = max(most[2 * at], most[2 * at + 1])
            if most[at] == value:
                break
            most[at] = value

    def first(self, length_m: float) -> int:
        """Return the first roll with that much left; there must be one."""
        at = 1
        while at < self._leaves:
            at *= 2
            if self._most[at] < length_m:
                at += 1
        return at - self._leaves


class _Cutting:
    """One profile cut from one stock length."""

    def __init__(self, stretches: Sequence[Stretch], profile: Profile, stock: StockRoll, rules: Rules) -> None:
        melt_m, least_m = rules.splices.melt_m, rules.splices.least_piece_m
        if stock.length_m <= melt_m:
            raise RulesError(
                f"profiles.{profile.name}.rolls: a roll of {stock.length_m:g} m is no longer than the {melt_m:g} m "
                "that splices.melt says a weld melts away; give a longer roll or a smaller melt"
            )
        self.profile, self.stock, self.stretches = profile, stock, stretches
        self.lengths = [
            fill(s.net_m, sum(s.melts_m), roll_m=stock.length_m, melt_m=melt_m, least_m=least_m) for s in stretches
        ]
        self._flat = list(chain.from_iterable(self.lengths))
        whole = [i for i, length in enumerate(self._flat) if length == stock.length_m]
        parts = [i for i, length in enumerate(self._flat) if length != stock.length_m]
        packed = pack([self._flat[i] for i in parts], stock.length_m)
        self._rolls = [[i] for i in whole] + [[parts[i] for i in roll] for roll in packed]
        self._splice_price = rules.prices.field_splice or 0.0
        self._priced = all(roll.price is not None for roll in profile.rolls)

    def rank(self) -> tuple[float, int, float]:
        """Return what decides between stock lengths: cost, then splices, then the longer roll."""
        splices = len(self._flat) - len(self.stretches)
        cost = len(self._rolls) * self.stock.length_m
        if self._priced:
            cost = len(self._rolls) * (self.stock.price or 0.0) + splices * self._splice_price
        return (round(cost, 6), splices, -self.stock.length_m)

    def order(self) -> RollOrder:
        pieces_m = sum(self._flat)
        quantity = len(self._rolls)
        return RollOrder(
            profile=self.profile.name,
            length_m=self.stock.length_m,
            quantity=quantity,
            cost=None if self.stock.price is None else quantity * self.stock.price,
            pieces_m=pieces_m,
            least_quantity=ceil((pieces_m - SLACK_M) / self.stock.length_m),
        )

    def rolls(self, pieces: "dict[str, list[Piece]]", marks: Iterator[int]) -> Iterator[Roll]:
        named = list(chain.from_iterable(pieces[stretch.run.mark] for stretch in self.stretches))
        for roll in self._rolls:
            cut = tuple(named[i] for i in roll)
            yield Roll(
                mark=f"L{next(marks)}",
                profile=self.profile.name,
                length_m=self.stock.length_m,
                pieces=cut,
                offcut_m=max(0.0, self.stock.length_m - sum(piece.length_m for piece in cut)),
            )


def _name_pieces(stretches: Sequence[Stretch], lengths: Sequence[tuple[float, ...]]) -> dict[str, list[Piece]]:
    """Mark all pieces of the job in the order of its runs."""
    marks = count(1)
    return {
        stretch.run.mark: [
            Piece(mark=f"P{next(marks)}", run=stretch.run.mark, number=number, of=len(pieces), length_m=length)
            for number, length in enumerate(pieces, start=1)
        ]
        for stretch, pieces in zip(stretches, lengths, strict=True)
        if pieces
    }
