"""Tape: lengths rounded to sixteenths of an inch or millimetres, so that what is cut for a run is never short."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.schedule.measure import Measure
from splicewright.schedule.roll import Piece, Roll
from splicewright.schedule.tape import read_tape

SIXTEENTH_M = 0.0254 / 16


def rolls_of(*runs, roll_m=15.24):
    """Give every piece of every run a roll of its own; what is left beyond 3 mm for the trim of its cut is offcut."""
    rolls = []
    for number, lengths in enumerate(runs, start=1):
        for place, length in enumerate(lengths, start=1):
            piece = Piece(mark=f"P{len(rolls) + 1}", run=f"R{number}", number=place, of=len(lengths), length_m=length)
            left = max(0.0, roll_m - length - 0.003)
            rolls.append(Roll(mark=f"L{number}", profile="p", length_m=roll_m, pieces=(piece,), offcut_m=left))
    return rolls


@pytest.mark.parametrize(
    ("imperial", "length_m", "measured_m"),
    [
        (False, 4.0001, 4.001),
        (False, 4.0, 4.0),
        (True, 1.0, 630 * SIXTEENTH_M),
        (True, 3.048, 3.048),
        (True, 3.048 + 1e-5, 3.048 + SIXTEENTH_M),
    ],
)
def test_a_piece_is_rounded_up(imperial, length_m, measured_m):
    """1 m is 629.92 sixteenths, so 630; 10 ft stay 10 ft, and a hundredth of a millimetre more is a sixteenth more."""
    tape = read_tape(rolls_of([length_m]), imperial=imperial)

    assert pytest.approx(measured_m) == tape.lengths_m["P1"]


def test_what_a_whole_roll_lacks_is_added_to_another_piece():
    """A roll of 15.0009 m is cut as it comes, 15.000 on the tape; its other piece of 2.0005 m makes up for it."""
    tape = read_tape(rolls_of([15.0009, 2.0005], roll_m=15.0009), imperial=False)

    assert {"P1": 15.0, "P2": 2.002} == pytest.approx(tape.lengths_m)
    assert pytest.approx(0.0006) == tape.least_more_m


def test_a_piece_a_little_shorter_than_its_roll_is_rounded_up():
    """A cut that leaves nothing is a cut all the same: 15.2376 m of a roll of 15.24 m are measured as 15.238 m."""
    tape = read_tape(rolls_of([15.2376]), imperial=False)

    assert pytest.approx(15.238) == tape.lengths_m["P1"]
    assert tape.fullest_m < 0


def test_a_full_roll_without_room_for_rounding_is_told():
    """Two pieces of 5.0005 m from a roll of 10.001 m without trim come to 10.002 m: 1 mm more than it has."""
    pieces = tuple(Piece(mark=f"P{number}", run=f"R{number}", number=1, of=1, length_m=5.0005) for number in (1, 2))
    tape = read_tape([Roll(mark="L1", profile="p", length_m=10.001, pieces=pieces, offcut_m=0.0)], imperial=False)

    assert pytest.approx(0.001) == tape.fullest_m
    assert not tape.fits


def printed(text):
    """Read a printed length back, exactly [m]: 12'-3 5/16" or 3.742 m."""
    if text.endswith(" m"):
        return Fraction(text.removesuffix(" m").replace(",", ""))
    feet, inches = text.removesuffix('"').split("'-")
    return (12 * int(feet) + sum(map(Fraction, inches.split()))) * Fraction("0.0254")


@settings(deadline=None, max_examples=200)
@given(
    runs=st.lists(st.lists(st.integers(300_000, 15_240_000), min_size=1, max_size=4), min_size=1, max_size=5),
    imperial=st.booleans(),
)
def test_no_run_is_ever_short(runs, imperial):
    """The printed lengths of a run add up to what it takes, to the micrometre, and to less than a step a piece more."""
    exact = [[Fraction(length, 1_000_000) for length in run] for run in runs]
    tape = read_tape(rolls_of(*([float(length) for length in run] for run in exact)), imperial=imperial)
    step = Fraction(254, 160_000) if imperial else Fraction(1, 1000)
    text = Measure(imperial=imperial).text
    marks = (f"P{number}" for number in range(1, 1 + sum(map(len, runs))))
    more = [sum(printed(text(tape.lengths_m[next(marks)])) for _ in run) - sum(run) for run in exact]

    assert all(-Fraction(2, 1_000_000) <= value <= len(run) * step for value, run in zip(more, runs, strict=True))
    assert float(min(more)) == pytest.approx(tape.least_more_m, abs=1e-9)
    assert float(max(more)) == pytest.approx(tape.most_more_m, abs=1e-9)
    assert tape.fullest_m <= step
