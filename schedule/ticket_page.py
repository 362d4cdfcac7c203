"""Ticket page: the shop tickets of a job as one self-contained page to print, a fitting type a ticket."""

from collections.abc import Iterator, Sequence
from html import escape
from pathlib import Path

from splicewright.extract.errors import OutputError

from .measure import Measure, marks_text
from .plan import Schedule
from .saw import Piece
from .saw_sheet import blade_text
from .ticket import Ticket, tickets_of
from .ticket_drawing import STYLE, draw_fitting, draw_piece, piece_scale

__all__ = ["write_tickets"]

_STYLE = """
@page { size: %s; margin: 12mm; }
* { box-sizing: border-box; }
body { font: 9pt/1.3 Arial, Helvetica, sans-serif; color: #000; margin: 0 auto; width: 186mm; }
article { break-after: page; }
article:last-child { break-after: auto; }
header { display: flex; justify-content: space-between; align-items: baseline; border-bottom: 0.6mm solid #000; }
h1 { font-size: 17pt; margin: 0; } h2 { font-size: 10.5pt; margin: 3mm 0 1mm; break-after: avoid; }
header p { margin: 0; } dl { display: grid; grid-template-columns: repeat(4, auto 1fr); gap: 0.6mm 2mm; margin: 2mm 0; }
dt { color: #444; } dd { margin: 0; font-weight: bold; }
table { border-collapse: collapse; width: 100%%; font-size: 8pt; } tr, svg, section { break-inside: avoid; }
th, td { border: 0.2mm solid #777; padding: 0.5mm 1.2mm; text-align: left; } th { background: #eee; font-weight: bold; }
td.n { text-align: right; font-variant-numeric: tabular-nums; } td.box { width: 16mm; height: 5.4mm; }
thead { display: table-header-group; }
svg { display: block; }
p.note { margin: 1mm 0; color: #333; font-size: 8pt; } .warn { font-weight: bold; }
"""

_CHECKS = (
    "Sample weld of the day sliced and sound",
    "Piece lengths and cut angles as on this ticket",
    "Bulb, ribs and edges in line on every seam, within {offset}",
    "Bead all round every seam; no pores, no charring",
    "Legs straight, square ends, lengths as on this ticket",
    "Mark and face shown on the fitting",
)


