"""The schedule as a spreadsheet: every value is there, text stays text, the same schedule gives the same bytes."""

import zipfile
from dataclasses import replace

import numpy as np
import pytest
from openpyxl import load_workbook

from splicewright.extract.drawing import Drawing, DrawingKind
from splicewright.extract.errors import OutputError
from splicewright.extract.finding import Finding, Severity, Source
from splicewright.extract.line import JointKind, JointLine
from splicewright.extract.node import Node, NodeKind, Orientation
from splicewright.extract.run import Run
from splicewright.extract.unit import LengthUnit
from splicewright.schedule import sheet
from splicewright.schedule.crew import CrewDay, CrewPlan
from splicewright.schedule.fitting import Fitting
from splicewright.schedule.footage import Footage
from splicewright.schedule.inspection import LogEntry
from splicewright.schedule.order import OrderLine
from splicewright.schedule.plan import Schedule
from splicewright.schedule.roll import Piece, Roll, RollOrder, RollPlan
from splicewright.schedule.rules import Position, Weld, load_rules
from splicewright.schedule.saw_sheet import SawSetup
from splicewright.schedule.seam import Cut
from splicewright.schedule.splice import Made, Splice, SpliceKind
from splicewright.schedule.workbook import write_workbook

FOOT_M = 0.3048
SHEETS = [
    "Summary",
    "Splices",
    "Fittings",
    "Saw settings",
    "Saw cuts",
    "Cutting list",
    "Roll bars",
    "Footage and orders",
    "Order list",
    "Crew plan",
    "Crew days",
    "Power points",
    "Day model",
    "Inspection",
    "Inspection log",
    "Findings",
    "Basis",
]
NO_LISTS = {
    "Summary",
    "Roll bars",
    "Footage and orders",
    "Crew plan",
    "Crew days",
    "Day model",
    "Power points",
    "Inspection log",
    "Basis",
}
LISTS = [name for name in SHEETS if name not in NO_LISTS]


def sample_source(entity="LINE 2F", layer="WS-SLAB", file="basin.dxf"):
    return Source(file=file, layer=layer, entity=entity)


def sample_drawing(file="basin.dxf", unit=LengthUnit.MILLIMETRE):
    line = JointLine(source=sample_source(file=file), points_m=np.array([[0.0, 0.0, 0.0], [30.0, 0.0, 0.0]]))
    return Drawing(
        file=file,
        sha256="5e" * 32,
        kind=DrawingKind.DXF,
        unit=unit,
        lines=(line,) * 31,
        skipped={"TEXT on WS-SLAB": 12, "HATCH on WS-SLAB": 1},
        selected=44,
    )


def sample_profiles():
    return ("ribbed-9", "bulb-6")


def sample_splices(count=24):
    """Field splices along the x axis, then as many seams of fittings."""
    kinds = (SpliceKind.LEG, SpliceKind.PIECE, SpliceKind.LEG_TO_LEG)
    reasons = ("leg of F1 meets the first piece", "run is longer than one roll", "run too short for a piece")
    field = tuple(
        Splice(
            mark=f"S{n}",
            made=Made.FIELD,
            kind=kinds[n % 3],
            at_m=(0.5 + 1.25 * n, 2.125, -1.2),
            profile=sample_profiles()[n % 2],
            run=f"R{1 + n // 3}",
            node=None,
            fitting="F1" if n % 3 != 1 else None,
            reason=reasons[n % 3],
            minutes=30.0,
            crew=1,
            day=1 + (n - 1) // 12,
            weld=Weld.BUTT,
            position=Position.FLOOR,
        )
        for n in range(1, count + 1)
    )
    shop = tuple(
        Splice(
            mark=f"S{count + n}",
            made=Made.FACTORY,
            kind=SpliceKind.SEAM,
            at_m=(10.0, 1.25 * n, -1.2),
            profile="ribbed-9",
            run=None,
            node=f"N{n}",
            fitting=f"F{1 + n % 3}",
            reason="corner" if n % 2 else "tee",
        )
        for n in range(1, count + 1)
    )
    return field + shop


