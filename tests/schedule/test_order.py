"""What is ordered beside the rolls that the plan cuts."""

from dataclasses import replace

import pytest

from splicewright.schedule.plan import plan
from splicewright.schedule.rules import load_rules

RULES = """
[profiles.own]
width = "9 in"
thickness = "3/8 in"
rolls = [{ length = "50 ft", price = 310.0 }, { length = "100 ft", price = %s }]
"""


@pytest.fixture
def strip_lines(build, drawing_of, line, tmp_path):
    """Schedule one straight joint of a length; return the order lines of strip, as feet, needed, spare, cost, note."""

    def schedule(length_m, price_of_100_ft):
        path = tmp_path / "rules.toml"
        path.write_text(RULES % price_of_100_ft)
        joint = replace(line([(0, 0), (length_m, 0)], joint="slab"), profile="own")
        made = plan([build(drawing_of(joint))], load_rules(path), job="order")
        lines = [one for one in made.order_list if one.group == "strip"]
        return [(round(one.length_m / 0.3048), one.needed, one.spare, one.cost, one.note) for one in lines]

    return schedule


def test_samples_come_from_the_cheapest_roll_that_holds_them(strip_lines):
    """
    Two joined rolls of 100 ft hold 60.9 m with nothing to keep; the samples, a few feet, need one roll more.

    The crew's qualification scraps, 6 of 6 in, the approval sample of 2 ft and the material samples of 1 ft fit a roll
    of 50 ft at 310, where one of 100 ft is 590.
    """
    assert [(100, 2, 0, 1180.0, ""), (50, 0, 1, 310.0, "1 for samples")] == strip_lines(60.9, 590.0)


def test_samples_come_from_the_larger_roll_where_it_costs_less(strip_lines):
    """Where 100 ft are cheaper than 50, the third roll is one of these."""
    assert [(100, 2, 1, 897.0, "1 for samples")] == strip_lines(60.9, 299.0)
