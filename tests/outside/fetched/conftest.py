"""What these tests need: packages of npm and Debian, which .ci/run fetches by name into a folder of its own."""

import os
from pathlib import Path

import pytest

FOLDER = os.environ.get("SPLICEWRIGHT_OPEN_DATA", "")
READY = bool(FOLDER) and Path(FOLDER).is_dir()
collect_ignore = [] if READY else ["test_fetched_drawings.py", "test_fetched_models.py"]


@pytest.fixture(scope="session")
def open_data() -> Path:
    """The folder with one folder for each package."""
    return Path(FOLDER)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say so when the open drawings of npm and Debian have not been read."""
    if not READY:
        needs = "the packages that .ci/run fetches into the folder SPLICEWRIGHT_OPEN_DATA"
        terminalreporter.write_line(f"test_fetched_drawings.py and test_fetched_models.py left out: they need {needs}")