def sample_fittings():
    corner = Fitting(
        mark="F1",
        kind="corner",
        contents="corner",
        orientation="flat",
        profiles=("ribbed-9",),
        quantity=8,
        legs_m=(0.6096, 0.6096),
        strip_m=1.2192,
        factory_seams=1,
        mass_kg=3.62,
        nodes=tuple((f"N{n}",) for n in range(1, 9)),
        turn_deg=90.0,
    )
    assembly = replace(
        corner,
        mark="F2",
        kind="assembly",
        contents="corner + tee",
        orientation="mixed",
        quantity=2,
        legs_m=(0.762, 0.6096, 0.6096),
        strip_m=2.413,
        factory_seams=3,
        mass_kg=7.1,
        nodes=(("N9", "N10"), ("N11", "N12")),
        turn_deg=0.0,
    )
    cross = replace(
        corner, mark="F3", kind="cross", contents="cross", quantity=1, legs_m=(0.6096,) * 4, nodes=(("N13",),)
    )
    return (corner, assembly, cross)


def sample_setups():
    shared = {"bevel_deg": 0.0, "error_m": 0.0012, "profiles": ("ribbed-9",), "quantity": 8}
    return (
        SawSetup(number=1, miter_deg=45.0, beyond="", cuts=("F1-1",), **shared),
        SawSetup(number=2, miter_deg=-45.0, beyond="miter", cuts=("F1-2",), **shared),
    )


def sample_cuts():
    shared = {"fitting": "F1", "shape": "end", "turn_deg": 90.0, "quantity": 8}
    return (
        Cut(mark="F1-1", piece="A", miter_deg=45.0, bevel_deg=0.0, **shared),
        Cut(mark="F1-2", piece="B", miter_deg=-45.0, bevel_deg=0.0, **shared),
        Cut(
            mark="F2-1",
            fitting="F2",
            piece="A",
            shape="notch",
            turn_deg=90.0,
            miter_deg=None,
            bevel_deg=None,
            quantity=2,
        ),
    )


def sample_rolls():
    """Two rolls, cut to three pieces and to one."""
    lengths_m = (6.1024, 5.3975, 3.1, 15.24)
    pieces = [Piece(mark=f"P{n}", run=f"R{n}", number=1, of=1, length_m=m) for n, m in enumerate(lengths_m, 1)]
    first = Roll(mark="L1", profile="ribbed-9", length_m=15.24, pieces=tuple(pieces[:3]), offcut_m=0.6401)
    second = Roll(mark="L2", profile="bulb-6", length_m=15.24, pieces=(pieces[3],), offcut_m=0.0)
    orders = tuple(
        RollOrder(
            profile=roll.profile,
            length_m=15.24,
            quantity=1,
            cost=cost,
            pieces_m=sum(piece.length_m for piece in roll.pieces),
            least_quantity=1,
        )
        for roll, cost in ((first, 310.0), (second, None))
    )
    plans = tuple(
        RollPlan(
            profile=roll.profile,
            lot="",
            cost=310.0,
            least_cost=310.0,
            priced=True,
            method="total length",
            splices=0,
            pieces_m=sum(piece.length_m for piece in roll.pieces),
            left_m=0.0,
        )
        for roll in (first, second)
    )
    lines = (
        OrderLine(group="strip", item="roll", profile="ribbed-9", length_m=15.24, needed=1, mass_kg=40.0, cost=310.0),
        OrderLine(group="samples", item="material sample", profile="ribbed-9", length_m=0.3048, needed=4),
    )
    return {"rolls": (first, second), "orders": orders, "roll_plans": plans, "order_list": lines}


def sample_footage():
    shared = {"measured_m": 25.4, "in_fittings_m": 11.0, "lost_in_welds_m": 0.2, "order_m": 15.24, "runs": 12}
    return tuple(Footage(profile=profile, in_pieces_m=14.6, **shared) for profile in sample_profiles())


def sample_crew(splices):
    days = tuple(
        CrewDay(
            crew=1,
            day=day,
            people=3,
            splices=tuple(splice.mark for splice in splices if splice.day == day),
            warm_up_min=60,
            sample_weld_min=20,
            splice_min=360,
            cool_down_min=30,
            idle_min=40,
        )
        for day in (1, 2)
    )
    return CrewPlan(crews=1, people=3, days=days, sample_welds=2)


def sample_findings():
    miss = (
        "An end on layer WS-SLAB stops 82 mm short of LINE 31: extend it to the line, or raise the tolerance if it is "
        "meant to meet it."
    )
    return (
        Finding(
            code="lay-mismatch",
            severity=Severity.ERROR,
            message="A slab joint meets a wall-base joint directly; the strips share no plane: let the slab strip "
            "turn up under the wall and rise 300 mm to the wall-base strip.",
            at_m=(12.0, 0.0, -1.2),
            sources=(sample_source("POLYLINE 4A"),),
        ),
        Finding(
            code="near-miss", severity=Severity.WARNING, message=miss, at_m=(5.0, 5.0, 0.0), sources=(sample_source(),)
        ),
        Finding(code="paper-space", severity=Severity.NOTE, message="14 entities in paper space were left out."),
    )


