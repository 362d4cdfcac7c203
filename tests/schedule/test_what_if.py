"""What if: neighbours of the plan, worked out by hand for two runs."""

import pytest

RULES = {"splices.melt": "10 mm", "cutting.trim": "0 mm", "fittings.leg": "0.6 m", "splices.keep_clear": "0.5 m"}
PRICES = {"prices.field_splice": 10}
STOCK = """
[profiles.stocked]
width = "9 in"
thickness = "3/8 in"
rolls = [{ length = "10 m", price = 100 }, { length = "15 m", price = 160 }]
"""


def neighbours(schedule_of, *lengths, options=RULES, text=STOCK):
    """Plan runs of given lengths side by side; give each choice its row."""
    lines = ([(0, 5 * i), (length, 5 * i)] for i, length in enumerate(lengths))
    schedule = schedule_of(*lines, options=options, more=text, profile="stocked")
    return {row.choice: row for row in schedule.what_if}


def test_the_plan_and_its_neighbours(schedule_of):
    """
    Runs of 9 m and 6 m: two rolls of 10 m for 200, or one of 15 m for 160 which holds both.

        15 m alone         160, nothing spliced, nothing left
        only 10 m          200, 5 m left
    """
    rows = neighbours(schedule_of, 9, 6, options=RULES | PRICES)
    found = {choice: (row.cost, row.rolls, row.splices, round(row.left_m, 3)) for choice, row in rows.items()}

    assert (160.0, 1, 0, 0.0) == found["as planned"]
    assert (200.0, 2, 0, 5.0) == found["only rolls one length shorter"]
    assert (320.0, 1, 0, 15.0) == found["rolls twice as long, at the same price by length"]
    assert (160.0, 1, 0, 0.0) == found["splices twice as dear"]
    assert next(iter(rows)) == "as planned"


def test_dearer_splices_change_the_plan(schedule_of):
    """
    Two runs of 12.4 m from rolls of 10 m at 100: 24.8 m of strip and two melts.

        each with a splice, one goes on where the other ends: three rolls, two splices at 10
        splices twice as dear: the same rolls and splices, at 20 each
    """
    text = STOCK.replace(', { length = "15 m", price = 160 }', "")
    rows = neighbours(schedule_of, 12.4, 12.4, options=RULES | PRICES, text=text)

    assert (320.0, 3, 2) == (rows["as planned"].cost, rows["as planned"].rolls, rows["as planned"].splices)
    assert pytest.approx(340.0) == rows["splices twice as dear"].cost
    assert "no splices inside runs" not in rows


def test_without_splices_inside_runs(schedule_of):
    """Three runs of 6 m come from two rolls of 10 m with a splice, 210, or from three without, 300."""
    text = STOCK.replace(', { length = "15 m", price = 160 }', "")
    rows = neighbours(schedule_of, 6, 6, 6, options=RULES | PRICES, text=text)

    assert (210.0, 2, 1) == (rows["as planned"].cost, rows["as planned"].rolls, rows["as planned"].splices)
    assert (300.0, 3, 0) == tuple(
        getattr(rows["no splices inside runs"], name) for name in ("cost", "rolls", "splices")
    )


def test_longer_legs_leave_less_for_the_rolls(schedule_of):
    """An ell of two runs of 5 m has legs of 0.6 m, then of 0.9 m: 1.2 m and 1.8 m of 10 m are fitting."""
    schedule = schedule_of([(0, 0), (5, 0), (5, 5)], options=RULES | PRICES, more=STOCK, profile="stocked")
    rows = {row.choice: row for row in schedule.what_if}

    assert pytest.approx(1.2) == rows["as planned"].in_fittings_m
    assert pytest.approx(1.8) == rows["legs half as long again"].in_fittings_m
