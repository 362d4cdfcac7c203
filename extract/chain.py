"""Chains: pieces joined on where one strip simply goes on, so that each reaches from node to node."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .line import JointLine, Points
from .linework import Indices
from .piece import Pieces

__all__ = ["BEND_SLACK_DEG", "Chains", "join_pieces"]

BEND_SLACK_DEG = 0.1
"""A turn this much over the bend limit is still a bend, so that a 24-sided ring counts as one bend [degrees]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chains:
    """Stretches from node to node as arrays, a row a stretch, in the order of their marks.

    Attributes
    ----------
    node_m : Points
        Nodes in world coordinates [m], in the order of their marks, shape (nodes, 3).
    start, end : Indices
        Nodes at the ends, start <= end.
    heading : NDArray[np.float64]
        Unit vectors at start and end, pointing into the stretch, shape (n, 2, 3).
    points_m : Points
        Courses in world coordinates [m], one after the other, shape (points, 3).
    first : Indices
        Stretch i takes the points ``first[i]:first[i + 1]``, shape (n + 1,).
    length_m : NDArray[np.float64]
        Lengths along the centreline [m].
    lines : tuple of tuple of int
        Lines that each follows, from start to end.
    closure : NDArray[np.bool_]
        Whether each node is where a ring without nodes is closed, shape (nodes,).
    across : NDArray[np.float64] or None
        Unit vectors across the strip at start and end as drawn, NaN where not, shape (n, 2, 3); None where no line
        tells.
    """

    node_m: Points
    start: Indices
    end: Indices
    heading: NDArray[np.float64]
    points_m: Points
    first: Indices
    length_m: NDArray[np.float64]
    lines: tuple[tuple[int, ...], ...]
    closure: NDArray[np.bool_]
    across: NDArray[np.float64] | None = None

    def __len__(self) -> int:
        return len(self.start)


def join_pieces(pieces: Pieces, lines: Sequence[JointLine], bend_limit_deg: float) -> Chains:
    """Join pieces at every place where two of the same kind meet within the bend limit.

    Parameters
    ----------
    pieces : Pieces
        Without scraps and doubles.
    lines : sequence of JointLine
        The lines they were cut from.
    bend_limit_deg : float
        The strip bends through turns up to this [degrees].

    Returns
    -------
    Chains
    """
    partner = _partners(pieces, lines, bend_limit_deg + BEND_SLACK_DEG)
    walks, rings = _walks(partner, pieces)
    ends = np.array([(walk[0], walk[-1] ^ 1) for walk in walks], np.intp).reshape(-1, 2)
    place = _end_places(pieces)
    node_place, number = _number_places(pieces, np.unique(place[ends]))
    node = number[place[ends]]
    walks, node = _turn_round(walks, node, pieces)
    points, first = _courses(walks, pieces)
    length = _lengths(points, first)
    order = _order(node, points, first, length)
    walks = [walks[i] for i in order]
    points, first = _courses(walks, pieces)
    closure = np.zeros(len(node_place), np.bool_)
    closure[number[place[rings]]] = True
    return Chains(
        node_m=pieces.place_m[node_place] + pieces.work.origin_m,
        start=node[order, 0],
        end=node[order, 1],
        heading=_headings(walks, pieces),
        points_m=points + pieces.work.origin_m,
        first=first,
        length_m=length[order],
        lines=_lines(walks, pieces),
        closure=closure,
        across=_drawn_across(walks, pieces),
    )


# A piece's end is numbered 2 * piece for its start and 2 * piece + 1 for its end; a walk lists the ends at which it
# enters each of its pieces.


def _end_places(pieces: Pieces) -> Indices:
    return np.stack((pieces.start, pieces.end), axis=1).ravel()


