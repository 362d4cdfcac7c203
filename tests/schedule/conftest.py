"""Rules and schedules of small drawings, for the tests of the schedule."""

from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from splicewright.schedule.plan import Schedule, plan
from splicewright.schedule.rules import Rules, load_rules

JOB = """\
[drawing]
profile = "ribbed"

[profiles.ribbed]
width = "9 in"
thickness = "3/8 in"
mass = "2 kg/m"
rolls = [{ length = "10 m" }]

[profiles.bulb]
width = "12 in"
thickness = "1/2 in"
mass = "3 kg/m"
centre_bulb = true
rolls = [{ length = "10 m" }]

[profiles.seal]
width = "9 in"
thickness = "3/8 in"
mass = "2 kg/m"
symmetric = false
rolls = [{ length = "10 m" }]

[fittings]
leg = "600 mm"
largest = "4 m"

[splices]
least_piece = "300 mm"
melt = "10 mm"

[cutting]
trim = "0 mm"
splice_worth = "100 m"
"""
"""Round numbers, so that every expected value can be worked out in the head."""


@pytest.fixture(scope="session")
def rules_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Rules]:
    """Read rules: those of `JOB`, with more text of a rules file after them and options over them."""

    def read(more: str = "", options: Mapping[str, object] | None = None) -> Rules:
        path = tmp_path_factory.mktemp("rules") / "rules.toml"
        path.write_text(JOB + more, encoding="utf-8")
        return load_rules(path, options=options)

    return read


@pytest.fixture(scope="session")
def rules(rules_of: Callable[..., Rules]) -> Rules:
    """Return the rules of `JOB`."""
    return rules_of()


@pytest.fixture(scope="session")
def schedule_of(drawing_of, build, rules_of, rules) -> Callable[..., Schedule]:
    """Draw courses, build their network and plan it; `options` are rules laid over those of `JOB`."""

    def make(*courses, options: Mapping[str, object] | None = None, more: str = "", **carried: str | None) -> Schedule:
        chosen = rules_of(more, options) if more or options else rules
        drawing = drawing_of(*courses, **{"joint": "slab", **carried})
        return plan([build(drawing)], chosen, job="test")

    return make


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str], Path]:
    """Write a rules file and return its path."""

    def _write(text: str) -> Path:
        path = tmp_path / "rules.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return _write
