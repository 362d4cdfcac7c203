"""The settling basin as a flat set: what is put together from plan and unrolled walls is the basin drawn in space."""

import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from splicewright.extract.network import build_network
from splicewright.extract.reader import read
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
FORMS = {
    "dxf": ("settling-basin.dxf", "rules.toml"),
    "ifc": ("settling-basin.ifc", "rules-ifc.toml"),
    "sheet": ("settling-basin-sheet.dxf", "rules-sheet.toml"),
}
MM = 0.001


def network_of(form):
    drawing, rules_file = FORMS[form]
    rules = load_rules(BASIN / rules_file)
    return build_network(read(BASIN / drawing, rules.selection(), book=rules.sheet), rules.limits())


@pytest.fixture(scope="module")
def expected():
    common = tomllib.loads((BASIN / "expected.toml").read_text(encoding="utf-8"))
    return common | common["form"]["sheet"]


@pytest.fixture(scope="module")
def networks():
    return {form: network_of(form) for form in FORMS}


def nodes_of(network):
    """Every node with its kind, how it turns, and its place to the millimetre; a closure may stand anywhere."""
    return sorted(
        (node.kind, node.orientation, round(node.turn_deg, 1), () if node.kind == "closure" else near(node.at_m))
        for node in network.nodes()
    )


def near(at_m):
    return tuple((np.round(np.array(at_m), 3) + 0.0).tolist())


def runs_of(network):
    return sorted((run.profile, round(run.length_m, 3)) for run in network.runs())


@pytest.mark.parametrize("form", ["dxf", "ifc"])
def test_the_set_is_the_basin(networks, form):
    """Put together from plan and walls, the basin has the nodes and runs of the basin drawn or modelled in space."""
    sheet, other = networks["sheet"], networks[form]

    assert nodes_of(other) == nodes_of(sheet)
    assert [profile for profile, _ in runs_of(other)] == [profile for profile, _ in runs_of(sheet)]
    assert pytest.approx([length for _, length in runs_of(other)], abs=MM) == [length for _, length in runs_of(sheet)]


def test_joint_kinds_are_the_same(networks):
    """Every joint kind has the same length in both forms; the collar, of no kind by the rules, is left out."""
    lengths = []
    for form in ("dxf", "sheet"):
        total = Counter()
        for run in (run for run in networks[form].runs() if not run.sources[0].layer.endswith("COLLAR")):
            total[run.joint] += run.length_m
        lengths.append(dict(total))

    assert pytest.approx(lengths[0], abs=MM) == lengths[1]


def test_the_sheet_is_read_whole(networks, expected):
    """Entities on the sheet, read as lines or as marks, and lines in space, are as counted by hand."""
    drawing = networks["sheet"].drawing

    assert expected["drawing"]["selected"] == drawing.selected
    assert expected["drawing"]["lines"] == len(drawing.lines)
    assert expected["skipped"] == dict(drawing.skipped)


def test_disagreements_and_slips_are_found_and_nothing_else(networks, expected):
    """The planted disagreements, and the slips that a flat set can hold, are found as often as they should."""
    assert expected["findings"] == Counter(finding.code for finding in networks["sheet"].findings)


def test_disagreements_are_placed(networks, expected):
    """Each disagreement is told at its place, with its size and the entities of both views."""
    for planted in expected["disagreements"]:
        found = [
            finding
            for finding in networks["sheet"].findings
            if finding.code == planted["code"] and np.allclose(finding.at_m[:2], planted["at_m"], atol=MM)
        ]

        assert 1 == len(found)
        assert planted["says"] in found[0].message
        assert planted["entities"] == len(found[0].sources)


@pytest.mark.parametrize(
    ("at_m", "views"),
    [
        ((7.42, 0.0, 0.15), {"Plan": (248.4, 320.0), "South": (248.4, 130.0)}),
        ((0.0, 0.0, 0.15), {"Plan": (100.0, 320.0), "South": (100.0, 130.0), "West": (1230.0, 130.0)}),
        ((29.64, 9.24, 4.6), {"East": (974.8, 219.0)}),
        ((7.42, 8.76, -0.25), {"Plan": (248.4, 495.2)}),
        ((14.06, 17.88, -0.25), {"Plan": (381.2, 677.6), "North": (1071.2, 362.0)}),
    ],
)
def test_places_are_found_on_the_sheet(networks, at_m, views):
    """A place in space is found in every view that shows it, at the point worked out by hand [mm on paper]."""
    places = {place.view: place.at_m for place in networks["sheet"].drawing.sheet.places(at_m)}

    assert set(views) == set(places)
    for view, at in views.items():
        assert pytest.approx(at, abs=0.01) == (places[view][0] / MM, places[view][1] / MM)


def test_every_node_has_a_place_on_the_sheet(networks):
    """Every node of the set, and so every splice beside it, can be marked in at least one view."""
    sheet = networks["sheet"].drawing.sheet

    assert [] == [node.mark for node in networks["sheet"].nodes() if not sheet.places(node.at_m)]


def test_the_script_draws_the_sheet(tmp_path):
    """The script writes the very file that stands beside it."""
    for path in BASIN.glob("*.py"):
        shutil.copy(path, tmp_path)
    subprocess.run([sys.executable, tmp_path / "sheet.py"], check=True, capture_output=True)

    name = "settling-basin-sheet.dxf"

    assert (BASIN / name).read_bytes() == (tmp_path / name).read_bytes()
