"""What these tests need of the machine: an office suite and a reader of PDF."""

import shutil

import pytest

READY = all(map(shutil.which, ("soffice", "pdfinfo", "pdftotext")))
collect_ignore = [] if READY else ["test_carried_log.py", "test_day_model.py", "test_libreoffice.py"]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so when the workbook has not been opened in an office suite."""
    if not READY:
        needs = "soffice (LibreOffice Calc), pdfinfo and pdftotext (poppler)"
        terminalreporter.write_line(f"{', '.join(collect_ignore)} left out: they need {needs}")
