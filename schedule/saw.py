"""Saw: the pieces of every fitting type, with the mitred cuts on each and their settings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product
from typing import NamedTuple

from .assembly import Assembly, Junction, strand_letters
from .fitting import FittingType
from .point import CutFace, Section, face_of
from .rules import Rules
from .seam import Cut, Seams, Strip, set_saw
from .strand import Strand, Visit, strands_of
from .stretch import Use
from .vector import angle_deg, cross

__all__ = ["Piece", "SawList", "list_cuts", "list_cuts_in_place", "piece_letter"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One piece of strip of a fitting type.

    Attributes
    ----------
    fitting : str
        Mark of the fitting type.
    letter : str
        Letter of the piece within the fitting, ``"A"``, ``"B"``…
    profile : str
        Its profile.
    quantity : int
        Number of such pieces in all fittings of the type, >= 1.
    length_m : float
        Length along the centreline, from node or square end to node or square end [m].
    long_m : float
        Strip that it takes, from long point to long point [m]; the same as `length_m` where the lay is not known.
    left, right : str
        What its ends are: ``"square"``, ``"mitred"`` or ``"pointed"``.
    curved : bool
        Whether it follows a curve or a bend of the drawing and is cut straight all the same.
    cuts : tuple of str
        Marks of its mitred cuts.
    """

    fitting: str
    letter: str
    profile: str
    quantity: int
    length_m: float
    long_m: float
    left: str
    right: str
    curved: bool
    cuts: tuple[str, ...]


class SawList(NamedTuple):
    """What is cut: pieces and their mitred cuts, by fitting type, then by piece, whole through pieces first."""

    pieces: list[Piece]
    cuts: list[Cut]


class _Blade(NamedTuple):
    """One cut on one arm of a node, in the arm's own frame."""

    other: int
    shape: str
    turn_deg: float
    miter_deg: float | None
    bevel_deg: float | None
    face: CutFace | None


class _Placed(NamedTuple):
    """One cut on a piece, in the frame of the piece; what is not known of it sorts last."""

    end: str
    miter_deg: float
    bevel_deg: float
    at_m: float
    low_m: float
    high_m: float
    across_m: float
    through_m: float
    blade: _Blade
    meets: int

    def key(self) -> tuple[float, ...]:
        """Rank for the choice of the way round in which a piece is laid on the saw."""
        first = {"right": 2.0, "left": 1.0, "inside": 0.0}[self.end]
        angles = (round(self.miter_deg, 4) + 0.0, round(self.bevel_deg, 4) + 0.0)
        return (first, *angles, -round(self.at_m, 5), round(self.through_m, 5), round(self.across_m, 5))

    def swapped(self, length_m: float) -> "_Placed":
        """Return the cut as it stands with the piece turned end for end on the table."""
        end = {"right": "left", "left": "right", "inside": "inside"}[self.end]
        return self._replace(
            end=end,
            bevel_deg=-self.bevel_deg,
            at_m=length_m - self.at_m,
            low_m=length_m - self.high_m,
            high_m=length_m - self.low_m,
            across_m=-self.across_m,
        )

    def turned_over(self) -> "_Placed":
        """Return the cut as it stands with the piece turned over, its left end still to the left."""
        return self._replace(
            miter_deg=-self.miter_deg,
            bevel_deg=-self.bevel_deg,
            across_m=-self.across_m,
            through_m=-self.through_m,
        )


def list_cuts(types: Sequence[FittingType], rules: Rules) -> SawList:
    """List the pieces and mitred cuts of every fitting type.

    A piece is laid on the saw such that as many settings as can be are on its right end and positive: turned end for
    end as one likes, turned over only where its profile is symmetric; other strip lies face up as it is installed.

    Parameters
    ----------
    types : sequence of FittingType
    rules : Rules
        Bend limit, sections, and which profiles may be turned over.

    Returns
    -------
    SawList
    """
    bench = _Bench(rules)
    listed = SawList([], [])
    for kind in types:
        bench.saw(kind, listed)
    return listed


def list_cuts_in_place(assemblies: Sequence[Assembly], rules: Rules) -> list[Cut]:
    """List the mitred cuts of nodes that are put together where they lie, each under the mark of its node.

    Parameters
    ----------
    assemblies : sequence of Assembly
        Of one node each.
    rules : Rules
        Bend limit, sections, and which profiles may be turned over.

    Returns
    -------
    list of Cut
    """
    bench = _Bench(rules)
    return [cut for assembly in assemblies for cut in bench.cuts_in_place(assembly)]


