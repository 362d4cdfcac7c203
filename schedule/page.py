"""Page: the map of the job as one HTML file that opens from disk and asks the network for nothing."""

import base64
import hashlib
import html
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path

from splicewright.extract.errors import OutputError

from .measure import Measure
from .page_data import is_large, page_data
from .plan import Schedule
from .ticket import tickets_of
from .ticket_drawing import STYLE, draw_fitting

__all__ = ["page_text", "write_page"]

_SCRIPTS = ("page_model.js", "page_plan.js", "page_space.js", "page_panel.js", "page_desk.js")
"""Our own scripts, in the order they build on one another."""
_MOST_PICTURES = 2_000_000
"""Letters of fitting drawings that a page takes; what is beyond stays in the shop tickets."""


def write_page(schedule: Schedule, path: Path, *, imperial: bool, pictures: Mapping[str, str] | None = None) -> None:
    """Write the map of a job.

    The page holds all it needs, the drawing library's script among it. The same schedule always gives the same bytes.

    Parameters
    ----------
    schedule : Schedule
    path : Path
        File to write; an existing one is replaced.
    imperial : bool
        Feet, inches and pounds on Letter paper; otherwise metres, millimetres and kilograms on A4.
    pictures : Mapping of str to str, optional
        Drawings of the fittings as SVG, by mark; without it those of the shop tickets.

    Raises
    ------
    OutputError
        The file cannot be written.
    """
    if pictures is None:
        pictures = dict(_within(_pictures(schedule, Measure(imperial=imperial))))
    try:
        path.write_bytes(page_text(schedule, imperial=imperial, pictures=pictures).encode("utf-8", "replace"))
    except OSError as error:
        raise OutputError(f"{path} cannot be written: {error.strerror}; choose another folder with --out") from None


def page_text(schedule: Schedule, *, imperial: bool, pictures: Mapping[str, str]) -> str:
    """Return the page as text.

    Parameters
    ----------
    schedule : Schedule
    imperial : bool
        Units to show.
    pictures : Mapping of str to str
        Drawings of the fittings as SVG, by mark; the first that fit into about 2 MB are shown.

    Returns
    -------
    str
    """
    library, own = _library(), "\n".join(_part(name) for name in _SCRIPTS)
    paper = "letter" if imperial else "A4"
    parts = {
        "policy": html.escape(_policy(library, own, compiles=is_large(schedule))),
        "title": html.escape(_plain(schedule.job)),
        "style": f"{_part('page.css')}\n@page {{ size: {paper} landscape; margin: 9mm; }}\n",
        "data": _script_safe(page_data(schedule, Measure(imperial=imperial), dict(_within(pictures.items())))),
        "library": library,
        "own": own,
    }
    # Filled in one pass, so that nothing that is put in is itself looked through for places to fill.
    return re.sub(r"\{\{(\w+)\}\}", lambda place: parts[place[1]], _part("page.html"))


def _policy(*scripts: str, compiles: bool) -> str:
    """Allow these very scripts, styles within the page and pictures within the page; no request of any kind.

    For marks in large numbers the library compiles code as it runs, which must then be allowed too.
    """
    allowed = [f"'sha256-{_digest(script)}'" for script in scripts] + ["'unsafe-eval'"] * compiles
    return (
        f"default-src 'none'; script-src {' '.join(allowed)}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _script_safe(content: object) -> str:
    """Write JSON that cannot end or open an element, in letters that every browser reads alike."""
    text = json.dumps(content, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _pictures(schedule: Schedule, measure: Measure) -> Iterator[tuple[str, str]]:
    """Draw the fittings, each as a picture that stands alone."""
    for ticket in tickets_of(schedule):
        head, closed, body = draw_fitting(ticket, measure, scaled=False).partition(">")
        yield ticket.fitting.mark, f"{head}{closed}<style>{STYLE}</style>{body}"


def _within(pictures: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Keep the first pictures, as long as they fit."""
    left = _MOST_PICTURES
    for mark, picture in pictures:
        left -= len(picture)
        if left < 0:
            return
        yield mark, picture


def _plain(text: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in text)


@cache
def _part(name: str) -> str:
    return files(__package__ or __name__).joinpath(name).read_text(encoding="utf-8")


@cache
def _library() -> str:
    """Return the drawing library's script as its package hands it out."""
    from plotly.offline import get_plotlyjs  # noqa: PLC0415 (only where a page is written)

    script: str = get_plotlyjs()
    return script
