"""Strands: the pieces of strip that an assembly is made of, each followed from its left end to its right end."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from splicewright.extract.line import Vector

from .assembly import Assembly, strand_letters
from .bend import carry
from .stretch import Use
from .vector import dot, minus, times, unit

__all__ = ["Strand", "Visit", "strands_of"]


class Visit(NamedTuple):
    """One arm of a node as a strand passes it.

    Attributes
    ----------
    junction, arm : int
        Position of the node in the assembly, and of the arm at the node.
    at_m : float
        Distance of the node from the strand's left end along the centreline [m].
    onward : bool
        Whether the arm leads on from the node to the right (True) or comes to it from the left.
    turned : bool
        Whether the strand's own direction across is against that of the arm.
    through : bool
        Whether the strand goes through the node as one whole piece.
    """

    junction: int
    arm: int
    at_m: float
    onward: bool
    turned: bool
    through: bool


class Strand(NamedTuple):
    """One piece of strip of an assembly.

    Attributes
    ----------
    number : int
        Its number in the assembly, from 0.
    profile : str
        Its profile.
    length_m : float
        Length along the centreline, from node or square end to node or square end [m].
    visits : tuple of Visit
        From left to right.
    left_free, right_free : bool
        Whether the end is the square end of a leg.
    """

    number: int
    profile: str
    length_m: float
    visits: tuple[Visit, ...]
    left_free: bool
    right_free: bool


class _Segment(NamedTuple):
    """A leg, or a run inside the assembly, as a strand walks along it."""

    enters: tuple[int, int] | None
    leaves: tuple[int, int] | None
    length_m: float


def strands_of(assembly: Assembly) -> list[Strand]:
    """Follow every piece of strip of an assembly from end to end.

    Parameters
    ----------
    assembly : Assembly

    Returns
    -------
    list of Strand
        In the order of their numbers, as `assembly.strand_letters` gives them.
    """
    walker = _Walker(assembly)
    arms: dict[int, list[tuple[int, int]]] = {}
    for junction, numbers in enumerate(strand_letters(assembly)):
        for arm, number in enumerate(numbers):
            arms.setdefault(number, []).append((junction, arm))
    return [walker.strand(number, arms[number]) for number in sorted(arms)]


class _Walker:
    def __init__(self, assembly: Assembly) -> None:
        self._junctions = assembly.junctions
        self._ends: dict[str, list[tuple[int, int]]] = {}
        for i, junction in enumerate(assembly.junctions):
            for arm, stretch in enumerate(junction.stretches):
                if stretch.use is Use.INNER:
                    self._ends.setdefault(stretch.run.mark, []).append((i, arm))

    def strand(self, number: int, arms: Sequence[tuple[int, int]]) -> Strand:
        """Follow one strand."""
        segments = list(self._walk(arms))
        visits: list[Visit] = []
        at_m, across = 0.0, None
        for k, segment in enumerate(segments):
            if segment.enters:
                side, turned = self._side(segment.enters, across)
                visits.append(Visit(*segment.enters, at_m, True, turned, k > 0))  # noqa: FBT003
                across = self._carried(segment, side)
            at_m += segment.length_m
            if segment.leaves:
                across, turned = self._side(segment.leaves, across)
                visits.append(Visit(*segment.leaves, at_m, False, turned, k < len(segments) - 1))  # noqa: FBT003
        junction, arm = arms[0]
        profile = self._junctions[junction].strips[arm].profile
        return Strand(number, profile, at_m, tuple(visits), segments[0].enters is None, segments[-1].leaves is None)

    def _walk(self, arms: Sequence[tuple[int, int]]) -> Iterator[_Segment]:
        """Yield the segments from the left end, which is the first free or mitred end among the arms."""
        segment = self._first(arms)
        while True:
            yield segment
            onward = self._through(segment.leaves) if segment.leaves else None
            if onward is None:
                return
            segment = self._from_node(onward)

    def _first(self, arms: Sequence[tuple[int, int]]) -> _Segment:
        for junction, arm in arms:
            if self._other_end((junction, arm)) is None:
                return _Segment(None, (junction, arm), self._junctions[junction].made_m(arm))
        return next(self._from_node(at) for at in arms if self._through(at) is None)

    def _from_node(self, at: tuple[int, int]) -> _Segment:
        junction, arm = at
        far = self._other_end(at)
        held = self._junctions[junction]
        return _Segment(at, far, held.stretches[arm].run.length_m if far else held.made_m(arm))

    def _other_end(self, at: tuple[int, int]) -> tuple[int, int] | None:
        """Return the far end of a run inside the assembly; None for a leg."""
        stretch = self._junctions[at[0]].stretches[at[1]]
        if stretch.use is not Use.INNER:
            return None
        one, two = self._ends[stretch.run.mark]
        return two if at == one else one

    def _through(self, at: tuple[int, int]) -> tuple[int, int] | None:
        """Return the arm that is one whole piece with another, if there is one."""
        junction, arm = at
        whole = self._junctions[junction].seams.whole
        if whole is None or arm not in whole:
            return None
        return junction, whole[1] if arm == whole[0] else whole[0]

    def _side(self, at: tuple[int, int], across: Vector | None) -> tuple[Vector | None, bool]:
        """Return the direction across an arm in the strand's own sense, and whether the arm's is against it."""
        own = self._junctions[at[0]].strips[at[1]].across
        turned = own is not None and across is not None and dot(own, across) < 0
        return (times(own, -1.0) if own and turned else own), turned

    def _carried(self, segment: _Segment, across: Vector | None) -> Vector | None:
        """Carry the direction across along a run inside the assembly, without twisting the strip."""
        if segment.enters is None or segment.leaves is None or across is None:
            return across
        held = self._junctions[segment.enters[0]]
        points = held.stretches[segment.enters[1]].run.points_m.tolist()
        if len(points) == 2:
            return across
        if not held.node.arms[segment.enters[1]].at_start:
            points.reverse()
        steps = (minus((b[0], b[1], b[2]), (a[0], a[1], a[2])) for a, b in pairwise(points))
        headings = [heading for step in steps if (heading := unit(step))]
        return list(carry(across, headings))[-1]
