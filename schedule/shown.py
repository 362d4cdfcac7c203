"""Shown: where the views of flat drawings show each mark of the schedule."""

from collections.abc import Iterator
from dataclasses import dataclass

from .plan import Schedule
from .share import share_of

__all__ = ["ShownMark", "shown_marks"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownMark:
    """One mark in one view.

    Attributes
    ----------
    mark : str
        Of a node or a splice.
    drawing : str
        Name of the flat drawing.
    view : str
        Name of the view.
    at_m : tuple of float
        Point on the sheet [m]: drawing units times the length of a unit.
    """

    mark: str
    drawing: str
    view: str
    at_m: tuple[float, float]


def shown_marks(schedule: Schedule) -> Iterator[ShownMark]:
    """Yield every place on a sheet where a view shows a node or a splice, drawing by drawing, nodes first."""
    for number, drawing in enumerate(schedule.drawings):
        if drawing.sheet is None:
            continue
        share = share_of(schedule, number)
        marks = [(node.mark, node.at_m) for node in share.nodes]
        marks += [(splice.mark, splice.at_m) for splice in share.splices]
        for mark, at_m in marks:
            for place in drawing.sheet.places(at_m):
                yield ShownMark(mark=mark, drawing=drawing.file, view=place.view, at_m=place.at_m)