def _partners(pieces: Pieces, lines: Sequence[JointLine], limit_deg: float) -> Indices:
    """Return for every piece's end the end it goes on into, or -1."""
    place = _end_places(pieces)
    heading = np.stack((pieces.start_heading, pieces.end_heading), axis=1).reshape(-1, 3)
    carries = _carries(pieces, lines)
    partner = np.full(len(place), -1)
    two = np.bincount(place, minlength=len(pieces.place_m)) == 2
    order = np.argsort(place, kind="stable")
    order = order[two[place[order]]]
    a, b = order[0::2], order[1::2]
    cosine = -np.einsum("ij,ij->i", heading[a], heading[b])
    goes_on = (cosine >= np.cos(np.radians(limit_deg))) & (carries[a // 2] == carries[b // 2])
    across = _end_across(pieces)
    if across is not None:
        goes_on &= ~_twists(heading[a], heading[b], across[a], across[b], limit_deg)
    partner[a[goes_on]] = b[goes_on]
    partner[b[goes_on]] = a[goes_on]
    return partner


def _end_across(pieces: Pieces) -> NDArray[np.float64] | None:
    if pieces.start_across is None or pieces.end_across is None:
        return None
    return np.stack((pieces.start_across, pieces.end_across), axis=1).reshape(-1, 3)


def _twists(one: Points, two: Points, across_one: Points, across_two: Points, limit_deg: float) -> NDArray[np.bool_]:
    """Tell where two strips are drawn to lie so differently that one does not go on as the other."""
    mirror = one - two
    share = 2 * np.einsum("ij,ij->i", across_one, mirror) / np.einsum("ij,ij->i", mirror, mirror)
    image = across_one - mirror * share[:, None]
    agree = np.abs(np.einsum("ij,ij->i", image, across_two))
    twists: NDArray[np.bool_] = agree < np.cos(np.radians(limit_deg))  # never where either is not known
    return twists


def _carries(pieces: Pieces, lines: Sequence[JointLine]) -> Indices:
    """Give lines that carry the same one number; a drawn section counts only where no profile has been given."""
    codes: dict[tuple[str | None, str | None, tuple[int, int] | None], int] = {}
    keys = ((x.profile, x.joint, _section_mm(x) if x.width_m and x.profile is None else None) for x in lines)
    code = np.fromiter((codes.setdefault(key, len(codes)) for key in keys), np.intp, len(lines))
    return code[pieces.line]


def _section_mm(line: JointLine) -> tuple[int, int]:
    return round((line.width_m or 0.0) * 1000), round((line.thickness_m or 0.0) * 1000)


def _walks(partner: Indices, pieces: Pieces) -> tuple[list[list[int]], list[int]]:
    """Return all walks, and the ends at which the rings among them start."""
    to = partner.tolist()
    done = np.zeros(len(pieces), np.bool_).tolist()
    walks: list[list[int]] = []
    for end, following in enumerate(to):
        if following < 0 and not done[end // 2]:
            walks.append(_walk(end, to, done))
    rings: list[int] = []
    for piece in range(len(pieces)):
        if not done[piece]:
            walk = _walk(2 * piece, to, done)
            start = _ring_start(walk, pieces)
            walks.append(walk[start:] + walk[:start])
            rings.append(walks[-1][0])
    return walks, rings


def _walk(end: int, to: list[int], done: list[bool]) -> list[int]:
    walk: list[int] = []
    while end >= 0 and not done[end // 2]:
        done[end // 2] = True
        walk.append(end)
        end = to[end ^ 1]
    return walk


def _ring_start(walk: list[int], pieces: Pieces) -> int:
    corners = np.round(pieces.place_m[_end_places(pieces)[walk]], 6)
    return int(np.lexsort((corners[:, 1], corners[:, 0], corners[:, 2]))[0])


def _number_places(pieces: Pieces, used: Indices) -> tuple[Indices, Indices]:
    """Put the places that are nodes in order, level by level, and return place of node and node of place."""
    x, y, z = np.round(pieces.place_m[used], 6).T
    node_place = used[np.lexsort((y, x, z))]
    number = np.full(len(pieces.place_m), -1)
    number[node_place] = np.arange(len(node_place))
    return node_place, number


def _turn_round(walks: list[list[int]], node: Indices, pieces: Pieces) -> tuple[list[list[int]], Indices]:
    """Let every walk start at the lower node; a ring starts toward the smaller of its next vertices."""
    back = node[:, 0] > node[:, 1]
    for i in np.flatnonzero(node[:, 0] == node[:, 1]):
        points, _ = _courses([walks[i]], pieces)
        back[i] = tuple(np.round(points[1], 6)) > tuple(np.round(points[-2], 6))
    turned = [[end ^ 1 for end in reversed(walk)] if flip else walk for walk, flip in zip(walks, back, strict=True)]
    return turned, np.where(back[:, None], node[:, ::-1], node)


def _courses(walks: list[list[int]], pieces: Pieces) -> tuple[Points, Indices]:
    """Lay the points of all walks one after the other; each piece gives its first place and its inner vertices."""
    enter = np.fromiter((end for walk in walks for end in walk), np.intp)
    steps = np.fromiter((len(walk) for walk in walks), np.intp, len(walks))
    piece, backward = enter // 2, (enter % 2).astype(np.bool_)
    a, b, c, d = pieces.inner[piece].T
    inner = (b - a) + (d - c)
    closes = np.zeros(len(enter), np.intp)
    closes[np.cumsum(steps) - 1] = 1
    size = 1 + inner + closes
    block = np.repeat(np.arange(len(enter)), size)
    step = np.arange(len(block)) - np.repeat(np.cumsum(size) - size, size)
    nth = np.where(backward[block], inner[block] - step, step - 1)
    vertex = np.where(nth < (b - a)[block], a[block] + nth, c[block] + nth - (b - a)[block])
    place = _end_places(pieces)
    is_place = (step == 0) | (step > inner[block])
    at_place = np.where(step == 0, place[enter][block], place[enter ^ 1][block])
    all_points = np.concatenate((pieces.work.points_m, pieces.place_m))
    points = all_points[np.where(is_place, len(pieces.work.points_m) + at_place, vertex)]
    per_walk = np.add.reduceat(size, np.cumsum(steps) - steps) if len(walks) else np.empty(0, np.intp)
    return points, np.concatenate(([0], np.cumsum(per_walk)))


def _lengths(points: Points, first: Indices) -> NDArray[np.float64]:
    step = np.linalg.norm(np.diff(points, axis=0), axis=1)
    step[first[1:-1] - 1] = 0.0
    return np.add.reduceat(step, first[:-1]) if len(first) > 1 else np.empty(0)


def _order(node: Indices, points: Points, first: Indices, length: NDArray[np.float64]) -> Indices:
    middle = np.round(points[(first[:-1] + first[1:]) // 2], 6)
    return np.lexsort((*middle.T, np.round(length, 6), node[:, 1], node[:, 0]))


def _headings(walks: list[list[int]], pieces: Pieces) -> NDArray[np.float64]:
    heading = np.stack((pieces.start_heading, pieces.end_heading), axis=1).reshape(-1, 3)
    ends = np.array([(walk[0], walk[-1] ^ 1) for walk in walks], np.intp).reshape(-1, 2)
    return heading[ends]


def _drawn_across(walks: list[list[int]], pieces: Pieces) -> NDArray[np.float64] | None:
    across = _end_across(pieces)
    if across is None:
        return None
    ends = np.array([(walk[0], walk[-1] ^ 1) for walk in walks], np.intp).reshape(-1, 2)
    drawn: NDArray[np.float64] = across[ends]
    return drawn


def _lines(walks: list[list[int]], pieces: Pieces) -> tuple[tuple[int, ...], ...]:
    line = pieces.line.tolist()
    return tuple(
        (line[walk[0] // 2],) if len(walk) == 1 else tuple(dict.fromkeys(line[end // 2] for end in walk))
        for walk in walks
    )
