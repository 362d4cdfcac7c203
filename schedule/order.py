"""Order: all that is bought or asked of the shop, with spares, consumables and samples."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from .crew import CrewPlan
from .filling import first_fit
from .fitting import Fitting
from .footage import Footage
from .roll import CutList, RollOrder
from .rules import Rules
from .splice import Made, Splice
from .stock import ticks

__all__ = ["OrderLine", "list_orders"]

_SLACK = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One line of the order list.

    Attributes
    ----------
    group : str
        ``"strip"``, ``"fittings"``, ``"consumables"``, ``"samples"`` or ``"packages"``.
    item : str
        What it is, in words.
    profile : str
        Profile, "" where it concerns none or several.
    marks : tuple of str
        Marks of fittings, or of offcuts in stock.
    length_m : float or None
        Length of one [m].
    needed, spare : int
        How many the plan needs, and how many more to order.
    mass_kg : float or None
        Mass of all, spares included [kg].
    cost : float or None
        Price of all, spares included, in the rules' currency; None where the rules give no price.
    note : str
        What the number comes from.
    """

    group: str
    item: str
    profile: str = ""
    marks: tuple[str, ...] = ()
    length_m: float | None = None
    needed: int
    spare: int = 0
    mass_kg: float | None = None
    cost: float | None = None
    note: str = ""

    @property
    def quantity(self) -> int:
        """How many to order."""
        return self.needed + self.spare


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sample:
    """Scraps of one kind that a profile needs."""

    item: str
    number: int
    length_m: float
    note: str


def list_orders(
    cut_list: CutList,
    fittings: Sequence[Fitting],
    splices: Sequence[Splice],
    crew: CrewPlan,
    footage: Sequence[Footage],
    rules: Rules,
) -> list[OrderLine]:
    """List what to order.

    Parameters
    ----------
    cut_list : CutList
    fittings : sequence of Fitting
    splices : sequence of Splice
    crew : CrewPlan
    footage : sequence of Footage
    rules : Rules
        Spares, rates, samples and prices.

    Returns
    -------
    list of OrderLine
        Strip, fittings, consumables, samples, packages.
    """
    samples = {row.profile: list(_samples(row, splices, crew, rules)) for row in footage}
    made = [_fitting(fitting, rules) for fitting in fittings]
    strip = list(_strip(cut_list, samples, rules))
    return [
        *strip,
        *made,
        *_consumables(splices, crew, rules),
        *(_sample(profile, sample, cut_list) for profile, own in samples.items() for sample in own),
        *_packages(strip, made, rules),
    ]


def _strip(cut_list: CutList, samples: Mapping[str, Sequence[_Sample]], rules: Rules) -> Iterator[OrderLine]:
    most: dict[str, RollOrder] = {}
    for order in cut_list.orders:
        if order.profile not in most or order.pieces_m > most[order.profile].pieces_m:
            most[order.profile] = order
    spares = {name: _spares(order, cut_list, samples.get(name, ()), rules) for name, order in most.items()}
    bought = {(order.profile, order.length_m): order.quantity for order in cut_list.orders}
    for name, own in spares.items():
        bought |= {(name, length_m): bought.get((name, length_m), 0) for length_m in own}
    for (name, length_m), needed in sorted(bought.items(), key=lambda item: list(most).index(item[0][0])):
        spare, note = spares[name].get(length_m, (0, ""))
        price = next((roll.price for roll in rules.profiles[name].rolls if roll.length_m == length_m), None)
        yield OrderLine(
            group="strip",
            item="roll",
            profile=name,
            length_m=length_m,
            needed=needed,
            spare=spare,
            mass_kg=(needed + spare) * length_m * rules.profiles[name].mass_kg_per_m,
            cost=None if price is None else price * (needed + spare),
            note=note,
        )
    used = Counter((roll.profile, roll.length_m, roll.stock) for roll in cut_list.rolls if roll.stock is not None)
    for (profile, length_m, mark), number in used.items():
        mass_kg = number * length_m * rules.profiles[profile].mass_kg_per_m
        yield OrderLine(
            group="strip",
            item="offcut in stock",
            profile=profile,
            marks=(mark,) if mark else (),
            length_m=length_m,
            needed=number,
            mass_kg=mass_kg,
            cost=0.0,
            note="taken from stock, not ordered",
        )


def _spares(
    order: RollOrder, cut_list: CutList, samples: Sequence[_Sample], rules: Rules
) -> dict[float, tuple[int, str]]:
    """Return by roll length the spare rolls of a profile, and why.

    A share of what is cut is ordered in rolls of the length that most is cut from. Samples that no offcut and no such
    roll holds come from the rolls that hold them at least cost.
    """
    pieces_m = sum(other.pieces_m for other in cut_list.orders if other.profile == order.profile)
    share = rules.orders.spare_strip_percent / 100
    spare = ceil(share * pieces_m / order.length_m - _SLACK)
    lengths = sorted((ticks(s.length_m) for s in samples for _ in range(s.number)), reverse=True)
    kept = [ticks(roll.offcut_m) for roll in cut_list.rolls if roll.profile == order.profile and roll.offcut]
    left = _not_held(lengths, [*kept, *[ticks(order.length_m)] * spare])
    found = {order.length_m: (spare, f"{rules.orders.spare_strip_percent:g} % spare")} if spare else {}
    if left:
        length_m, extra = _rolls_for_samples(left, order, rules)
        more = f"{extra} for samples"
        if length_m in found:
            found[length_m] = (spare + extra, f"{found[length_m][1]}, {more}")
        else:
            found[length_m] = (extra, more)
    return found


