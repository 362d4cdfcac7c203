"""Profiles and their estimated mass."""

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.schedule.profile import Iron, Profile, StockRoll, estimate_mass

LB_PER_FT = 0.45359237 / 0.3048
SIZES = st.floats(0.001, 1.0)


def test_plain_six_inch_strip_weighs_what_its_section_says():
    """
    A plain 6 x 1/4 in strip at specific gravity 1.37 weighs 0.891 lb/ft.

    Specific gravity: a state-filed project specification 03251, February 2017; the mass is worked out from it.
    """
    mass = estimate_mass(width_m=6 * 0.0254, thickness_m=0.25 * 0.0254, specific_gravity=1.37)

    assert pytest.approx(0.891, abs=0.0005) == mass / LB_PER_FT


def test_estimate_stays_below_the_least_mass_of_a_centre_bulb_profile():
    """
    Leaving ribs and bulb out, the estimate for 6 x 1/4 in is less than the 1.2 lb/ft demanded of a centre-bulb profile.

    Source of the 1.2 lb/ft: a state-filed project specification 03251, February 2017.
    """
    mass = estimate_mass(width_m=6 * 0.0254, thickness_m=0.25 * 0.0254, specific_gravity=1.37)

    assert mass / LB_PER_FT < 1.2


@given(width_m=SIZES, thickness_m=SIZES, factor=st.floats(0.1, 10))
def test_estimated_mass_grows_in_proportion(width_m: float, thickness_m: float, factor: float):
    """Mass is proportional to width, to thickness and to density alike."""
    one = estimate_mass(width_m=width_m, thickness_m=thickness_m, specific_gravity=1.0)

    assert pytest.approx(factor * one) == estimate_mass(
        width_m=factor * width_m, thickness_m=thickness_m, specific_gravity=1.0
    )
    assert pytest.approx(factor * one) == estimate_mass(
        width_m=width_m, thickness_m=thickness_m, specific_gravity=factor
    )


def test_profile_cannot_be_changed():
    """A profile is frozen and compares by value."""
    profile = Profile(
        name="ribbed-9",
        width_m=0.2286,
        thickness_m=0.0095,
        mass_kg_per_m=2.7,
        mass_estimated=False,
        symmetric=True,
        centre_bulb=False,
        people=2,
        iron=Iron.LARGE,
        rolls=(StockRoll(length_m=15.24),),
    )

    with pytest.raises(dataclasses.FrozenInstanceError):
        profile.__setattr__("width_m", 1.0)

    assert profile == dataclasses.replace(profile)
