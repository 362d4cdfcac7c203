"""Doubts: what makes the rules and the drawings look as if they were not meant for each other."""

from collections.abc import Iterator

from splicewright.extract.finding import Finding, Severity

from .profile import Profile
from .rules import Rules
from .stretch import Layout, Stretch

__all__ = ["find_doubts", "same_section"]

_SAME_M = 0.0015  # sections are stated in sixteenths of an inch or millimetres; less apart is rounding


def find_doubts(layout: Layout, rules: Rules) -> Iterator[Finding]:
    """Report a job too small for its strip, and sections drawn in a model that are not those of the rules.

    Parameters
    ----------
    layout : Layout
        All runs.
    rules : Rules
        Profiles and leg.

    Yields
    ------
    Finding
        ``tiny-job``, once, and ``section-differs``, one a profile and drawn section.
    """
    yield from _tiny(layout, rules)
    yield from _sections(layout, rules)


def same_section(width_m: float, thickness_m: float, profile: Profile) -> bool:
    """Tell whether a drawn section is that of a profile, roundings of what is stated aside."""
    return max(abs(width_m - profile.width_m), abs(thickness_m - profile.thickness_m)) <= _SAME_M


def _tiny(layout: Layout, rules: Rules) -> Iterator[Finding]:
    length_m = sum(stretch.run.length_m for stretch in layout.stretches)
    if layout.stretches and length_m < rules.fittings.leg_m:
        yield Finding(
            code="tiny-job",
            severity=Severity.WARNING,
            message=f"All waterstop together is {length_m:.3f} m long, less than one leg of a fitting "
            f"({rules.fittings.leg_m:.3f} m): check the unit of the drawing, and give --drawing-unit if it is wrong.",
            sources=layout.stretches[0].run.sources[:1],
        )


def _sections(layout: Layout, rules: Rules) -> Iterator[Finding]:
    drawn: dict[tuple[str, float, float], list[Stretch]] = {}
    for stretch in layout.stretches:
        width_m, thickness_m = stretch.run.width_m, stretch.run.thickness_m
        profile = rules.profiles[stretch.profile]
        if width_m is None or thickness_m is None:
            continue
        if not same_section(width_m, thickness_m, profile):
            key = (stretch.profile, round(width_m, 4), round(thickness_m, 4))
            drawn.setdefault(key, []).append(stretch)
    for (name, width_m, thickness_m), stretches in sorted(drawn.items(), key=lambda item: item[0]):
        profile, count = rules.profiles[name], len(stretches)
        yield Finding(
            code="section-differs",
            severity=Severity.WARNING,
            message=f"{count} run{'s are' if count > 1 else ' is'} drawn {width_m * 1000:.1f} x "
            f"{thickness_m * 1000:.1f} mm, but planned as {name!r} of {profile.width_m * 1000:.1f} x "
            f"{profile.thickness_m * 1000:.1f} mm: give the right profile in a [[lines]] entry of the rules file.",
            sources=stretches[0].run.sources[:1],
        )