def _rolls_for_samples(lengths: Sequence[int], order: RollOrder, rules: Rules) -> tuple[float, int]:
    """Return the roll length that holds samples at least cost, then at least length, and how many it takes."""
    stock = [roll for roll in rules.profiles[order.profile].rolls if ticks(roll.length_m) >= lengths[0]]
    if not stock:
        return order.length_m, len(first_fit(lengths, ticks(order.length_m)))
    rolls = [(roll, len(first_fit(lengths, ticks(roll.length_m)))) for roll in stock]
    least, number = min(rolls, key=lambda item: ((item[0].price or 0) * item[1], item[0].length_m * item[1]))
    return least.length_m, number


def _not_held(lengths: Sequence[int], rooms: Sequence[int]) -> list[int]:
    """Put lengths, longest first, where they fit; return those that fit nowhere."""
    left = list(rooms)
    result = []
    for length in lengths:
        at = next((i for i, room in enumerate(left) if room >= length), None)
        if at is None:
            result.append(length)
        else:
            left[at] -= length
    return result


def _fitting(fitting: Fitting, rules: Rules) -> OrderLine:
    spare = ceil(rules.orders.spare_fittings_percent / 100 * fitting.quantity - _SLACK)
    quantity, price = fitting.quantity + spare, rules.prices.factory_splice
    return OrderLine(
        group="fittings",
        item=fitting.contents or fitting.kind,
        profile=", ".join(fitting.profiles),
        marks=(fitting.mark,),
        needed=fitting.quantity,
        spare=spare,
        mass_kg=quantity * fitting.mass_kg,
        cost=None if price is None else quantity * fitting.factory_seams * price,
        note="" if price is None else "seams at the price of a factory splice, strip not included",
    )


def _consumables(splices: Sequence[Splice], crew: CrewPlan, rules: Rules) -> Iterator[OrderLine]:
    field = sum(splice.made is Made.FIELD for splice in splices)
    if not field:
        return
    covers = max(crew.crews, ceil(field / rules.crew.cover_life))
    note = f"one for {rules.crew.cover_life} splices on site, one a crew at least"
    yield OrderLine(group="consumables", item="non-stick cover of the iron", needed=covers, note=note)
    days = Counter(day.crew for day in crew.days)
    pairs = sum(crew.people * ceil(worked / rules.orders.glove_days) for worked in days.values())
    note = f"{crew.people} people a crew, new ones after {rules.orders.glove_days} days"
    yield OrderLine(group="consumables", item="pair of heat-proof gloves", needed=pairs, note=note)


def _samples(row: Footage, splices: Sequence[Splice], crew: CrewPlan, rules: Rules) -> Iterator[_Sample]:
    """Yield the samples of one profile."""
    orders = rules.orders
    made = {splice.made for splice in splices if splice.profile == row.profile}
    for maker, words in ((Made.FACTORY, "the shop"), (Made.FIELD, "the crew")):
        if maker in made and orders.qualification_splices:
            item = f"scrap for the qualification splices of {words}"
            note = f"{orders.qualification_splices} splices, two scraps each (UFGS-03151A 2.2.2)"
            yield _Sample(
                item=item, number=2 * orders.qualification_splices, length_m=orders.qualification_strip_m, note=note
            )
    if orders.approval_sample_m:
        note = "one of each profile (Reclamation 03156 1.04 C)"
        yield _Sample(item="sample for approval", number=1, length_m=orders.approval_sample_m, note=note)
    strip_m = row.in_pieces_m + row.in_fittings_m
    every, least = (
        ceil(strip_m / orders.material_sample_every_m - _SLACK),
        ceil(orders.material_samples_least_m / orders.material_sample_m - _SLACK),
    )
    if number := max(every, least):
        note = f"{every} by length of strip, {least} at least (CRD-C 572-74 4.1)"
        yield _Sample(item="material sample", number=number, length_m=orders.material_sample_m, note=note)
    welds = _sample_welds(row.profile, splices, crew)
    if welds:
        note = f"{welds} sample weld{'s' * (welds > 1)}, one a crew and day, two scraps each"
        yield _Sample(item="scrap for sample welds", number=2 * welds, length_m=orders.sample_strip_m, note=note)


def _sample_welds(profile: str, splices: Sequence[Splice], crew: CrewPlan) -> int:
    """Count the days that begin with a splice of a profile: the sample is welded from the same strip."""
    profile_of = {splice.mark: splice.profile for splice in splices if splice.made is Made.FIELD}
    return sum(bool(day.splices) and profile_of[day.splices[0]] == profile for day in crew.days)


def _sample(profile: str, sample: _Sample, cut_list: CutList) -> OrderLine:
    kept = any(roll.offcut for roll in cut_list.rolls if roll.profile == profile)
    where = "; cut from offcuts as far as they reach" if kept else ""
    return OrderLine(
        group="samples",
        item=sample.item,
        profile=profile,
        length_m=sample.length_m,
        needed=sample.number,
        note=sample.note + where,
    )


def _packages(strip: Iterable[OrderLine], made: Iterable[OrderLine], rules: Rules) -> Iterator[OrderLine]:
    rolls = [line for line in strip if line.item == "roll"]
    fittings = list(made)
    if rolls:
        yield OrderLine(
            group="packages",
            item="rolls, each a package",
            needed=sum(line.quantity for line in rolls),
            mass_kg=sum(line.mass_kg or 0.0 for line in rolls),
        )
    if fittings:
        mass_kg = sum(line.mass_kg or 0.0 for line in fittings)
        yield OrderLine(
            group="packages",
            item="packages of fittings",
            needed=ceil(mass_kg / rules.orders.package_kg - _SLACK),
            mass_kg=mass_kg,
            note=f"up to {rules.orders.package_kg:g} kg each",
        )
