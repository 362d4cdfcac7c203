"""Labour to place and tie the strip against its published source.

Indonesian public-works guideline on unit prices (AHSP), items B.42 and B.43: person-days for one metre of PVC
waterstop, 200 mm wide: labourer 0.055, craftsman 0.035, head craftsman 0.004, foreman 0.004; 230 to 320 mm wide:
labourer 0.055, craftsman 0.040, head craftsman 0.004, foreman 0.004.
"""

import pytest

from splicewright.schedule.footage import Footage
from splicewright.schedule.placing import count_placing
from splicewright.schedule.rules import load_rules

RULES = """\
[placing]
counted = true
[profiles.strip]
width = "{width}"
thickness = "6 mm"
rolls = [{{ length = "15 m" }}]
"""


def one_metre():
    return Footage(
        profile="strip",
        measured_m=1.0,
        in_fittings_m=0.0,
        in_pieces_m=1.0,
        lost_in_welds_m=0.0,
        order_m=15.0,
        runs=1,
    )


@pytest.mark.outside(
    what="person-days to place and tie a metre, trade by trade",
    against="Indonesian public-works guideline on unit prices (AHSP), items B.42 and B.43",
    result="equal: 0.098 and 0.103",
)
@pytest.mark.parametrize(
    ("width", "trades", "person_days"),
    [
        ("200 mm", (0.055, 0.035, 0.004, 0.004), 0.098),
        ("230 mm", (0.055, 0.040, 0.004, 0.004), 0.103),
        ("320 mm", (0.055, 0.040, 0.004, 0.004), 0.103),
    ],
)
def test_one_metre_takes_what_the_guideline_says(tmp_path, width: str, trades: tuple[float, ...], person_days: float):
    """Items B.42 and B.43: 0.098 and 0.103 person-days for a metre, trade by trade."""
    path = tmp_path / "rules.toml"
    path.write_text(RULES.format(width=width), encoding="utf-8")
    (row,) = count_placing([one_metre()], load_rules(path))

    assert trades == (row.labourer, row.craftsman, row.head_craftsman, row.foreman)
    assert pytest.approx(person_days) == row.person_days
