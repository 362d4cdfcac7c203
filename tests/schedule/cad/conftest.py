"""What these tests need of the machine: a CAD program and a reader of PDF."""

import shutil

import pytest

READY = all(map(shutil.which, ("librecad", "pdftoppm")))
collect_ignore = [] if READY else ["test_librecad.py"]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so when the marked drawing has not been opened in a CAD program."""
    if not READY:
        terminalreporter.write_line("test_librecad.py left out: it needs librecad and pdftoppm (poppler)")
