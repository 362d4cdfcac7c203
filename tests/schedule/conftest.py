"""What the tests of `schedule` need of the machine."""

import shutil

import pytest

OFFICE = all(map(shutil.which, ("soffice", "pdfinfo", "pdftotext")))
collect_ignore = [] if OFFICE else ["test_libreoffice.py"]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so when the workbook has not been opened in an office suite."""
    if not OFFICE:
        terminalreporter.write_line("test_libreoffice.py left out: it needs soffice (LibreOffice Calc), pdfinfo and pdftotext (poppler)")
