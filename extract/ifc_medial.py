"""Medial lines: the line along the middle of a strip that is known by its outline or by its faces only."""

from collections.abc import Sequence

import numpy as np

from .ifc_course import Course
from .ifc_fault import IfcFault
from .ifc_frame import unit
from .ifc_strip import Strip, strip_along
from .line import Points

__all__ = ["medial_course", "strip_of_mesh", "strip_of_plan"]

SLENDER = 3.0
"""A body is strip-shaped when it is at least this many times as long as it is wide."""
_EVEN = 0.05  # part of its width by which a strip's width may vary along an outline
_SAME = 1e-5  # part of a body's size within which two vertices are one
_SMOOTH = np.cos(np.radians(1.0))  # vertices that turn less were made by flattening a curve


def medial_course(outline: Points) -> tuple[Course, float] | None:
    """Return the middle line of a flat outline of even width and that width, or None where it has none.

    The outline must have as many vertices on one side as on the other, as a strip with square or mitred corners and
    evenly flattened bends has. Of several, the longest line counts.

    Parameters
    ----------
    outline : Points
        Vertices in order, shape (n, 3), the first not repeated.
    """
    outline = _without_needless(outline)
    half, odd = divmod(len(outline), 2)
    if odd or half < 2:
        return None
    best: tuple[float, Course, float] | None = None
    for turn in range(half):
        ring = np.roll(outline, -turn, axis=0)
        left, right = ring[:half], ring[half:][::-1]
        found = _even_strip(left, right)
        if found is not None and (best is None or found[0] > best[0]):
            best = found
    if best is None or best[0] < SLENDER * best[2]:
        return None
    return best[1], best[2]


def _without_needless(outline: Points) -> Points:
    """Drop vertices in the middle of straight edges, which the other side of a strip need not have."""
    before, after = outline - np.roll(outline, 1, axis=0), np.roll(outline, -1, axis=0) - outline
    keep = np.linalg.norm(before, axis=1) > 0
    before, after = unit(before), unit(after)
    straight = np.linalg.norm(np.cross(before, after), axis=1) < 1e-6
    kept: Points = outline[keep & ~straight]
    return kept


def _even_strip(left: Points, right: Points) -> tuple[float, Course, float] | None:
    """Return length, middle line and width of the strip between two sides, None where it is not even."""
    middle = (left + right) / 2
    step = np.diff(middle, axis=0)
    size = np.linalg.norm(step, axis=1)
    if not (size > 0).all():
        return None
    along = step / size[:, None]
    over = (left - right)[:-1], (left - right)[1:]
    widths = np.concatenate([np.linalg.norm(np.cross(part, along), axis=1) for part in over])
    width = float(widths.mean())
    sides = np.concatenate([unit(np.diff(side, axis=0)) for side in (left, right)])
    leaves = np.abs(np.einsum("ij,ij->i", sides, np.concatenate([along, along])))
    if width <= 0 or np.ptp(widths) > _EVEN * width or not (leaves > 0.99).all():
        return None
    turn = np.einsum("ij,ij->i", along[1:], along[:-1])
    drawn = np.concatenate(([True], turn < _SMOOTH, [True]))
    at = np.concatenate(([0.0], np.cumsum(size)))
    return float(at[-1]), Course(points=middle, at=at, drawn=drawn, metric=True), width


def strip_of_plan(outline: Points, rise: Points) -> Strip | None:
    """Return the strip whose plan is an outline and whose height is a vector, or None where it is no strip.

    It lies flat where the plan is wider than the strip is high, and stands upright else.
    """
    found = medial_course(outline)
    if found is None:
        return None
    course, wide = found
    high = float(np.linalg.norm(rise))
    normal = rise / high
    moved = Course(points=course.points + rise / 2, at=course.at, drawn=course.drawn, metric=True)
    along = np.diff(course.points, axis=0)
    across = unit(np.cross(normal, along)) if wide > high else np.broadcast_to(normal, along.shape)
    even = abs(wide - high) <= 0.01 * high
    return strip_along(moved, None if even else across, width=max(wide, high), thickness=min(wide, high))


def strip_of_mesh(points: Points, faces: Sequence[Sequence[int]]) -> Strip:
    """Return the strip that a faceted body is.

    A straight one has vertices at its two ends only. A bent one is looked at along each direction in which all its
    vertices lie in two planes; its outline in one of them is its plan.

    Raises
    ------
    IfcFault
        It is neither, or not strip-shaped.
    """
    if not np.isfinite(points).all():
        raise IfcFault("not-finite")
    points, loops = _welded(points, faces)
    if len(points) < 4:
        raise IfcFault("no-centre-line", "a body without extent")
    straight = _straight(points, loops)
    if straight is not None:
        return straight
    for normal in _normals(points, loops):
        plan = _plan(points, loops, normal)
        strip = None if plan is None else strip_of_plan(*plan)
        if strip is not None and strip.length >= SLENDER * (strip.width or 0.0):
            return strip
    raise IfcFault("no-centre-line", "a body that is no strip of even width")


def _welded(points: Points, faces: Sequence[Sequence[int]]) -> tuple[Points, list[list[int]]]:
    """Make one of the vertices that are at the same place; keep those that faces use."""
    size = float(np.ptp(points, axis=0).max()) or 1.0
    _, first, number = np.unique(np.round(points / (_SAME * size)), axis=0, return_index=True, return_inverse=True)
    loops = [[int(number.ravel()[index]) for index in face] for face in faces]
    return points[first], [loop for loop in loops if len(set(loop)) > 2]


