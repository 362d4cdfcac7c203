"""Profile: one kind of waterstop strip, as the buyer orders it and the crew welds it."""

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["WATER_KG_PER_M3", "Iron", "Offcut", "Profile", "StockRoll", "estimate_mass"]

WATER_KG_PER_M3 = 1000.0
"""Density that a specific gravity of 1 stands for [kg/m3]."""


class Iron(StrEnum):
    """Size of the welding iron; the whole section must meet its face."""

    LARGE = "large"
    SMALL = "small"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRoll:
    """One roll length that can be bought.

    Attributes
    ----------
    length_m : float
        Length [m], > 0.
    price : float or None
        Price of one roll in the rules' currency, >= 0; None where not given.
    """

    length_m: float
    price: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offcut:
    """Strip left over from earlier jobs.

    Attributes
    ----------
    length_m : float
        Length of one [m], > 0.
    quantity : int
        How many there are, >= 1.
    mark : str
        What is written on it; may be empty.
    """

    length_m: float
    quantity: int = 1
    mark: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """One kind of waterstop strip.

    Attributes
    ----------
    name : str
        Name that lines and rules call it by.
    width_m : float
        Width from edge to edge [m], > 0.
    thickness_m : float
        Thickness of the web [m], > 0, no more than the width.
    mass_kg_per_m : float
        Mass per length [kg/m], > 0.
    mass_estimated : bool
        Whether the mass comes from `estimate_mass` because the rules give none.
    symmetric : bool
        Whether the strip may be turned over.
    centre_bulb : bool
        Whether it has a hollow bulb in the middle.
    people : int
        People needed to weld it, 2 or 3.
    iron : Iron
        Size of the iron.
    rolls : tuple of StockRoll
        Roll lengths in stock, from short to long; never empty.
    offcuts : tuple of Offcut
        Offcuts in stock, from long to short.
    least_bend_radius_flat_m, least_bend_radius_vertical_m : float or None
        Radius down to which the strip bends without a cut, within its plane and over its width [m]; None where not
        known.
    """

    name: str
    width_m: float
    thickness_m: float
    mass_kg_per_m: float
    mass_estimated: bool
    symmetric: bool
    centre_bulb: bool
    people: int
    iron: Iron
    rolls: tuple[StockRoll, ...]
    offcuts: tuple[Offcut, ...] = ()
    least_bend_radius_flat_m: float | None = None
    least_bend_radius_vertical_m: float | None = None


def estimate_mass(*, width_m: float, thickness_m: float, specific_gravity: float) -> float:
    """Estimate the mass per length of a strip as that of a plain rectangle.

    Ribs and bulbs are left out, so the true mass of a ribbed profile is larger.

    Parameters
    ----------
    width_m, thickness_m : float
        Width and thickness [m], > 0.
    specific_gravity : float
        Density relative to water, > 0.

    Returns
    -------
    float
        Mass per length [kg/m].

    Examples
    --------
    >>> round(estimate_mass(width_m=0.1524, thickness_m=0.00635, specific_gravity=1.37), 4)
    1.3258
    """
    return width_m * thickness_m * specific_gravity * WATER_KG_PER_M3
