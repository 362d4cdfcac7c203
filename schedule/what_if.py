"""What if: the neighbours of the plan, so that a buyer sees what another choice would cost."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from splicewright.extract.network import JointNetwork

from .profile import Profile, StockRoll
from .roll import CutList, RollOrder, cut_rolls
from .rules import PriceRules, Rules
from .stretch import Layout, Use, lay_out

__all__ = ["WhatIf", "look_around"]

_MOST_RUNS = 800
"""Beyond so many runs the neighbours take longer than the plan itself."""
_MOST_LENGTHS = 1500
"""Different lengths of strip beyond which the neighbours would take longer than the plan itself."""
_SHARE = 5
"""Part of the time budget that each neighbour may take, so that all together take it once more at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """One choice and what it leads to.

    Attributes
    ----------
    choice : str
        What is chosen, in words; the first is the plan itself.
    cost : float
        What rolls and splices inside runs cost; as a length of strip [m] where rolls have no price.
    priced : bool
        Whether the cost is money.
    rolls : int
        New rolls.
    order_m : float
        Their length [m].
    splices : int
        Splices on site.
    left_m : float
        What is left of rolls and offcuts, trims included [m].
    in_fittings_m : float
        Drawn length that fittings cover [m].
    """

    choice: str
    cost: float
    priced: bool
    rolls: int
    order_m: float
    splices: int
    left_m: float
    in_fittings_m: float


def look_around(
    networks: Sequence[JointNetwork],
    layout: Layout,
    cut_list: CutList,
    rules: Rules,
    *,
    splices: int,
    lots: Sequence[str],
) -> list[WhatIf]:
    """Plan the job once more for each neighbouring choice.

    Parameters
    ----------
    networks : sequence of JointNetwork
    layout : Layout
    cut_list : CutList
        The plan.
    rules : Rules
    splices : int
        Splices on site in the plan.
    lots : sequence of str
        As `cut_rolls` takes them.

    Returns
    -------
    list of WhatIf
        The plan first; nothing for a job without strip from rolls, with very many runs or different lengths, or where
        the user has ended the search for a plan.
    """
    lengths = [round(stretch.net_m, 6) for stretch in layout.stretches if stretch.use is Use.STRIP]
    if not cut_list.rolls or cut_list.interrupted or len(lengths) > _MOST_RUNS or len(set(lengths)) > _MOST_LENGTHS:
        return []
    elsewhere = splices - _butts(layout, cut_list)
    rows = [_row("as planned", layout, cut_list, elsewhere)]
    budget_min = rules.cutting.time_budget_min / _SHARE
    quick = replace(rules, cutting=replace(rules.cutting, time_budget_min=budget_min))
    for choice, changed in _choices(quick, cut_list):
        other = layout if changed.fittings is rules.fittings else lay_out(networks, changed)
        neighbour = cut_rolls(other, changed, lots, quick=True)
        if neighbour.interrupted:
            break
        rows.append(_row(choice, other, neighbour, elsewhere))
    return rows


def _choices(rules: Rules, cut_list: CutList) -> Iterator[tuple[str, Rules]]:
    main = _main_lengths(cut_list)
    for words, step in (("longer", 1), ("shorter", -1)):
        stock = {name: _neighbour(rules.profiles[name], length_m, step) for name, length_m in main.items()}
        changed = {name: roll for name, roll in stock.items() if roll is not None}
        if changed:
            yield f"only rolls one length {words}", _with_rolls(rules, changed)
        else:
            factor = 2.0**step
            same = {name: _scaled(rules.profiles[name], length_m, factor) for name, length_m in main.items()}
            least_m = 2 * (rules.splices.least_piece_m + rules.splices.melt_m + rules.cutting.trim_m)
            if all(roll.length_m > least_m for roll in same.values()):
                times = "twice" if step > 0 else "half"
                yield f"rolls {times} as long, at the same price by length", _with_rolls(rules, same)
    yield "splices twice as dear", _with_dearer_splices(rules)
    yield "legs half as long again", replace(rules, fittings=replace(rules.fittings, leg_m=1.5 * rules.fittings.leg_m))
    if rules.cutting.splices_in_runs and not _any_long(cut_list):
        yield "no splices inside runs", replace(rules, cutting=replace(rules.cutting, splices_in_runs=False))


def _main_lengths(cut_list: CutList) -> dict[str, float]:
    """Return the roll length that most strip of each profile is cut from."""
    most: dict[str, RollOrder] = {}
    for order in cut_list.orders:
        if order.profile not in most or order.pieces_m > most[order.profile].pieces_m:
            most[order.profile] = order
    return {name: order.length_m for name, order in most.items()}


def _neighbour(profile: Profile, length_m: float, step: int) -> StockRoll | None:
    lengths = [roll.length_m for roll in profile.rolls]
    at = lengths.index(length_m) + step
    return profile.rolls[at] if 0 <= at < len(lengths) else None


def _scaled(profile: Profile, length_m: float, factor: float) -> StockRoll:
    roll = next(roll for roll in profile.rolls if roll.length_m == length_m)
    return StockRoll(length_m=factor * length_m, price=None if roll.price is None else factor * roll.price)


def _with_rolls(rules: Rules, rolls: Mapping[str, StockRoll]) -> Rules:
    profiles = dict(rules.profiles)
    for name, roll in rolls.items():
        profiles[name] = replace(profiles[name], rolls=(roll,))
    return replace(rules, profiles=MappingProxyType(profiles))


def _with_dearer_splices(rules: Rules) -> Rules:
    prices: PriceRules = rules.prices
    doubled = {
        name: None if (price := getattr(prices, name)) is None else 2 * price
        for name in ("field_splice", "splice_risk", "crew_hour")
    }
    cutting = replace(rules.cutting, splice_worth_m=2 * rules.cutting.splice_worth_m)
    return replace(rules, prices=replace(prices, **doubled), cutting=cutting)


def _any_long(cut_list: CutList) -> bool:
    """Tell whether some run cannot do without a splice."""
    longest_m = max((order.length_m for order in cut_list.orders), default=0.0)
    return any(sum(lengths) > longest_m for lengths in cut_list.lengths_m)


def _butts(layout: Layout, cut_list: CutList) -> int:
    """Count the splices at legs and inside runs."""
    count = 0
    for stretch, lengths in zip(layout.stretches, cut_list.lengths_m, strict=True):
        if stretch.use is Use.STRIP:
            count += sum(leg > 0 for leg in stretch.legs_m) + len(lengths) - 1
        elif stretch.use is Use.MEETING:
            count += 1
    return count


def _row(choice: str, layout: Layout, cut_list: CutList, elsewhere: int) -> WhatIf:
    return WhatIf(
        choice=choice,
        cost=sum(plan.cost for plan in cut_list.plans),
        priced=all(plan.priced for plan in cut_list.plans),
        rolls=sum(order.quantity for order in cut_list.orders),
        order_m=sum(order.quantity * order.length_m for order in cut_list.orders),
        splices=elsewhere + _butts(layout, cut_list),
        left_m=sum(plan.left_m for plan in cut_list.plans),
        in_fittings_m=sum(stretch.run.length_m - stretch.net_m for stretch in layout.stretches),
    )
