"""Imports run one way: every room stands on a floor, and imports only from the floors below its own."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]

# From the ground up. A room may import rooms on lower floors only; a new room goes on the lowest floor it can.
FLOORS = [
    # a drawing in, a classified network out
    "extract: __init__ errors finding ifc_entity ifc_fault limits pause requirement unit whereabouts",
    "extract: ifc_file ifc_property line",
    "extract: excerpt ifc_frame ifc_trait ifc_unit linework node run selection sheet_part wall",
    "extract: level trace",
    "extract: view",
    "extract: window",
    "extract: cluster matching plan_view sheet",
    "extract: drawing elevation riser",
    "extract: assembly curve ifc_course ifc_selection layer loose_end nearness piece tangent",
    "extract: approach chain double dxf_block dxf_file dxf_layer dxf_shape ifc_kernel ifc_strip ifc_worker snapping",
    "extract: contact dxf_walk ifc_connection ifc_curve ifc_medial ifc_mesh lay overpass",
    "extract: dxf_haul ifc_placement ifc_profile noding",
    "extract: dxf_sheet network",
    "extract: dxf_survey ifc_body",
    "extract: dxf",
    "extract: ifc_shape",
    "extract: ifc_haul ifc_survey",
    "extract: ifc",
    "extract: reader",
    "extract: survey",
    # a network in, a fabrication schedule out
    "schedule: __init__ almanac basis cover label log_form profile quantity rounding schema sight spread stock tour "
    "vector",
    "schedule: bound chain knapsack length_class reach rulefile seam shape",
    "schedule: column few_runs point pour rulefield short_job",
    "schedule: crewbook cuttingbook filling piecing shopbook viewbook",
    "schedule: exact guided mending offcut rulebook",
    "schedule: contradiction packing starter",
    "schedule: rules",
    "schedule: day position saw_sheet stretch",
    "schedule: assembly bend box chance cutting doubt",
    "schedule: fitting roll section strand tie",
    "schedule: parting saw splice what_if",
    "schedule: footage inspection joining lead sequence shopwork",
    "schedule: placing power",
    "schedule: carryover crew",
    "schedule: earlier_log order",
    "schedule: plan",
    # writers compute nothing
    "schedule: record_crew share tape",
    "schedule: shown",
    "schedule: archive job measure output picture record ticket topic typeface",
    "schedule: agenda formula mark mark_list network_picture packet_sheet page_data report "
    "sheet_picture ticket_drawing",
    "schedule: cell",
    "schedule: legend marked_model packet_drawing packet_map page sheet ticket_page",
    "schedule: sheet_view",
    "schedule: rate summary",
    "schedule: sheet_crew sheet_live sheet_log sheet_rolls sheet_shop sheet_site",
    "schedule: sheet_bars",
    "schedule: marked packet_part workbook",
    "schedule: packet",
    "schedule: handback",
    "schedule: cli",
]

# Libraries that only some rooms know, so that the rest can do without them.
KNOWN_BY = {
    "icalendar": "schedule.agenda",
    "ezdxf": (
        "extract.dxf_block extract.dxf_file extract.dxf_haul extract.dxf_layer extract.dxf_shape "
        "extract.dxf_sheet extract.dxf_walk schedule.marked schedule.spread"
    ),
    "ifcopenshell": "extract.ifc_file extract.ifc_worker schedule.marked_model",
    "networkx": "extract.network",
    "openpyxl": (
        "schedule.cell schedule.earlier_log schedule.formula schedule.sheet schedule.sheet_bars schedule.sheet_crew "
        "schedule.sheet_live schedule.sheet_log schedule.sheet_rolls schedule.sheet_shop schedule.sheet_site "
        "schedule.summary schedule.workbook"
    ),
    "PIL": "schedule.network_picture",
    "plotly": "schedule.page",
    "pydantic": (
        "schedule.crewbook schedule.cuttingbook schedule.rulebook schedule.rulefield schedule.shopbook "
        "schedule.viewbook"
    ),
    "pydantic_core": "schedule.rulefile",
    "pymupdf_fonts": "schedule.network_picture schedule.typeface",
    "reportlab": "schedule.packet schedule.packet_drawing schedule.packet_map schedule.packet_part "
    "schedule.packet_sheet schedule.typeface",
    "rich": "schedule.cli schedule.report",
    "typer": "schedule.cli",
}

FLOOR_OF = {
    f"{place}.{room}": number
    for number, floor in enumerate(FLOORS)
    for place, _, rooms in [floor.partition(": ")]
    for room in rooms.split()
}
ROOMS = sorted(f"{folder}.{path.stem}" for folder in ("extract", "schedule") for path in (ROOT / folder).glob("*.py"))


def imports_of(folder: str, source: str) -> Iterator[str]:
    """Names of the rooms and libraries that a room imports, those for type checkers only among them."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level:
            yield from (f"{folder}.{node.module or alias.name}" for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module == "splicewright":
            yield from (f"{alias.name}.__init__" for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.removeprefix("splicewright.")


def backward(room: str, source: str) -> list[str]:
    """Rooms that a room imports though they stand no lower than it."""
    rooms = {name for name in imports_of(room.partition(".")[0], source) if name.startswith(("extract.", "schedule."))}
    return sorted(name for name in rooms if FLOOR_OF.get(name, len(FLOORS)) >= FLOOR_OF[room])


def source_of(room: str) -> str:
    folder, _, name = room.partition(".")
    return (ROOT / folder / f"{name}.py").read_text(encoding="utf-8")


def test_every_room_stands_on_a_floor():
    """The list of floors names every room once, and none that does not exist."""
    listed = [
        f"{place}.{room}" for place, _, rooms in (floor.partition(": ") for floor in FLOORS) for room in rooms.split()
    ]

    assert ROOMS == sorted(listed)


@pytest.mark.parametrize("room", ROOMS)
def test_imports_come_from_below(room):
    """A room imports from lower floors only, so `extract` never from `schedule`."""
    assert [] == backward(room, source_of(room))


@pytest.mark.parametrize("library", KNOWN_BY)
def test_libraries_are_known_to_their_rooms_only(library):
    """A library is imported by the rooms that are there to know it, and by no other."""
    knowing = [
        room for room in ROOMS if library in {name.partition(".")[0] for name in imports_of("", source_of(room))}
    ]

    assert KNOWN_BY[library].split() == knowing


@pytest.mark.parametrize(
    "source",
    [
        "from .cli import app",
        "def late():\n    from .workbook import write_workbook",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from .plan import Schedule",
        "from splicewright.schedule.sheet import Sheet",
        "from .attic import box",
    ],
)
def test_an_import_from_above_is_found(source):
    """An import from the same floor or above is found at the top, in a function, for types, absolute or unknown."""
    assert 1 == len(backward("schedule.plan", source))