def sample_nodes():
    return tuple(
        Node(
            mark=f"N{n}",
            kind=NodeKind.CORNER,
            orientation=Orientation.FLAT,
            at_m=(float(n), 0.0, 0.0),
            turn_deg=90.0,
            arms=(),
            profiles=("ribbed-9",),
            sources=(sample_source(),),
        )
        for n in range(1, 25)
    )


def sample_runs():
    return tuple(
        Run(
            mark=f"R{n}",
            start="N1",
            end="N2",
            points_m=np.zeros((2, 3)),
            length_m=2.1,
            profile="ribbed-9",
            joint=JointKind.SLAB,
            across=(None, None),
            sources=(sample_source(),),
        )
        for n in range(1, 25)
    )


def sample_log(splices):
    welds = [LogEntry(mark=f"W1-{day}", what="sample weld, sliced", crew=1, day=day) for day in (1, 2)]
    marks = [LogEntry(mark=s.mark, what=f"{s.kind.value} splice, {s.profile}", crew=s.crew, day=s.day) for s in splices]
    return (*welds, *marks)


@pytest.fixture(scope="module")
def schedule():
    """A made-up job with something on every sheet."""
    splices = sample_splices()
    kinds = {"ends": 4, "corners": 10, "tees": 2, "wyes": 0, "crosses": 1, "others": 0, "closures": 1}
    made = {"factory_splices": 24, "field_splices": 24, "miter_cuts": 48, "square_cuts": 36}
    supplied = {"fittings": 11, "rolls": 2, "order_length_m": 30.48, "crew_days": 2}
    return Schedule(
        job="Lower basin & channel",
        drawings=(sample_drawing(),),
        nodes=sample_nodes(),
        runs=sample_runs(),
        fittings=sample_fittings(),
        cuts=sample_cuts(),
        setups=sample_setups(),
        splices=splices,
        footage=sample_footage(),
        crew=sample_crew(splices),
        log=sample_log(splices),
        findings=sample_findings(),
        rules=load_rules(None),
        totals={"length_m": 50.8} | kinds | made | supplied,
        **sample_rolls(),
    )


@pytest.fixture(scope="module", params=[True, False], ids=["imperial", "metric"])
def units(request):
    """Both unit systems."""
    return request.param


@pytest.fixture(scope="module")
def path(schedule, units, tmp_path_factory):
    """The workbook of the made-up job."""
    path = tmp_path_factory.mktemp("book") / "job.xlsx"
    write_workbook(schedule, path, imperial=units)
    return path


@pytest.fixture(scope="module")
def book(path):
    """The workbook as a program reads it that works nothing out: formulas by the values they were written with."""
    return load_workbook(path, data_only=True)


@pytest.fixture(scope="module")
def formulas(path):
    """The workbook with its formulas."""
    return load_workbook(path)


def columns_of(page, head_row=3):
    """Values of a list by heading, without the row of sums."""
    head, *rows = page.iter_rows(min_row=head_row, values_only=True)
    body = []
    for row in rows:
        if row[0] in {None, "Sum"}:
            break
        body.append(row)
    return {title: list(values) for title, values in zip(head, zip(*body, strict=True), strict=True) if title}


def texts_of(page):
    return [str(value) for row in page.iter_rows(values_only=True) for value in row if value is not None]


def write_and_read(schedule, path, *, imperial=True):
    write_workbook(schedule, path, imperial=imperial)
    return load_workbook(path)


def test_sheets_come_in_the_readers_order(book):
    """The manager's page is first, the basis last."""
    assert SHEETS == book.sheetnames


def test_summary_says_the_totals_in_plain_words(book, units):
    """Length, nodes, fittings, splices, rolls and days are sentences."""
    texts = " | ".join(texts_of(book["Summary"]))
    length = "166'-8\"" if units else "50.800 m"
    said = (
        f"{length} along the centreline, 2 profiles, 24 runs",
        "10 corners, 2 tees, 1 cross, 1 ring closed by a splice, 4 free ends",
        "11 fittings of 3 types",
        "24 shop splices, 24 site splices",
        "2 crew-days: 1 crew of 3 people, done after 2 working days; 2 sample welds",
    )

    assert [] == [sentence for sentence in said if sentence not in texts]


