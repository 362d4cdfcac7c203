"""Labour to place and tie the strip is counted where the rules ask for it."""

from dataclasses import replace

import pytest

from splicewright.schedule.placing import count_placing


@pytest.mark.parametrize(("counted", "rows"), [(False, 0), (True, 1)])
def test_placing_is_left_out_unless_asked_for(schedule_of, rules, counted: bool, rows: int):
    """By default the schedule counts welding alone; asked for, placing has a row for each profile."""
    footage = schedule_of([(0, 0), (40, 0)]).footage

    assert not rules.placing.counted
    assert rows == len(count_placing(footage, replace(rules, placing=replace(rules.placing, counted=counted))))
