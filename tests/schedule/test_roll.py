"""Rolls: pieces, stock lengths, offcuts, keep-clear, lots, order of work."""

from collections import Counter
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from splicewright.extract.errors import RulesError

FREE = {"cutting.splice_worth": "0 m", "splices.keep_clear": "0 m"}
"""Splices cost nothing and may lie anywhere."""


def strips(*lengths, gap=1.0):
    """Runs of given lengths side by side, from free end to free end."""
    return [[(0, y * gap), (length, y * gap)] for y, length in enumerate(lengths)]


def pieces_of(schedule):
    """Lengths of the pieces of every run, from start to end."""
    found = {}
    for piece in sorted((p for roll in schedule.rolls for p in roll.pieces), key=lambda p: p.number):
        found.setdefault(piece.run, []).append(round(piece.length_m, 6))
    return found


@pytest.mark.parametrize(
    ("run_m", "pieces"),
    [
        (0.32, [0.32]),
        (10.0, [10.0]),
        (10.005, [9.715, 0.3]),
        (12.0, [10.0, 2.01]),
        (19.99, [10.0, 10.0]),
        (25.02, [10.0, 10.0, 5.04]),
    ],
)
def test_a_run_takes_whole_rolls_and_a_rest(schedule_of, run_m, pieces):
    """
    From rolls of 10 m with a melt of 10 mm: whole rolls, then the rest; a rest under 0.3 m takes from the roll before.

        12.0: 10.0 + 2.01, the 0.01 goes into the weld between
    """
    schedule = schedule_of(*strips(run_m), options={"splices.keep_clear": "0 m"})

    assert sorted(pieces) == sorted(pieces_of(schedule)["R1"])


def test_the_cut_list_names_pieces_by_run_and_rolls_by_use(schedule_of):
    """
    Runs of 12 m and 3 m between free ends: rolls of 10 m give one whole, and one cut into 3 m and 2.01 m.

        ============     ===
    """
    schedule = schedule_of([(0, 0), (12, 0)], [(20, 0), (23, 0)])
    rolls = [
        (r.mark, [(p.mark, p.run, p.number, p.of) for p in r.pieces], round(r.offcut_m, 6), r.offcut)
        for r in schedule.rolls
    ]

    assert [
        ("L1", [("P1", "R1", 1, 2)], 0.0, ""),
        ("L2", [("P2", "R1", 2, 2), ("P3", "R2", 1, 1)], 4.99, "O1"),
    ] == rolls
    assert [("ribbed", 10.0, 2, None, pytest.approx(15.01), 2)] == [
        (o.profile, o.length_m, o.quantity, o.cost, o.pieces_m, o.least_quantity) for o in schedule.orders
    ]


STOCK = """
[profiles.stocked]
width = "9 in"
thickness = "3/8 in"
rolls = [{prices}]
"""


@pytest.mark.parametrize(
    ("prices", "lengths"),
    [
        ('{ length = "10 m" }, { length = "16 m" }', {16.0: 1}),
        ('{ length = "10 m", price = 100 }, { length = "16 m", price = 2100 }', {10.0: 2}),
        ('{ length = "10 m", price = 100 }, { length = "16 m", price = 1150 }', {16.0: 1}),
        ('{ length = "8 m" }, { length = "16 m" }', {16.0: 1}),
        ('{ length = "6 m" }, { length = "10 m" }', {6.0: 1, 10.0: 1}),
    ],
    ids=["least length", "price against a splice", "a splice against price", "fewer splices", "two lengths"],
)
def test_the_stock_that_costs_least_is_ordered(schedule_of, prices, lengths):
    """15.5 m come from one roll of 16 m, or from two rolls with a splice worth 100 m of strip, whichever is cheaper."""
    schedule = schedule_of(*strips(15.5), more=STOCK.replace("{prices}", prices), profile="stocked")

    assert lengths == {order.length_m: order.quantity for order in schedule.orders}


