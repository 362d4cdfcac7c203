"""The settling basin: every hand-worked figure of its network, from each file the job comes in."""

import re
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import ifcopenshell.validate
import numpy as np
import pytest

from splicewright.extract.network import build_network
from splicewright.extract.reader import read
from splicewright.schedule.rules import load_rules

BASIN = Path(__file__).parents[2] / "fixtures" / "settling-basin"
FORMS = {
    "dxf": ("settling-basin.dxf", "rules.toml"),
    "solids": ("settling-basin.ifc", "rules-ifc.toml"),
    "axes": ("settling-basin-axes.ifc", "rules-ifc.toml"),
}
MM = 0.001
PLACE_M = 0.005  # findings and closed gaps are placed within the tolerance the job is read with


@pytest.fixture(scope="module", params=FORMS)
def form(request):
    """Name of one form of the job."""
    return request.param


@pytest.fixture(scope="module")
def expected(form):
    """What was worked out by hand, with the figures of this form in place of the common ones where they differ."""
    common = tomllib.loads((BASIN / "expected.toml").read_text(encoding="utf-8"))
    own = common.pop("form").get(form, {})
    drawing = common["drawing"] | own.get("drawing", {})
    return common | own | {"drawing": drawing}


@pytest.fixture(scope="module")
def network(form):
    """The network as the program finds it."""
    drawing, rules_file = FORMS[form]
    rules = load_rules(BASIN / rules_file)
    return build_network(read(BASIN / drawing, rules.selection()), rules.limits())


@pytest.fixture(scope="module")
def layer_of(expected):
    """Turn the name that a line carries in this form into the layer that carries it in the drawing."""
    names = expected.get("types", {})
    return {name: layer for layer, name in names.items()} or {
        layer: layer for layer in expected["length"]["by_layer_m"]
    }


def by(pairs):
    total = Counter()
    for key, length in pairs:
        total[key] += length
    return dict(total)


def test_drawing(network, expected, layer_of):
    """Entities read and skipped, by layer and by reason, and the length as drawn."""
    drawing, wanted = network.drawing, expected["drawing"]

    assert wanted["unit"] == drawing.unit
    assert (wanted["selected"], wanted["lines"]) == (drawing.selected, len(drawing.lines))
    assert expected["skipped"] == dict(drawing.skipped)
    assert wanted["lines_by_layer"] == Counter(layer_of[line.source.layer] for line in drawing.lines)
    assert pytest.approx(wanted["length_m"], abs=MM) == drawing.length_m
    assert pytest.approx(wanted["length_by_layer_m"], abs=MM) == by(
        (layer_of[line.source.layer], line.length_m) for line in drawing.lines
    )


def test_counts(network, expected):
    """Nodes and runs, nodes by kind, and each kind by how the strip turns."""
    counts, nodes = expected["counts"], list(network.nodes())
    ways = {kind: Counter(n.orientation for n in nodes if n.kind == kind) for kind in counts["orientations"]}

    assert (counts["nodes"], counts["runs"]) == (len(nodes), len(list(network.runs())))
    assert {kind: count for kind, count in counts["kinds"].items() if count} == network.count_kinds()
    assert counts["orientations"] == ways


def test_nodes(network, expected):
    """Every node has its kind, its orientation and its turn, and stands within a millimetre of its place."""
    wanted = [(group, at) for group in expected["nodes"] for at in group["at_m"]]
    found = {node.mark: node for node in network.nodes() if node.kind != "closure"}
    for group, at in wanted:
        nearest = min(found.values(), key=lambda node: np.linalg.norm(np.subtract(node.at_m, at)))
        del found[nearest.mark]
        assert pytest.approx(at, abs=MM) == nearest.at_m
        assert (group["kind"], group["orientation"]) == (nearest.kind, nearest.orientation)
        assert pytest.approx(group["turn_deg"], abs=0.01) == nearest.turn_deg

    assert {} == found


