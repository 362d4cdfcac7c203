"""Rules: every number that turns a network into a schedule, each with its unit and source or marked assumed."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from splicewright.extract.errors import RulesError
from splicewright.extract.limits import Limits

from .almanac import Almanac
from .basis import BasisRow, RulePath, rows_of, shipped
from .contradiction import contradictions
from .crewbook import CalendarRules, ChanceRules, PlacingRules, Position, SequenceRules, Weekday
from .cuttingbook import CuttingRules, OrderRules
from .pour import Pour, PourPlan, read_members
from .profile import Iron, Offcut, Profile, StockRoll, estimate_mass
from .rulebook import (
    CrewRules,
    Criterion,
    DrawingRules,
    FittingRules,
    IronRules,
    MaterialRules,
    PriceRules,
    ProfileEntry,
    Rulebook,
    SpliceRules,
    Weld,
    read_rulebook,
)
from .rulefile import Layers, nested, read_rulefile, refusal
from .shopbook import AssemblyRules, LegEntry, Policy, PolicyEntry, SawRules, ShopRules
from .viewbook import sheet_book

if TYPE_CHECKING:
    from splicewright.extract.selection import Carrier, Selection
    from splicewright.extract.view import SheetBook

__all__ = [
    "AssemblyRules",
    "CalendarRules",
    "ChanceRules",
    "CrewRules",
    "Criterion",
    "DrawingRules",
    "FittingRules",
    "IronRules",
    "LegEntry",
    "MaterialRules",
    "Note",
    "PlacingRules",
    "Policy",
    "PolicyEntry",
    "Position",
    "PriceRules",
    "Rules",
    "SawRules",
    "SequenceRules",
    "ShopRules",
    "SpliceRules",
    "Weld",
    "load_rules",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One sentence for the crew sheet.

    Attributes
    ----------
    text : str
        The sentence, with the values in force.
    source : str
        Who says so.
    """

    text: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """The rules in force.

    Attributes
    ----------
    drawing, material, fittings, assemblies, saw, shop, splices, cutting, orders, crew, iron, prices
        The tables of the rules file.
    sequence, calendar, chance, placing
        Those of the site.
    pours : PourPlan
        What is poured in which order.
    sheet : SheetBook or None
        Views, levels and risers of flat drawings; None where no view is given.
    profiles : Mapping of str to Profile
        Profiles by name; never empty.
    lines : tuple of Carrier
        Which names carry which profile and joint kind; the first that matches counts.
    legs : tuple of LegEntry
        Legs of their own; the first that fits counts.
    policies : tuple of PolicyEntry
        Policies of their own; the first that fits counts.
    inspection : tuple of Criterion
        When to reject a splice: the published criteria, then the user's own.
    notes : tuple of Note
        What the crew sheet says.
    cautions : tuple of str
        What every output says.
    rows : tuple of BasisRow
        See `basis`.
    """

    drawing: DrawingRules
    material: MaterialRules
    profiles: Mapping[str, Profile]
    lines: "tuple[Carrier, ...]"
    legs: tuple[LegEntry, ...]
    policies: tuple[PolicyEntry, ...]
    fittings: FittingRules
    assemblies: AssemblyRules
    saw: SawRules
    shop: ShopRules
    splices: SpliceRules
    cutting: CuttingRules
    orders: OrderRules
    crew: CrewRules
    iron: IronRules
    prices: PriceRules
    sequence: SequenceRules
    calendar: CalendarRules
    chance: ChanceRules
    placing: PlacingRules
    pours: PourPlan
    sheet: "SheetBook | None"
    inspection: tuple[Criterion, ...]
    notes: tuple[Note, ...]
    cautions: tuple[str, ...]
    rows: tuple[BasisRow, ...] = field(repr=False)

    def basis(self) -> tuple[BasisRow, ...]:
        """Return every rule in force, in the order of the rules file."""
        return self.rows

    def profile_of(self, name: str | None) -> Profile:
        """Return the profile of that name; for no name, or one the rules do not know, that of `drawing.profile`."""
        return self.profiles.get(name or self.drawing.profile, self.profiles[self.drawing.profile])

    def with_section(self, name: str, width_m: float, thickness_m: float) -> "Rules":
        """Return the rules with one more profile: the assumed one with the section that a model draws."""
        if name in self.profiles:
            return self
        base = self.profile_of(None)
        profile = replace(
            base,
            name=name,
            width_m=width_m,
            thickness_m=thickness_m,
            mass_kg_per_m=_mass(width_m, thickness_m, self.material),
            mass_estimated=True,
            people=_people(width_m, self.crew, symmetric=base.symmetric),
            iron=_iron(width_m, self.iron, plain=base.symmetric and not base.centre_bulb),
        )
        rows = _rows_of_section(self.rows, base.name, profile)
        return replace(self, profiles=MappingProxyType({**self.profiles, name: profile}), rows=rows)

    def leg_m(self, kind: str, profile: str) -> float:
        """Return the leg at a node of some kind for strip of some profile, at least a splice's clearance [m]."""
        own = (e.leg_m for e in self.legs if e.kind in {None, kind} and e.profile in {None, profile})
        return max(next(own, self.fittings.leg_m), self.splices.least_to_node_m)

    def policy_of(self, name: str, profile: str) -> Policy:
        """Return the policy for lines of some name (of a layer, a type…) and profile."""
        for entry in self.policies:
            if entry.profile in {None, profile} and fnmatchcase(name.lower(), (entry.match or "*").lower()):
                return entry.policy
        return self.fittings.policy

    def selection(self, patterns: tuple[str, ...] = ()) -> "Selection":
        """Return what to read from drawings: the given patterns, else those of `lines`, else the usual names."""
        from splicewright.extract.selection import Selection  # noqa: PLC0415 (numpy, only where a drawing is read)

        return Selection(patterns=patterns, carriers=self.lines)

    def almanac(self) -> Almanac | None:
        """Return the working days, None where no start is given."""
        calendar = self.calendar
        if calendar.start is None:
            return None
        weekdays = frozenset(list(Weekday).index(day) for day in calendar.weekdays)
        return Almanac(start=calendar.start, weekdays=weekdays, holidays=frozenset(calendar.holidays))

    def limits(self) -> Limits:
        """Return the limits that the network is built with."""
        drawing = self.drawing
        return Limits(
            tolerance_m=drawing.tolerance_m,
            reach_m=drawing.reach_m,
            rise_m=drawing.rise_m,
            bend_limit_deg=drawing.bend_limit_deg,
        )


