"""Rules and drawings that do not seem meant for each other."""

from dataclasses import replace

import pytest

from splicewright.schedule.doubt import find_doubts
from splicewright.schedule.rules import load_rules
from splicewright.schedule.stretch import lay_out


@pytest.fixture
def doubts(build, drawing_of, line):
    """Find the doubts about one straight line of a length and, where drawn, a section."""

    def find(length_m, **section):
        drawn = replace(line([(0, 0), (length_m, 0)], joint="slab"), **section)
        rules = load_rules(None)
        return list(find_doubts(lay_out([build(drawing_of(drawn))], rules), rules))

    return find


def test_job_shorter_than_a_leg_asks_for_the_unit(doubts):
    """A job of 0.3 m, less than the leg of 24 in, was probably drawn in another unit."""
    (doubt,) = doubts(0.3)

    assert "tiny-job" == doubt.code
    assert "--drawing-unit" in doubt.message


def test_usual_job_raises_no_doubt(doubts):
    """A line of 10 m whose section is not drawn is taken as the rules have it."""
    assert [] == doubts(10)


@pytest.mark.parametrize(("width_m", "expected"), [(0.2286, []), (0.2300, []), (0.1016, ["section-differs"])])
def test_section_of_a_model_is_held_against_the_profile(doubts, width_m, expected):
    """A drawn section is compared with the assumed 9 x 3/8 in; what differs by rounding only is the same."""
    found = doubts(10, width_m=width_m, thickness_m=0.009525)

    assert expected == [doubt.code for doubt in found]
