"""Sheet picture: what the picture of a flat drawing shows, worked out from the drawing and its rules."""

from pathlib import Path

import numpy as np

from splicewright.extract.layer import Survey
from splicewright.extract.network import build_network
from splicewright.extract.unit import LengthUnit

from .job import read_drawing
from .picture import Frame, frames_of, picture
from .rules import Rules

__all__ = ["sheet_picture"]


def sheet_picture(path: Path, rules: Rules, found: Survey, *, unit: LengthUnit | None = None) -> str:
    """Draw a sheet with its windows, and beside it the network that its views give.

    Where the rules hold no view for the drawing, the windows that the survey proposes are shown, and no network.

    Parameters
    ----------
    path : Path
        The drawing.
    rules : Rules
        With its views.
    found : Survey
        What the survey found in it.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states.

    Returns
    -------
    str
        SVG.

    Raises
    ------
    DrawingError
        The drawing cannot be used.
    RulesError
        A view does not fit it.
    """
    flat = read_drawing(path, rules, unit=unit, sheet=False)
    whole = read_drawing(path, rules, unit=unit)
    if whole.sheet is not None:
        frames = frames_of([view.window for view in whole.sheet.views])
        return picture(flat.lines, frames, build_network(whole, rules.limits()), title=path.name)
    frames = []
    for number, one in enumerate(found.windows, 1):
        x, y, width, height = one.window
        corners = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)]) * flat.unit.metres
        frames.append(Frame(one.title or f"Window {number}", corners))
    return picture(flat.lines, frames, None, title=path.name)