def _straight(points: Points, loops: list[list[int]]) -> Strip | None:
    """Return the strip of a straight prism, its ends cut square or not."""
    along = _longest_edge(points, loops)
    height = points @ along
    low, high = float(height.min()), float(height.max())
    frame = _section_frame(points, along)
    sides = points @ frame.T
    size = np.ptp(sides, axis=0)
    width, thickness = float(size.max()), float(size.min())
    if high - low < SLENDER * width or thickness <= 0:
        return None
    near, far = height <= low + width, height >= high - width
    if not (near | far).all() or not _same_section(sides[near], sides[far], width):
        return None
    middle = (sides.max(axis=0) + sides.min(axis=0)) / 2
    reach = np.array([_end(height[near], sides[near], middle), _end(height[far], sides[far], middle)])
    line = middle @ frame + np.outer(reach, along)
    course = Course(points=line, at=reach - reach[0], drawn=np.ones(2, dtype=bool), metric=True)
    across = None if width <= 1.01 * thickness else frame[int(np.argmax(size))]
    return strip_along(course, across, width=width, thickness=thickness)


def _end(height: Points, sides: Points, middle: Points) -> float:
    """Return where the middle line meets an end that may be cut aslant, by a plane through its vertices."""
    if np.ptp(height) == 0:
        return float(height[0])
    system = np.column_stack([sides - middle, np.ones(len(sides))])
    return float(np.linalg.lstsq(system, height, rcond=None)[0][-1])


def _same_section(one: Points, two: Points, width: float) -> bool:
    boxes = [np.concatenate([part.min(axis=0), part.max(axis=0)]) for part in (one, two)]
    return bool(np.abs(boxes[0] - boxes[1]).max() <= _EVEN * width)


def _longest_edge(points: Points, loops: list[list[int]]) -> Points:
    """Return the direction in which a body is longest, taken from its edges: their sum by direction."""
    pairs = np.array([(a, b) for loop in loops for a, b in zip(loop, loop[1:] + loop[:1], strict=True)])
    step = points[pairs[:, 1]] - points[pairs[:, 0]]
    size = np.linalg.norm(step, axis=1)
    # A triangulated strip's diagonals are longer than its edges but few share their direction.
    way = step / np.maximum(size, 1e-300)[:, None]
    candidates = np.argsort(-size, kind="stable")[:24]
    shared = [float(size[np.abs(way @ way[index]) > 1 - 1e-9].sum()) for index in candidates]
    best = candidates[int(np.argmax(shared))]
    axis: Points = way[best]
    return axis


def _section_frame(points: Points, along: Points) -> Points:
    """Return two unit vectors square to the axis, along the sides of the tightest box round the section."""
    other = np.eye(3)[int(np.argmin(np.abs(along)))]
    first = unit(np.cross(along, other))
    second = np.cross(along, first)
    flat = np.unique(np.round(points @ np.stack([first, second]).T, 9), axis=0)
    best, frame = np.inf, np.stack([first, second])
    for step in (flat[1:] - flat[:1])[:32]:
        size = float(np.linalg.norm(step))
        if size < 1e-9:
            continue
        turned = np.array([[step[0], step[1]], [-step[1], step[0]]]) / size
        area = float(np.prod(np.ptp(flat @ turned.T, axis=0)))
        if area < best * 0.999:
            best, frame = area, turned @ np.stack([first, second])
    return frame


def _normals(points: Points, loops: list[list[int]]) -> list[Points]:
    """Return the directions square to the largest faces, each once."""
    found: list[tuple[float, Points]] = []
    for loop in loops:
        corner = points[loop]
        area = np.cross(corner[:-1] - corner[0], corner[1:] - corner[0]).sum(axis=0)
        size = float(np.linalg.norm(area))
        if size <= 0:
            continue
        normal = area / size
        same = next((i for i, (_, other) in enumerate(found) if abs(float(normal @ other)) > 1 - 1e-6), None)
        if same is None:
            found.append((size, normal))
        else:
            found[same] = (found[same][0] + size, found[same][1])
    return [normal for _, normal in sorted(found, key=lambda item: -item[0])[:8]]


def _plan(points: Points, loops: list[list[int]], normal: Points) -> tuple[Points, Points] | None:
    """Return outline and height of a body whose vertices lie in two planes square to a direction, else None."""
    height = points @ normal
    low, high = float(height.min()), float(height.max())
    slack = 1e-3 * (high - low)
    if high <= low or not ((height < low + slack) | (height > high - slack)).all():
        return None
    base = height < low + slack
    edges: set[tuple[int, int]] = set()
    for loop in loops:
        if base[loop].all():
            for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
                edges ^= {(min(a, b), max(a, b))}
    ring = _ring(edges)
    return None if ring is None else (points[ring], normal * (high - low))


def _ring(edges: set[tuple[int, int]]) -> list[int] | None:
    """Return the vertices of the one closed ring that edges make, None where they make more or less."""
    near: dict[int, list[int]] = {}
    for a, b in sorted(edges):
        near.setdefault(a, []).append(b)
        near.setdefault(b, []).append(a)
    if not near or any(len(others) != 2 for others in near.values()):
        return None
    start = min(near)
    ring, before = [start], -1
    while True:
        one, two = near[ring[-1]]
        following = two if one == before else one
        before = ring[-1]
        if following == start:
            break
        ring.append(following)
    return ring if len(ring) == len(near) else None