def test_lengths(network, expected, layer_of):
    """The length of all runs, by layer and by profile, is right to the millimetre."""
    wanted, runs = expected["length"], list(network.runs())

    assert pytest.approx(wanted["total_m"], abs=MM) == network.length_m
    assert pytest.approx(wanted["by_profile_m"], abs=MM) == by((run.profile, run.length_m) for run in runs)
    assert pytest.approx(wanted["by_layer_m"], abs=MM) == by(
        (layer_of[run.sources[0].layer], run.length_m) for run in runs
    )


def test_findings(network, expected):
    """Each code of finding comes up as often as it should, and no other code at all."""
    assert expected["findings"] == Counter(finding.code for finding in network.findings)


def test_planted_slips(network, expected):
    """Every slip is reported at its place and with its size."""
    for slip in expected["planted"]:
        (finding,) = (finding for finding in network.findings if finding.code == slip["code"])
        low, high = slip.get("between_m") or [slip["at_m"]] * 2
        sizes = [float(n) * {"m": 1.0, "mm": MM}[u] for n, u in re.findall(r"([\d.]+) (mm|m)\b", finding.message)]

        assert pytest.approx(np.clip(finding.at_m, low, high), abs=PLACE_M) == finding.at_m
        assert any(abs(size - slip["size_m"]) < MM for size in sizes)


def test_sections_tell_what_lines_cannot(network, form):
    """Only sections tell that the collar lies like a washer in its wall, and the loose joint along its wall."""
    by_start = {tuple(run.points_m[0].round(3).tolist()): run for run in network.runs()}
    loose, collar = by_start[(29.64, 9.24, 0.21)], by_start[(10.74, 17.88, 2.65)]
    outward = np.subtract(collar.points_m[0], (11.23, 17.88, 2.65)) / 0.49

    if form == "solids":
        assert pytest.approx(1.0, abs=1e-5) == abs(np.dot(loose.across[0], (0, 1, 0)))
        assert pytest.approx(1.0, abs=1e-5) == abs(np.dot(collar.across[0], outward))
    else:
        assert ((None, None), (None, None)) == (loose.across, collar.across)


@pytest.mark.parametrize("model", ["settling-basin.ifc", "settling-basin-axes.ifc"])
def test_models_are_valid(model):
    """The library's own check of schema and rules finds nothing wrong with either model."""
    found = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(BASIN / model), found, express_rules=True)

    assert [] == found.statements


@pytest.mark.parametrize("script", ["draw.py", "model.py"])
def test_scripts_write_the_files(script, tmp_path):
    """The scripts write the very files that stand beside them."""
    for path in BASIN.glob("*.py"):
        shutil.copy(path, tmp_path)
    subprocess.run([sys.executable, tmp_path / script], check=True, capture_output=True)
    written = [path for path in tmp_path.iterdir() if path.suffix in {".dxf", ".ifc"}]

    assert written
    assert {p.name: p.read_bytes() for p in written} == {p.name: (BASIN / p.name).read_bytes() for p in written}


@pytest.mark.parametrize("form", ["solids", "axes"], indirect=True)
def test_models_tell_section_and_whereabouts(network):
    """Every strip of a model carries the width and thickness of its profile, its storey and its pour."""
    sizes = {"wide-bulb": (0.2286, 0.009525), "narrow-ribbed": (0.1524, 0.00635)}
    lines = network.drawing.lines
    told = Counter((line.whereabouts.structure, line.whereabouts.storey) for line in lines)
    bend = next(line for line in lines if line.drawn is not None and line.joint == "slab")

    assert all(pytest.approx(sizes[line.profile], abs=1e-6) == (line.width_m, line.thickness_m) for line in lines)
    assert {("Settling basin", "Floor"): 7, ("Settling basin", "Walls"): 14, ("Settling basin", "Sump"): 1} == told
    assert "S5" == bend.whereabouts.stage
