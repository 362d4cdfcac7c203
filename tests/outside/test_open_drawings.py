"""Drawings that source packages on PyPI carry, in a plane: the same nodes and lengths as GEOS finds.

The packages are fetched by name when the tests run. In one drawing, made to be recovered, ends stand at every small
distance from lines, so that no tolerance tells which of them touch.
"""

from collections import Counter
from dataclasses import replace

import pytest

# Package, layers with lines in its drawings, and those where touching is anyone's guess.
PACKAGES = {
    "ezdxf==1.4.5": (23, {("recover01.dxf", "0")}),
    "ezdxf-shapely==1.0": (10, set()),
    "pyvista-cad==0.0.5": (9, set()),
    "sectionproperties==3.10.2": (2, set()),
}


@pytest.mark.outside(
    what="arms of every node and lengths, in plan, layer by layer, of 52 drawings",
    against=(
        "GEOS through shapely, on lines that ezdxf takes apart; drawings of the source packages of ezdxf, "
        "ezdxf-shapely, pyvista-cad and sectionproperties on PyPI"
    ),
    result="the same in 43 layers; one layer's ends are too close to lines for a verdict",
)
@pytest.mark.parametrize("requirement", PACKAGES)
def test_every_layer_is_as_geos_nodes_it(fetched, compare, requirement):
    """Arms of nodes are equal, drawn and noded lengths agree, on every layer that holds lines."""
    layers, unclear = PACKAGES[requirement]
    paths = sorted(path for path in fetched(requirement).rglob("*") if path.suffix.lower() == ".dxf")
    told = {(path.name, layer): word for path in paths for layer, word in compare(path).items()}

    assert [] == [where for where, word in told.items() if word == "differs"]
    assert unclear == {where for where, word in told.items() if word == "unclear"}
    assert {"same": layers - len(unclear)} | ({"unclear": len(unclear)} if unclear else {}) == Counter(told.values())


@pytest.mark.outside(
    what="that such a comparison would notice a line left out",
    against="the drawings of pyvista-cad on PyPI, the first line of every layer taken away from what was read",
    result="noticed in every layer",
)
def test_a_line_left_out_would_be_noticed(fetched, compare):
    """One line less in the program's reading makes every layer differ."""
    paths = fetched("pyvista-cad==0.0.5").rglob("*.dxf")
    told = [compare(path, lambda drawing: replace(drawing, lines=drawing.lines[1:])) for path in paths]

    assert ["differs"] * 9 == [word for layers in told for word in layers.values()]
