"""Shop sheets: splices, fittings, saw cuts, saw settings."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from openpyxl import Workbook

from .cell import Link, Value
from .fitting import Fitting
from .measure import Measure, marks_text
from .rules import Policy
from .saw_sheet import SawSetup, blade_text
from .seam import Cut
from .sheet import MOST_ROWS, Column, Table, write_table
from .sheet_view import FEET_INCHES, MASS, MINUTES, SAW, TURN, Row, View, number_column, text_column
from .shopwork import ShopWork

__all__ = ["write_cuts", "write_fittings", "write_setups", "write_splices"]


def write_splices(book: Workbook, view: View) -> None:
    """Write every weld, site splices first in the order they are made."""
    schedule = view.schedule
    columns = (
        text_column("Splice", least=8),
        text_column("Made in"),
        text_column("Kind", least=10),
        text_column("Why here", most=44),
        text_column("Profile", most=24),
        text_column("Run"),
        text_column("Node"),
        text_column("Fitting"),
        number_column("Day"),
        number_column("Crew"),
        number_column("Time [min]", MINUTES),
        *view.place_columns(),
        *((text_column("Drawing", most=30),) if view.files else ()),
    )
    fittings = {fitting.mark: number for number, fitting in enumerate(schedule.fittings, 4)}
    rows = [
        (
            view.mapped(splice.mark),
            _MADE[splice.made.value],
            splice.kind.value,
            splice.reason,
            splice.profile or "not known",
            splice.run,
            splice.node,
            _fitting_link(splice.fitting, fittings),
            splice.day,
            splice.crew,
            splice.minutes,
            *view.place(splice.at_m),
            *((view.files.get(splice.run or splice.node or ""),) if view.files else ()),
        )
        for splice in schedule.splices
    ]
    note = (
        f"Every weld of the barrier: {schedule.totals['field_splices']:,} made on site, in the order they are made, "
        f"then {schedule.totals['factory_splices']:,} made in the shop, by fitting. {_map_text(view)}"
        f"Places are in {view.place_words()}."
    )
    write_table(book, "Splices", note, Table(columns=columns, rows=rows), view.paper)


def _map_text(view: View) -> str:
    return f"A mark leads to its place on the map ({view.map_file}), a fitting to its row. " if view.map_file else ""


def _fitting_link(mark: str | None, rows: dict[str, int]) -> Value:
    """Return the mark of a fitting, leading to its row."""
    return Link(text=mark, place=f"'{_FITTINGS}'!A{rows[mark]}") if mark in rows and rows[mark] < MOST_ROWS else mark


_FITTINGS = "Fittings"
_MADE = {"factory": "shop", "field": "site"}


def write_fittings(book: Workbook, view: View) -> None:
    """Write what the shop makes, identical copies counted together."""
    measure = view.measure
    columns = (
        text_column("Fitting", least=8),
        number_column("Copies", total=True),
        text_column("Kind", least=10),
        text_column("Holds", most=16),
        text_column("Turns", least=9),
        number_column("Turn [deg]", TURN),
        text_column("Profile", most=18),
        Column(title=f"Legs [{FEET_INCHES if measure.imperial else 'mm'}]", most=18, least=12),
        view.sum_column("Strip in one", total=False),
        number_column("Seams in one", least=9),
        number_column("Miter cuts in one", least=10),
        text_column("Saw settings", most=17, least=12),
        number_column(f"Mass of one [{measure.mass_unit}]", MASS, least=9),
        text_column(f"Box [{FEET_INCHES if measure.imperial else 'mm'}]", most=16, least=12),
        view.sum_column("Strip used in one", total=False),
        view.sum_column("Weld in one", total=False),
        number_column("Shop time of one [min]", MINUTES, least=9),
        text_column("Made in", least=9),
        text_column("Goes to nodes", most=24, least=16),
    )
    work_of = {work.fitting: work for work in view.schedule.works}
    set_to = {mark: setup for setup in view.schedule.setups for mark in setup.cuts}
    cuts_of: dict[str, list[Cut]] = {}
    for cut in view.schedule.cuts:
        cuts_of.setdefault(cut.fitting, []).append(cut)
    rows = [
        (
            view.mapped(fitting.mark),
            fitting.quantity,
            fitting.kind,
            fitting.contents,
            fitting.orientation,
            fitting.turn_deg if fitting.turn_deg else None,
            ", ".join(fitting.profiles),
            _legs_text(fitting, measure),
            measure.long(fitting.strip_m),
            fitting.factory_seams,
            *_cuts_row(cuts_of.get(fitting.mark, ()), set_to),
            measure.mass(fitting.mass_kg),
            *_work_row(work_of.get(fitting.mark), measure),
            _nodes_text(fitting),
        )
        for fitting in view.schedule.fittings
    ]
    note = (
        "What the shop makes, identical copies counted together. Legs run from node to square end along the "
        "centreline. Flat: turns within the strip's own plane; vertical: about its width; compound: made to order. "
        "Strip used: with long points. Shop time: by the rates on the sheet Basis, set-up once for each type not "
        f"counted. {_joining_text(view)}All places of a fitting: filter the sheet Splices by its mark."
    )
    write_table(book, _FITTINGS, note, Table(columns=columns, rows=rows), view.paper)


def _work_row(work: ShopWork | None, measure: Measure) -> Row:
    if work is None:
        return (None,) * 5
    sides = (measure.text(side) if measure.imperial else f"{measure.fine(side):.0f}" for side in work.box_m)
    maker = "shop" if work.policy is Policy.FACTORY else "site shop"
    return (
        " × ".join(map(_unbroken, sides)),
        measure.long(work.strip_used_m),
        measure.long(work.weld_m),
        work.shop_min,
        maker,
    )


def _cuts_row(cuts: Sequence[Cut], set_to: Mapping[str, SawSetup]) -> Row:
    """Tell how many mitred cuts one fitting has, and how many of them with which setting of the saw, either way."""
    texts = Counter(_setting_text(set_to.get(cut.mark)) for cut in cuts)
    return (len(cuts), ", ".join(_unbroken(f"{count} × {text}") for text, count in texts.items()))


def _setting_text(setup: SawSetup | None) -> str:
    if setup is None:
        return "not known"
    angles = ((setup.miter_deg, "miter"), (setup.bevel_deg, "bevel"))
    return " ".join(f"{word} {abs(angle):g}°" for angle, word in angles if angle) or "square"


def _joining_text(view: View) -> str:
    joining = view.schedule.joining
    if joining is None or not (joining.joined or joining.partings):
        return ""
    proven = joining.field_splices == joining.least_field_splices
    least = "the least possible" if proven else f"at least {joining.least_field_splices:,} are needed"
    return (
        f"Runs taken into assemblies on purpose: {len(joining.joined):,}, which saves {joining.saved:,} field splices; "
        f"between fittings {joining.field_splices:,} are left, {least} within what can be shipped. "
    )


def _legs_text(fitting: Fitting, measure: Measure) -> str:
    texts = (measure.text(leg) if measure.imperial else f"{measure.fine(leg):.0f}" for leg in fitting.legs_m)
    counted = ((text, len(list(group))) for text, group in groupby(texts))
    return ", ".join(_unbroken(f"{count} × {text}" if count > 1 else text) for text, count in counted)


def _unbroken(text: str) -> str:
    """Keep what belongs together on one line of its cell."""
    return text.replace(" ", "\u00a0").replace("-", "\u2011")


def _nodes_text(fitting: Fitting, most: int = 24) -> str:
    if all(len(copy) == 1 for copy in fitting.nodes):
        return marks_text(tuple(copy[0] for copy in fitting.nodes), most=most)
    shown = "; ".join("+".join(copy) for copy in fitting.nodes[:most])
    left = len(fitting.nodes) - most
    return f"{shown} and {left:,} more" if left > 0 else shown


def write_setups(book: Workbook, view: View) -> None:
    """Write every setting of the saw once, with its cuts."""
    columns = (
        number_column("Setting", least=8),
        number_column("Miter [deg]", SAW, least=9),
        text_column("Blade swung", least=9),
        number_column("Bevel [deg]", SAW, least=9),
        text_column("Blade tilted", least=9),
        number_column("Cuts in all fittings", total=True, least=12),
        number_column("Off at the edge [mm]", "0.0", least=13),
        text_column("Beyond the saw", least=10, most=18),
        text_column("Profiles", most=28),
        text_column("Cuts", most=60, least=24),
    )
    rows = [
        (
            setup.number,
            abs(setup.miter_deg),
            _side(setup.miter_deg, "right", "left"),
            abs(setup.bevel_deg),
            _side(setup.bevel_deg, "left", "right"),
            setup.quantity,
            setup.error_m * 1000,
            setup.beyond,
            ", ".join(setup.profiles),
            marks_text(setup.cuts, most=24),
        )
        for setup in view.schedule.setups
    ]
    saw = view.schedule.rules.saw
    note = (
        "Set the saw once for every line and make all its cuts. The piece lies flat along the fence, face up, its left "
        "end to the left; the blade's front swings right or left, its top tilts left or right. Settings are rounded to "
        f"{saw.step_deg:g} degrees; off at the edge is what that moves the cut at the strip's edge by. Beyond the saw: "
        f"miter over {saw.miter_limit_deg:g} or bevel over {saw.bevel_limit_deg:g} degrees; mark the line and cut it "
        "with a circular hand saw."
    )
    write_table(book, "Saw settings", note, Table(columns=columns, rows=rows), view.paper)


def _side(angle_deg: float, positive: str, negative: str) -> str:
    return "" if angle_deg == 0 else positive if angle_deg > 0 else negative


def write_cuts(book: Workbook, view: View) -> None:
    """Write all mitred cuts, piece by piece, exactly."""
    columns = (
        text_column("Cut", least=8),
        text_column("Fitting", least=8),
        text_column("Piece"),
        text_column("Meets"),
        text_column("Shape", least=8),
        text_column("End", least=7),
        text_column("Through", least=10),
        number_column("Strips meet at [deg]", TURN, least=11),
        number_column("Miter [deg]", SAW, least=10),
        number_column("Bevel [deg]", SAW, least=10),
        text_column("Blade", least=22, most=34),
        replace(view.length_columns("Long point")[0], least=11),
        replace(view.length_columns("Short point")[0], least=11),
        number_column("Cuts in all fittings", total=True),
    )
    rows = [
        (
            cut.mark,
            cut.fitting,
            cut.piece,
            cut.meets,
            cut.shape,
            cut.end,
            cut.part,
            cut.turn_deg,
            "not known" if cut.miter_deg is None else cut.miter_deg,
            "not known" if cut.bevel_deg is None else cut.bevel_deg,
            "" if cut.miter_deg is None or cut.bevel_deg is None else blade_text(cut.miter_deg, cut.bevel_deg, 2),
            *view.length(cut.long_m)[:1],
            *view.length(cut.short_m)[:1],
            cut.quantity,
        )
        for cut in view.schedule.cuts
    ]
    note = (
        "Saw settings from square, the piece flat along the fence, face up, its left end to the left. Positive miter: "
        "the blade's front swings right; positive bevel: its top tilts left. Long and short point: greatest and least "
        "distance of the cut from the far end of the piece, there on the centreline; of a notch from the left end. "
        f"Besides these, {view.schedule.totals['square_cuts']:,} square cuts: fitting legs and roll pieces."
    )
    write_table(book, "Saw cuts", note, Table(columns=columns, rows=rows, group_by=1), view.paper)