def test_summary_names_drawings_findings_and_cautions(book, schedule):
    """The digest, every error and warning and every caution stand on the first page; notes are only counted."""
    texts = " | ".join(texts_of(book["Summary"]))
    wanted = ["5e" * 32, "Open findings: 1 error, 1 warning, 1 note"]
    wanted += [finding.message for finding in schedule.findings[:2]]
    wanted += list(schedule.rules.cautions)

    assert [] == [text for text in wanted if text not in texts]
    assert schedule.findings[2].message not in texts


def test_summary_is_as_wide_as_the_paper(book, units):
    """Its columns, at the scale it prints in, fill the page between the margins, so that it stays readable."""
    page = book["Summary"]
    # A column of w characters is 7 w + 5 dots of 1/96 in wide in the usual typeface (ECMA-376 part 1, 18.3.1.13).
    dots = sum(7 * column.width + 5 for column in page.column_dimensions.values())
    wide_in = dots / 96 * page.page_setup.scale / 100
    room_in = (8.5 if units else 210 / 25.4) - page.page_margins.left - page.page_margins.right

    assert 0.93 * room_in < wide_in <= room_in


def test_summary_shows_the_network_as_a_picture(path):
    """The first sheet holds one PNG of the network, sharp in print."""
    with zipfile.ZipFile(path) as archive:
        pictures = [name for name in archive.namelist() if name.startswith("xl/media/")]
        head = archive.read(pictures[0])[:24]

    assert 1 == len(pictures)
    assert (b"\x89PNG", 1680, 620) == (head[:4], *(int.from_bytes(head[at : at + 4]) for at in (16, 20)))


def test_links_on_the_summary_lead_to_sheets_that_exist(book):
    """Each reader's links name sheets of the book."""
    targets = [cell.hyperlink.location for row in book["Summary"].iter_rows() for cell in row if cell.hyperlink]

    assert targets
    assert [] == [target for target in targets if target.removesuffix("!A1").strip("'") not in SHEETS]


def test_every_splice_has_a_row_with_its_place_in_the_drawings_unit(book, schedule):
    """Marks, reasons and places equal the schedule's; places are in the drawing's millimetres in both systems."""
    columns = columns_of(book["Splices"])

    assert [splice.mark for splice in schedule.splices] == columns["Splice"]
    assert [splice.reason for splice in schedule.splices] == columns["Why here"]
    assert [1000 * splice.at_m[0] for splice in schedule.splices] == pytest.approx(columns["X [mm]"])
    assert [1000 * splice.at_m[2] for splice in schedule.splices] == pytest.approx(columns["Z [mm]"])
    assert [splice.minutes for splice in schedule.splices] == columns["Time [min]"]


def breakable(text):
    """A text with plain blanks and hyphens for those that keep a line whole."""
    return text.replace("\u00a0", " ").replace("\u2011", "-")


def test_fittings_show_legs_and_masses_in_the_readers_units(book, units):
    """A leg of 0.6096 m is 2'-0"; 3.62 kg are 7.98 lb."""
    columns = columns_of(book["Fittings"])
    legs = columns["Legs [ft\u2011in]" if units else "Legs [mm]"]
    mass = columns["Mass of one [lb]" if units else "Mass of one [kg]"]
    imperial = ["2 × 2'-0\"", "2'-6\", 2 × 2'-0\"", "4 × 2'-0\""]

    assert (imperial if units else ["2 × 610", "762, 2 × 610", "4 × 610"]) == [breakable(text) for text in legs]
    assert (3.62 / 0.45359237 if units else 3.62) == pytest.approx(mass[0])
    assert ["N1–N8", "N9+N10; N11+N12", "N13"] == columns["Goes to nodes"]
    assert [8, 2, 1] == columns["Copies"]


def test_fittings_tell_their_cuts_and_how_the_saw_is_set(book, schedule):
    """Each row counts the mitred cuts of one fitting, and tells for how many of them the saw is set to what."""
    columns = columns_of(book["Fittings"])
    counts = [sum(cut.fitting == fitting.mark for cut in schedule.cuts) for fitting in schedule.fittings]

    assert counts == columns["Miter cuts in one"]
    assert ["2 × miter 45°", "1 × not known", ""] == [breakable(text or "") for text in columns["Saw settings"]]


def test_saw_settings_are_sizes_and_sides(book):
    """The blade's side is a word beside the angle, what is off is in millimetres, what is beyond the saw is said."""
    columns = columns_of(book["Saw settings"])

    assert ([45, 45], ["right", "left"]) == (columns["Miter [deg]"], columns["Blade swung"])
    assert [1.2, 1.2] == pytest.approx(columns["Off at the edge [mm]"])
    assert [None, "miter"] == [value or None for value in columns["Beyond the saw"]]