def load_rules(path: Path | None, *, options: Mapping[str, object] | None = None, pours: Path | None = None) -> Rules:
    """Read a rules file over the shipped defaults.

    Parameters
    ----------
    path : Path or None
        The job's rules file; None for the defaults alone.
    options : Mapping of str to object, optional
        Rules set on the command line by their full path, for example ``{"drawing.tolerance": "8 mm"}``; they win
        over the file.
    pours : Path or None
        CSV that gives runs, layers or entities their pour; see `splicewright.schedule.pour.read_members`.

    Returns
    -------
    Rules
        The rules in force.

    Raises
    ------
    RulesError
        The file cannot be read, or a rule is unknown, missing, contradicts another or makes no sense; one sentence
        that starts with the file's name and the full path to the field.

    Examples
    --------
    >>> load_rules(None).profile_of(None).name
    'assumed-9in'
    """
    rules = shipped()
    file = path.name if path else "rules.toml"
    layers = Layers(defaults=rules.values(), file=read_rulefile(path) if path else {}, options=nested(options or {}))
    book, values = read_rulebook(file, layers)
    if problems := contradictions(book, layers):
        raise refusal(file, layers, problems)
    profiles = {name: _profile(name, entry, book) for name, entry in book.profiles.items()}
    rows = rows_of(values, rules=rules, origin=layers.origin, derived=_derived(profiles, book, values))
    return Rules(
        drawing=book.drawing,
        material=book.material,
        profiles=MappingProxyType(profiles),
        lines=_carriers(book),
        legs=book.legs,
        policies=book.policies,
        fittings=book.fittings,
        assemblies=book.assemblies,
        saw=book.saw,
        shop=book.shop,
        splices=book.splices,
        cutting=book.cutting,
        orders=book.orders,
        crew=book.crew,
        iron=book.iron,
        prices=book.prices,
        sequence=book.sequence,
        calendar=book.calendar,
        chance=book.chance,
        placing=book.placing,
        pours=_pours(book, file, pours),
        sheet=sheet_book(file, book.sheet, book.views, book.risers, book.levels, tolerance_m=book.drawing.tolerance_m),
        inspection=(*(Criterion(**item) for item in rules.lists["inspection"]), *book.inspection),
        notes=tuple(Note(text=_filled(n["text"], rows), source=n["source"]) for n in rules.lists["notes"]),
        cautions=tuple(item["text"] for item in rules.lists["cautions"]),
        rows=rows,
    )


