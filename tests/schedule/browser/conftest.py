"""What these tests need of the machine: a browser, and the library that drives it."""

import shutil
from importlib.util import find_spec

import pytest

READY = shutil.which("chromium") is not None and find_spec("playwright") is not None
collect_ignore = [] if READY else ["test_chromium.py"]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so when the map has not been opened in a browser."""
    if not READY:
        terminalreporter.write_line("test_chromium.py left out: it needs chromium and the Python package playwright")
