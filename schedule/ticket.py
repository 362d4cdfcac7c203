"""Ticket: what the shop needs to make one type of fitting: its form in space, its pieces, cuts and settings."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from splicewright.extract.line import Vector

from .assembly import Assembly, Junction, strand_letters
from .bend import carry
from .fitting import Fitting
from .plan import Schedule
from .point import slopes_of
from .profile import Profile
from .saw import Piece, piece_letter
from .saw_sheet import SawSetup
from .seam import Cut, Strip
from .shopwork import ShopWork
from .stretch import Use, place_along
from .vector import cross, dot, minus, plus, times, unit

__all__ = ["Label", "Ribbon", "Ticket", "tickets_of"]


class Label(NamedTuple):
    """A length to write beside a place of the fitting.

    Attributes
    ----------
    at_m : Vector
        The place [m].
    heading : Vector
        Unit vector out of the fitting.
    length_m : float
        The length [m].
    """

    at_m: Vector
    heading: Vector
    length_m: float


class Ribbon(NamedTuple):
    """The strip of one arm, or of half a run inside the fitting.

    Attributes
    ----------
    letter : str
        Letter of its piece.
    outline : tuple of Vector
        Places round it, in order [m].
    edges : tuple of tuple of Vector
        Those of its borders that are edges or square ends of the strip.
    seams : tuple of tuple of Vector
        Those that are seams.
    centre : tuple of Vector
        Its centreline.
    normal : Vector or None
        Unit vector square to it at the node; None where the lay is not known.
    bulb : bool
        Whether its centreline is a bulb.
    """

    letter: str
    outline: tuple[Vector, ...]
    edges: tuple[tuple[Vector, ...], ...]
    seams: tuple[tuple[Vector, ...], ...]
    centre: tuple[Vector, ...]
    normal: Vector | None
    bulb: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ticket:
    """What the shop needs to make one type of fitting.

    Attributes
    ----------
    fitting : Fitting
    work : ShopWork
    pieces : tuple of Piece
    cuts : tuple of Cut
    setting_of : Mapping of str to SawSetup
        Setting of the saw for every cut whose lay is known, by mark.
    profiles : Mapping of str to Profile
        Profiles it is made of.
    ribbons : tuple of Ribbon
        Its form in space.
    labels : tuple of Label
        Lengths of its free legs, at their square ends.
    spans : tuple of Label
        Lengths of the runs inside, at their middles.
    turns : tuple of (str, str, float)
        Letters of the pieces on each seam, and the angle between them [degrees].
    normal : Vector or None
        Unit vector square to it, if it is flat, toward whoever looks at it.
    """

    fitting: Fitting
    work: ShopWork
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    setting_of: Mapping[str, SawSetup]
    profiles: Mapping[str, Profile]
    ribbons: tuple[Ribbon, ...]
    labels: tuple[Label, ...]
    spans: tuple[Label, ...]
    turns: tuple[tuple[str, str, float], ...]
    normal: Vector | None


def tickets_of(schedule: Schedule) -> Iterator[Ticket]:
    """Gather the tickets of a schedule, in the order of its fittings.

    Parameters
    ----------
    schedule : Schedule

    Yields
    ------
    Ticket
    """
    pieces: dict[str, list[Piece]] = {}
    for piece in schedule.pieces:
        pieces.setdefault(piece.fitting, []).append(piece)
    cuts: dict[str, list[Cut]] = {}
    for cut in schedule.cuts:
        cuts.setdefault(cut.fitting, []).append(cut)
    setting_of = {mark: setup for setup in schedule.setups for mark in setup.cuts}
    profiles = schedule.rules.profiles
    for fitting, kind, work in zip(schedule.fittings, schedule.types, schedule.works, strict=True):
        assembly, held = kind.copies[0], cuts.get(fitting.mark, [])
        ribbons = tuple(_ribbons(assembly, profiles))
        yield Ticket(
            fitting=fitting,
            work=work,
            pieces=tuple(pieces.get(fitting.mark, ())),
            cuts=tuple(held),
            setting_of={cut.mark: setting_of[cut.mark] for cut in held if cut.mark in setting_of},
            profiles={name: profiles[name] for name in fitting.profiles},
            ribbons=ribbons,
            labels=tuple(_labels(assembly)),
            spans=tuple(_spans(assembly)),
            turns=_turns(held),
            normal=_normal(ribbons),
        )


def _turns(cuts: Sequence[Cut]) -> tuple[tuple[str, str, float], ...]:
    """List every mitred seam once."""
    pairs = ((min(cut.piece, cut.meets), max(cut.piece, cut.meets), round(cut.turn_deg, 1)) for cut in cuts)
    return tuple(dict.fromkeys(pairs))


def _normal(ribbons: Sequence[Ribbon]) -> Vector | None:
    normals = [ribbon.normal for ribbon in ribbons]
    first = normals[0] if normals else None
    if first is None or any(other is None or abs(dot(first, other)) < 0.995 for other in normals):
        return None
    up = next((value for value in (first[2], -first[1], first[0]) if abs(value) > 1e-6), 1.0)
    return first if up > 0 else times(first, -1.0)


def _labels(assembly: Assembly) -> Iterator[Label]:
    for junction, arm in assembly.legs():
        points = _way(junction, arm)[0]
        heading = unit(minus(points[-1], points[-2])) or junction.strips[arm].heading
        yield Label(points[-1], heading, junction.made_m(arm))


def _spans(assembly: Assembly) -> Iterator[Label]:
    for stretch in assembly.inner():
        points = stretch.run.points_m.tolist()
        middle = place_along(points, [stretch.run.length_m / 2])[0]
        a, b = points[0], points[-1]
        yield Label(middle, unit((b[0] - a[0], b[1] - a[1], b[2] - a[2])) or (1.0, 0.0, 0.0), stretch.run.length_m)


def _ribbons(assembly: Assembly, profiles: Mapping[str, Profile]) -> Iterator[Ribbon]:
    for junction, numbers in zip(assembly.junctions, strand_letters(assembly), strict=True):
        for arm, strip in enumerate(junction.strips):
            yield _ribbon(junction, arm, piece_letter(numbers[arm]), profiles[strip.profile])


def _ribbon(junction: Junction, arm: int, letter: str, profile: Profile) -> Ribbon:
    strip = junction.strips[arm]
    points, sides = _way(junction, arm)
    if strip.across is None or sides is None:
        return Ribbon(letter, tuple(points), (tuple(points),), (), tuple(points), None, profile.centre_bulb)
    half = profile.width_m / 2
    starts = _starts(junction, arm, half)
    node = junction.node.at_m
    corner = [plus(plus(node, times(strip.heading, x)), times(sides[0], side * half)) for side, x in starts]
    left, right = (
        [place, *_offset(points, sides, strip.heading, side * half, start)]
        for place, (side, start) in zip(corner, starts, strict=True)
    )
    inner = junction.stretches[arm].use is Use.INNER
    end = () if inner else ((left[-1], right[-1]),)
    partners = junction.seams.mitred + junction.seams.square
    seamed = any(arm in pair for pair in partners)
    flat = all(abs(p) < 1e-6 for p, _ in slopes_of(strip, _met(junction, arm)) or ())
    seams = _seam_lines(junction, arm, corner, flat=flat) if seamed else ()
    return Ribbon(
        letter,
        (node, *right, *reversed(left)),
        (tuple(left), tuple(right), *end),
        seams,
        tuple(points),
        unit(cross(strip.heading, strip.across)),
        profile.centre_bulb,
    )


def _met(junction: Junction, arm: int) -> list[Strip]:
    return [junction.strips[k] for k in junction.seams.partners(arm)]


def _starts(junction: Junction, arm: int, half: float) -> list[tuple[int, float]]:
    """Return where both edges of an arm begin, along it from the node, at most where it ends [m]."""
    slopes = slopes_of(junction.strips[arm], _met(junction, arm)) or [(0.0, 0.0)]
    most_m = junction.made_m(arm)
    return [(side, min(most_m, max(p * side * half for p, _ in slopes))) for side in (-1, 1)]


def _seam_lines(
    junction: Junction, arm: int, corners: Sequence[Vector], *, flat: bool
) -> tuple[tuple[Vector, ...], ...]:
    """Return the lines of the seams at one arm, from the node to the edges; between whole pieces there is none."""
    whole = junction.seams.whole or ()
    node = junction.node.at_m
    if flat:
        return () if arm in whole else ((corners[0], corners[1]),)
    slopes = slopes_of(junction.strips[arm], _met(junction, arm)) or []
    partners = junction.seams.partners(arm)
    lines = []
    for corner, side in zip(corners, (-1, 1), strict=True):
        met = max(zip(slopes, partners, strict=True), key=lambda entry: entry[0][0] * side)[1]
        if not (arm in whole and met in whole):
            lines.append((node, corner))
    return tuple(lines)


def _way(junction: Junction, arm: int) -> tuple[list[Vector], list[Vector] | None]:
    """Return the centreline of an arm, its leg or half of its run, and the direction across at each place."""
    stretch, node_arm, strip = junction.stretches[arm], junction.node.arms[arm], junction.strips[arm]
    length_m = junction.made_m(arm)
    points: list[Vector] = [(x, y, z) for x, y, z in stretch.run.points_m.tolist()]
    if len(points) == 2:
        way = [junction.node.at_m, plus(junction.node.at_m, times(strip.heading, length_m))]
        return way, None if strip.across is None else [strip.across, strip.across]
    if not node_arm.at_start:
        points.reverse()
    way, walked = [points[0]], 0.0
    for a, b in pairwise(points):
        step = minus(b, a)
        walked += dot(step, step) ** 0.5
        if walked >= length_m:
            break
        way.append(b)
    way.append(place_along(points, [length_m])[0])
    headings = [unit(minus(b, a)) or strip.heading for a, b in pairwise(way)]
    sides = [side for side in carry(strip.across, headings) if side is not None]
    return way, [*sides, sides[-1]] if sides else None


def _offset(
    points: Sequence[Vector], sides: Sequence[Vector], heading: Vector, offset_m: float, start_m: float
) -> list[Vector]:
    """Return the edge of a strip beyond its cut."""
    node = points[0]
    edge = [plus(place, times(side, offset_m)) for place, side in zip(points, sides, strict=True)][1:]
    return [place for place in edge[:-1] if dot(minus(place, node), heading) > start_m] + edge[-1:]
