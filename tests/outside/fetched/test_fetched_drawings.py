"""Drawings that packages of npm and Debian carry, in a plane: the same nodes and lengths as GEOS finds.

Of the 1,300 symbols of one library every twentieth is read, and drawings above 1 MiB are left out, for time. A drawing
with decimal commas is refused, as it should be.
"""

from collections import Counter

import pytest

from splicewright.extract.errors import UnreadableDrawingError

MOST_BYTES = 2**20
COMMAS = "nothing-decimal-comma-separated.dxf"


@pytest.mark.outside(
    what="arms of every node and lengths, in plan, layer by layer, of some 100 drawings",
    against=(
        "GEOS through shapely, on lines that ezdxf takes apart; drawings of three-dxf and dxf2json on npm, "
        "librecad-data, openscad-testing-data and assimp-testmodels of Debian"
    ),
    result="the same; where ends are too close to lines for a verdict, at most one layer in fifty, none is given",
)
@pytest.mark.parametrize(
    ("package", "every", "least"),
    [
        ("three-dxf", 1, 2),
        ("dxf2json", 1, 2),
        ("librecad-data", 20, 50),
        ("openscad-testing-data", 1, 30),
        ("assimp-testmodels", 1, 1),
    ],
)
def test_every_layer_is_as_geos_nodes_it(open_data, compare, package, every, least):
    """Arms of nodes are equal, drawn and noded lengths agree, on every layer that holds lines."""
    paths = sorted(path for path in (open_data / package).rglob("*") if path.suffix.lower() == ".dxf")
    told, refused = {}, []
    for path in (path for path in paths[::every] if path.stat().st_size <= MOST_BYTES):
        try:
            told |= {(path.name, layer): word for layer, word in compare(path).items()}
        except UnreadableDrawingError:
            refused.append(path.name)
    words = Counter(told.values())

    assert [] == [where for where, word in told.items() if word == "differs"]
    assert ([COMMAS] if package == "openscad-testing-data" else []) == refused
    assert least <= words["same"]
    assert words["unclear"] <= len(told) / 50
