"""Saw: the mitred cuts on every piece of every fitting type, with their settings."""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from .assembly import Assembly, Junction, strand_letters
from .fitting import FittingType
from .rules import Rules
from .seam import Cut, SawSetting, Seams, Strip, set_saw
from .vector import angle_deg, cross

__all__ = ["list_cuts", "list_cuts_in_place"]


class _Blade(NamedTuple):
    """One cut on one arm of a node."""

    arm: int
    shape: str
    turn_deg: float
    miter_deg: float | None
    bevel_deg: float | None


def list_cuts(types: Sequence[FittingType], rules: Rules) -> list[Cut]:
    """List the mitred cuts of every fitting type.

    Parameters
    ----------
    types : sequence of FittingType
    rules : Rules
        Bend limit, and which profiles may be turned over.

    Returns
    -------
    list of Cut
        By type, then by piece, the whole through pieces first.
    """
    bench = _Bench(rules)
    return [cut for kind in types for cut in bench.cuts(kind.copies[0], kind.mark, len(kind.copies))]


def list_cuts_in_place(assemblies: Sequence[Assembly], rules: Rules) -> list[Cut]:
    """List the mitred cuts of nodes that are put together where they lie, each under the mark of its node.

    Parameters
    ----------
    assemblies : sequence of Assembly
        Of one node each.
    rules : Rules
        Bend limit, and which profiles may be turned over.

    Returns
    -------
    list of Cut
    """
    bench = _Bench(rules)
    return [cut for assembly in assemblies for cut in bench.cuts(assembly, assembly.junctions[0].node.mark, 1)]


class _Bench:
    """Sets the saw once for all nodes that are cut alike."""

    def __init__(self, rules: Rules) -> None:
        self._limit_deg = rules.drawing.bend_limit_deg
        self._symmetric = {name for name, profile in rules.profiles.items() if profile.symmetric}
        self._known: dict[tuple[tuple[Strip, ...], Seams], list[_Blade]] = {}

    def cuts(self, assembly: Assembly, mark: str, quantity: int) -> Iterator[Cut]:
        """Yield the cuts of one assembly."""
        placed = [
            (pieces[blade.arm], blade)
            for junction, pieces in zip(assembly.junctions, strand_letters(assembly), strict=True)
            for blade in self._blades(junction)
        ]
        placed.sort(key=lambda entry: entry[0])
        for number, (piece, blade) in enumerate(placed, start=1):
            yield Cut(
                mark=f"{mark}-{number}",
                fitting=mark,
                piece=_letter(piece),
                shape=blade.shape,
                turn_deg=blade.turn_deg,
                miter_deg=blade.miter_deg,
                bevel_deg=blade.bevel_deg,
                quantity=quantity,
            )

    def _blades(self, junction: Junction) -> list[_Blade]:
        key = (junction.strips, junction.seams)
        blades = self._known.get(key)
        if blades is None:
            blades = self._known[key] = [
                blade for arm in range(len(junction.strips)) for blade in self._blades_of_arm(arm, junction)
            ]
        return blades

    def _blades_of_arm(self, arm: int, junction: Junction) -> Iterator[_Blade]:
        seams, strips = junction.seams, junction.strips
        partners = [pair[1] if pair[0] == arm else pair[0] for pair in seams.mitred if arm in pair]
        squares = sum(arm in pair for pair in seams.square)
        shape = "notch" if arm in (seams.whole or ()) else "point" if len(partners) + squares > 1 else "end"
        strip = strips[arm]
        settings = [set_saw(strip, strips[other], twist_limit_deg=self._limit_deg) for other in partners]
        for other, setting in zip(partners, self._one_sense(strip, settings), strict=True):
            miter, bevel = setting or (None, None)
            yield _Blade(arm, shape, angle_deg(strip.heading, strips[other].heading), miter, bevel)

    def _one_sense(self, strip: Strip, settings: Sequence[SawSetting | None]) -> list[SawSetting | None]:
        """Choose the sense of *across*: the first cut positive, but for strip that may not be turned over face up."""
        known = [setting for setting in settings if setting]
        turned = bool(known) and (round(known[0].miter_deg, 6), round(known[0].bevel_deg, 6)) < (0.0, 0.0)
        if strip.across and strip.profile not in self._symmetric:
            rise = cross(strip.heading, strip.across)[2]
            turned = rise < 0 if abs(rise) > 0.001 else turned
        return [SawSetting(0.0 - s.miter_deg, 0.0 - s.bevel_deg) if s and turned else s for s in settings]


@cache
def _letter(number: int) -> str:
    """Return A, B… Z, AA, AB… for 0, 1….

    >>> _letter(0), _letter(25), _letter(26), _letter(702)
    ('A', 'Z', 'AA', 'AAA')
    """
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
