"""Rulebook: the tables of a rules file, each value checked and brought to metres, minutes and kilograms."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache, partial
from types import MappingProxyType
from typing import Annotated, Any, TypeAlias

from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    TypeAdapter,
    ValidationError,
    with_config,
)
from splicewright.extract.unit import LengthUnit, parse_length

from .basis import shipped
from .profile import Iron
from .quantity import parse_duration, parse_mass_per_length
from .rulefile import Layers, problems_of, refusal, shown

__all__ = [
    "CrewRules",
    "Criterion",
    "DrawingRules",
    "FittingRules",
    "IronRules",
    "LineEntry",
    "MaterialRules",
    "Policy",
    "PriceRules",
    "ProfileEntry",
    "RollEntry",
    "Rulebook",
    "SpliceRules",
    "Weld",
    "read_rulebook",
]


class Policy(StrEnum):
    """Who makes intersections and changes of direction."""

    FACTORY = "factory"
    SITE_SHOP = "site shop"
    FIELD = "field"


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


_MOST = 1e6
"""Metres, minutes or kilograms per metre beyond this are slips of the pen."""


def _quantity(value: object, *, parse: Callable[[str], float], example: str, zero: bool) -> float:
    if not isinstance(value, str):
        raise ValueError(f"must be a text with a unit, such as {example!r}, not {shown(value)}")  # noqa: TRY004
    try:
        number = parse(value)
    except ArithmeticError:
        raise ValueError(f"{shown(value)} is no usable number") from None
    if number > _MOST:
        raise ValueError(f"{shown(value)} is more than any job needs; check the unit")
    if number == 0 and not zero:
        raise ValueError(f"must be more than 0, not {shown(value)}")
    return number


_length = partial(_quantity, parse=parse_length, example="9 in")
_duration = partial(_quantity, parse=parse_duration, example="30 min")
_mass = partial(_quantity, parse=parse_mass_per_length, example="1.8 lb/ft")

_Length: TypeAlias = Annotated[float, BeforeValidator(partial(_length, zero=False))]
_LengthOrZero: TypeAlias = Annotated[float, BeforeValidator(partial(_length, zero=True))]
_Duration: TypeAlias = Annotated[float, BeforeValidator(partial(_duration, zero=False))]
_DurationOrZero: TypeAlias = Annotated[float, BeforeValidator(partial(_duration, zero=True))]
_Mass: TypeAlias = Annotated[float, BeforeValidator(partial(_mass, zero=False))]
_Money: TypeAlias = Annotated[float, Strict(), Field(ge=0, allow_inf_nan=False)]
_Share: TypeAlias = Annotated[float, Strict(), Field(ge=0, le=1, allow_inf_nan=False)]
_Text: TypeAlias = Annotated[str, Strict(), Field(min_length=1)]
_Flag: TypeAlias = Annotated[bool, Strict()]
_Count: TypeAlias = Annotated[int, Strict(), Field(ge=1, le=99)]
_People: TypeAlias = Annotated[int, Strict(), Field(ge=2, le=3)]

_UNIT_ENDINGS = ("_kg_per_m", "_min", "_m")


def _field_name(name: str) -> str:
    """Drop the unit from an attribute's name: in the file the unit stands beside the number."""
    return next((name.removesuffix(end) for end in _UNIT_ENDINGS if name.endswith(end)), name)


_TABLE = ConfigDict(extra="forbid", alias_generator=_field_name)


