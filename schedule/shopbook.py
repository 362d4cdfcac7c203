"""Shopbook: the tables of a rules file that tell what the shop can saw, weld, box and ship."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from pydantic import Field, Strict, with_config

from .rulefield import TABLE, DurationOrZero, Flag, Length, LengthOrZero, Speed, Text, Weight

__all__ = ["AssemblyRules", "LegEntry", "LegKind", "Policy", "PolicyEntry", "SawRules", "ShopRules"]


class Policy(StrEnum):
    """Who makes intersections and changes of direction."""

    FACTORY = "factory"
    SITE_SHOP = "site shop"
    FIELD = "field"


class LegKind(StrEnum):
    """Kinds of node that may have a leg of their own, spelt as in `splicewright.extract.node.NodeKind`."""

    CORNER = "corner"
    TEE = "tee"
    WYE = "wye"
    CROSS = "cross"
    OTHER = "other"


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class AssemblyRules:
    """What may be one piece.

    Attributes
    ----------
    join : bool
        Whether neighbouring nodes are joined on purpose, as far as the limits allow, to save field splices.
    second_side_m, third_side_m : float
        Second and third longest side of the box around a piece that can be delivered [m], > 0; the longest is
        `FittingRules.largest_m`.
    heaviest_kg : float
        Mass of a piece that can be handled [kg], > 0.
    least_between_m : float
        Least length of strip between two nodes of one piece [m], >= 0.
    offset_m : float
        How far ribs and edges may stand out of line on a seam [m], > 0.
    """

    join: Flag
    second_side_m: Length
    third_side_m: Length
    heaviest_kg: Annotated[Weight, Field(alias="heaviest")]  # a text with its unit, unlike plain numbers of kilograms
    least_between_m: LengthOrZero
    offset_m: Length


_Degrees = Annotated[float, Strict(), Field(gt=0, le=90, allow_inf_nan=False)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class SawRules:
    """What the saw can be set to.

    Attributes
    ----------
    step_deg : float
        Step in which it is set [degrees], > 0.
    miter_limit_deg, bevel_limit_deg : float
        Largest miter and bevel, to either side [degrees], > 0 to 90.
    """

    step_deg: Annotated[float, Strict(), Field(gt=0, le=15, allow_inf_nan=False)]
    miter_limit_deg: _Degrees
    bevel_limit_deg: _Degrees


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class ShopRules:
    """What shop work takes.

    Attributes
    ----------
    set_up_min : float
        Time to read a ticket, set the jig and inspect the first copy, once for each type of fitting [min].
    miter_cut_min, square_cut_min : float
        Time for one cut, marking included [min].
    seam_min : float
        Time for one seam besides its welding: fit-up, hold, trim [min].
    welding_m_per_min : float
        Length of seam welded in a minute [m/min], > 0.
    """

    set_up_min: DurationOrZero
    miter_cut_min: DurationOrZero
    square_cut_min: DurationOrZero
    seam_min: DurationOrZero
    welding_m_per_min: Speed


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class LegEntry:
    """A leg of its own for a kind of node, a profile, or both.

    Attributes
    ----------
    leg_m : float
        Straight leg from the node to its square end [m], > 0.
    kind : LegKind or None
        Kind of node; None for all.
    profile : str or None
        Name of the profile; None for all.
    """

    leg_m: Length
    kind: LegKind | None = None
    profile: Text | None = None


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyEntry:
    """A policy of its own for some lines.

    Attributes
    ----------
    policy : Policy
        Who makes intersections and changes of direction of these lines.
    match : str or None
        Names of the lines, with ``*`` and ``?``; None for all.
    profile : str or None
        Name of the profile; None for all.
    """

    policy: Policy
    match: Text | None = None
    profile: Text | None = None
