"""Forms of fittings that do not depend on how they are drawn."""

from itertools import permutations
from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from splicewright.schedule.shape import ArmShape, Part, form_of_assembly, form_of_node, millimetres

TURNS = st.tuples(*[st.floats(-3, 3)] * 3)


def flat(*angles_deg: float, tags: tuple[int, ...] = ()) -> list[ArmShape]:
    """Arms in plan, lying flat."""
    marked = tags or (600,) * len(angles_deg)
    return [
        ArmShape((cos(radians(a)), sin(radians(a)), 0.0), (-sin(radians(a)), cos(radians(a)), 0.0), (0, tag))
        for a, tag in zip(angles_deg, marked, strict=True)
    ]


def turned(arms: list[ArmShape], angles: tuple[float, float, float]) -> list[ArmShape]:
    """Turn arms in space."""
    matrix = Rotation.from_euler("XYZ", angles).as_matrix()
    return [ArmShape(tuple(matrix @ a.heading), tuple(matrix @ a.across), a.tag) for a in arms]


def mirrored(arms: list[ArmShape]) -> list[ArmShape]:
    """Mirror arms from west to east."""
    flip = np.array([-1.0, 1.0, 1.0])
    return [ArmShape(tuple(flip * a.heading), tuple(flip * a.across), a.tag) for a in arms]


SHAPES = {
    "ell": flat(0, 90),
    "long and short ell": flat(0, 90, tags=(600, 900)),
    "skew tee": flat(0, 60, 180),
    "cross": flat(0, 90, 180, 270),
    "wye": flat(0, 100, 220),
    "vertical ell": [
        ArmShape((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0, 600)),
        ArmShape((0.0, 0.0, 1.0), (0.0, 1.0, 0.0), (0, 600)),
    ],
}


@given(name=st.sampled_from(sorted(SHAPES)), turn=TURNS, order=st.randoms())
def test_a_form_survives_turning_and_reordering(name: str, turn, order):
    """Neither a turn in space nor the order of the arms nor the sense of across changes a form."""
    arms = SHAPES[name]
    moved = [a._replace(across=tuple(-c for c in a.across)) for a in turned(arms, turn)]
    order.shuffle(moved)

    assert form_of_node(arms, upright=False) == form_of_node(moved, upright=False)


def test_different_shapes_have_different_forms():
    """No two of the sample shapes are taken for the same piece."""
    assert len(SHAPES) == len({form_of_node(arms, upright=False) for arms in SHAPES.values()})


def test_mirror_images_in_a_plane_are_one_piece_only_if_it_may_be_turned_over():
    r"""
    A skew tee and its mirror image are one piece of symmetric strip, and two of strip with a face.

        \ |        | /
          +---  ---+        (seen from above)
    """
    tee = SHAPES["skew tee"]

    assert form_of_node(tee, upright=False) == form_of_node(mirrored(tee), upright=False)
    assert form_of_node(tee, upright=True) != form_of_node(mirrored(tee), upright=True)


def test_mirror_images_in_space_differ_even_for_symmetric_strip():
    """Three edges of a box with legs of three lengths have a left and a right form."""
    edges = [
        ArmShape((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0, 600)),
        ArmShape((0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0, 700)),
        ArmShape((0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0, 800)),
    ]

    assert form_of_node(edges, upright=False) != form_of_node(mirrored(edges), upright=False)


@given(angle=st.floats(-3, 3))
def test_strip_with_a_face_may_be_turned_about_the_vertical(angle: float):
    """A turn in plan leaves the form of a fitting that must lie face up."""
    tee = SHAPES["skew tee"]

    assert form_of_node(tee, upright=True) == form_of_node(turned(tee, (0.0, 0.0, angle)), upright=True)


def parts(places, arms, order=(0, 1)) -> list[Part]:
    """Two nodes joined by one run, each with its arms."""
    made = [Part(places[i], tuple(arms[i]), len(arms[i])) for i in (0, 1)]
    return [made[i] for i in order]


@given(turn=TURNS, swap=st.booleans(), shift=st.tuples(*[st.floats(-100, 100)] * 3))
def test_the_form_of_an_assembly_survives_moving_and_reordering(turn, swap, shift):
    """
    An ell and a tee 0.8 m apart are the same assembly wherever and whichever way round they are drawn.

        |    |
        +----+----
    """
    ell, tee = flat(0, 90, tags=(-1, 600)), flat(180, 0, 90, tags=(-1, 600, 600))
    ends = [ArmShape((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), ()), ArmShape((0.8, 0.0, 0.0), (0.0, 0.0, 0.0), ())]
    moved = [tuple(np.array(e.heading) + shift) for e in turned(ends, turn)]

    here = form_of_assembly(parts([e.heading for e in ends], [ell, tee]), upright=False)
    there = form_of_assembly(
        parts(moved, [turned(ell, turn), turned(tee, turn)], (1, 0) if swap else (0, 1)), upright=False
    )

    assert here == there


def test_the_distance_between_two_nodes_is_part_of_the_form():
    """The same two nodes 0.8 m and 0.9 m apart are two different assemblies."""
    ell, tee = flat(0, 90, tags=(-1, 600)), flat(180, 0, 90, tags=(-1, 600, 600))
    forms = {
        form_of_assembly(parts([(0.0, 0.0, 0.0), (far, 0.0, 0.0)], [ell, tee]), upright=False) for far in (0.8, 0.9)
    }

    assert 2 == len(forms)


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_equal_arms_may_come_in_any_order(order):
    """All orders of a wye's arms give one form."""
    wye = flat(0, 120, 240)

    assert form_of_node(wye, upright=False) == form_of_node([wye[i] for i in order], upright=False)


@given(halves=st.integers(1, 20_000), noise=st.floats(-1e-7, 1e-7))
def test_rounding_to_millimetres_is_steady_at_half_millimetres(halves: int, noise: float):
    """Half lengths of runs drawn in whole millimetres do not flip between two numbers."""
    assert millimetres(halves / 2000) == millimetres(halves / 2000 + noise)