def test_saw_cuts_say_where_a_setting_is_not_known(book):
    """An unknown lay is words, never a zero that someone would saw."""
    columns = columns_of(book["Saw cuts"])

    assert [45, -45, "not known"] == columns["Miter [deg]"]
    assert [0, 0, "not known"] == columns["Bevel [deg]"]
    assert [8, 8, 2] == columns["Cuts in all fittings"]


def test_cutting_list_follows_the_rolls(book, units):
    """Each piece has its roll, run and length, rounded up; what is left stands at the last piece of a roll."""
    columns = columns_of(book["Cutting list"])

    assert ["L1", "L1", "L1", "L2"] == columns["Roll"]
    assert ["P1", "P2", "P3", "P4"] == columns["Piece"]
    if units:
        assert ["20'-0 5/16\"", "17'-8 1/2\"", "10'-2 1/16\"", "50'-0\""] == columns["Cut [ft\u2011in]"]
        assert [20 + 5 / 16 / 12, 50.0] == pytest.approx([columns["Cut [ft]"][0], columns["Cut [ft]"][3]])
        assert [None, None, "2'-1 3/16\"", "0'-0\""] == columns["Left of roll [ft\u2011in]"]
    else:
        assert [6103.0, 5398.0, 3100.0, 15240.0] == pytest.approx(columns["Cut [mm]"])
        assert [None, None, pytest.approx(640.1), pytest.approx(0.0)] == columns["Left of roll [mm]"]


def test_orders_and_ledger_equal_the_schedule(book, schedule, units):
    """Rolls, lengths and costs are the schedule's, and the ledger balances in the reader's unit."""
    page, unit, factor = book["Footage and orders"], "ft" if units else "m", FOOT_M if units else 1.0
    orders = columns_of(page)
    ledger_row = next(cell.row for cell in page["A"] if cell.value == "Ledger") + 1
    ledger = columns_of(page, ledger_row)
    shares = [ledger[f"{name} [{unit}]"] for name in ("In fittings", "Cut from rolls", "Lost in welds")]
    balance = [fittings + pieces - lost for fittings, pieces, lost in zip(*shares, strict=True)]

    assert ["ribbed-9", "bulb-6"] == orders["Profile"]
    assert [310.0, "no price"] == orders["Cost"]
    assert [order.pieces_m / factor for order in schedule.orders] == pytest.approx(orders[f"Cut to pieces [{unit}]"])
    assert [25.4 / factor] * 2 == pytest.approx(ledger[f"Measured [{unit}]"])
    assert ledger[f"Measured [{unit}]"] == pytest.approx(balance)


def test_sums_are_live_formulas_over_their_column(formulas):
    """Every sum on the footage sheet adds up exactly the rows between its heading and itself that a filter leaves."""
    page = formulas["Footage and orders"]
    sums = [row for row in page.iter_rows() if row[0].value == "Sum"]

    assert 4 == len(sums)
    for row in sums:
        found = {cell.column_letter: cell.value for cell in row if isinstance(cell.value, str) and cell.value != "Sum"}
        at = row[0].row
        assert {letter: f"=SUBTOTAL(109,{letter}{at - 2}:{letter}{at - 1})" for letter in found} == found
        assert 2 <= len(found)


def test_costs_follow_numbers_and_prices(formulas, book):
    """Cost is the number to order times the price on the sheet Basis; without a price there is no formula."""
    live, worked = formulas["Footage and orders"], book["Footage and orders"]
    orders = columns_of(formulas["Order list"])
    price = formulas.defined_names["roll_price_1"].attr_text.removeprefix("Basis!").replace("$", "")

    assert ("=C4*roll_price_1", 310.0) == (live["H4"].value, worked["H4"].value)
    assert "no price" == live["H5"].value
    assert 310.0 == formulas["Basis"][price].value
    assert ("=H4*K4", "=roll_price_1", "=F4+G4") == (
        orders["Cost"][0],
        orders["Price of one"][0],
        orders["To order"][0],
    )


def test_rates_have_names_on_the_basis_sheet(formulas, schedule):
    """Every name leads to a number that is the rule's, shaded to be changed."""
    page = formulas["Basis"]
    named = {
        name: page[name_of.attr_text.removeprefix("Basis!").replace("$", "")]
        for name, name_of in formulas.defined_names.items()
        if name_of.attr_text.startswith("Basis!")
    }
    crew = schedule.rules.crew
    expected = {"shift_min": crew.shift_min, "warm_up_min": crew.warm_up_min, "crews": 1, "minutes_butt": 30}

    assert expected == {name: named[name].value for name in expected}
    assert {"solid"} == {cell.fill.fill_type for cell in named.values()}
    assert [f"B5:B{4 + len(named)}"] == [str(guard.sqref) for guard in page.data_validations.dataValidation]
    assert set(named) == {page.cell(cell.row, 5).value for cell in named.values()}


