"""Profiles of an IFC model: centre, width, thickness and outline of what is swept along a line."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from .ifc_curve import Curves, mitred
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_frame import IDENTITY, Matrix, axis_matrix, map_vectors, operator_matrix
from .line import Points

__all__ = ["Section", "section_of"]

_ROUND = 1.01  # sides whose ratio is less are one: such a section has no width to lie by
_TIGHTER = 0.99  # a turned box must be this much smaller to be taken before the one along the profile's own axes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """The box round a profile, in the profile's own plane and the model's own unit.

    Attributes
    ----------
    centre : Points
        Middle of the box, shape (3,), its height 0.
    width_axis : Points
        Unit vector along the long side, shape (3,); NaN where the sides are equal or the section is round.
    width, thickness : float
        The long side and the short one, > 0.
    outline : Points
        Outline, shape (n, 3), its first vertex not repeated.
    """

    centre: Points
    width_axis: Points
    width: float
    thickness: float
    outline: Points

    @property
    def area(self) -> float:
        """Area inside the outline."""
        x, y = self.outline[:, 0], self.outline[:, 1]
        return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def section_of(profile: Entity | None, curves: Curves) -> Section:
    """Return the section of a profile.

    Raises
    ------
    IfcFault
        The profile is missing, damaged, without extent, or of a kind that cannot be read.
    """
    if profile is not None and profile.is_a("IfcRectangleProfileDef"):
        return _rectangle(profile)
    outline, tight = _outline(profile, curves, 0)
    if len(outline) > 2 and (outline[0] == outline[-1]).all():
        outline = outline[:-1]
    if not np.isfinite(outline).all():
        raise IfcFault("not-finite")
    section = _box(outline, np.array([1.0, 0.0, 0.0]))
    if tight and len(outline) > 3:
        turned = min((_box(outline, axis) for axis in _edges(outline)), key=lambda box: box.width * box.thickness)
        if turned.width * turned.thickness < _TIGHTER * section.width * section.thickness:
            section = turned
    if not section.thickness > 0:
        raise IfcFault("damaged", "a profile without extent")
    if profile is not None and profile.is_a("IfcCircleProfileDef"):
        return replace(section, width_axis=np.full(3, np.nan))
    return section


def _rectangle(profile: Entity) -> Section:
    """Return the section of the profile that is by far the most common."""
    frame = axis_matrix(profile.get_argument(2))
    x, y = float(profile.get_argument(3)), float(profile.get_argument(4))
    if not (x > 0 and y > 0 and math.isfinite(x + y)):
        raise IfcFault("damaged", "a profile without extent")
    corners = np.array([(-x / 2, -y / 2), (x / 2, -y / 2), (x / 2, y / 2), (-x / 2, y / 2)])
    width, thickness = max(x, y), min(x, y)
    return Section(
        centre=frame[3, :3],
        width_axis=frame[0 if x >= y else 1, :3] if width > _ROUND * thickness else np.full(3, np.nan),
        width=width,
        thickness=thickness,
        outline=corners @ frame[:2, :3] + frame[3, :3],
    )


def _box(outline: Points, axis: Points) -> Section:
    other = np.array([-axis[1], axis[0], 0.0])
    sides = np.stack([outline @ axis, outline @ other], axis=1)
    low, high = sides.min(axis=0), sides.max(axis=0)
    size, middle = high - low, (low + high) / 2
    long = axis if size[0] >= size[1] else other
    width, thickness = float(size.max()), float(size.min())
    return Section(
        centre=axis * middle[0] + other * middle[1],
        width_axis=long if width > _ROUND * thickness else np.full(3, np.nan),
        width=width,
        thickness=thickness,
        outline=outline,
    )


def _edges(outline: Points) -> Iterator[Points]:
    """Yield the directions of the longest edges of an outline: one of them is that of its tightest box."""
    step = np.roll(outline, -1, axis=0) - outline
    size = np.linalg.norm(step, axis=1)
    for index in np.argsort(-size, kind="stable")[:16]:
        if size[index] > 0:
            yield step[index] / size[index]


def _outline(profile: Entity | None, curves: Curves, depth: int) -> tuple[Points, bool]:
    """Return the outline, and whether a turned box may be tighter."""
    if profile is None or depth > 8:
        raise IfcFault("damaged", "a swept body without a profile")
    if profile.is_a("IfcArbitraryClosedProfileDef"):
        return curves.course(profile.OuterCurve).points, True
    if profile.is_a("IfcCenterLineProfileDef"):
        return _thickened(curves.course(profile.Curve).points, float(profile.Thickness)), True
    if profile.is_a("IfcArbitraryOpenProfileDef"):
        raise IfcFault("no-centre-line", "a profile that is open")
    if profile.is_a("IfcDerivedProfileDef"):
        points, _ = _outline(profile.ParentProfile, curves, depth + 1)
        matrix = _mirror(profile)
        return map_vectors(points, matrix) + matrix[3, :3], True
    if profile.is_a("IfcCompositeProfileDef"):
        parts = [_outline(part, curves, depth + 1)[0] for part in profile.Profiles]
        return np.vstack(parts), False
    for kind, size in _SIZES.items():
        if profile.is_a(kind):
            x, y = (float(value) / 2 for value in size(profile))
            matrix = axis_matrix(profile.Position)
            corners = np.array([[-x, -y, 0.0], [x, -y, 0.0], [x, y, 0.0], [-x, y, 0.0]])
            return corners @ matrix[:3, :3] + matrix[3, :3], True
    raise IfcFault("unread-profile", profile.is_a())


def _mirror(profile: Entity) -> Matrix:
    if profile.is_a("IfcMirroredProfileDef") or profile.Operator is None:
        matrix = IDENTITY.copy()
        matrix[0, 0] = -1.0
        return matrix
    return operator_matrix(profile.Operator)


def _thickened(points: Points, thickness: float) -> Points:
    """Return the outline of a line of some thickness."""
    step = np.diff(points, axis=0)
    left = np.stack([-step[:, 1], step[:, 0], np.zeros(len(step))], axis=1)
    left /= np.linalg.norm(left, axis=1)[:, None]
    moved = mitred(left, closed=False) * (thickness / 2)
    return np.vstack([points + moved, (points - moved)[::-1]])


def _trapezium(profile: Entity) -> tuple[float, float]:
    low = min(0.0, float(profile.TopXOffset))
    high = max(float(profile.BottomXDim), float(profile.TopXOffset) + float(profile.TopXDim))
    return high - low, profile.YDim


_SIZES: dict[str, Callable[[Entity], tuple[float, float]]] = {
    "IfcRectangleProfileDef": lambda p: (p.XDim, p.YDim),
    "IfcCircleProfileDef": lambda p: (2 * p.Radius, 2 * p.Radius),
    "IfcEllipseProfileDef": lambda p: (2 * p.SemiAxis1, 2 * p.SemiAxis2),
    "IfcTrapeziumProfileDef": _trapezium,
    "IfcAsymmetricIShapeProfileDef": lambda p: (
        max(getattr(p, "BottomFlangeWidth", None) or p.OverallWidth, p.TopFlangeWidth),
        p.OverallDepth,
    ),
    "IfcIShapeProfileDef": lambda p: (p.OverallWidth, p.OverallDepth),
    "IfcLShapeProfileDef": lambda p: (p.Width or p.Depth, p.Depth),
    "IfcTShapeProfileDef": lambda p: (p.FlangeWidth, p.Depth),
    "IfcUShapeProfileDef": lambda p: (p.FlangeWidth, p.Depth),
    "IfcCShapeProfileDef": lambda p: (p.Width, p.Depth),
    "IfcZShapeProfileDef": lambda p: (2 * p.FlangeWidth - p.WebThickness, p.Depth),
}
