"""Shop work: what one fitting of each type takes: strip with its long points, weld, box and time."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, radians, tan
from typing import NamedTuple

from splicewright.extract.finding import Finding, Severity

from .assembly import Assembly, Junction
from .box import Extent, Limits, Sides, frames_of, leg_places, side_places
from .fitting import FittingType, strip_by_profile
from .point import CutFace, Section, face_of, offset_m
from .rules import Policy, Rules
from .saw import Piece
from .seam import Cut, Seams, Strip
from .stretch import SLACK_M, Stretch, Use
from .vector import angle_deg, plus, times

__all__ = ["ShopWork", "find_faults", "seam_face", "work_out"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopWork:
    """What one fitting of a type takes.

    Attributes
    ----------
    fitting : str
        Mark of the type.
    policy : Policy
        Who makes it.
    box_m : Sides
        Sides of the box around it, from long to short [m].
    strip_used_m : float
        Strip from the roll with what long points reach beyond the nodes [m].
    weld_m : float
        Length of all its seams over the width of the strip [m]; a butt over the whole width where the lay is not
        known.
    weld_m2 : float
        Area of all its seams [m2].
    shop_min : float
        Time to cut and weld one copy [min].
    set_up_min : float
        Time once for the type [min].
    """

    fitting: str
    policy: Policy
    box_m: Sides
    strip_used_m: float
    weld_m: float
    weld_m2: float
    shop_min: float
    set_up_min: float


def work_out(
    types: Sequence[FittingType], pieces: Iterable[Piece], cuts: Iterable[Cut], rules: Rules
) -> list[ShopWork]:
    """Work out what the fittings of every type take.

    Parameters
    ----------
    types : sequence of FittingType
    pieces : iterable of Piece
        Pieces of all types.
    cuts : iterable of Cut
        Mitred cuts of all types.
    rules : Rules
        Sections and rates.

    Returns
    -------
    list of ShopWork
        In the order of the types.
    """
    mitred: dict[str, int] = {}
    for cut in cuts:
        mitred[cut.fitting] = mitred.get(cut.fitting, 0) + 1
    used_m: dict[str, float] = {}
    square: dict[str, int] = {}
    for piece in pieces:
        used_m[piece.fitting] = used_m.get(piece.fitting, 0.0) + piece.long_m
        square[piece.fitting] = square.get(piece.fitting, 0) + (piece.left, piece.right).count("square")
    welder, shop = _Welder(rules), rules.shop
    works = []
    for kind in types:
        first = kind.copies[0]
        weld_m, weld_m2 = welder.welds(first)
        shop_min = mitred.get(kind.mark, 0) * shop.miter_cut_min + square.get(kind.mark, 0) * shop.square_cut_min
        shop_min += first.seam_count * shop.seam_min + weld_m / shop.welding_m_per_min
        works.append(
            ShopWork(
                fitting=kind.mark,
                policy=kind.policy,
                box_m=_box(first, rules),
                strip_used_m=used_m.get(kind.mark, 0.0),
                weld_m=weld_m,
                weld_m2=weld_m2,
                shop_min=shop_min,
                set_up_min=shop.set_up_min,
            )
        )
    return works


def find_faults(types: Sequence[FittingType], works: Sequence[ShopWork], rules: Rules) -> Iterator[Finding]:
    """Report the types of fitting that cannot be made or delivered as they are.

    Parameters
    ----------
    types : sequence of FittingType
    works : sequence of ShopWork
        What each takes.
    rules : Rules
        Limits of box, mass, distance between nodes and alignment.

    Yields
    ------
    Finding
        ``large-assembly``, ``close-nodes``, ``long-cut`` and ``seam-offset``, each at most once a type, at a node of
        its first copy.
    """
    limits, gauge = Limits.of(rules), _Gauge(rules)
    for kind, work in zip(types, works, strict=True):
        first, copies = kind.copies[0], f"{len(kind.copies)} to make"
        mass_kg = sum(length * rules.profiles[name].mass_kg_per_m for name, length in strip_by_profile(first).items())
        if excess := limits.excess(work.box_m, mass_kg):
            text = f"Fitting {kind.mark} ({copies}) is {excess}: shorten fittings.leg or agree on larger limits."
            yield _finding("large-assembly", text, first.junctions[0])
        yield from _close_nodes(kind, copies, rules)
        yield from gauge.long_cuts(kind, copies)
        yield from gauge.faults(kind, copies)


def _close_nodes(kind: FittingType, copies: str, rules: Rules) -> Iterator[Finding]:
    least_m = rules.assemblies.least_between_m
    short = min(kind.copies[0].inner(), key=lambda stretch: stretch.run.length_m, default=None)
    if short is None or short.run.length_m >= least_m - SLACK_M:
        return
    at = next(j for j in kind.copies[0].junctions if j.node.mark == short.run.start)
    text = (
        f"Fitting {kind.mark} ({copies}) has nodes {short.run.start} and {short.run.end} only "
        f"{short.run.length_m * 1000:.0f} mm apart, less than the {least_m * 1000:.0f} mm of assemblies.least_between: "
        "move one of them, or have the shop confirm that both seams can be made."
    )
    yield _finding("close-nodes", text, at)


def _finding(code: str, text: str, junction: Junction) -> Finding:
    node = junction.node
    return Finding(code=code, severity=Severity.WARNING, message=text, at_m=node.at_m, sources=node.sources[:1])


def _box(assembly: Assembly, rules: Rules) -> Sides:
    """Return the sides of the box around an assembly, squared up with the arms of its nodes."""
    places, thick_m = [], 0.0
    for junction in assembly.junctions:
        places.append(junction.node.at_m)
        for strip in junction.strips:
            profile = rules.profiles[strip.profile]
            thick_m = max(thick_m, profile.thickness_m)
            places += side_places([junction.node.at_m], strip.across, profile.width_m)
    for stretch in assembly.inner():
        places += [(x, y, z) for x, y, z in stretch.run.points_m.tolist()]
    for junction, arm in assembly.legs():
        stretch, strip = junction.stretches[arm], junction.strips[arm]
        width_m, made_m = rules.profiles[strip.profile].width_m, junction.made_m(arm)
        if len(stretch.run.points_m) == 2:
            way = [plus(junction.node.at_m, times(strip.heading, made_m))]
        else:
            at_start = junction.node.arms[arm].at_start
            way = leg_places(stretch.run.points_m.tolist(), made_m, at_start=at_start)
        places += side_places(way, strip.across, width_m)
    frames = frames_of([strip.heading for strip in junction.strips] for junction in assembly.junctions)
    first, second, third = Extent.of(places, frames).best()
    return Sides(first, max(second, thick_m), max(third, thick_m))


class _Welder:
    """Measures the seams of nodes, once for all that are alike."""

    def __init__(self, rules: Rules) -> None:
        self._sections = {name: Section.of(profile) for name, profile in rules.profiles.items()}
        self._known: dict[tuple[tuple[Strip, ...], Seams], tuple[float, float]] = {}

    def welds(self, assembly: Assembly) -> tuple[float, float]:
        """Return length and area of the seams of an assembly [m, m2]."""
        both = [self._of_node(junction) for junction in assembly.junctions]
        return sum(length for length, _ in both), sum(area for _, area in both)

    def _of_node(self, junction: Junction) -> tuple[float, float]:
        key = (junction.strips, junction.seams)
        known = self._known.get(key)
        if known is None:
            pairs = (*junction.seams.mitred, *junction.seams.square)
            seams = [self._of_seam(*pair, junction) for pair in pairs]
            known = self._known[key] = (sum(length for length, _ in seams), sum(area for _, area in seams))
        return known

    def _of_seam(self, one: int, two: int, junction: Junction) -> tuple[float, float]:
        """Return the smaller of the two faces, which is as much as can be welded."""
        faces = [seam_face(a, b, junction, self._sections) for a, b in ((one, two), (two, one))]
        both = [(face.length_m, face.area_m2) for face in faces if face]
        section = min(self._sections[junction.strips[arm].profile] for arm in (one, two))
        return min(both, default=(section.width_m, section.width_m * section.thickness_m))


def seam_face(arm: int, other: int, junction: Junction, sections: Mapping[str, Section]) -> CutFace | None:
    """Return the face of one arm on its seam with another; None where the lay is not known."""
    strips = junction.strips
    beside = [strips[k] for k in junction.seams.partners(arm) if k != other]
    return face_of(strips[arm], strips[other], beside, sections[strips[arm].profile])


def _is_stub(stretch: Stretch, reach_m: float) -> bool:
    """Tell whether a run is one that runs past its node by less than the reach and ends there."""
    return stretch.use is Use.LEG and stretch.run.length_m < reach_m


class _LongCut(NamedTuple):
    """A cut that runs further along its strip than there is strip."""

    far_m: float
    room_m: float
    angle_deg: float
    junction: Junction
    stretch: Stretch


class _Gauge:
    """Checks that the sections of strips that meet lie on one another."""

    def __init__(self, rules: Rules) -> None:
        self._rules = rules
        self._sections = {name: Section.of(profile) for name, profile in rules.profiles.items()}
        self._known: dict[tuple[Strip, Strip], str] = {}

    def faults(self, kind: FittingType, copies: str) -> Iterator[Finding]:
        """Yield what does not lie in line, at the first node of a type where it does not."""
        for junction in kind.copies[0].junctions:
            for pair in (*junction.seams.mitred, *junction.seams.square):
                one, two = (junction.strips[arm] for arm in pair)
                if fault := self._fault(one, two):
                    text = f"On a seam of fitting {kind.mark} ({copies}) at node {junction.node.mark} {fault}."
                    yield _finding("seam-offset", text, junction)
                    return

    def long_cuts(self, kind: FittingType, copies: str) -> Iterator[Finding]:
        """Yield the longest cut of a type, if it leaves nothing of its strip's shorter edge."""
        cuts = (cut for junction in kind.copies[0].junctions for cut in self._long_cuts(junction))
        worst = max(cuts, key=lambda cut: (round(cut.far_m, 6), cut.junction.node.mark), default=None)
        if worst is not None:
            least_mm, room_mm = (worst.far_m + self._rules.splices.least_piece_m) * 1000, worst.room_m * 1000
            if worst.stretch.use is Use.STRIP:
                where, remedy = "its leg is long", f"lengthen the leg to {least_mm:.0f} mm in a [[legs]] entry"
            else:
                where = f"run {worst.stretch.run.mark} leaves for it"
                remedy = f"draw the run at least {least_mm - room_mm:.0f} mm longer"
            text = (
                f"On fitting {kind.mark} ({copies}) at node {worst.junction.node.mark} two strips leave at an angle of "
                f"{worst.angle_deg:.1f} degrees, so their cut takes {worst.far_m * 1000:.0f} mm of strip, more than "
                f"the {room_mm:.0f} mm that {where}: {remedy}, or have the designer open the angle."
            )
            yield _finding("long-cut", text, worst.junction)

    def _long_cuts(self, junction: Junction) -> Iterator["_LongCut"]:
        strips = junction.strips
        for arm, other in (both for pair in junction.seams.mitred for both in (pair, pair[::-1])):
            stretch = junction.stretches[arm]
            room_m = stretch.run.length_m if stretch.use is Use.INNER else junction.made_m(arm)
            apart_deg = angle_deg(strips[arm].heading, strips[other].heading)
            drawing = self._rules.drawing
            if apart_deg <= drawing.bend_limit_deg or _is_stub(stretch, drawing.reach_m):
                continue  # the drawing's findings tell already that these lie on each other, or of the stub
            if hypot(*self._sections[strips[arm].profile]) / 2 < room_m * tan(radians(apart_deg / 2)):
                continue  # shorter than that whatever the lay
            face = seam_face(arm, other, junction, self._sections)
            if face and face.far_m > room_m - SLACK_M:
                yield _LongCut(face.far_m, room_m, apart_deg, junction, stretch)

    def _fault(self, one: Strip, two: Strip) -> str:
        key = (one, two)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self._judge(one, two)
        return known

    def _judge(self, one: Strip, two: Strip) -> str:
        first, second = self._rules.profiles[one.profile], self._rules.profiles[two.profile]
        if first.centre_bulb != second.centre_bulb:
            return "a centre bulb meets strip without one: close it first"
        most_m = self._rules.assemblies.offset_m
        gap_m = offset_m(one, two, self._sections[one.profile], self._sections[two.profile])
        if gap_m is not None and gap_m > most_m + SLACK_M:
            return (
                f"ribs and edges stand {gap_m * 1000:.1f} mm out of line, more than {most_m * 1000:.1f} mm: have the "
                "designer detail how the two meet"
            )
        return ""