def test_summary_follows_the_rates(formulas, book, schedule):
    """Days and cost on the first page are formulas that lead to the sheets that work them out."""
    rows = {row[0].value: row for row in formulas["Summary"].iter_rows() if row[0].value}
    worked = {row[0].value: row for row in book["Summary"].iter_rows() if row[0].value}
    days = (schedule.crew.crew_days, schedule.crew.working_days)

    assert ("=crew_days_now", "=working_days_now") == (rows["Crew-days"][2].value, rows["Working days"][2].value)
    assert days == (worked["Crew-days"][3].value, worked["Working days"][3].value)
    assert "=SUM('Order list'!$L$4:$L$5)" == rows["Cost of all to order that has a price"][2].value
    assert 310.0 == worked["Cost of all to order that has a price"][2].value


def test_crew_days_list_their_splices_and_how_to_weld(book, schedule):
    """Each day has its people, minutes and splices; the welding notes follow."""
    page = book["Crew days"]
    columns = columns_of(page)
    texts = " | ".join(texts_of(page))

    assert ["S1–S12", "S13–S24"] == columns["Splices made"]
    assert [3, 3] == columns["People"]
    assert [360, 360] == columns["Splices [min]"]
    assert [] == [note.text for note in schedule.rules.notes if note.text not in texts]


def test_inspection_shows_every_criterion_with_its_source(book, schedule):
    """No criterion is left out, none stands without its source."""
    columns = columns_of(book["Inspection"])

    assert [row.text for row in schedule.rules.inspection] == columns["Reject a splice for"]
    assert [row.source for row in schedule.rules.inspection] == columns["Source"]


def test_findings_keep_order_place_and_entity(book, schedule):
    """Errors first, each with its sentence, place in the drawing's unit, layer and entity."""
    columns = columns_of(book["Findings"])

    assert ["error", "warning", "note"] == columns["Severity"]
    assert [finding.message for finding in schedule.findings] == columns["Finding"]
    assert [12000, 5000, None] == columns["X [mm]"]
    assert ["POLYLINE 4A", "LINE 2F", None] == columns["Entity"]


def test_basis_lists_every_rule_in_force(book, schedule):
    """Path, value, source and who set it, for every rule."""
    page = book["Basis"]
    columns = columns_of(page, next(cell.row for cell in page["C"] if cell.value == "Set by"))
    rows = schedule.rules.basis()

    assert [row.path for row in rows] == columns["Rule"]
    assert [row.value for row in rows] == columns["Value"]
    assert [row.source for row in rows] == columns["Source"]
    assert ["this job" if row.by_user else "default" for row in rows] == columns["Set by"]


def test_lists_can_be_read_on_screen_and_on_paper(book, units):
    """Headings stay in sight and repeat on every page, filters cover the rows, pages fit the width of the paper."""
    for name in LISTS:
        page = book[name]

        assert ("B4", "$3:$3") == (page.freeze_panes, page.print_title_rows)
        assert page.auto_filter.ref is None
        assert [True] == [table.autoFilter.ref.startswith("A3:") for table in page.tables.values()]
        assert (1, 0, "1" if units else "9") == (
            page.page_setup.fitToWidth,
            page.page_setup.fitToHeight,
            str(page.page_setup.paperSize),
        )
        assert ("Lower basin && channel", "Page &P of &N") == (page.oddHeader.left.text, page.oddFooter.right.text)


def test_every_number_with_a_unit_says_so_in_its_heading(book, units):
    """No heading of one system's units appears in the other's workbook."""
    foreign = {"[m]", "[kg]"} if units else {"[ft]", "[ft\u2011in]", "[lb]", "[in]"}
    headings = [str(cell.value) for page in book for row in page.iter_rows() for cell in row if cell.font.bold]

    assert [] == [heading for heading in headings if any(unit in heading for unit in foreign)]


def test_columns_are_wide_enough_for_their_numbers(book):
    """No number shows as #### : each column is wider than its longest number as formatted."""
    for name in SHEETS:
        for letter, column in zip("ABCDEFGHIJKLMNOP", book[name].iter_cols(), strict=False):
            numbers = [cell for cell in column if isinstance(cell.value, int | float)]
            digits = max((len(f"{cell.value:,.{decimals_in(cell.number_format)}f}") for cell in numbers), default=0)

            assert digits + 1 <= book[name].column_dimensions[letter].width or digits == 0


