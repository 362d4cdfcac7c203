"""Rolls: pieces, packing, stock lengths and bounds."""

from math import ceil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.extract.errors import RulesError
from splicewright.schedule.roll import fill, pack


@pytest.mark.parametrize(
    ("net_m", "melts_m", "pieces"),
    [
        (0.3, 0.02, [0.32]),
        (9.98, 0.02, [10.0]),
        (9.985, 0.02, [5.0075, 5.0075]),
        (12.0, 0.0, [10.0, 2.01]),
        (19.99, 0.0, [10.0, 10.0]),
        (20.0, 0.0, [10.0, 5.01, 5.01]),
        (25.0, 0.02, [10.0, 10.0, 5.04]),
        (19.99 + 0.29, 0.0, [10.0, 10.0, 0.3]),
    ],
)
def test_a_stretch_takes_whole_rolls_and_a_rest(net_m, melts_m, pieces):
    """
    From rolls of 10 m with a melt of 10 mm: whole rolls, then the rest, evened out where it would be under 0.3 m.

        net 12.0: 10.0 + 2.01, the 0.01 goes into the weld between
    """
    assert pytest.approx(pieces) == fill(net_m, melts_m, roll_m=10.0, melt_m=0.01, least_m=0.3)


@given(
    net_m=st.floats(0.3, 500),
    melts_m=st.sampled_from([0.0, 0.005, 0.01, 0.02]),
    roll_m=st.sampled_from([7.62, 10, 15.24]),
)
def test_pieces_fit_rolls_and_add_up(net_m, melts_m, roll_m):
    """No piece is longer than a roll or shorter than the least, their number is the smallest, nothing is missing."""
    pieces = fill(net_m, melts_m, roll_m=roll_m, melt_m=0.01, least_m=0.3)
    inner = len(pieces) - 1

    assert pytest.approx(net_m + melts_m + 0.01 * inner, abs=2e-6) == sum(pieces)
    assert max(pieces) <= roll_m
    assert min(pieces) >= 0.3 - 2e-6
    assert (len(pieces) - 1) * roll_m < net_m + melts_m + 0.01 * max(0, inner - 1)


def demand(text: str) -> list[float]:
    """Read widths with their numbers: "45x97 36x610"."""
    pairs = [part.split("x") for part in text.split()]
    return [float(width) for width, number in pairs for _ in range(int(number))]


def test_first_fit_decreasing_gives_the_published_number_of_rolls():
    """Source: Chvatal, Linear Programming, 1983, ch. 13 (NEOS case study): first-fit decreasing takes 485 rolls."""
    assert 485 == len(pack(demand("45x97 36x610 31x395 14x211"), 100.0))


@pytest.mark.parametrize(
    ("roll", "widths", "best"),
    [
        (100.0, "45x97 36x610 31x395 14x211", 453),
        (110.0, "75x8 55x10 50x24 45x35 20x48", 47),
        (17.0, "9x15 5x20 3x25", 19),
        (25.0, "11x300 9x1200 7x5000", 2167),
        (5180.0, "1250x5 1150x64 1120x9 1066x18 1000x11 520x91", 33),
    ],
    ids=["Chvatal 1983 ch. 13", "AMPL book roll trim", "Winston lumber", "lumber yard 25 ft", "pyvpsolver csp.vbp"],
)
def test_packing_is_near_the_published_optimum(roll, widths, best):
    """First-fit decreasing never beats the optimum, takes at most 11/9 of it and 6/9 more, and wastes no whole roll.

    The bound 11/9 + 6/9 is Dosa's theorem of 2007 (from memory).
    """
    pieces = demand(widths)

    rolls = pack(pieces, roll)

    assert best <= len(rolls) <= 11 / 9 * best + 6 / 9
    assert list(range(len(pieces))) == sorted(i for roll_ in rolls for i in roll_)
    assert max(sum(pieces[i] for i in roll_) for roll_ in rolls) <= roll + 1e-6


@given(lengths=st.lists(st.integers(1, 100), max_size=60))
def test_packing_equals_plain_first_fit_decreasing(lengths):
    """The tree finds the same roll as going through all rolls one by one."""
    plain: list[list[int]] = []
    for i in sorted(range(len(lengths)), key=lambda i: -lengths[i]):
        home = next((roll for roll in plain if sum(lengths[k] for k in roll) + lengths[i] <= 100), None)
        if home is None:
            plain.append(home := [])
        home.append(i)

    assert plain == pack([float(length) for length in lengths], 100.0)


def test_the_cut_list_names_pieces_by_run_and_rolls_by_use(schedule_of):
    """
    Runs of 12 m and 3 m between free ends: rolls of 10 m give one whole, and one cut into 3 m and 2.01 m.

        ============     ===
    """
    schedule = schedule_of([(0, 0), (12, 0)], [(20, 0), (23, 0)])
    rolls = [
        (r.mark, [(p.mark, p.run, p.number, p.of) for p in r.pieces], round(r.offcut_m, 6)) for r in schedule.rolls
    ]

    assert [
        ("L1", [("P1", "R1", 1, 2)], 0.0),
        ("L2", [("P3", "R2", 1, 1), ("P2", "R1", 2, 2)], 4.99),
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
    ("prices", "length_m"),
    [
        ('{ length = "10 m" }, { length = "16 m" }', 16.0),
        ('{ length = "10 m", price = 100 }, { length = "16 m", price = 210 }', 10.0),
        ('{ length = "10 m", price = 100 }, { length = "16 m", price = 190 }', 16.0),
        ('{ length = "8 m" }, { length = "16 m" }', 16.0),
        ('{ length = "4 m" }, { length = "10 m" }, { length = "25 m" }', 4.0),
    ],
    ids=["least length", "least price", "price against length", "fewer splices", "least length, more splices"],
)
def test_the_stock_length_that_costs_least_is_ordered(schedule_of, prices, length_m):
    """15.5 m are cut from two rolls of 10 m, one of 16 m or four of 4 m: by price if all have one, else by length."""
    schedule = schedule_of([(0, 0), (15.5, 0)], more=STOCK.replace("{prices}", prices), profile="stocked")

    assert [length_m] == [order.length_m for order in schedule.orders]


def test_the_bound_on_rolls_is_length_over_roll(schedule_of):
    """Three pieces of 6 m need three rolls of 10 m, though 18 m would go into two: the bound says two."""
    schedule = schedule_of(*([(0, y), (6, y)] for y in range(3)))

    assert [(3, 2)] == [(order.quantity, order.least_quantity) for order in schedule.orders]


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


@given(lengths=st.lists(st.integers(30, 4000), min_size=1, max_size=8))
def test_orders_are_bounded_and_offcuts_account_for_every_roll(schedule_of, lengths):
    """Rolls x length = pieces + offcuts, and the number of rolls is no less than its bound."""
    schedule = schedule_of(*([(0, y), (length / 100, y)] for y, length in enumerate(lengths)))
    (order,) = schedule.orders
    cut = sum(piece.length_m for roll in schedule.rolls for piece in roll.pieces)

    assert pytest.approx(order.quantity * order.length_m) == cut + sum(roll.offcut_m for roll in schedule.rolls)
    assert ceil(round(cut / 10, 9)) == order.least_quantity <= order.quantity == len(schedule.rolls)


def test_a_roll_shorter_than_a_weld_is_refused(schedule_of):
    """A melt of 11 m cannot be had from rolls of 10 m: the sentence names the profile and the rule."""
    with pytest.raises(RulesError, match=r"melt"):
        schedule_of([(0, 0), (25, 0)], options={"splices.melt": "11 m"})
