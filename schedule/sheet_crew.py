"""Crew sheets: pours and storeys with their days as a list and a bar picture, crews, odds, irons and power points."""

from collections.abc import Iterator

from openpyxl import Workbook
from openpyxl.chart import BarChart, Reference, Series

from .crew import CrewPlan
from .measure import count_text, marks_text
from .sheet import PLAIN, SUBHEAD, Sheet, Table, column_widths, write_across, write_table
from .sheet_view import MINUTES, View, number_column, text_column

__all__ = ["write_plan", "write_power"]

_MOST_BARS = 60
_ONE_PAGE = 20
_TRADES = ("labourer", "craftsman", "head_craftsman", "foreman")


def write_plan(book: Workbook, view: View) -> None:
    """Write pours or storeys in the order they are made, and below them crews, odds and a bar picture."""
    crew = view.schedule.crew
    columns = (
        text_column("Pour or storey", most=44, least=24),
        number_column("Splices"),
        number_column("Splices [min]", MINUTES, least=9),
        number_column("Starts after [days]", least=9),
        number_column("Takes [days]", least=8),
        text_column("First day", least=11),
        text_column("Last day", least=11),
        text_column("Poured on", least=11),
        text_column("Float [days]", least=8),
        text_column("Latest start", least=11),
        text_column("Date kept", least=9),
    )
    rows = [
        (
            zone.name,
            zone.splices,
            zone.minutes,
            zone.start_day - 1,
            zone.finish_day - zone.start_day + 1,
            _day(zone.start, zone.start_day),
            _day(zone.finish, zone.finish_day),
            _day(zone.pour_date, None),
            zone.float_days,
            _day(zone.latest_start, zone.latest_start_day),
            None if zone.kept is None else f"{zone.kept:.0%}",
        )
        for zone in crew.zones
    ]
    note = (
        "Pours or storeys in the order their splices are made. Float is by how many working days a pour's welding may "
        "slip before it or a later pour misses its date; the last column tells how often its date is kept when the "
        "job is played through at random."
    )
    table = Table(columns=columns, rows=rows)
    sheet, last = write_table(book, "Crew plan", note, table, view.paper)
    widths = column_widths(table)
    for text, look in ((text, SUBHEAD if head else PLAIN) for head, text in _below(crew, view)):
        if look is SUBHEAD:
            sheet.append([])
            last += 1
        last += 1
        write_across(sheet, last, text, look, widths)
    if rows:
        _draw_bars(sheet, min(len(rows), _MOST_BARS), last + 2)
    if len(rows) <= _ONE_PAGE:
        sheet.page_setup.fitToHeight = 1  # a picture is not to be cut by the edge of a page


def _day(on: object, number: int | None) -> str | None:
    """Write a date, or the number of the working day where there are no dates."""
    if on is not None:
        return str(on)
    return None if number is None else f"day {number}"


def _below(crew: CrewPlan, view: View) -> Iterator[tuple[bool, str]]:
    """Yield headings (True) and lines (False) that stand below the list."""
    yield True, "Crews"
    for choice in crew.choices:
        late = f", {count_text(choice.shortfall_days, 'working day')} too late" if choice.shortfall_days else ""
        planned = " (planned)" if choice.crews == crew.crews else ""
        yield (
            False,
            f"{count_text(choice.crews, 'crew')}: {count_text(choice.working_days, 'working day')}{late}{planned}",
        )
    walked = view.measure.round_text(crew.walked_m)
    yield (
        False,
        f"{count_text(crew.crew_days, 'crew-day')}; no order of the splices can do with fewer than "
        f"{crew.least_crew_days:,}. Ways between splices: {walked} in all.",
    )
    yield True, "How sure the days are"
    if crew.odds is None:
        yield False, "Not played through: the rule chance.draws is 0, or there is nothing to weld."
    else:
        odds = crew.odds
        yield (
            False,
            f"As planned {count_text(crew.working_days, 'working day')}. With the spread of minutes, rework and "
            f"weather of the rules: {odds.days_50} days are enough in 50 percent of {odds.draws:,} random runs, "
            f"{odds.days_80} in 80 percent, {odds.days_95} in 95 percent.",
        )
    if crew.placing:
        yield True, "Placing and tying the strip, beside the welding"
    for row in crew.placing:
        trades = ", ".join(f"{trade.replace('_', ' ')} {getattr(row, trade):.1f}" for trade in _TRADES)
        length = view.measure.round_text(row.length_m)
        yield False, f"{row.profile}: {length}, {row.person_days:.1f} person-days ({trades})"


def _draw_bars(sheet: Sheet, rows: int, at_row: int) -> None:
    """Draw the plan as bars: each pour or storey over its working days."""
    chart = BarChart()
    chart.type = "bar"
    chart.grouping = "stacked"
    chart.overlap = 100
    chart.gapWidth = 40
    chart.title = None
    chart.legend = None
    chart.y_axis.title = "working days from the start"
    chart.y_axis.majorGridlines = None
    chart.x_axis.scaling.orientation = "maxMin"
    chart.x_axis.delete = chart.y_axis.delete = False
    chart.y_axis.scaling.min = 0
    for column, fill in ((4, None), (5, "7F7F7F")):
        series = Series(Reference(sheet, min_col=column, min_row=4, max_row=3 + rows), title=None)
        if fill is None:
            series.graphicalProperties.noFill = True
            series.graphicalProperties.line.noFill = True
        else:
            series.graphicalProperties.solidFill = fill
        chart.series.append(series)
    chart.set_categories(Reference(sheet, min_col=1, min_row=4, max_row=3 + rows))
    chart.width, chart.height = 24, max(5.0, 1.0 * rows + 2.5)
    sheet.add_chart(chart, f"A{at_row}")


def write_power(book: Workbook, view: View) -> None:
    """Write where leads are plugged in, and what the irons draw."""
    power = view.schedule.crew.power
    columns = (
        text_column("Point", least=8),
        *view.place_columns(),
        number_column("Splices", total=False),
        view.sum_column("Farthest", total=False),
        text_column("Splices reached", most=70, least=30),
    )
    points = power.points if power else ()
    rows = [
        (
            point.mark,
            *view.place(point.at_m),
            len(point.splices),
            view.measure.long(point.farthest_m),
            marks_text(tuple(f"S{number + 1}" for number in point.splices)),
        )
        for point in points
    ]
    note = "No splice is welded on site."
    if power and points:
        proof = (
            "proven to be the fewest"
            if power.least_points == len(points)
            else f"no choice of the places tried can do with fewer than {power.least_points}"
        )
        irons = [
            count_text(count, f"{size} iron")
            for count, size in ((power.large_irons, "large"), (power.small_irons, "small"))
            if count
        ]
        note = (
            f"{count_text(len(points), 'power point')} so that every splice is within "
            f"{view.measure.round_text(power.lead_m)} along the structure; {proof}. Hot at the same time: "
            f"{' and '.join(irons)}, {power.amperes:g} A on {count_text(power.circuits, 'circuit')}; "
            f"generator of at least {power.generator_kw:g} kW. Places are in {view.place_words()}."
        )
    write_table(book, "Power points", note, Table(columns=columns, rows=rows), view.paper)
