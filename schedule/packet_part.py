"""Packet parts: what stands on the pages of the PDF, part by part."""

from collections import Counter
from collections.abc import Iterator
from itertools import chain, groupby

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak

from splicewright.extract.finding import Severity

from .fitting import Fitting
from .inspection import LogEntry
from .measure import Measure, count_text, marks_text
from .packet_drawing import FittingDrawing
from .packet_sheet import Lines, gap, heading, paragraph, table
from .plan import Schedule
from .roll import Piece, Roll
from .seam import Cut
from .tape import read_tape
from .ticket import tickets_of
from .ticket_drawing import draw_fitting

__all__ = ["calendar_part", "caution_part", "cut_part", "form_part", "shop_part", "summary_part"]

_MOST_FINDINGS = 12
_MOST_PLACES = 30


def summary_part(schedule: Schedule, measure: Measure, width: float) -> Iterator[Flowable]:
    """Set the job on one page: its figures, profiles, and what is open."""
    yield paragraph(schedule.job, "title")
    yield heading("Summary", "summary")
    yield from table(Lines(heads=("", ""), shares=(1, 4), rows=_figures(schedule, measure), wraps=_ALL), width)
    yield paragraph("By profile", "subhead")
    yield from table(_profiles(schedule, measure), width)
    counts = Counter(finding.severity for finding in schedule.findings)
    yield paragraph("Findings: " + ", ".join(count_text(counts[one], one.value) for one in Severity), "subhead")
    telling = [finding for finding in schedule.findings if finding.severity is not Severity.NOTE]
    for finding in telling[:_MOST_FINDINGS]:
        yield paragraph(f"•  {finding.severity.value}: {finding.message}")
    if len(telling) > _MOST_FINDINGS:
        yield paragraph(f"and {len(telling) - _MOST_FINDINGS:,} more, in the workbook and on the map page", "note")
    yield paragraph("Drawings", "subhead")
    for drawing in schedule.drawings[:_MOST_FINDINGS]:
        yield paragraph(f"{drawing.file}, unit {drawing.unit.value}, SHA-256 {drawing.sha256}", "note")
    if len(schedule.drawings) > _MOST_FINDINGS:
        yield paragraph(f"and {count_text(len(schedule.drawings) - _MOST_FINDINGS, 'more drawing')}", "note")


_ALL = frozenset(range(20))


def _figures(schedule: Schedule, measure: Measure) -> list[tuple[str, str]]:
    totals, crew = schedule.totals, schedule.crew
    basis = schedule.rules.basis()
    assumed = sum(row.source == "assumed" and not row.by_user for row in basis)
    return [
        ("Waterstop", f"{measure.text(totals['length_m'] or 0)} along the centreline"),
        ("Fittings", f"{count_text(totals['fittings'], 'fitting')} of {count_text(len(schedule.fittings), 'type')}"),
        ("Saw cuts", f"{totals['miter_cuts']:,} mitered, {totals['square_cuts']:,} square"),
        ("Splices", f"{totals['field_splices']:,} on site, {totals['factory_splices']:,} in the shop"),
        ("Rolls", f"{count_text(totals['rolls'], 'roll')}, {measure.round_text(totals['order_length_m'] or 0)} in all"),
        (
            "Crew",
            f"{count_text(crew.crew_days, 'crew-day')}: {count_text(crew.crews, 'crew')} of {crew.people} people, "
            f"{count_text(crew.working_days, 'working day')}",
        ),
        ("Assumed", f"{assumed} of {len(basis)} rules are assumed values; the workbook's sheet Basis lists them"),
    ]


def _profiles(schedule: Schedule, measure: Measure) -> Lines:
    unit = measure.long_unit
    rows = []
    for row in schedule.footage:
        orders = [order for order in schedule.orders if order.profile == row.profile]
        rolls = ", ".join(f"{order.quantity:,} × {measure.roll_text(order.length_m)}" for order in orders)
        lengths = (row.measured_m, row.in_fittings_m, row.in_pieces_m, row.order_m)
        rows.append(
            (row.profile or "not known", *(f"{measure.long(length):,.1f}" for length in lengths), rolls or "none")
        )
    heads = (
        "Profile",
        f"Measured [{unit}]",
        f"In fittings [{unit}]",
        f"From rolls [{unit}]",
        f"To order [{unit}]",
        "Rolls",
    )
    return Lines(
        heads=heads, shares=(3, 2, 2, 2, 2, 3), rows=rows, wraps=frozenset({0, 5}), right=frozenset({1, 2, 3, 4})
    )


