"""Marks on flat drawings: the schedule knows where the views of a sheet show every node and splice."""

import json
from pathlib import Path

import pytest

from splicewright.schedule.job import schedule_job
from splicewright.schedule.record import from_json, to_json
from splicewright.schedule.rules import load_rules
from splicewright.schedule.shown import shown_marks

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"


@pytest.fixture(scope="module")
def made():
    return schedule_job([BASIN / "settling-basin-sheet.dxf"], load_rules(BASIN / "rules-sheet.toml"), name="set")


def test_every_node_and_splice_is_shown(made):
    """Every node and every splice of the set has a place on the sheet, in at least one view."""
    marks = {one.mark for one in shown_marks(made)}

    assert {*(node.mark for node in made.nodes), *(splice.mark for splice in made.splices)} == marks


def test_a_node_is_shown_in_plan_and_elevation(made):
    """The cross at (7420, 0) is shown on plan at (248.4, 320) and on the south wall at (248.4, 130) [mm on paper]."""
    (node,) = (node for node in made.nodes if pytest.approx((7.42, 0.0, 0.15), abs=1e-3) == node.at_m)
    shown = {one.view: one.at_m for one in shown_marks(made) if one.mark == node.mark}

    assert ["Plan", "South"] == list(shown)
    assert pytest.approx((0.2484, 0.320)) == shown["Plan"]
    assert pytest.approx((0.2484, 0.130)) == shown["South"]


def test_the_record_holds_them(made):
    """The record lists the same places and passes its schema; a drawing in space has no such list."""
    record = from_json(to_json(made))
    space = schedule_job([BASIN / "settling-basin.dxf"], load_rules(BASIN / "rules.toml"), name="space")

    assert [(one.mark, one.view) for one in shown_marks(made)] == [
        (row["mark"], row["view"]) for row in record["shown"]
    ]
    assert "shown" not in json.loads(to_json(space))
