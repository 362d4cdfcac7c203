"""Small drawings and their networks, for all tests."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.finding import Source
from splicewright.extract.limits import Limits
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.network import JointNetwork, build_network
from splicewright.extract.unit import LengthUnit

Course = Sequence[Sequence[float]] | np.ndarray | JointLine
LIMITS = Limits(tolerance_m=0.005, reach_m=0.150, rise_m=0.600, bend_limit_deg=15.0)


def _line(
    course: Course, number: int = 1, *, joint: str | None = None, profile: str | None = "ribbed", curved: bool = False
) -> JointLine:
    if isinstance(course, JointLine):
        return course
    points = np.array([(*point, 0.0)[:3] for point in course], float)
    source = Source(file="test.dxf", layer=joint or "WATERSTOP", entity=f"LINE {number:X}")
    drawn = np.array([0, len(points) - 1]) if curved else None
    kind = JointKind(joint) if joint else None
    return JointLine(source=source, points_m=points, drawn=drawn, profile=profile, joint=kind)


def _drawing_of(*courses: Course, **carried: str | None) -> Drawing:
    lines = tuple(_line(course, number, **carried) for number, course in enumerate(courses, start=1))
    return Drawing(
        file="test.dxf",
        sha256="0" * 64,
        kind=DrawingKind.DXF,
        unit=LengthUnit.METRE,
        lines=lines,
        skipped={},
        selected=len(lines),
    )


def _build(drawing: Drawing, **changed: float) -> JointNetwork:
    return build_network(drawing, replace(LIMITS, **changed))


def _arc(
    centre: Sequence[float], radius: float, start_deg: float, end_deg: float, chord_deg: float = 0.25
) -> np.ndarray:
    steps = max(2, round(abs(end_deg - start_deg) / chord_deg))
    angle = np.radians(np.linspace(start_deg, end_deg, steps + 1))
    points = np.stack((np.cos(angle), np.sin(angle), np.zeros(len(angle))), axis=1) * radius
    points += (*centre, 0.0)[:3]
    if abs(end_deg - start_deg) == 360:
        points[-1] = points[0]
    return points


@pytest.fixture(scope="session")
def line() -> Callable[..., JointLine]:
    """Make one joint line from a course; `curved` means that only its ends were drawn."""
    return _line


@pytest.fixture(scope="session")
def drawing_of() -> Callable[..., Drawing]:
    """Make a drawing of courses or joint lines."""
    return _drawing_of


@pytest.fixture(scope="session")
def build() -> Callable[..., JointNetwork]:
    """Build the network of a drawing, with the usual limits unless changed."""
    return _build


@pytest.fixture(scope="session")
def arc() -> Callable[..., np.ndarray]:
    """Flatten an arc in plan, as a reader would; a full turn is closed exactly."""
    return _arc