def decimals_in(form):
    return len(form.partition(".")[2])


@pytest.mark.parametrize(
    "layer",
    [
        "=1+1",
        '=HYPERLINK("file:secret")',
        "+WS",
        "-WS-SLAB",
        "@SUM(A1)",
        "#N/A",
        "TRUE",
        "1e5",
        "  two blanks  ",
        "<WS & 'wall'>",
        "Fundación 水密",
    ],
)
def test_names_from_drawings_stay_text(schedule, layer, tmp_path):
    """Whatever a layer is called, its cell is a string that reads back as it was."""
    finding = replace(schedule.findings[1], sources=(sample_source(layer=layer),))
    page = write_and_read(replace(schedule, findings=(finding,)), tmp_path / "job.xlsx")["Findings"]
    cell = next(cell for cell in page[4] if page.cell(3, cell.column).value == "Layer")

    assert (layer, "s") == (cell.value, cell.data_type)


def test_only_our_own_formulas_are_formulas(schedule, tmp_path):
    """A job, file, profile, layer and message that look like formulas add none."""
    evil = "=cmd|' /C calc'!A0"
    source = sample_source(layer=evil, entity=evil, file=evil)
    spoiled = replace(
        schedule,
        job=evil,
        drawings=(replace(schedule.drawings[0], file=evil),),
        splices=tuple(replace(splice, profile=evil, reason=evil) for splice in schedule.splices),
        footage=tuple(replace(footage, profile=evil) for footage in schedule.footage),
        findings=tuple(replace(finding, message=evil, sources=(source,)) for finding in schedule.findings),
    )
    book = write_and_read(spoiled, tmp_path / "job.xlsx")
    found = {cell.value for page in book for row in page.iter_rows() for cell in row if cell.data_type == "f"}

    assert 40 < len(found)
    assert [] == [formula for formula in found if "cmd" in formula or "calc" in formula]


def test_open_findings_stand_out(formulas):
    """Errors and warnings have grounds of their own, over the whole list and no further."""
    rules = formulas["Findings"].conditional_formatting

    assert ["A4:I6"] == [str(area.sqref) for area in rules]
    assert [['$B4="error"'], ['$B4="warning"']] == [rule.formula for area in rules for rule in area.rules]


def test_marks_lead_to_fittings_and_to_the_map(schedule, tmp_path):
    """With a map beside the workbook a splice leads to its place on it; its fitting leads to the fitting's row."""
    write_workbook(schedule, tmp_path / "job.xlsx", imperial=True, map_file="a job #1.map.html")
    book = load_workbook(tmp_path / "job.xlsx")
    mark, fitting = book["Splices"]["A4"], next(cell for cell in book["Splices"]["H"] if cell.value == "F1")
    number = book["Findings"]["A4"]

    assert ("a%20job%20%231.map.html", "S1") == (mark.hyperlink.target, mark.hyperlink.location)
    assert ("a%20job%20%231.map.html", "finding-1") == (number.hyperlink.target, number.hyperlink.location)
    assert ("'Fittings'!A4", "F1") == (fitting.hyperlink.location, book["Fittings"]["A4"].value)


def test_without_a_map_nothing_leads_there(formulas):
    """Marks are plain where no map is written."""
    targets = [cell.hyperlink.target for page in formulas for row in page.iter_rows() for cell in row if cell.hyperlink]

    assert {None} == set(targets)


def test_control_and_half_characters_are_replaced(schedule, tmp_path):
    """What XML cannot hold becomes the replacement character, the rest of the text stays."""
    finding = replace(schedule.findings[1], message="bell \x07, half \udce9, not \uffff, line\nbreak")
    page = write_and_read(replace(schedule, findings=(finding,)), tmp_path / "job.xlsx")["Findings"]

    assert ["bell \ufffd, half \ufffd, not \ufffd, line\nbreak"] == columns_of(page)["Finding"]


def test_text_longer_than_a_cell_is_cut_and_says_so(schedule, tmp_path):
    """32,767 characters are the most that a cell holds."""
    finding = replace(schedule.findings[1], message="x" * 40_000)
    page = write_and_read(replace(schedule, findings=(finding,)), tmp_path / "job.xlsx")["Findings"]
    text = columns_of(page)["Finding"][0]

    assert (32_767, True) == (len(text), text.endswith("(cut)"))