def _profile(name: str, entry: ProfileEntry, book: Rulebook) -> Profile:
    rolls = (StockRoll(length_m=roll.length_m, price=roll.price) for roll in entry.rolls)
    offcuts = (Offcut(length_m=item.length_m, quantity=item.quantity, mark=item.mark or "") for item in entry.offcuts)
    return Profile(
        name=name,
        width_m=entry.width_m,
        thickness_m=entry.thickness_m,
        mass_kg_per_m=entry.mass_kg_per_m or _mass(entry.width_m, entry.thickness_m, book.material),
        mass_estimated=entry.mass_kg_per_m is None,
        symmetric=entry.symmetric,
        centre_bulb=entry.centre_bulb,
        people=entry.people or _people(entry.width_m, book.crew, symmetric=entry.symmetric),
        iron=entry.iron or _iron(entry.width_m, book.iron, plain=entry.symmetric and not entry.centre_bulb),
        rolls=tuple(sorted(rolls, key=lambda roll: roll.length_m)),
        offcuts=tuple(sorted(offcuts, key=lambda offcut: (-offcut.length_m, offcut.mark))),
        least_bend_radius_flat_m=entry.least_bend_radius_flat_m,
        least_bend_radius_vertical_m=entry.least_bend_radius_vertical_m,
    )


def _mass(width_m: float, thickness_m: float, material: MaterialRules) -> float:
    return estimate_mass(width_m=width_m, thickness_m=thickness_m, specific_gravity=material.specific_gravity)


def _people(width_m: float, crew: CrewRules, *, symmetric: bool) -> int:
    return crew.people_large if width_m >= crew.large_from_m or not symmetric else crew.people


def _iron(width_m: float, iron: IronRules, *, plain: bool) -> Iron:
    return Iron.LARGE if width_m >= iron.large_from_m or not plain else Iron.SMALL


def _rows_of_section(rows: tuple[BasisRow, ...], base: str, profile: Profile) -> tuple[BasisRow, ...]:
    """Add what holds for a drawn profile behind the profiles that the basis lists."""
    start, values = f"profiles.{base}.", _derived_of(profile)
    drawn = {"width": f"{profile.width_m * 1000:.1f} mm", "thickness": f"{profile.thickness_m * 1000:.1f} mm"}
    more = [
        replace(row, path=f"profiles.{profile.name}.{row.path[len(start) :]}")
        for row in rows
        if row.path.startswith(start)
    ]
    for i, row in enumerate(more):
        name = row.path.rpartition(".")[2]
        if name in drawn:
            more[i] = replace(row, value=drawn[name], source="as drawn in the model")
        elif name in values:
            more[i] = replace(row, value=values[name])
    last = max(i for i, row in enumerate(rows) if row.path.startswith("profiles."))
    return (*rows[: last + 1], *more, *rows[last + 1 :])


def _pours(book: Rulebook, file: str, table: Path | None) -> PourPlan:
    pours = [
        Pour(name=item.name, day=item.day, match=item.match, x=item.x, y=item.y, level=item.level)
        for item in book.pours
    ]
    if table is None:
        return PourPlan(pours=tuple(pours))
    plan = read_members(table, pours)
    dated = next((pour for pour in plan.pours if pour.day), None)
    if dated and book.calendar.start is None:
        text = f"missing, but pour {dated.name!r} has a day; give the day on which welding starts"
        raise RulesError(f"{file}: calendar.start: {text}")
    return plan


def _derived(
    profiles: Mapping[str, Profile], book: Rulebook, values: Mapping[str, Mapping[str, object]]
) -> dict[RulePath, str]:
    texts: dict[RulePath, str] = {}
    if book.splices.keep_clear_m is None:
        texts["splices", "keep_clear"] = str(values["fittings"]["leg"])
    for name, profile in profiles.items():
        texts |= {("profiles", name, field): text for field, text in _derived_of(profile).items()}
    return texts


def _derived_of(profile: Profile) -> dict[str, str]:
    """Return what the rules decide of a profile where nobody states it."""
    mass = f"about {profile.mass_kg_per_m:.3g} kg/m"
    return {"mass": mass, "people": str(profile.people), "iron": profile.iron.value}


def _carriers(book: Rulebook) -> "tuple[Carrier, ...]":
    if not book.lines:
        return ()
    from splicewright.extract.line import JointKind  # noqa: PLC0415 (numpy, only where lines are named)
    from splicewright.extract.selection import Carrier  # noqa: PLC0415

    return tuple(
        Carrier(match=line.match, profile=line.profile, joint=JointKind(line.joint) if line.joint else None)
        for line in book.lines
    )


def _filled(text: str, rows: tuple[BasisRow, ...]) -> str:
    """Put the values in force where a text names their path in braces."""
    values = {row.path: row.value for row in rows}
    return re.sub(r"\{([^}]+)\}", lambda found: values[found[1]], text)