def test_joining_saves_a_roll(schedule_of):
    """
    Three runs of 6 m from rolls of 10 m: three rolls, or two with a splice in one run where a splice is worth less.

        ------ | ----
        ------ | --     4 + 2.01
    """
    runs = strips(6.0, 6.0, 6.0)
    dear, cheap = schedule_of(*runs), schedule_of(*runs, options={"cutting.splice_worth": "1 m"})

    assert (3, 0) == (dear.totals["rolls"], dear.totals["field_splices"])
    assert (2, 1) == (cheap.totals["rolls"], cheap.totals["field_splices"])
    assert [(0.0, True)] * 2 == [
        (plan.gap, plan.cost == plan.least_cost) for one in (dear, cheap) for plan in one.roll_plans
    ]


def test_ties_go_to_fewer_splices_then_to_less_waste(schedule_of):
    """Two rolls of 6 m and one of 12 m cost the same for 11.9 m, and so do 12 m and 13 m: one of 12 m is taken."""
    stock = '{ length = "6 m", price = 100 }, { length = "12 m", price = 200 }, { length = "13 m", price = 200 }'
    schedule = schedule_of(
        *strips(11.9), more=STOCK.replace("{prices}", stock), profile="stocked", options={"cutting.splice_worth": "0 m"}
    )

    assert [(12.0, 1)] == [(order.length_m, order.quantity) for order in schedule.orders]


OFFCUTS = """
[profiles.stocked]
width = "9 in"
thickness = "3/8 in"
rolls = [{ length = "10 m", price = 100 }]
offcuts = [{ length = "4 m", mark = "A" }, { length = "6.5 m", quantity = 2, mark = "B" }]
"""


def test_offcuts_in_stock_are_used_first(schedule_of):
    """Runs of 6 m, 6 m, 3.9 m come from offcuts of 6.5 m, 6.5 m and 4 m; one of 9 m from a new roll."""
    schedule = schedule_of(*strips(6.0, 6.0, 3.9, 9.0), more=OFFCUTS, profile="stocked")
    (row,) = schedule.footage

    assert {"A": 1, "B": 2, None: 1} == Counter(roll.stock for roll in schedule.rolls)
    assert 1 == schedule.totals["rolls"]
    assert (10.0, 17.0) == (row.order_m, row.offcuts_m)
    assert abs(row.roll_difference_m) < 1e-9


def test_splices_keep_clear_of_nodes(schedule_of):
    """A run of 10.2 m between free ends is spliced no closer to either than 2 m."""
    schedule = schedule_of(*strips(10.2), options={"splices.keep_clear": "2 m"})
    (at,) = [splice.at_m[0] for splice in schedule.splices]

    assert 2.0 - 1e-6 <= at <= 8.2 + 1e-6


def test_a_run_without_room_for_a_splice_is_reported(schedule_of):
    """A run of 10.2 m cannot keep a splice 6 m clear of both ends: it is spliced all the same, and reported."""
    schedule = schedule_of(*strips(10.2), options={"splices.keep_clear": "6 m"})
    (finding,) = [f for f in schedule.findings if f.code == "no-room-for-splice"]

    assert "Run R1" in finding.message
    assert "longer roll" in finding.message
    assert pytest.approx((5.1, 0, 0)) == finding.at_m


def test_without_splices_long_runs_are_reported(schedule_of):
    """With no splices wanted inside runs, short runs are cut whole, and a run longer than a roll is an error."""
    options = {"cutting.splices_in_runs": False, "cutting.splice_worth": "0 m"}
    schedule = schedule_of(*strips(6.0, 6.0, 6.0, 12.0), options=options)
    counts = Counter(len(pieces) for pieces in pieces_of(schedule).values())

    assert {1: 3, 2: 1} == counts
    assert ["run-too-long"] == [f.code for f in schedule.findings if f.severity == "error"]


POURS = """
[[pours]]
name = "first"
x = "-1 m to 8 m"

[[pours]]
name = "second"
x = "8 m to 30 m"
"""


@pytest.mark.parametrize(("stored", "rolls"), [(True, 1), (False, 2)])
def test_pours_share_rolls_only_where_offcuts_are_stored(schedule_of, stored, rolls):
    """
    Two runs of 4 m in two pours: one roll where its rest is stored, else one for each pour.

        ====  |  ====
    """
    options = {"cutting.share_between_pours": stored}
    schedule = schedule_of([(0, 0), (4, 0)], [(10, 0), (14, 0)], more=POURS, options=options)

    assert rolls == schedule.totals["rolls"]