def test_long_job_name_leaves_the_page_header_within_its_limit(schedule, tmp_path):
    """A header of more than 255 characters would make the file look damaged."""
    page = write_and_read(replace(schedule, job="&" * 300), tmp_path / "job.xlsx")["Splices"]

    assert 200 > len(page.oddHeader.left.text)


def test_list_longer_than_the_limit_is_cut_and_says_so(schedule, tmp_path, monkeypatch):
    """The first rows are there, and the sheet tells how many there are in all."""
    monkeypatch.setattr(sheet, "MOST_ROWS", 10)
    page = write_and_read(schedule, tmp_path / "job.xlsx")["Splices"]

    assert [f"S{number}" for number in range(1, 11)] == columns_of(page)["Splice"]
    assert page["A2"].value.startswith("The first 10 of 48 rows; the JSON record holds all.")


def test_several_drawings_are_told_apart(schedule, tmp_path):
    """With more than one drawing every splice names its own, and places are in the reader's unit."""
    drawings = (sample_drawing(), sample_drawing(file="wall.dxf", unit=LengthUnit.INCH))
    runs = tuple(replace(run, sources=(sample_source(file="wall.dxf"),)) for run in schedule.runs)
    columns = columns_of(
        write_and_read(replace(schedule, drawings=drawings, runs=runs), tmp_path / "job.xlsx")["Splices"]
    )

    assert ["wall.dxf"] * 24 + ["basin.dxf"] * 24 == columns["Drawing"]
    assert [splice.at_m[0] / FOOT_M for splice in schedule.splices] == pytest.approx(columns["X [ft]"])


def test_same_schedule_gives_same_bytes(schedule, units, tmp_path, monkeypatch):
    """Neither the hour nor the order of earlier books shows in the file."""
    first, second = tmp_path / "first.xlsx", tmp_path / "second.xlsx"
    write_workbook(schedule, first, imperial=units)
    monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    write_workbook(schedule, second, imperial=units)

    assert first.read_bytes() == second.read_bytes()
    with zipfile.ZipFile(first) as archive:
        assert {(1980, 1, 1, 0, 0, 0)} == {entry.date_time for entry in archive.infolist()}


def test_empty_job_still_makes_a_book(schedule, tmp_path):
    """A job without splices, fittings, rolls and findings has every sheet, with headings and no rows."""
    none = dict.fromkeys(("fittings", "cuts", "splices", "rolls", "orders", "footage", "log", "findings"), ())
    crew = CrewPlan(crews=1, people=2, days=(), sample_welds=0)
    totals = dict.fromkeys(schedule.totals, 0)
    book = write_and_read(replace(schedule, crew=crew, totals=totals, **none), tmp_path / "job.xlsx")

    assert SHEETS == book.sheetnames
    assert "Splice" == book["Splices"]["A3"].value
    assert book["Splices"]["A4"].value is None


def test_place_that_cannot_be_written_is_one_sentence(schedule, tmp_path):
    """The sentence names the path and the remedy."""
    with pytest.raises(OutputError, match=r"job\.xlsx cannot be written: .*; choose another folder") as caught:
        write_workbook(schedule, tmp_path / "nowhere" / "job.xlsx", imperial=True)

    assert "\n" not in str(caught.value)


def test_rows_of_one_roll_stand_together(book):
    """A line is drawn above the first piece of every roll and above no other."""
    page = book["Cutting list"]
    lines = [page.cell(row, 1).border.top for row in (4, 5, 6, 7)]

    assert ["L1", "L1", "L1", "L2"] == columns_of(page)["Roll"]
    assert ["thin", None, None, "thin"] == [line and line.style for line in lines]


def test_rows_are_as_high_as_their_text(book, schedule):
    """A sentence that needs several lines has a row for them in every program; a short one has a usual row."""
    page = book["Findings"]
    long, short = page.row_dimensions[4].height, page.row_dimensions[6].height

    assert 3 * 10 < long
    assert short is None
    assert len(schedule.findings[0].message) > len(schedule.findings[2].message)


@pytest.mark.parametrize(
    ("text", "width", "lines"),
    [
        (None, 10, 1),
        (12.5, 1, 1),
        ("short", 10, 1),
        ("one\ntwo\n\nfour", 40, 4),
        ("word " * 20, 50, 2),
        ("WORD " * 20, 50, 3),
        ("水" * 40, 40, 2),
    ],
)
def test_lines_are_counted_by_the_width_of_their_letters(text, width, lines):
    """Capitals and wide scripts take more room than small letters."""
    assert lines == sheet.line_count(text, width)