def shop_part(schedule: Schedule, measure: Measure, width: float) -> Iterator[Flowable]:
    """Set a block for every fitting: legs, seams, mass, saw cuts, and where its copies go."""
    yield heading("Shop", "shop")
    yield paragraph(
        "One block for each type of fitting. Legs run from the node to the square end along the centreline. Saw "
        "settings are from square, strip flat on the table against the fence; point and notch are two cuts each.",
        "note",
    )
    cuts = {mark: list(group) for mark, group in groupby(schedule.cuts, lambda cut: cut.fitting)}
    for ticket in tickets_of(schedule):
        block = list(_fitting(ticket.fitting, measure, width))
        block.append(FittingDrawing(draw_fitting(ticket, measure, scaled=False), width))
        yield KeepTogether([*block, *_cut_table(cuts.pop(ticket.fitting.mark, []), width)])
    if cuts:  # everything is made in place, so cuts belong to nodes
        yield paragraph("Cuts made on site, by node", "subhead")
        yield from _cut_table(list(chain.from_iterable(cuts.values())), width)
    if not schedule.fittings and not schedule.cuts:
        yield paragraph("Nothing is made in the shop.")


def _cut_table(cuts: list[Cut], width: float) -> Iterator[Flowable]:
    rows = [
        (
            cut.mark,
            cut.piece,
            cut.shape,
            _angle(cut.turn_deg),
            _angle(cut.miter_deg),
            _angle(cut.bevel_deg),
            f"{cut.quantity:,}",
        )
        for cut in cuts
    ]
    heads = ("Cut", "Piece", "Shape", "Strips meet at", "Miter", "Bevel", "In all")
    lines = Lines(heads=heads, shares=(2, 1.4, 1.6, 2, 2, 2, 1.4), rows=rows, right=frozenset({3, 4, 5, 6}))
    yield from table(lines, width)


def _fitting(fitting: Fitting, measure: Measure, width: float) -> Iterator[Flowable]:
    yield gap(6)
    yield paragraph(
        f"{fitting.mark}: {fitting.contents}, {fitting.orientation}: {fitting.quantity:,} to make", "subhead"
    )
    legs = Counter(measure.text(leg) if measure.imperial else measure.fine_text(leg) for leg in fitting.legs_m)
    places = ["+".join(copy) for copy in fitting.nodes]
    left = f" and {len(places) - _MOST_PLACES:,} more" if len(places) > _MOST_PLACES else ""
    rows = [
        ("Profile", ", ".join(fitting.profiles)),
        ("Legs", ", ".join(f"{count} × {text}" for text, count in legs.items()) or "none"),
        (
            "In one",
            f"strip {measure.text(fitting.strip_m)}, {count_text(fitting.factory_seams, 'seam')}, "
            f"{measure.mass(fitting.mass_kg):.1f} {measure.mass_unit}",
        ),
        ("Goes to", ", ".join(places[:_MOST_PLACES]) + left),
    ]
    lines = Lines(heads=("", ""), shares=(1, 6), rows=rows, wraps=frozenset({1}))
    yield from table(lines, width)


def _angle(angle_deg: float | None) -> str:
    return "not known" if angle_deg is None else f"{round(angle_deg, 1) + 0.0:.1f}°"  # + 0.0 turns -0.0 into 0.0


def cut_part(schedule: Schedule, measure: Measure, width: float) -> Iterator[Flowable]:
    """Set how every roll is cut."""
    yield heading("Cut list", "cut-list")
    yield paragraph(
        "Cut every roll in this order, square where nothing else is said, and mark each piece. Lengths hold what the "
        "welds melt away and are rounded for the tape so that no run comes out short. An offcut with a mark is kept.",
        "note",
    )
    tape = read_tape(schedule.rolls, imperial=measure.imperial)
    rows = [
        (
            roll.mark if number == 1 else "",
            (roll.profile or "not known") if number == 1 else "",
            _roll_text(roll, measure) if number == 1 else "",
            piece.mark,
            measure.text(tape.lengths_m[piece.mark]) + _ends_text(piece),
            piece.run,
            f"{piece.number} of {piece.of}",
            f"{measure.text(roll.offcut_m)} {roll.offcut}".rstrip() if number == len(roll.pieces) else "",
            "",
        )
        for roll in schedule.rolls
        for number, piece in enumerate(roll.pieces, 1)
    ]
    if not rows:
        yield paragraph("Nothing is cut from rolls.")
        return
    heads = ("Roll", "Profile", "Length", "Piece", "Cut", "For run", "Place", "Left of roll", "Done")
    lines = Lines(
        heads=heads, shares=(1.2, 2.2, 1.3, 1.2, 1.9, 1.5, 1.2, 1.9, 1.5), rows=rows, right=frozenset({2, 4, 7})
    )
    yield from table(lines, width)


def _roll_text(roll: Roll, measure: Measure) -> str:
    """Name a roll by its length, and as an offcut from stock by its mark."""
    length = measure.roll_text(roll.length_m)
    return length if roll.stock is None else " ".join(["offcut", *roll.stock.split(), length])


def _ends_text(piece: Piece) -> str:
    return "" if piece.ends == ("square", "square") else f", ends {' / '.join(dict.fromkeys(piece.ends))}"


