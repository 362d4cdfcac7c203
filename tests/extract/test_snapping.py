"""Points within the tolerance become one place."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from splicewright.extract.errors import CrowdedError
from splicewright.extract.snapping import snap

TOLERANCE_M = 0.005
crowds = arrays(float, st.tuples(st.integers(1, 40), st.just(3)), elements=st.floats(0, 0.03))


def test_chain_of_close_points_does_not_collapse():
    """
    Five points 4 mm apart make two places: no point moves further than the 5 mm tolerance.

        a---b---c---d---e
    """
    points = np.array([[0.004 * i, 0, 0] for i in range(5)])
    place_of, centre = snap(points, np.zeros(5, int), TOLERANCE_M)

    assert len(centre) == 2
    assert np.linalg.norm(points - points[centre][place_of], axis=1).max() <= TOLERANCE_M


def test_lower_rank_becomes_the_place():
    """A point on the way of a line (rank 0) stays; the end beside it (rank 1) moves."""
    points = np.array([[0.0, 0, 0], [0.003, 0, 0]])
    _, centre = snap(points, np.array([1, 0]), TOLERANCE_M)

    assert [1] == centre.tolist()


def test_no_points_make_no_places():
    """An empty drawing has no places."""
    place_of, centre = snap(np.empty((0, 3)), np.empty(0, int), TOLERANCE_M)

    assert 0 == len(place_of) == len(centre)


@given(crowds)
def test_snapping_twice_equals_snapping_once(points):
    """After snapping, every point is its own place or that of its twins."""
    place_of, centre = snap(points, np.zeros(len(points), int), TOLERANCE_M)
    once = points[centre][place_of]
    again, centre_again = snap(once, np.zeros(len(once), int), TOLERANCE_M)

    assert once.tolist() == once[centre_again][again].tolist()


@given(crowds)
def test_places_are_further_apart_than_the_tolerance(points):
    """No two places could have been one, and no point has moved further than the tolerance."""
    place_of, centre = snap(points, np.zeros(len(points), int), TOLERANCE_M)
    places = points[centre]
    apart = np.linalg.norm(places[:, None] - places[None], axis=2) + np.eye(len(places))

    assert apart.min() > TOLERANCE_M
    assert np.linalg.norm(points - places[place_of], axis=1).max() <= TOLERANCE_M


def test_crowd_within_the_tolerance_is_refused():
    """Twenty thousand points in one spot of 1 mm would be two hundred million pairs: refused before they are made."""
    points = np.random.default_rng(1).uniform(0, 0.001, (20_000, 3))

    with pytest.raises(CrowdedError):
        snap(points, np.zeros(len(points), int), TOLERANCE_M)
