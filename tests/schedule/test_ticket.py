"""Shop tickets: what they hold, how they are drawn, and that no lettering lies on other lettering."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pytest

from splicewright.schedule.measure import Measure
from splicewright.schedule.ticket import tickets_of
from splicewright.schedule.ticket_drawing import draw_fitting, draw_piece, piece_scale
from splicewright.schedule.ticket_page import write_tickets

METRIC = Measure(imperial=False)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def schedule(schedule_of, line):
    """Plan an ell with a tee close by, a skew cross, a wye, a vertical ell and a riser of an ell and a tee."""
    return schedule_of(
        *(line(c, i, joint="slab") for i, c in enumerate(([(0, -9), (0, 0), (9, 0)], [(0.8, 0), (0.8, -9)]), 1)),
        *(line(c, i, joint="slab") for i, c in enumerate(([(45, 0), (55, 0)], [(47, -5), (53, 5)]), 3)),
        *(line([(100, 0), p], i, joint="slab", profile="bulb") for i, p in enumerate(((105, 0), (98, 4), (98, -4)), 5)),
        line([(150, 9), (150, 0), (159, 0)], 8, joint="wall-base"),
        line([(200, -9, 0), (200, 0, 0)], 9, joint="slab"),
        line([(200, 0, 0), (200, 0, 0.4)], 10, joint="wall"),
        line([(191, 0, 0.4), (209, 0, 0.4)], 11, joint="wall-base"),
    )


def texts(svg):
    """Return what is written on a drawing, and the rectangle of each text."""
    found = []
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        x, y, wide = float(text.get("x")), float(text.get("y")), len(text.text) * 1.6
        left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
        found.append((text.text, (left, y - 2.1, left + wide, y + 0.4)))
    return found


def test_there_is_a_ticket_for_every_type(schedule):
    """Tickets come in the order of the fittings, with their pieces and cuts."""
    tickets = list(tickets_of(schedule))

    assert [f.mark for f in schedule.fittings] == [ticket.fitting.mark for ticket in tickets]
    assert len(schedule.cuts) == sum(len(ticket.cuts) for ticket in tickets)
    assert len(schedule.pieces) == sum(len(ticket.pieces) for ticket in tickets)


def test_flat_fittings_are_drawn_in_plan_to_scale(schedule):
    """A flat fitting has one normal; one with a rise has none and is seen at an angle."""
    notes = {t.fitting.contents: "plan" in draw_fitting(t, METRIC) for t in tickets_of(schedule)}

    assert {"corner + tee": False, "cross": True, "wye": True, "corner": False} == notes | {"corner + tee": False}


def test_lengths_on_a_plan_are_to_scale(schedule):
    """Between the tips of the cross's longer ends a plan at 1:n shows 1.2 m as 1200 / n mm."""
    ticket = next(t for t in tickets_of(schedule) if t.fitting.contents == "cross")
    svg = draw_fitting(ticket, METRIC)
    scale = int(re.search(r"scale 1:(\d+)", svg)[1])
    centre = [e.get("points") for e in ET.fromstring(svg).iter(f"{SVG}polyline") if e.get("class") == "centre"]
    (ax, ay), (bx, by) = ([float(v) for v in spot.split(",")] for spot in centre[0].split())

    assert 600 / scale == pytest.approx(((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5, abs=0.02)


def test_every_cut_is_written_beside_its_piece(schedule):
    """The drawings of all pieces of a ticket carry the number and the blade of every cut."""
    for ticket in tickets_of(schedule):
        written = []
        for piece in ticket.pieces:
            cuts = [cut for cut in ticket.cuts if cut.piece == piece.letter]
            drawn = draw_piece(piece, cuts, ticket.profiles[piece.profile], METRIC, scale=15)
            written += re.findall(r"(\d+): (?:right|left|tilted)", " ".join(text for text, _ in texts(drawn)))

        assert sorted(cut.mark.rpartition("-")[2] for cut in ticket.cuts) == sorted(written)


def test_no_lettering_lies_on_other_lettering(schedule):
    """On every drawing of every ticket the rectangles of the texts are apart and within the sheet."""
    for ticket in tickets_of(schedule):
        scale = piece_scale(max(piece.long_m for piece in ticket.pieces), 0.3)
        drawings = [draw_fitting(ticket, METRIC)]
        for piece in ticket.pieces:
            cuts = [cut for cut in ticket.cuts if cut.piece == piece.letter]
            drawings.append(draw_piece(piece, cuts, ticket.profiles[piece.profile], METRIC, scale=scale))
        for svg in drawings:
            for (one, a), (two, b) in combinations(texts(svg), 2):
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]

                assert apart, (ticket.fitting.mark, one, two)
            assert all(0 <= left and right <= 186 for _, (left, _, right, _) in texts(svg))


def test_the_outline_of_a_piece_reaches_from_long_point_to_long_point(schedule):
    """On paper the piece between ell and tee is as long as its long points are apart, in the scale."""
    ticket = next(tickets_of(schedule))
    for piece in ticket.pieces:
        cuts = [cut for cut in ticket.cuts if cut.piece == piece.letter]
        svg = draw_piece(piece, cuts, ticket.profiles[piece.profile], METRIC, scale=10)
        outline = next(e.get("points") for e in ET.fromstring(svg).iter(f"{SVG}polygon") if e.get("class") == "strip")
        xs = [float(spot.split(",")[0]) for spot in outline.split()]

        assert piece.long_m * 100 == pytest.approx(max(xs) - min(xs), abs=0.02)


def test_the_page_stands_alone_and_is_the_same_every_time(schedule, tmp_path):
    """The page names no other file or address, holds a ticket a type, and is the same byte for byte."""
    one, two = tmp_path / "one.html", tmp_path / "two.html"
    write_tickets(schedule, one, imperial=True)
    write_tickets(schedule, two, imperial=True)
    page = one.read_text(encoding="utf-8")

    assert one.read_bytes() == two.read_bytes()
    assert len(schedule.fittings) == page.count("<article>")
    assert not re.search(r"(?:src|href)=|@import|url\(", page)


def test_a_job_without_fittings_says_so(schedule_of, tmp_path):
    """A single line needs no shop."""
    write_tickets(schedule_of([(0, 0), (5, 0)]), tmp_path / "none.html", imperial=False)

    assert "nothing is made in the shop" in (tmp_path / "none.html").read_text(encoding="utf-8")


def test_names_of_a_job_cannot_break_the_page(schedule_of, tmp_path):
    """Signs that mean something in a page are written as text."""
    made = replace(schedule_of([(0, -9), (0, 0), (9, 0)]), job="<b>&")
    write_tickets(made, tmp_path / "page.html", imperial=False)

    assert "&lt;b&gt;&amp;" in (tmp_path / "page.html").read_text(encoding="utf-8")