@with_config(_TABLE)
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
    """

    tolerance_m: _Length
    reach_m: _Length
    rise_m: _Length
    bend_limit_deg: Annotated[float, Strict(), Field(ge=0, le=45, allow_inf_nan=False)]
    profile: _Text
    unit: LengthUnit | None = None


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialRules:
    """What the strip is made of.

    Attributes
    ----------
    specific_gravity : float
        Density relative to water, 0.5 to 3.
    """

    specific_gravity: Annotated[float, Strict(), Field(ge=0.5, le=3, allow_inf_nan=False)]


@with_config(_TABLE)
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
        Longest side of an assembly that can be delivered [m], > `leg_m`.
    """

    policy: Policy
    leg_m: _Length
    through_whole: _Flag
    largest_m: _Length


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class SpliceRules:
    """What splices take.

    Attributes
    ----------
    least_piece_m : float
        Shortest piece that is welded in [m], > 0, no more than the shortest roll.
    melt_m : float
        Length that one weld melts away, both ends together [m], >= 0.
    """

    least_piece_m: _Length
    melt_m: _LengthOrZero


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class CrewRules:
    """How a welding day goes.

    Attributes
    ----------
    crews : int
        Crews that weld at the same time, >= 1.
    people, people_large : int
        People in a crew, and in one for profiles that are large or not symmetric, 2 or 3.
    large_from_m : float
        Profiles at least this wide need the larger crew [m].
    shift_min, warm_up_min, sample_weld_min, cool_down_min : float
        Working time of a day, and what it takes besides splices [min].
    cool_down_in_shift : bool
        Whether the cool-down must end within the shift.
    width_m : float
        Profile width for which `minutes` hold [m], > 0.
    width_share : float
        Share of the minutes that grows in proportion to the width, 0 to 1.
    minutes : Mapping of Weld to float
        Time for a butt, or for each mitred seam at a node of that kind [min].
    """

    crews: _Count
    people: _People
    people_large: _People
    large_from_m: _Length
    shift_min: _Duration
    warm_up_min: _DurationOrZero
    sample_weld_min: _DurationOrZero
    cool_down_min: _DurationOrZero
    cool_down_in_shift: _Flag
    width_m: _Length
    width_share: _Share
    minutes: Annotated[Mapping[Weld, _Duration], AfterValidator(MappingProxyType)]

    @property
    def welding_min(self) -> float:
        """Time of a day that is left for splices [min]."""
        evening = self.cool_down_min if self.cool_down_in_shift else 0.0
        return self.shift_min - self.warm_up_min - self.sample_weld_min - evening

    def splice_min(self, weld: Weld, *, width_m: float) -> float:
        """Return the time for one butt or one mitred seam.

        Part of the work (fetching, aligning, holding) takes as long for any strip; the rest (cutting, melting,
        trimming) grows with the width: ``minutes * (1 - width_share + width_share * width / rules' width)``.

        Parameters
        ----------
        weld : Weld
            What is welded.
        width_m : float
            Width of the profile, the wider where two meet [m], > 0.

        Returns
        -------
        float
            Time on site [min].
        """
        return self.minutes[weld] * (1 - self.width_share + self.width_share * width_m / self.width_m)


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class IronRules:
    """The welding iron and its handling.

    Attributes
    ----------
    large_from_m : float
        Profiles at least this wide need the large iron [m].
    temperature, current, scrap_test : str
        Surface temperature, what one iron draws, and the time in which a scrap melts, as texts.
    lead_m : float
        Longest extension lead [m].
    bead_m : float
        Least bead before the ends are pressed together [m].
    """

    large_from_m: _Length
    temperature: _Text
    current: _Text
    lead_m: _Length
    bead_m: _Length
    scrap_test: _Text


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class PriceRules:
    """What things cost; None where not given.

    Attributes
    ----------
    currency : str or None
        Currency of all prices.
    field_splice, factory_splice, crew_hour : float or None
        Price of one splice (beyond crew time) and of one crew hour, >= 0.
    """

    currency: Annotated[str, Strict(), Field(min_length=1, max_length=12)] | None = None
    field_splice: _Money | None = None
    factory_splice: _Money | None = None
    crew_hour: _Money | None = None


@with_config(_TABLE)
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

    text: _Text
    limit: _Text
    source: _Text = "rules file"


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class RollEntry:
    """One roll length as the rules file has it; attributes as in `StockRoll`."""

    length_m: _Length
    price: _Money | None = None


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class ProfileEntry:
    """One profile as the rules file has it; attributes as in `Profile`, None where the rules must decide."""

    width_m: _Length
    thickness_m: _Length
    rolls: Annotated[tuple[RollEntry, ...], Field(min_length=1)]
    symmetric: _Flag
    centre_bulb: _Flag
    source: _Text | None = None
    mass_kg_per_m: _Mass | None = None
    people: _People | None = None
    iron: Iron | None = None
    least_bend_radius_flat_m: _Length | None = None
    least_bend_radius_vertical_m: _Length | None = None


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class LineEntry:
    """What lines carry, as the rules file has it; attributes as in `Carrier`."""

    match: _Text
    profile: _Text | None = None
    joint: Joint | None = None


@with_config(_TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class Rulebook:
    """All tables of a rules file."""

    drawing: DrawingRules
    material: MaterialRules
    profiles: dict[str, ProfileEntry]
    fittings: FittingRules
    splices: SpliceRules
    crew: CrewRules
    iron: IronRules
    prices: PriceRules = field(default_factory=PriceRules)
    lines: tuple[LineEntry, ...] = ()
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
