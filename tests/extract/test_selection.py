"""Selections: which names are waterstop, and what they carry."""

import pytest

from splicewright.extract.line import JointKind
from splicewright.extract.selection import Carrier, Selection


@pytest.mark.parametrize(
    ("name", "selected"),
    [
        ("WATERSTOP", True),
        ("A-Waterstop-Slab", True),
        ("C water stop 9", True),
        ("WATER-STOP", True),
        ("WATER_STOP", False),
        ("WS", False),
        ("GRID", False),
    ],
)
def test_usual_names_are_taken_without_patterns(name, selected):
    """Where the user names nothing, names holding waterstop, water stop or water-stop are taken, in any case."""
    assert selected == Selection().selects([name])


@pytest.mark.parametrize(
    ("pattern", "name", "selected"),
    [
        ("ws-*", "WS-SLAB", True),
        ("WS-*", "ws-slab", True),
        ("WS-*", "XWS-SLAB", False),
        ("WS-?", "WS-1", True),
        ("WS-?", "WS-12", False),
        ("WS-[12]", "WS-3", False),
        ("FU?", "fuß", True),
        ("*", "", True),
    ],
)
def test_patterns_match_whole_names_in_any_case(pattern, name, selected):
    """A pattern covers the whole name; ? stands for one letter, whatever the alphabet."""
    assert selected == Selection(patterns=(pattern,)).selects([name])


def test_any_of_several_names_counts():
    """An entity with several names is selected when one of them is."""
    assert Selection(patterns=("ws",)).selects(["site|WS", "WS"])
    assert not Selection(patterns=("ws",)).selects([])


def test_patterns_go_before_carriers_and_carriers_before_usual_names():
    """What decides: the patterns, else what the carriers match, else the usual names."""
    carriers = (Carrier(match="A*"), Carrier(match="B*"))

    assert ("C*",) == Selection(patterns=("C*",), carriers=carriers).effective_patterns
    assert ("A*", "B*") == Selection(carriers=carriers).effective_patterns
    assert Selection().selects(["waterstop"])
    assert not Selection(carriers=carriers).selects(["waterstop"])


def test_first_carrier_that_matches_counts():
    """Of two carriers that match, the first says what a line carries."""
    slab = Carrier(match="WS-SLAB*", profile="RIB-9", joint=JointKind.SLAB)
    rest = Carrier(match="WS-*", profile="RIB-6")
    selection = Selection(carriers=(slab, rest))

    assert slab is selection.carrier_of(["ws-slab-2"])
    assert rest is selection.carrier_of(["WS-WALL"])
    assert None is selection.carrier_of(["GRID"])