def test_a_profile_that_is_all_in_fittings_orders_no_rolls(schedule_of):
    """A small cross of 0.5 m arms is all legs: nothing is cut from rolls."""
    schedule = schedule_of([(-0.5, 0), (0.5, 0)], [(0, -0.5), (0, 0.5)])

    assert ((), (), 0) == (schedule.rolls, schedule.orders, schedule.totals["rolls"])


def test_a_piece_that_cannot_be_had_is_reported(schedule_of, line):
    """
    Between two changes of profile 0.2 m apart there is no room for the least piece of 0.3 m.

        ribbed ----X--X---- ribbed
                  bulb
    """
    schedule = schedule_of(
        line([(0, 0), (5, 0)], 1), line([(5, 0), (5.2, 0)], 2, profile="bulb"), line([(5.2, 0), (9, 0)], 3)
    )
    (finding,) = [f for f in schedule.findings if f.code == "short-piece"]

    assert pytest.approx((5.1, 0, 0)) == finding.at_m
    assert "needs a piece of 0.210 m, shorter than the 0.300 m" in finding.message


@settings(deadline=None, max_examples=40)
@given(
    lengths=st.lists(st.integers(31, 4000), min_size=1, max_size=12),
    worth=st.sampled_from(["0 m", "1 m", "100 m"]),
    trim=st.sampled_from(["0 mm", "3 mm"]),
    stock=st.sampled_from(
        [
            '{ length = "10 m" }',
            '{ length = "6 m" }, { length = "10 m" }, { length = "15 m" }',
            '{ length = "7.62 m", price = 165 }, { length = "15.24 m", price = 310 }',
            '{ length = "10 m" }]\noffcuts = [{ length = "3 m", quantity = 2 }, { length = "5.5 m" }',
        ]
    ),
)
def test_pieces_put_together_give_every_run(schedule_of, lengths, worth, trim, stock):
    """The pieces of every run add up to it and its melts, none too short or too long, no splice too near an end."""
    options = {"cutting.splice_worth": worth, "cutting.trim": trim, "cutting.time_budget": "1 s"}
    courses, more = strips(*(length / 100 for length in lengths)), STOCK.replace("{prices}", stock)
    schedule = schedule_of(*courses, options=options, more=more, profile="stocked")
    found = pieces_of(schedule)

    for run in schedule.runs:
        own = found[run.mark]
        assert run.length_m == pytest.approx(sum(own) - 0.01 * (len(own) - 1), abs=1e-5)
        if len(own) > 1:
            assert min(own) >= 0.3 - 2e-6
            assert min(own[0], own[-1]) >= 0.6 - 2e-6
    for roll in schedule.rolls:
        assert sum(piece.length_m for piece in roll.pieces) <= roll.length_m + 1e-6
        assert roll.length_m == pytest.approx(sum(p.length_m for p in roll.pieces) + roll.trimmed_m + roll.offcut_m)


@settings(deadline=None, max_examples=40)
@given(lengths=st.lists(st.integers(60, 4000), min_size=1, max_size=8))
def test_orders_are_bounded_and_the_ledger_of_rolls_balances(schedule_of, lengths):
    """Rolls x length = pieces + trims + rests, the number of rolls is no less than its bound, the cost than its own."""
    schedule = schedule_of(*strips(*(length / 100 for length in lengths)), options={"cutting.trim": "3 mm"})
    (order,), (plan,), (row,) = schedule.orders, schedule.roll_plans, schedule.footage
    cut = sum(piece.length_m for roll in schedule.rolls for piece in roll.pieces)

    assert abs(row.roll_difference_m) < 1e-6
    assert ceil(round(cut / 10, 9)) == order.least_quantity <= order.quantity == len(schedule.rolls)
    assert plan.least_cost <= plan.cost


