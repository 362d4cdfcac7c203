"""Saw sheet: every setting of the saw once, with all the cuts that are made with it."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import cos, radians, tan

from .rules import Rules
from .seam import Cut

__all__ = ["SawSetup", "blade_text", "list_setups"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawSetup:
    """One setting of the saw, and what is cut with it.

    Attributes
    ----------
    number : int
        1, 2…, in the order in which they are set.
    miter_deg, bevel_deg : float
        Setting in steps of the saw [degrees], signed as in `Cut`.
    beyond : str
        ``"miter"``, ``"bevel"`` or ``"miter and bevel"`` where it is beyond the saw's range; "" where it is not.
    error_m : float
        Largest distance at the edge of a strip between the cut as it is set and as it should be [m].
    cuts : tuple of str
        Marks of the cuts.
    profiles : tuple of str
        Profiles that are cut, sorted.
    quantity : int
        Number of cuts in all fittings.
    """

    number: int
    miter_deg: float
    bevel_deg: float
    beyond: str
    error_m: float
    cuts: tuple[str, ...]
    profiles: tuple[str, ...]
    quantity: int


def list_setups(cuts: Iterable[Cut], rules: Rules) -> list[SawSetup]:
    """Group cuts by the setting of the saw, so that it is set once for all that are alike.

    Parameters
    ----------
    cuts : iterable of Cut
        Cuts whose lay is not known are left out: nobody can set a saw for them.
    rules : Rules
        Step and range of the saw, widths of the profiles.

    Returns
    -------
    list of SawSetup
        By size of the miter, then of the bevel; those beyond the saw's range last.
    """
    groups: dict[tuple[float, float], list[Cut]] = {}
    step = rules.saw.step_deg
    for cut in cuts:
        if cut.miter_deg is not None and cut.bevel_deg is not None:
            setting = (_stepped(cut.miter_deg, step), _stepped(cut.bevel_deg, step))
            groups.setdefault(setting, []).append(cut)
    ranked = sorted(groups, key=lambda s: (bool(_beyond(s, rules)), abs(s[0]), abs(s[1]), -s[0], -s[1]))
    setups = []
    for number, setting in enumerate(ranked, start=1):
        held = groups[setting]
        setups.append(
            SawSetup(
                number=number,
                miter_deg=setting[0],
                bevel_deg=setting[1],
                beyond=_beyond(setting, rules),
                error_m=max(_error_m(cut, setting, rules) for cut in held),
                cuts=tuple(cut.mark for cut in held),
                profiles=tuple(sorted({cut.profile for cut in held})),
                quantity=sum(cut.quantity for cut in held),
            )
        )
    return setups


def blade_text(miter_deg: float, bevel_deg: float, decimals: int = 1) -> str:
    """Write a setting as it is read off the saw.

    Parameters
    ----------
    miter_deg, bevel_deg : float
        Setting, signed as in `Cut` [degrees].
    decimals : int
        Decimals of the angles.

    Examples
    --------
    >>> blade_text(45.0, 0.0)
    'right 45.0°, upright'
    >>> blade_text(-35.5, 30.0)
    'left 35.5°, tilted left 30.0°'
    """
    miter, bevel = round(miter_deg, decimals), round(bevel_deg, decimals)
    swing = "straight" if miter == 0 else f"{'right' if miter > 0 else 'left'} {abs(miter):.{decimals}f}°"
    tilt = "upright" if bevel == 0 else f"tilted {'left' if bevel > 0 else 'right'} {abs(bevel):.{decimals}f}°"
    return f"{swing}, {tilt}"


def _stepped(angle_deg: float, step_deg: float) -> float:
    """Round an angle to the saw's step; 90 degrees, where no cut is, is never reached."""
    steps = round(abs(angle_deg) / step_deg + 1e-9)
    while steps * step_deg >= 90 - 1e-9:
        steps -= 1
    return round(steps * step_deg, 6) * (-1 if angle_deg < 0 and steps else 1)


def _beyond(setting: tuple[float, float], rules: Rules) -> str:
    saw = rules.saw
    limits = ((abs(setting[0]) > saw.miter_limit_deg, "miter"), (abs(setting[1]) > saw.bevel_limit_deg, "bevel"))
    return " and ".join(word for over, word in limits if over)


def _error_m(cut: Cut, setting: tuple[float, float], rules: Rules) -> float:
    """Return how far the cut as set lies from the cut as it should be, at the corner of the section furthest off."""
    held = rules.profiles[cut.profile]
    wanted = _slopes(cut.miter_deg or 0.0, cut.bevel_deg or 0.0)
    got = _slopes(*setting)
    over, through = (abs(a - b) for a, b in zip(wanted, got, strict=True))
    return over * held.width_m / 2 + through * held.thickness_m / 2


def _slopes(miter_deg: float, bevel_deg: float) -> tuple[float, float]:
    """Return how far a cut runs along the strip for each metre across it and through it."""
    return tan(radians(miter_deg)), tan(radians(bevel_deg)) / cos(radians(miter_deg))