class _Bench:
    """Sets the saw once for all nodes that are cut alike."""

    def __init__(self, rules: Rules) -> None:
        self._limit_deg = rules.drawing.bend_limit_deg
        self._symmetric = {name for name, profile in rules.profiles.items() if profile.symmetric}
        self._sections = {name: Section.of(profile) for name, profile in rules.profiles.items()}
        self._known: dict[tuple[tuple[Strip, ...], Seams], list[list[_Blade]]] = {}

    def saw(self, kind: FittingType, listed: SawList) -> None:
        """Add the pieces and cuts of one fitting type to the list."""
        assembly, count = kind.copies[0], len(kind.copies)
        numbers = strand_letters(assembly)
        made = 0
        for strand in strands_of(assembly):
            placed = self._laid(assembly, strand, numbers)
            cuts = [
                _cut(f"{kind.mark}-{made + i}", kind.mark, strand, entry, count) for i, entry in enumerate(placed, 1)
            ]
            made += len(cuts)
            listed.cuts.extend(cuts)
            listed.pieces.append(
                Piece(
                    fitting=kind.mark,
                    letter=piece_letter(strand.number),
                    profile=strand.profile,
                    quantity=count,
                    length_m=strand.length_m,
                    long_m=self._long_m(assembly, strand),
                    left=_end(cuts, "left"),
                    right=_end(cuts, "right"),
                    curved=_is_curved(assembly, strand),
                    cuts=tuple(cut.mark for cut in cuts),
                )
            )

    def cuts_in_place(self, assembly: Assembly) -> Iterator[Cut]:
        """Yield the cuts of one node whose strips are cut where they lie."""
        mark = assembly.junctions[0].node.mark
        numbers, made = strand_letters(assembly), 0
        for strand in strands_of(assembly):
            for entry in self._laid(assembly, strand, numbers):
                made += 1
                yield _cut(f"{mark}-{made}", mark, strand, entry, 1, measured=False)

    def _laid(self, assembly: Assembly, strand: Strand, numbers: Sequence[Sequence[int]]) -> list[_Placed]:
        """Lay one piece on the saw and return its cuts from left to right."""
        rise, entries = 0.0, list[_Placed]()
        for visit in strand.visits:
            junction = assembly.junctions[visit.junction]
            rise = rise or _rise(junction, visit)
            met = numbers[visit.junction]
            entries += [_placed(visit, blade, met[blade.other]) for blade in self._blades(junction)[visit.arm]]
        ways = [(swap, over) for over, swap in product((False, True), repeat=2)]
        if strand.profile not in self._symmetric and abs(rise) > 0.001:
            ways = [way for way in ways if way[1] == (rise < 0)]
        laid = max((_turned(entries, strand, *way) for way in ways), key=_rank)
        return sorted(laid, key=lambda entry: (round(entry.at_m, 6), *(-value for value in entry.key())))

    def _blades(self, junction: Junction) -> list[list[_Blade]]:
        key = (junction.strips, junction.seams)
        blades = self._known.get(key)
        if blades is None:
            blades = self._known[key] = [
                list(self._blades_of_arm(arm, junction)) for arm in range(len(junction.strips))
            ]
        return blades

    def _blades_of_arm(self, arm: int, junction: Junction) -> Iterator[_Blade]:
        seams, strips = junction.seams, junction.strips
        partners = [pair[1] if pair[0] == arm else pair[0] for pair in seams.mitred if arm in pair]
        squares = sum(arm in pair for pair in seams.square)
        shape = "notch" if arm in (seams.whole or ()) else "point" if len(partners) + squares > 1 else "end"
        strip = strips[arm]
        for other in partners:
            setting = set_saw(strip, strips[other], twist_limit_deg=self._limit_deg)
            miter, bevel = setting or (None, None)
            turn_deg = angle_deg(strip.heading, strips[other].heading)
            beside = [strips[k] for k in seams.partners(arm) if k != other]
            face = face_of(strip, strips[other], beside, self._sections[strip.profile]) if setting else None
            yield _Blade(other, shape, turn_deg, miter, bevel, face)

    def _long_m(self, assembly: Assembly, strand: Strand) -> float:
        """Return the length of a strand with what its mitred ends reach beyond their nodes."""
        ends = [visit for visit in strand.visits if not visit.through]
        return strand.length_m - sum(self._near_m(assembly.junctions[visit.junction], visit.arm) for visit in ends)

    def _near_m(self, junction: Junction, arm: int) -> float:
        """Return where a mitred end begins, from its node along the centreline; negative beyond the node [m]."""
        return min((blade.face.near_m for blade in self._blades(junction)[arm] if blade.face), default=0.0)


