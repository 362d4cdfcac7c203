"""Cutting book: the tables of a rules file for what is cut from rolls and for what is ordered."""

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, Strict, with_config

from .rulefield import TABLE, Count, Duration, Flag, Length, LengthOrZero, Positive, Text, Whole

__all__ = ["CuttingRules", "OffcutEntry", "OrderRules"]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingRules:
    """How rolls are cut.

    Attributes
    ----------
    splices_in_runs : bool
        Whether runs that a roll could hold may be spliced; otherwise runs longer than a roll are reported.
    trim_m : float
        Length that every cut takes [m], >= 0.
    roll_trim_m : float
        Length that is cut off every roll before its first piece [m], >= 0.
    splice_worth_m : float
        Length of strip that saving one splice inside a run is worth, where no price says so [m], >= 0.
    keep_from_m : float
        What is left of a roll is kept as an offcut from this length on [m], > 0.
    share_between_pours : bool
        Whether what one pour leaves of a roll is stored for the next.
    time_budget_min : float
        Time after which the search for a better plan ends [min], > 0; usual machines need less.
    """

    splices_in_runs: Flag
    trim_m: LengthOrZero
    roll_trim_m: LengthOrZero
    splice_worth_m: LengthOrZero
    keep_from_m: Length
    share_between_pours: Flag
    time_budget_min: Annotated[Duration, Field(le=60)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class OffcutEntry:
    """Offcuts of one length in stock.

    Attributes
    ----------
    length_m : float
        Length of one [m], > 0.
    quantity : int
        How many there are, 1 to 99.
    mark : str or None
        What is written on it.
    """

    length_m: Length
    quantity: Count = 1
    mark: Text | None = None


_Percent = Annotated[float, Strict(), Field(ge=0, le=100, allow_inf_nan=False)]


@with_config(TABLE)
@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRules:
    """What is ordered beside what the plan needs.

    Attributes
    ----------
    spare_strip_percent, spare_fittings_percent : float
        Spare strip and spare fittings, 0 to 100.
    glove_days : int
        Crew days after which every person of a crew takes new gloves, >= 1.
    sample_strip_m : float
        Length of each of the two scraps of a sample weld [m], > 0.
    qualification_splices : int
        Qualification splices for each profile, by whoever makes splices of it, >= 0.
    qualification_strip_m : float
        Length of each of the two scraps of a qualification splice [m], > 0.
    approval_sample_m : float
        Sample of each profile for approval [m], >= 0.
    material_sample_m : float
        Length of one material sample [m], > 0.
    material_sample_every_m : float
        Strip of which one material sample is taken [m], > 0.
    material_samples_least_m : float
        Material samples of one profile in all, at least [m], >= 0.
    package_kg : float
        Mass of one package of fittings [kg], > 0.
    """

    spare_strip_percent: _Percent
    spare_fittings_percent: _Percent
    glove_days: Count
    sample_strip_m: Length
    qualification_splices: Whole
    qualification_strip_m: Length
    approval_sample_m: LengthOrZero
    material_sample_m: Length
    material_sample_every_m: Length
    material_samples_least_m: LengthOrZero
    package_kg: Positive
