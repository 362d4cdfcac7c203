"""Shape: the form of a fitting that does not depend on where and which way round it is drawn.

A shape is written down in a frame taken from the fitting itself; of all frames that its arms offer, the one whose
writing sorts first counts. Two fittings are the same piece if and only if their writings are equal.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from splicewright.extract.line import Vector

from .vector import cross, dot, unit

__all__ = ["ArmShape", "Form", "Part", "form_of_assembly", "form_of_node", "millimetres"]

_STEPS = 100
"""Directions are told apart by components in hundredths, so by about half a degree; tangents are good to 0.2."""

_LINE_OFFSET_MM = 0.123
"""Moves the borders between millimetres away from the halves that drawn lengths like to fall on."""

Form: TypeAlias = tuple[tuple[int, ...], ...]
Frame: TypeAlias = tuple[Vector, Vector, Vector]


class ArmShape(NamedTuple):
    """One arm of a fitting.

    Attributes
    ----------
    heading : Vector
        Unit vector away from the node.
    across : Vector or None
        Unit vector over the width, either sense.
    tag : tuple of int
        Whatever else must agree: profile, length in whole millimetres.
    """

    heading: Vector
    across: Vector | None
    tag: tuple[int, ...]


class Part(NamedTuple):
    """One node of an assembly.

    Attributes
    ----------
    at_m : Vector
        Place [m].
    arms : tuple of ArmShape
        Its arms.
    form : int
        Number that equal nodes share.
    """

    at_m: Vector
    arms: tuple[ArmShape, ...]
    form: int


def millimetres(length_m: float) -> int:
    """Return a length in whole millimetres, such that lengths drawn alike give the same number."""
    return round(length_m * 1000 + _LINE_OFFSET_MM)


def form_of_node(arms: Sequence[ArmShape], *, upright: bool) -> Form:
    """Write down one node with its arms.

    Parameters
    ----------
    arms : sequence of ArmShape
        Two or more, not all in one line.
    upright : bool
        True for profiles that may not be turned over: only turns about the vertical leave the form as it is.
        Otherwise every turn in space does. Mirror images always differ, unless a turn makes them equal.

    Returns
    -------
    Form
    """
    return min((_written(arms, frame) for frame in _frames(arms, upright=upright)), default=())


def form_of_assembly(parts: Sequence[Part], *, upright: bool) -> bytes:
    """Write down several nodes that are one fitting.

    Parameters
    ----------
    parts : sequence of Part
        Its nodes.
    upright : bool
        As for `form_of_node`.

    Returns
    -------
    bytes
    """
    counts = Counter(part.form for part in parts)
    rarest = min((count, form) for form, count in counts.items())[1]
    rows = _Rows(parts)
    return min(
        rows.written(part.at_m, frame)
        for part in parts
        if part.form == rarest
        for frame in _frames(part.arms, upright=upright)
    )


class _Rows:
    """The arms of all parts as arrays, one row an arm."""

    def __init__(self, parts: Sequence[Part]) -> None:
        arms = [(part, arm) for part in parts for arm in part.arms]
        self.places = np.array([part.at_m for part, _ in arms])
        self.headings = np.array([arm.heading for _, arm in arms])
        self.across = np.array([arm.across or (0.0, 0.0, 0.0) for _, arm in arms])
        self.tags = np.array([arm.tag for _, arm in arms], dtype=np.int64)

    def written(self, origin: Vector, frame: Frame) -> bytes:
        turn = np.array(frame).T
        places = np.rint((self.places - np.array(origin)) @ turn * 1000 + _LINE_OFFSET_MM).astype(np.int64)
        headings = np.rint(self.headings @ turn * _STEPS).astype(np.int64)
        across = _one_sense(np.rint(self.across @ turn * _STEPS).astype(np.int64))
        rows = np.hstack([places, headings, across, self.tags])
        return rows[np.lexsort(rows.T[::-1])].tobytes()


def _one_sense(vectors: NDArray[np.int64]) -> NDArray[np.int64]:
    """Turn every vector such that its first component other than 0 is positive."""
    first = vectors[np.arange(len(vectors)), (vectors != 0).argmax(axis=1)]
    return np.where(first < 0, -1, 1)[:, np.newaxis] * vectors


def _written(arms: Sequence[ArmShape], frame: Frame) -> Form:
    rows = []
    for arm in arms:
        across = _steps(arm.across, frame) if arm.across else ()
        if across < (0, 0, 0):
            across = tuple(-step for step in across)
        rows.append((*_steps(arm.heading, frame), *across, *arm.tag))
    return tuple(sorted(rows))


def _steps(vector: Vector, frame: Frame) -> tuple[int, ...]:
    return tuple(round(dot(vector, axis) * _STEPS) for axis in frame)


def _frames(arms: Sequence[ArmShape], *, upright: bool) -> list[Frame]:
    """Return right-handed frames; turned copies of the same arms give the same frames, turned along."""
    make = _upright_frames if upright else _free_frames
    relations = [_relations(arm, arms) for arm in arms]
    for first in sorted(set(relations)):
        alike = [arm for arm, own in zip(arms, relations, strict=True) if own == first]
        frames = [frame for arm in alike for frame in make(arm, arms)]
        if frames:  # an arm may offer none: an upright frame cannot start from a plumb arm
            return frames
    return []


def _relations(arm: ArmShape, arms: Sequence[ArmShape]) -> tuple[tuple[int, ...], ...]:
    """Describe how one arm stands to the others, in numbers that no turn changes."""
    return (arm.tag, *sorted((_closeness(arm, other), *other.tag) for other in arms))


def _closeness(a: ArmShape, b: ArmShape) -> int:
    return round(dot(a.heading, b.heading) * _STEPS)


def _free_frames(arm: ArmShape, arms: Sequence[ArmShape]) -> Iterator[Frame]:
    """Yield a frame for every arm that lies most nearly in the same direction, and not in line."""
    others = [(_closeness(arm, other), other.tag, unit(cross(arm.heading, other.heading))) for other in arms]
    second = min((closeness, tag) for closeness, tag, up in others if up) if any(up for *_, up in others) else ()
    for closeness, tag, up in others:
        if up and (closeness, tag) == second:
            yield (arm.heading, cross(up, arm.heading), up)


def _upright_frames(arm: ArmShape, _: Sequence[ArmShape]) -> Iterator[Frame]:
    if abs(arm.heading[2]) < 0.999:
        east = unit((arm.heading[0], arm.heading[1], 0.0))
        if east:
            yield (east, (-east[1], east[0], 0.0), (0.0, 0.0, 1.0))
