"""Rulebook: the tables of a rules file, each value checked and brought to metres, minutes and kilograms."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any

from pydantic import AfterValidator, Field, Strict, TypeAdapter, ValidationError, with_config

from splicewright.extract.unit import LengthUnit

from .basis import shipped
from .crewbook import CalendarRules, ChanceRules, PlacingRules, Position, PourEntry, SequenceRules
from .cuttingbook import CuttingRules, OffcutEntry, OrderRules
from .profile import Iron
from .rulefield import (
    TABLE,
    Count,
    Day,
    Duration,
    DurationOrZero,
    Factor,
    Flag,
    Length,
    LengthOrZero,
    Mass,
    Money,
    Patterns,
    People,
    Positive,
    Share,
    Speed,
    Text,
    Whole,
)
from .rulefile import Layers, problems_of, refusal
from .shopbook import AssemblyRules, LegEntry, Policy, PolicyEntry, SawRules, ShopRules
from .viewbook import LevelEntry, RiserEntry, SheetRules, ViewEntry

__all__ = [
    "CrewRules",
    "Criterion",
    "DrawingRules",
    "FittingRules",
    "IronRules",
    "LineEntry",
    "MaterialRules",
    "PriceRules",
    "ProfileEntry",
    "RollEntry",
    "Rulebook",
    "SpliceRules",
    "Weld",
    "read_rulebook",
]


class Joint(StrEnum):
    """Joint kinds, spelt as in `splicewright.extract.line.JointKind`."""

    SLAB = "slab"
    WALL_BASE = "wall-base"
    WALL = "wall"
    BASE_SEAL = "base-seal"


class Weld(StrEnum):
    """What is welded, as far as it decides the time: a butt, or a mitred seam at a node of some kind."""

    BUTT = "butt"
    TRANSITION = "transition"
    CORNER = "corner"
    TEE = "tee"
    WYE = "wye"
    CROSS = "cross"
    OTHER = "other"


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingRules:
    """How drawings are read.

    Attributes
    ----------
    unit : LengthUnit or None
        Unit of drawings that state none.
    tolerance_m : float
        Drawn points closer than this are one point [m], > 0.
    reach_m : float
        A free end closer than this to another line is a near miss [m], >= `tolerance_m`.
    rise_m : float
        Largest height between a slab joint and the wall-base joint that it should rise to [m], > 0.
    bend_limit_deg : float
        The strip bends through turns up to this without a cut [degrees], 0 to 45.
    profile : str
        Profile of lines that carry none.
    revision : str or None
        Revision of the drawings, as their title block states it.
    dated : date or None
        Date of that revision.
    """

    tolerance_m: Length
    reach_m: Length
    rise_m: Length
    bend_limit_deg: Annotated[float, Strict(), Field(ge=0, le=45, allow_inf_nan=False)]
    profile: Text
    unit: LengthUnit | None = None
    revision: Annotated[str, Strict(), Field(min_length=1, max_length=24)] | None = None
    dated: Day | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialRules:
    """What the strip is made of.

    Attributes
    ----------
    specific_gravity : float
        Density relative to water, 0.5 to 3.
    """

    specific_gravity: Annotated[float, Strict(), Field(ge=0.5, le=3, allow_inf_nan=False)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class FittingRules:
    """What the shop makes.

    Attributes
    ----------
    policy : Policy
        Who makes intersections and changes of direction.
    leg_m : float
        Straight leg of a fitting, from the node to its square end [m], > 0.
    through_whole : bool
        Whether the through piece of a tee or cross stays whole.
    largest_m : float
        Longest side of the box around a piece that can be delivered [m], > `leg_m`.
    """

    policy: Policy
    leg_m: Length
    through_whole: Flag
    largest_m: Length


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceRules:
    """What splices take.

    Attributes
    ----------
    least_piece_m : float
        Shortest piece that is welded in [m], > 0, no more than the shortest roll.
    least_to_node_m : float
        Least distance of a field splice from a node; shorter legs are lengthened to it [m], >= 0.
    melt_m : float
        Length that one weld melts away, both ends together [m], >= 0.
    keep_clear_m : float or None
        Distance from a node, along the run, within which no splice inside the run may lie [m], >= 0; None for the leg.
    """

    least_piece_m: Length
    least_to_node_m: LengthOrZero
    melt_m: LengthOrZero
    keep_clear_m: LengthOrZero | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class CrewRules:
    """How a welding day goes.

    Attributes
    ----------
    crews : int or None
        Crews that weld at the same time, >= 1; None for as few as meet the dates of the pours.
    most_crews : int
        Most crews that can be had, >= 1.
    people, people_large : int
        People in a crew, and in one for profiles that are large or not symmetric, 2 or 3.
    large_from_m : float
        Profiles at least this wide need the larger crew [m].
    shift_min, warm_up_min, sample_weld_min, cool_down_min : float
        Working time of a day, and what it takes besides splices [min].
    overlap_min : float
        Part of the warm-up in which the day's splices are already cut and laid out [min], <= `warm_up_min`.
    cool_down_in_shift : bool
        Whether the cool-down must end within the shift.
    evened : bool
        Whether days are evened out, instead of filled one after the other.
    walking_m_per_min, climbing_m_per_min : float
        Speeds at which a crew moves iron and leads from splice to splice, along and up or down [m/min].
    detour : float
        Way on site over the straight distance in plan, >= 1.
    cover_life : int
        Splices that one cover of the iron lasts.
    cover_change_min : float
        Time to change it [min].
    width_m : float
        Profile width for which `minutes` hold [m], > 0.
    width_share : float
        Share of the minutes that grows in proportion to the width, 0 to 1.
    minutes : Mapping of Weld to float
        Time for a butt, or for each mitred seam at a node of that kind [min].
    position : Mapping of Position to float
        What the minutes are multiplied by, by how the splice lies.
    overhead : tuple of str
        Names of the lines that hang overhead, with ``*`` and ``?``.
    """

    most_crews: Count
    people: People
    people_large: People
    large_from_m: Length
    shift_min: Duration
    warm_up_min: DurationOrZero
    sample_weld_min: DurationOrZero
    cool_down_min: DurationOrZero
    overlap_min: DurationOrZero
    cool_down_in_shift: Flag
    evened: Flag
    walking_m_per_min: Speed
    climbing_m_per_min: Speed
    detour: Annotated[Factor, Field(ge=1)]
    cover_life: Annotated[Whole, Field(ge=1)]
    cover_change_min: DurationOrZero
    width_m: Length
    width_share: Share
    minutes: Annotated[Mapping[Weld, Duration], AfterValidator(MappingProxyType)]
    position: Annotated[Mapping[Position, Factor], AfterValidator(MappingProxyType)]
    overhead: Patterns = ()
    crews: Count | None = None

    @property
    def welding_min(self) -> float:
        """Time of a day that is left for splices [min]."""
        evening = self.cool_down_min if self.cool_down_in_shift else 0.0
        return self.shift_min - self.warm_up_min + self.overlap_min - self.sample_weld_min - evening

    def splice_min(self, weld: Weld, *, width_m: float, position: Position = Position.FLOOR) -> float:
        """Return the time for one butt or one mitred seam.

        Part of the work (fetching, aligning, holding) takes as long for any strip; the rest (cutting, melting,
        trimming) grows with the width: ``minutes * (1 - width_share + width_share * width / rules' width)``, times
        the factor of the position.

        Parameters
        ----------
        weld : Weld
            What is welded.
        width_m : float
            Width of the profile, the wider where two meet [m], > 0.
        position : Position
            How it lies to those who weld it.

        Returns
        -------
        float
            Time on site [min].
        """
        wide = 1 - self.width_share + self.width_share * width_m / self.width_m
        return self.minutes[weld] * wide * self.position[position]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class IronRules:
    """The welding iron and its handling.

    Attributes
    ----------
    large_from_m : float
        Profiles at least this wide need the large iron [m].
    temperature, current, scrap_test : str
        Surface temperature, what one iron draws, and the time in which a scrap melts, as texts.
    amperes_large, amperes_small : float
        What one iron draws, by size [A], > 0.
    volts : float
        Voltage on site [V], > 0.
    circuit_amperes : float
        What one circuit is rated for [A], > 0.
    circuit_share : float
        Share of it that may be drawn for hours, > 0 to 1.
    reserve : float
        Share by which the generator exceeds what the irons draw, >= 0.
    lead_m : float
        Longest extension lead [m].
    bead_m : float
        Least bead before the ends are pressed together [m].
    """

    large_from_m: Length
    temperature: Text
    current: Text
    amperes_large: Positive
    amperes_small: Positive
    volts: Positive
    circuit_amperes: Positive
    circuit_share: Annotated[Share, Field(gt=0)]
    reserve: Share
    lead_m: Length
    bead_m: Length
    scrap_test: Text


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRules:
    """What things cost; None where not given.

    Attributes
    ----------
    currency : str or None
        Currency of all prices.
    field_splice, factory_splice, crew_hour : float or None
        Price of one splice (beyond crew time) and of one crew hour, >= 0.
    splice_risk : float or None
        Price put on the risk of one more splice inside a run, >= 0.
    """

    currency: Annotated[str, Strict(), Field(min_length=1, max_length=12)] | None = None
    field_splice: Money | None = None
    factory_splice: Money | None = None
    crew_hour: Money | None = None
    splice_risk: Money | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """One reason to reject a splice.

    Attributes
    ----------
    text : str
        What is looked at.
    limit : str
        From where on the splice is rejected, in words.
    source : str
        Who says so.
    """

    text: Text
    limit: Text
    source: Text = "rules file"


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class RollEntry:
    """One roll length as the rules file has it; attributes as in `StockRoll`."""

    length_m: Length
    price: Money | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileEntry:
    """One profile as the rules file has it; attributes as in `Profile`, None where the rules must decide."""

    width_m: Length
    thickness_m: Length
    rolls: Annotated[tuple[RollEntry, ...], Field(min_length=1)]
    symmetric: Flag
    centre_bulb: Flag
    source: Text | None = None
    mass_kg_per_m: Mass | None = None
    people: People | None = None
    iron: Iron | None = None
    offcuts: tuple[OffcutEntry, ...] = ()
    least_bend_radius_flat_m: Length | None = None
    least_bend_radius_vertical_m: Length | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class LineEntry:
    """What lines carry, as the rules file has it; attributes as in `Carrier`."""

    match: Text
    profile: Text | None = None
    joint: Joint | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class Rulebook:
    """All tables of a rules file."""

    drawing: DrawingRules
    material: MaterialRules
    profiles: dict[str, ProfileEntry]
    fittings: FittingRules
    assemblies: AssemblyRules
    saw: SawRules
    shop: ShopRules
    splices: SpliceRules
    cutting: CuttingRules
    orders: OrderRules
    crew: CrewRules
    iron: IronRules
    sequence: SequenceRules
    calendar: CalendarRules
    chance: ChanceRules
    placing: PlacingRules
    sheet: SheetRules
    prices: PriceRules = field(default_factory=PriceRules)
    pours: tuple[PourEntry, ...] = ()
    lines: tuple[LineEntry, ...] = ()
    legs: tuple[LegEntry, ...] = ()
    policies: tuple[PolicyEntry, ...] = ()
    levels: tuple[LevelEntry, ...] = ()
    views: tuple[ViewEntry, ...] = ()
    risers: tuple[RiserEntry, ...] = ()
    inspection: tuple[Criterion, ...] = ()


def read_rulebook(file: str, layers: Layers) -> tuple[Rulebook, dict[str, Any]]:
    """Lay a job's rules over the defaults and check them.

    Parameters
    ----------
    file : str
        Name of the rules file, for what is wrong with it.
    layers : Layers
        Rules by where they come from.

    Returns
    -------
    Rulebook
        The typed tables.
    dict
        The same as plain tables, values as they were written.

    Raises
    ------
    RulesError
        A field is unknown, missing or makes no sense.
    """
    values = layers.values(shipped().every_profile())
    try:
        return _adapter().validate_python(values), values
    except ValidationError as error:
        details = error.errors(include_url=False)
    raise refusal(file, layers, problems_of(details, shipped()))


@cache
def _adapter() -> TypeAdapter[Rulebook]:
    return TypeAdapter(Rulebook)