def write_tickets(schedule: Schedule, path: Path, *, imperial: bool) -> None:
    """Write the shop tickets of a schedule; the same schedule always gives the same bytes.

    Parameters
    ----------
    schedule : Schedule
    path : Path
        File to write; an existing one is replaced.
    imperial : bool
        Feet and inches on Letter paper; otherwise millimetres on A4.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    measure = Measure(imperial=imperial)
    tickets = [_article(ticket, schedule, measure) for ticket in tickets_of(schedule)]
    job = escape(schedule.job)
    page = [
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{job}: shop tickets</title>',
        f"<style>{_STYLE % ('Letter' if imperial else 'A4')}{STYLE}</style></head><body>",
        *(tickets or [f"<p>{job}: nothing is made in the shop.</p>"]),
        "</body></html>\n",
    ]
    try:
        path.write_bytes("\n".join(page).encode("utf-8", "replace"))
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror}; choose another folder with --out") from None


def _article(ticket: Ticket, schedule: Schedule, measure: Measure) -> str:
    fitting = ticket.fitting
    longest_m = max((piece.long_m for piece in ticket.pieces), default=0.0)
    scale = piece_scale(longest_m, max(profile.width_m for profile in ticket.profiles.values()))
    parts = [
        f"<article><header><h1>{fitting.mark}</h1><p><b>{fitting.quantity} to make</b> in the "
        f"{'shop' if ticket.work.policy.value == 'factory' else 'site shop'}</p><p>{escape(schedule.job)}</p></header>",
        _facts(ticket, measure),
        draw_fitting(ticket, measure),
        f'<p class="note">Lengths run along the centreline from node to square end. Strips meet at: {_turns(ticket)}. '
        f"Thick lines are seams; {_line_words(ticket)}.</p>",
        f"<h2>Pieces, each flat on the saw table: face up, fence at the top; scale 1:{scale}</h2>",
        *_pieces(ticket, measure, scale),
        "<section><h2>Part list</h2>",
        _part_list(ticket, measure),
        "</section><section><h2>Saw cuts, exact and as set</h2>",
        _cut_list(ticket, measure, schedule.rules.saw.step_deg),
        "</section><section><h2>Inspection</h2>",
        _boxes(ticket, measure.fine_text(schedule.rules.assemblies.offset_m)),
        "</section></article>",
    ]
    return "\n".join(parts)


def _facts(ticket: Ticket, measure: Measure) -> str:
    fitting, work = ticket.fitting, ticket.work
    kind = fitting.contents if fitting.kind == "assembly" else f"{fitting.orientation} {fitting.contents}"
    facts = (
        ("Kind", kind + (f", {fitting.turn_deg:.1f}°" if fitting.turn_deg else "")),
        ("Profile", ", ".join(_profile_text(name, ticket, measure) for name in fitting.profiles)),
        ("Mass", f"{measure.mass(fitting.mass_kg):.1f} {measure.mass_unit}"),
        ("Box", " × ".join(measure.fine_text(side) for side in work.box_m)),
        ("Strip used", measure.fine_text(work.strip_used_m)),
        ("Seams", f"{fitting.factory_seams}, {measure.fine_text(work.weld_m)} of weld"),
        ("Time", f"{work.shop_min:.0f} min each + {work.set_up_min:.0f} min set-up"),
        ("For nodes", marks_text(tuple("+".join(copy) for copy in fitting.nodes), most=12)),
    )
    return "<dl>" + "".join(f"<dt>{name}</dt><dd>{escape(text)}</dd>" for name, text in facts) + "</dl>"


def _profile_text(name: str, ticket: Ticket, measure: Measure) -> str:
    profile = ticket.profiles[name]
    return f"{name}, {measure.fine_text(profile.width_m)} × {measure.fine_text(profile.thickness_m)}"


def _turns(ticket: Ticket) -> str:
    return ", ".join(f"{one}–{two} {turn:.1f}°" for one, two, turn in ticket.turns) or "square seams only"


def _line_words(ticket: Ticket) -> str:
    bulbs = {profile.centre_bulb for profile in ticket.profiles.values()}
    words = {True: "dashed is the centre bulb", False: "dash-dotted is the centreline"}
    return " and ".join(words[bulb] for bulb in sorted(bulbs, reverse=True))


def _pieces(ticket: Ticket, measure: Measure, scale: int) -> Iterator[str]:
    for piece in ticket.pieces:
        cuts = [cut for cut in ticket.cuts if cut.piece == piece.letter]
        yield draw_piece(piece, cuts, ticket.profiles[piece.profile], measure, scale=scale)


def _part_list(ticket: Ticket, measure: Measure) -> str:
    short = {cut.piece for cut in ticket.cuts if cut.short_m is not None and cut.short_m < 0}
    rows = [
        (
            piece.letter,
            escape(piece.profile),
            "1",
            str(piece.quantity),
            measure.fine_text(piece.long_m),
            measure.fine_text(piece.length_m),
            piece.left,
            piece.right,
            _piece_note(piece, short),
        )
        for piece in ticket.pieces
    ]
    heads = (
        "Piece",
        "Profile",
        "In one",
        "In all",
        "Cut from roll, long points",
        "Centreline",
        "Left",
        "Right",
        "Note",
    )
    return _table(heads, rows, numeric={2, 3, 4, 5})


def _piece_note(piece: Piece, short: set[str]) -> str:
    if piece.letter in short:
        return '<span class="warn">shorter than its cuts: ask the designer</span>'
    return "follows a curve: bend to the drawing" if piece.curved else ""


def _cut_list(ticket: Ticket, measure: Measure, step_deg: float) -> str:
    rows = []
    for cut in ticket.cuts:
        setup = ticket.setting_of.get(cut.mark)
        known = setup is not None and cut.miter_deg is not None and cut.bevel_deg is not None
        short = cut.short_m is not None and cut.short_m < 0
        rows.append(
            (
                cut.mark,
                f"{cut.piece} to {cut.meets}",
                f"{cut.shape}, {cut.end}" + ("" if cut.part in {"all", ""} else f", {cut.part}"),
                f"{abs(cut.miter_deg or 0):.2f} / {abs(cut.bevel_deg or 0):.2f}" if known else "not known",
                blade_text(setup.miter_deg, setup.bevel_deg, _decimals(step_deg)) if setup else "not known",
                f"{setup.error_m * 1000:.1f} mm" if setup else "",
                "" if cut.long_m is None else measure.fine_text(cut.long_m),
                "runs off the piece" if short else "" if cut.short_m is None else measure.fine_text(cut.short_m),
                (f'<span class="warn">{setup.beyond} beyond the saw</span>' if setup and setup.beyond else ""),
            )
        )
    heads = (
        "Cut",
        "Piece",
        "Place",
        "Miter / bevel [deg]",
        "Blade as set",
        "Off at edge, at most",
        "Long point",
        "Short point",
        "Note",
    )
    note = (
        '<p class="note">Miter: front of the blade swung right or left; bevel: top tilted right or left. Long and '
        "short point: greatest and least distance from the far end of the piece, on its centreline; of a notch from "
        "the left end.</p>"
    )
    return _table(heads, rows, numeric={3, 5, 6, 7}) + note


def _decimals(step_deg: float) -> int:
    return next((n for n in range(4) if abs(round(step_deg, n) - step_deg) < 1e-9), 4)


def _boxes(ticket: Ticket, offset: str) -> str:
    copies = min(ticket.fitting.quantity, 6)
    heads = ("Check", *(f"No. {i}" for i in range(1, copies + 1)))
    rows = [(check.format(offset=offset), *[""] * copies) for check in _CHECKS]
    rows.append(("Inspected by, date", *[""] * copies))
    table = _table(heads, rows, numeric=set()).replace("<td></td>", '<td class="box"></td>')
    more = ticket.fitting.quantity - copies
    return table + (f'<p class="note">Use a copy of this ticket for the other {more}.</p>' if more else "")


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], *, numeric: set[int]) -> str:
    head = "".join(f"<th>{name}</th>" for name in heads)
    body = "".join(
        "<tr>" + "".join(f"<td{' class=n' if i in numeric else ''}>{cell}</td>" for i, cell in enumerate(row)) + "</tr>"
        for row in rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