def calendar_part(schedule: Schedule, measure: Measure, width: float) -> Iterator[Flowable]:
    """Set the crews' days, the pours they serve, power, and how to weld."""
    crew = schedule.crew
    yield heading("Crew calendar", "crew")
    if not crew.days:
        yield paragraph("Nothing is welded on site.")
        return
    rows = [
        (
            f"{day.day}" + (f"  {day.on.isoformat()}" if day.on else ""),
            f"{day.crew}",
            f"{day.people}",
            f"{len(day.splices):,}",
            f"{day.warm_up_min + day.sample_weld_min + day.splice_min + day.move_min + day.cover_min:,.0f}",
            ", ".join(day.zones),
            marks_text(day.splices),
        )
        for day in crew.days
    ]
    heads = ("Day", "Crew", "People", "Splices", "At work [min]", "For", "Marks")
    yield from table(
        Lines(
            heads=heads,
            shares=(2, 1, 1.2, 1.2, 1.4, 3.4, 4),
            rows=rows,
            wraps=frozenset({5, 6}),
            right=frozenset({1, 2, 3, 4}),
        ),
        width,
    )
    yield from _zones(schedule, width)
    yield from _power(schedule, measure)
    yield paragraph("How to weld", "subhead")
    for note in schedule.rules.notes:
        yield paragraph(f"•  {note.text} ({note.source})")


def _zones(schedule: Schedule, width: float) -> Iterator[Flowable]:
    zones = schedule.crew.zones
    if not zones:
        return
    yield paragraph("Pours" if any(zone.pour for zone in zones) else "Levels", "subhead")
    rows = [
        (
            zone.name,
            f"{zone.splices:,}",
            f"{zone.start_day}" + (f"  {zone.start.isoformat()}" if zone.start else ""),
            f"{zone.finish_day}" + (f"  {zone.finish.isoformat()}" if zone.finish else ""),
            zone.pour_date.isoformat() if zone.pour_date else "",
            "" if zone.float_days is None else f"{zone.float_days}",
        )
        for zone in zones
    ]
    heads = ("Name", "Splices", "From day", "To day", "Poured", "Float [days]")
    yield from table(
        Lines(heads=heads, shares=(4, 1.2, 2, 2, 2, 1.4), rows=rows, wraps=frozenset({0}), right=frozenset({1, 5})),
        width,
    )


def _power(schedule: Schedule, measure: Measure) -> Iterator[Flowable]:
    power = schedule.crew.power
    if power is None:
        return
    yield paragraph("Power", "subhead")
    irons = [count_text(power.large_irons, "large iron"), count_text(power.small_irons, "small iron")]
    yield paragraph(
        f"{' and '.join(text for text in irons if not text.startswith('0 '))} hot at a time, {power.amperes:.0f} A on "
        f"{count_text(power.circuits, 'circuit')}; generator {power.generator_kw:.1f} kW; "
        f"{count_text(len(power.points), 'power point')} with leads of at most {measure.round_text(power.lead_m)}."
    )


def form_part(schedule: Schedule, width: float) -> Iterator[Flowable]:
    """Set the criteria, then a form for each crew and day to tear off, then one for what comes from the shop."""
    yield heading("Inspection", "inspection")
    yield paragraph("When to reject a splice. The list is open: the specification may add to it.", "note")
    rows = [(f"{number}", row.text, row.limit, row.source) for number, row in enumerate(schedule.rules.inspection, 1)]
    lines = Lines(heads=("No.", "Reject for", "When", "Source"), shares=(0.6, 3, 3.4, 3), rows=rows, wraps=_ALL)
    yield from table(lines, width)
    places = {splice.mark: splice.run or splice.node or "" for splice in schedule.splices}
    for (crew, day), group in groupby(schedule.log, lambda entry: (entry.crew, entry.day)):
        yield PageBreak()
        yield from _form(list(group), crew, day, places, width)


def _form(
    entries: list[LogEntry], crew: int | None, day: int | None, places: dict[str, str], width: float
) -> Iterator[Flowable]:
    title = "Fittings from the shop, on delivery" if day is None else f"Day {day}, crew {crew}"
    yield paragraph(title, "head")
    yield paragraph(
        "Date ____________________    Inspected by ______________________________    Weather ____________________"
    )
    yield gap(6)
    rows = [(entry.mark, entry.what, places.get(entry.mark, ""), "", "", "", "") for entry in entries]
    heads = ("Mark", "What", "Run or node", "Accepted", "Rejected for no.", "Initials", "Remarks")
    yield from table(Lines(heads=heads, shares=(1.2, 3.4, 1.4, 1.3, 1.5, 1.2, 3), rows=rows, tall=True), width)


def caution_part(schedule: Schedule) -> Iterator[Flowable]:
    """Set the cautions."""
    yield CondPageBreak(120)
    yield paragraph("Cautions", "subhead")
    for caution in schedule.rules.cautions:
        yield paragraph(f"•  {caution}")