def _placed(visit: Visit, blade: _Blade, meets: int) -> _Placed:
    """Bring a cut from the frame of its arm into the frame of its piece."""
    side, way = (-1.0 if visit.turned else 1.0), (1.0 if visit.onward else -1.0)
    near, far = (blade.face.near_m, blade.face.far_m) if blade.face else (0.0, 0.0)
    low, high = (near, far) if visit.onward else (-far, -near)
    return _Placed(
        end="inside" if visit.through else "left" if visit.onward else "right",
        miter_deg=way * side * (blade.miter_deg or 0.0),
        bevel_deg=side * (blade.bevel_deg or 0.0),
        at_m=visit.at_m,
        low_m=visit.at_m + low,
        high_m=visit.at_m + high,
        across_m=side * blade.face.across_m if blade.face else 0.0,
        through_m=way * side * blade.face.through_m if blade.face else 0.0,
        blade=blade,
        meets=meets,
    )


def _turned(entries: Sequence[_Placed], strand: Strand, swap: bool, over: bool) -> list[_Placed]:  # noqa: FBT001
    laid = [entry.swapped(strand.length_m) for entry in entries] if swap else list(entries)
    return [entry.turned_over() for entry in laid] if over else laid


def _rank(laid: Sequence[_Placed]) -> list[tuple[float, ...]]:
    return sorted((entry.key() for entry in laid), reverse=True)


def _rise(junction: Junction, visit: Visit) -> float:
    """Return how far the upper face of a piece, as its strand runs, points upward where it is installed."""
    strip = junction.strips[visit.arm]
    if strip.across is None:
        return 0.0
    rise = cross(strip.heading, strip.across)[2]
    return rise if visit.onward != visit.turned else -rise


def _cut(mark: str, fitting: str, strand: Strand, entry: _Placed, quantity: int, *, measured: bool = True) -> Cut:
    blade, far_m = entry.blade, strand.length_m
    known = blade.face is not None and measured
    reaches = (far_m - entry.high_m, far_m - entry.low_m) if entry.end == "left" else (entry.low_m, entry.high_m)
    return Cut(
        mark=mark,
        fitting=fitting,
        piece=piece_letter(strand.number),
        shape=blade.shape,
        turn_deg=blade.turn_deg,
        miter_deg=None if blade.miter_deg is None else entry.miter_deg + 0.0,
        bevel_deg=None if blade.bevel_deg is None else entry.bevel_deg + 0.0,
        quantity=quantity,
        profile=strand.profile,
        end=entry.end,
        part=_part(entry) if blade.face else "",
        meets=piece_letter(entry.meets),
        at_m=entry.at_m if measured else 0.0,
        long_m=reaches[1] if known else None,
        short_m=reaches[0] if known else None,
    )


def _part(entry: _Placed) -> str:
    """Name the part of the section that a cut runs through: the half that its middle lies in."""
    if abs(entry.across_m) > 1e-4:
        return "fence half" if entry.across_m > 0 else "front half"
    if abs(entry.through_m) > 1e-5:
        return "upper half" if entry.through_m > 0 else "lower half"
    return "all"


def _end(cuts: Sequence[Cut], end: str) -> str:
    shapes = [cut.shape for cut in cuts if cut.end == end]
    return "pointed" if "point" in shapes else "mitred" if shapes else "square"


def _is_curved(assembly: Assembly, strand: Strand) -> bool:
    """Tell whether a run inside the assembly that a strand follows has vertices on its way."""
    runs = (assembly.junctions[visit.junction].stretches[visit.arm] for visit in strand.visits)
    return any(stretch.use is Use.INNER and len(stretch.run.points_m) > 2 for stretch in runs)


@cache
def piece_letter(number: int) -> str:
    """Return A, B… Z, AA, AB… for 0, 1….

    >>> [piece_letter(i) for i in (0, 25, 26, 702)]
    ['A', 'Z', 'AA', 'AAA']
    """
    letters = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
