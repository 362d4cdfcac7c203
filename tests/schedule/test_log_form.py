"""Keys of the inspection log: what is written into a cell is read back, and nothing else is taken for a key."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from splicewright.schedule.log_form import HEADING, SAMPLE_WELD, LogKey

PLACE = st.floats(-1e7, 1e7).map(lambda value: round(value, 4) + 0.0)


@given(st.integers(1, 99_999), st.tuples(PLACE, PLACE, PLACE), st.text())
def test_a_key_comes_back(number, at_m, profile):
    """Whatever the profile is called and wherever the splice lies, its key is read back as it was written."""
    key = LogKey.of_splice(f"S{number}", "factory seam", at_m, profile)

    assert key == LogKey.parse(key.text)
    assert key == LogKey.parse(f" {key.text}\n")


@pytest.mark.parametrize("kind", [SAMPLE_WELD, HEADING])
def test_days_have_keys_without_places(kind):
    """Sample welds and headings are known by crew and day alone."""
    key = LogKey(mark="W2-31", kind=kind)

    assert key == LogKey.parse(key.text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "S5",
        "S5 | field leg",
        "S5 | field leg | 1/1 | 0 0 | bulb",
        "S5 | field leg | 1/1 | nan 0 0 | bulb",
        "S5 | field leg | 1/1 | inf 0 0 | bulb",
        "S5 | field leg | one/1 | 0 0 0 | bulb",
        "S5 | field leg | 1 | 0 0 0 | bulb",
        "=S5 | field leg | 1/1 | 0 0 0 | bulb",
        "title",
    ],
)
def test_other_texts_are_no_keys(text):
    """What someone has typed over a key is not taken for one."""
    assert LogKey.parse(text) is None


def test_no_key_can_be_a_formula():
    """A key begins with a mark, however the profile is called."""
    assert LogKey.of_splice("S1", "field leg", (0.0, 0.0, 0.0), "=1+1").text.startswith("S1 | ")
