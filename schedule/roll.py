"""Rolls: how the stretches between fittings are cut from rolls."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain, count
from math import ceil

from splicewright.extract.finding import Finding, Severity

from .cutting import CutRoll, LotPlan, plan_lot
from .packing import Effort
from .profile import Profile
from .rules import Rules
from .stretch import SLACK_M, Layout, Role, Stretch, Use, place_along

__all__ = [
    "CutList",
    "Piece",
    "Roll",
    "RollOrder",
    "RollPlan",
    "cut_rolls",
    "find_cramped_runs",
    "find_long_runs",
    "find_short_pieces",
    "in_order_of_work",
]


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
        Length to cut [m], along the centreline, welds included.
    ends : tuple of str
        How its start and its end are cut: ``"square"`` or, where it is joined to a seam in place, ``"mitred"``.
    """

    mark: str
    run: str
    number: int
    of: int
    length_m: float
    ends: tuple[str, str] = ("square", "square")


@dataclass(frozen=True, slots=True, kw_only=True)
class Roll:
    """One roll, or an offcut in stock, and what is cut from it.

    Attributes
    ----------
    mark : str
        ``"L1"``, ``"L2"``…, in the order of work.
    profile : str
        Profile.
    length_m : float
        Length of the whole roll [m].
    pieces : tuple of Piece
        In cutting order.
    offcut_m : float
        What is left [m], >= 0.
    trimmed_m : float
        What its cuts take, and an end too short to be a cut away from nothing [m], >= 0.
    stock : str or None
        Mark of the offcut in stock that this is, may be empty; None for a new roll.
    offcut : str
        Mark of what is left, ``"O1"``, ``"O2"``…, where it is long enough to be kept; else "".
    """

    mark: str
    profile: str
    length_m: float
    pieces: tuple[Piece, ...]
    offcut_m: float
    trimmed_m: float = 0.0
    stock: str | None = None
    offcut: str = ""


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
        Number of rolls that the plan cuts.
    cost : float or None
        Price of all of them in the rules' currency, None where the rules give no price.
    pieces_m : float
        Length of the pieces cut from them [m].
    least_quantity : int
        Proven lower bound on the number of rolls of this length; 0 where other lengths could stand in for it.
    """

    profile: str
    length_m: float
    quantity: int
    cost: float | None
    pieces_m: float
    least_quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RollPlan:
    """How good the plan of one profile is.

    Attributes
    ----------
    profile : str
        Profile.
    lot : str
        Pour whose runs share no roll with others; "" where all share.
    cost, least_cost : float
        What rolls and splices inside runs cost, and what any plan costs at least; as a length of strip [m] where rolls
        have no price.
    priced : bool
        Whether costs are money.
    method : str
        How the bound was proven.
    splices : int
        Splices inside runs.
    pieces_m : float
        Length of all pieces [m].
    left_m : float
        What is left of new rolls and offcuts used, trims included [m].
    """

    profile: str
    lot: str
    cost: float
    least_cost: float
    priced: bool
    method: str
    splices: int
    pieces_m: float
    left_m: float

    @property
    def gap(self) -> float:
        """Share of the cost that a better plan could save at most."""
        return max(0.0, self.cost - self.least_cost) / self.cost if self.cost > 0 else 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CutList:
    """How all strip from rolls is cut.

    Attributes
    ----------
    rolls : tuple of Roll
    orders : tuple of RollOrder
        By profile and length; profiles without pieces have none.
    plans : tuple of RollPlan
        By profile and lot.
    lengths_m : tuple of tuple of float
        For each stretch of the job the lengths of its pieces [m], from start to end; none where no strip is needed.
    cramped, too_long : tuple of int
        Positions of stretches without room for a splice clear of their nodes, and of those longer than any roll where
        no splices inside runs are wanted.
    interrupted : bool
        Whether the user has ended the search for better plans.
    """

    rolls: tuple[Roll, ...]
    orders: tuple[RollOrder, ...]
    plans: tuple[RollPlan, ...]
    lengths_m: tuple[tuple[float, ...], ...]
    cramped: tuple[int, ...] = ()
    too_long: tuple[int, ...] = ()
    interrupted: bool = False


def cut_rolls(layout: Layout, rules: Rules, lots: Sequence[str] = (), *, quick: bool = False) -> CutList:
    """Cut the strip of all runs from rolls, at least cost.

    Parameters
    ----------
    layout : Layout
        What becomes of every run.
    rules : Rules
        Stock, least piece, melt, trims and prices.
    lots : sequence of str, optional
        For every stretch the name of those it may share rolls with; without it all may.
    quick : bool, optional
        Whether to do without the solver of integer programs, which takes a while to load.

    Returns
    -------
    CutList
    """
    by_lot: dict[tuple[str, str], list[tuple[int, Stretch]]] = {}
    for i, stretch in enumerate(layout.stretches):
        if stretch.use is Use.STRIP:
            by_lot.setdefault((stretch.profile, lots[i] if lots else ""), []).append((i, stretch))
    effort = Effort.of_budget(60 * rules.cutting.time_budget_min / max(1, len(by_lot)))
    effort = replace(effort, nodes=0) if quick else effort
    plans: dict[tuple[str, str], LotPlan] = {}
    for key in sorted(by_lot):
        before = (cut for (name, _), plan in plans.items() if name == key[0] for cut in plan.rolls)
        profile = _without(rules.profiles[key[0]], before)
        plans[key] = plan_lot(by_lot[key], profile, rules, effort)
        if plans[key].interrupted:
            effort = Effort.of_budget(0)
    lengths: list[tuple[float, ...]] = [()] * len(layout.stretches)
    for plan in plans.values():
        for i, filled in plan.lengths_m.items():
            lengths[i] = filled
    pieces = _name_pieces(layout, lengths)
    marks = count(1)
    rolls = [
        _roll(cut, f"L{next(marks)}", name, pieces, rules) for (name, _), plan in plans.items() for cut in plan.rolls
    ]
    return CutList(
        rolls=tuple(rolls),
        orders=tuple(_orders(rolls, rules)),
        plans=tuple(_rated(key, plan) for key, plan in plans.items()),
        lengths_m=tuple(lengths),
        cramped=tuple(sorted(chain.from_iterable(plan.cramped for plan in plans.values()))),
        too_long=tuple(sorted(chain.from_iterable(plan.too_long for plan in plans.values()))),
        interrupted=any(plan.interrupted for plan in plans.values()),
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


def find_cramped_runs(layout: Layout, cut_list: CutList, rules: Rules) -> Iterator[Finding]:
    """Report the runs that are longer than a roll but leave no room for a splice clear of both nodes.

    Parameters
    ----------
    layout : Layout
    cut_list : CutList
    rules : Rules
        Stock and distance.

    Yields
    ------
    Finding
        ``no-room-for-splice``, one a run.
    """
    clear_m = rules.fittings.leg_m if rules.splices.keep_clear_m is None else rules.splices.keep_clear_m
    for at in cut_list.cramped:
        stretch = layout.stretches[at]
        yield _finding(
            "no-room-for-splice",
            Severity.WARNING,
            stretch,
            f"Run {stretch.run.mark} is longer than the longest roll, and no splice inside it keeps {clear_m:.3f} m "
            "clear of both nodes as splices.keep_clear asks: give a longer roll, or agree on one closer to a node.",
        )


def find_long_runs(layout: Layout, cut_list: CutList, rules: Rules) -> Iterator[Finding]:
    """Report the runs that no roll holds in one piece, where no splices inside runs are wanted.

    Parameters
    ----------
    layout : Layout
    cut_list : CutList
    rules : Rules
        Stock.

    Yields
    ------
    Finding
        ``run-too-long``, one a run.
    """
    for at in cut_list.too_long:
        stretch = layout.stretches[at]
        longest_m = max(roll.length_m for roll in rules.profiles[stretch.profile].rolls)
        yield _finding(
            "run-too-long",
            Severity.ERROR,
            stretch,
            f"Run {stretch.run.mark} takes {stretch.net_m + sum(stretch.melts_m):.3f} m of strip, and the longest roll "
            f"has {longest_m:.3f} m; it is planned with a splice though cutting.splices_in_runs says none: give a "
            "longer roll, or allow splices.",
        )


def in_order_of_work(cut_list: CutList, turns: Mapping[str, int]) -> CutList:
    """Sort rolls, and the pieces of each, by when they are welded in, and mark rolls and offcuts in that order.

    Parameters
    ----------
    cut_list : CutList
    turns : Mapping of str to int
        Turn of the first splice of every run that has one; runs without a splice come last.

    Returns
    -------
    CutList
    """
    last = max(turns.values(), default=0) + 1

    def turn(piece: Piece) -> tuple[int, int]:
        return (turns.get(piece.run, last), int(piece.mark[1:]))

    sorted_rolls = [replace(roll, pieces=tuple(sorted(roll.pieces, key=turn))) for roll in cut_list.rolls]
    sorted_rolls.sort(key=lambda roll: turn(roll.pieces[0]))
    rolls, kept = [], count(1)
    for number, roll in enumerate(sorted_rolls, start=1):
        rolls.append(replace(roll, mark=f"L{number}", offcut=f"O{next(kept)}" if roll.offcut else ""))
    return replace(cut_list, rolls=tuple(rolls))


def _without(profile: Profile, rolls: Iterable[CutRoll]) -> Profile:
    """Take the offcuts that are used up out of stock."""
    used = Counter((roll.length_m, roll.offcut) for roll in rolls if roll.offcut is not None)
    if not used:
        return profile
    left = ((offcut, offcut.quantity - used[offcut.length_m, offcut.mark]) for offcut in profile.offcuts)
    return replace(profile, offcuts=tuple(replace(offcut, quantity=number) for offcut, number in left if number > 0))


def _finding(code: str, severity: Severity, stretch: Stretch, message: str) -> Finding:
    run = stretch.run
    place = place_along(run.points_m.tolist(), [run.length_m / 2])[0]
    return Finding(code=code, severity=severity, message=message, at_m=place, sources=run.sources[:1])


def _roll(cut: CutRoll, mark: str, profile: str, pieces: Mapping[int, Sequence[Piece]], rules: Rules) -> Roll:
    """Give a roll its pieces, and tell what its cuts take and what is left."""
    chosen = tuple(pieces[at][place] for at, place in cut.parts)
    used_m, trim_m = sum(piece.length_m for piece in chosen), rules.cutting.trim_m
    ends_m = rules.cutting.roll_trim_m if cut.offcut is None else 0.0
    left_m = cut.length_m - ends_m - used_m - trim_m * len(chosen)
    left_m = left_m if left_m > SLACK_M else 0.0
    return Roll(
        mark=mark,
        profile=profile,
        length_m=cut.length_m,
        pieces=chosen,
        offcut_m=left_m,
        trimmed_m=max(0.0, cut.length_m - used_m - left_m),
        stock=cut.offcut,
        offcut="O" if left_m >= rules.cutting.keep_from_m else "",
    )


def _orders(rolls: Sequence[Roll], rules: Rules) -> Iterator[RollOrder]:
    bought: dict[tuple[str, float], list[Roll]] = {}
    for roll in rolls:
        if roll.stock is None:
            bought.setdefault((roll.profile, roll.length_m), []).append(roll)
    for (profile, length_m), same in sorted(bought.items()):
        stock = rules.profiles[profile]
        price = next(entry.price for entry in stock.rolls if entry.length_m == length_m)
        alone = len(stock.rolls) == 1 and not stock.offcuts
        pieces_m = sum(piece.length_m for roll in same for piece in roll.pieces)
        yield RollOrder(
            profile=profile,
            length_m=length_m,
            quantity=len(same),
            cost=None if price is None else len(same) * price,
            pieces_m=pieces_m,
            least_quantity=ceil((pieces_m - SLACK_M) / length_m) if alone else 0,
        )


def _rated(key: tuple[str, str], plan: LotPlan) -> RollPlan:
    pieces_m = sum(map(sum, plan.lengths_m.values()))
    return RollPlan(
        profile=key[0],
        lot=key[1],
        cost=plan.cost,
        least_cost=plan.least_cost,
        priced=plan.priced,
        method=plan.method,
        splices=plan.splices,
        pieces_m=pieces_m,
        left_m=sum(roll.length_m for roll in plan.rolls) - pieces_m,
    )


def _name_pieces(layout: Layout, lengths: Sequence[tuple[float, ...]]) -> dict[int, list[Piece]]:
    """Mark all pieces of the job in the order of its runs."""
    marks = count(1)
    return {
        at: [
            Piece(
                mark=f"P{next(marks)}",
                run=stretch.run.mark,
                number=number,
                of=len(pieces),
                length_m=length,
                ends=(
                    _end(layout, stretch.run.start) if number == 1 else "square",
                    _end(layout, stretch.run.end) if number == len(pieces) else "square",
                ),
            )
            for number, length in enumerate(pieces, start=1)
        ]
        for at, (stretch, pieces) in enumerate(zip(layout.stretches, lengths, strict=True))
        if pieces
    }


def _end(layout: Layout, node: str) -> str:
    """Tell how strip is cut at a node: mitred where a seam is made in place."""
    at = layout.node_at[node]
    return "mitred" if layout.seamed[at] and layout.roles[at] is Role.WELDED else "square"
