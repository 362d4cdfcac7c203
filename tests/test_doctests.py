"""The examples in docstrings are true."""

import doctest
import importlib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = sorted(
    f"splicewright.{folder}.{path.stem}".removesuffix(".__init__")
    for folder in ("extract", "schedule")
    for path in (ROOT / folder).glob("*.py")
)


@pytest.mark.parametrize("name", MODULES)
def test_examples_are_true(name):
    """Every example in a module's docstrings gives what it says."""
    result = doctest.testmod(importlib.import_module(name))

    assert 0 == result.failed


def test_there_are_examples():
    """The walk finds the examples there are: those of the length units among them."""
    assert 0 < doctest.testmod(importlib.import_module("splicewright.extract.unit")).attempted