def test_rolls_are_cut_in_the_order_of_work(schedule_of):
    """
    Of two walls the lower is welded first, so its roll is the first, though its run has the later mark.

        z = 3   +--------+
        z = 0   +--------+
    """
    upper, lower = [(0, 0, 3), (12, 0, 3)], [(0, 5, 0), (12, 5, 0)]
    schedule = schedule_of(upper, lower)
    level = {run.mark: run.points_m[0][2] for run in schedule.runs}

    assert 0 == level[schedule.rolls[0].pieces[0].run]
    assert [f"L{n}" for n in range(1, len(schedule.rolls) + 1)] == [roll.mark for roll in schedule.rolls]


def test_ends_at_seams_in_place_are_mitred(schedule_of):
    """
    Where everything is welded in place, both pieces at a corner are mitred there, where their runs start, else square.

        +-----
        |
    """
    schedule = schedule_of([(0, 5), (0, 0), (5, 0)], options={"fittings.policy": "field"})

    assert [("mitred", "square")] * 2 == [piece.ends for roll in schedule.rolls for piece in roll.pieces]


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"splices.melt": "11 m"}, "splices.melt"),
        ({"cutting.roll_trim": "10 m"}, "cutting.roll_trim"),
        ({"splices.least_piece": "11 m"}, "splices.least_piece"),
        ({"cutting.trim": "-1 mm"}, "cutting.trim"),
        ({"cutting.trim": float("nan")}, "cutting.trim"),
        ({"cutting.trim": "nan mm"}, "cutting.trim"),
        ({"cutting.keep_from": "0 m"}, "cutting.keep_from"),
        ({"cutting.splice_worth": "-1 ft"}, "cutting.splice_worth"),
        ({"splices.least_piece": "0 in"}, "splices.least_piece"),
        ({"splices.melt": "-1/4 in"}, "splices.melt"),
        ({"cutting.time_budget": "-1 s"}, "cutting.time_budget"),
        ({"orders.spare_strip_percent": float("nan")}, "orders.spare_strip_percent"),
        ({"splices.keep_clear": "-1 m"}, "splices.keep_clear"),
        ({"cutting.time_budget": "0 s"}, "cutting.time_budget"),
        ({"orders.spare_strip_percent": -5}, "orders.spare_strip_percent"),
    ],
)
def test_impossible_rules_are_refused(rules_of, options, field):
    """What would use up a roll, or is negative, is refused with the path of its field."""
    with pytest.raises(RulesError, match=field.replace(".", r"\.")):
        rules_of(options=options)


@pytest.mark.parametrize(
    ("stock", "field"),
    [
        ("rolls = []", "profiles.stocked.rolls"),
        ('rolls = [{ length = "10 m", price = 5 }, { length = "12 m" }]', "profiles.stocked.rolls"),
        ('rolls = [{ length = "10 m", price = -5 }]', r"profiles.stocked.rolls\[1\].price"),
        ('rolls = [{ length = "10 m", price = nan }]', r"profiles.stocked.rolls\[1\].price"),
        ('rolls = [{ length = "10 m", price = inf }]', r"profiles.stocked.rolls\[1\].price"),
        ('rolls = [{ length = "10 m" }, { length = "-1 m" }]', r"profiles.stocked.rolls\[2\].length"),
        ('rolls = [{ length = "0 m" }]', r"profiles.stocked.rolls\[1\].length"),
        ("rolls = [{ length = nan }]", r"profiles.stocked.rolls\[1\].length"),
        ("rolls = [{ price = 5 }]", r"profiles.stocked.rolls\[1\]"),
        ('rolls = [{ length = "10 m" }]\noffcuts = [{ length = "0 m" }]', r"profiles.stocked.offcuts\[1\].length"),
        (
            'rolls = [{ length = "10 m" }]\noffcuts = [{ length = "1 m", quantity = 0 }]',
            r"profiles.stocked.offcuts\[1\].quantity",
        ),
    ],
)
def test_impossible_stock_is_refused(rules_of, stock, field):
    """No roll or no length, a price missing for one; negative, zero, no number: refused with the path of the field."""
    text = f'\n[profiles.stocked]\nwidth = "9 in"\nthickness = "3/8 in"\n{stock}\n'

    with pytest.raises(RulesError, match=field):
        rules_of(text)
