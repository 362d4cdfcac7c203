"""Contradictions: rules that each make sense alone but not together."""

from collections.abc import Iterator

from .almanac import Almanac
from .basis import RulePath, path_text
from .crewbook import PourEntry, Weekday
from .rulebook import ProfileEntry, Rulebook, Weld
from .rulefile import Layers, Problem, nearest
from .shopbook import Policy
from .viewbook import sheet_problems

__all__ = ["contradictions"]


def contradictions(book: Rulebook, layers: Layers) -> list[Problem]:
    """List the rules that contradict one another.

    Parameters
    ----------
    book : Rulebook
        The typed tables.
    layers : Layers
        Who set what, so that a problem is laid to a field the user wrote.

    Returns
    -------
    list of Problem
        In the order of the rules file.
    """
    return [
        *_drawing(book, layers),
        *_profile_names(book),
        *(problem for name, entry in book.profiles.items() for problem in _profile(name, entry, book, layers)),
        *_cutting(book, layers),
        *_lines(book),
        *_fittings(book, layers),
        *_crew(book, layers),
        *_sheet(book),
        *_pours(book),
        *_calendar(book),
        *_chance(book, layers),
    ]


def _drawing(book: Rulebook, layers: Layers) -> Iterator[Problem]:
    if book.drawing.reach_m < book.drawing.tolerance_m:
        path = layers.blame(("drawing", "reach"), ("drawing", "tolerance"))
        reach, tolerance = _mm(book.drawing.reach_m), _mm(book.drawing.tolerance_m)
        yield Problem(path=path, text=f"the reach ({reach}) must be no less than the tolerance ({tolerance})")
    if book.drawing.profile not in book.profiles:
        yield _no_profile(("drawing", "profile"), book.drawing.profile, book)


def _profile_names(book: Rulebook) -> Iterator[Problem]:
    seen: dict[str, str] = {}
    for name in book.profiles:
        path: RulePath = ("profiles", name)
        if not name.strip():
            yield Problem(path=path, text="a profile needs a name")
        first = seen.setdefault(name.casefold(), name)
        if first != name:
            yield Problem(path=path, text=f"differs from profile {first!r} in letter case only; rename one")


def _profile(name: str, entry: ProfileEntry, book: Rulebook, layers: Layers) -> Iterator[Problem]:
    path: RulePath = ("profiles", name)
    if entry.thickness_m > entry.width_m:
        where = layers.blame((*path, "thickness"), (*path, "width"))
        thickness, width = _mm(entry.thickness_m), _mm(entry.width_m)
        yield Problem(path=where, text=f"the thickness ({thickness}) must be no more than the width ({width})")
    yield from _rolls(path, entry, book, layers)


def _rolls(path: RulePath, entry: ProfileEntry, book: Rulebook, layers: Layers) -> Iterator[Problem]:
    if len({roll.price is None for roll in entry.rolls}) > 1:
        yield Problem(path=(*path, "rolls"), text="state a price for every roll length or for none")
    for i, roll in enumerate(entry.rolls):
        where = (*path, "rolls", i, "length")
        if roll.length_m in [other.length_m for other in entry.rolls[:i]]:
            yield Problem(path=where, text="this roll length is listed twice")
        if roll.length_m < book.splices.least_piece_m:
            blamed = layers.blame(("splices", "least_piece"), where)
            least = _mm(book.splices.least_piece_m)
            yield Problem(path=blamed, text=f"a roll of {_mm(roll.length_m)} is shorter than the least piece ({least})")


def _cutting(book: Rulebook, layers: Layers) -> Iterator[Problem]:
    """Find rolls that one weld and its cuts would use up; what takes most is to blame."""
    takes = {
        ("splices", "melt"): book.splices.melt_m,
        ("cutting", "trim"): book.cutting.trim_m,
        ("cutting", "roll_trim"): book.cutting.roll_trim_m,
    }
    lost_m, most = sum(takes.values()), max(takes, key=lambda path: takes[path])
    for name, entry in book.profiles.items():
        for i, roll in enumerate(entry.rolls):
            if roll.length_m <= lost_m:
                where = layers.blame(most, ("profiles", name, "rolls", i, "length"))
                text = f"a weld and the trims ({_mm(lost_m)}) would use up a whole roll of {_mm(roll.length_m)}"
                yield Problem(path=where, text=text)


def _lines(book: Rulebook) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    for i, line in enumerate(book.lines):
        first = seen.setdefault(line.match.casefold(), i)
        if first != i:
            text = f"{line.match!r} is matched by {path_text(('lines', first))} already; keep one"
            yield Problem(path=("lines", i, "match"), text=text)
        if line.profile is not None and line.profile not in book.profiles:
            yield _no_profile(("lines", i, "profile"), line.profile, book)


def _fittings(book: Rulebook, layers: Layers) -> Iterator[Problem]:
    if book.fittings.largest_m < book.fittings.leg_m:
        path = layers.blame(("fittings", "leg"), ("fittings", "largest"))
        leg, largest = _mm(book.fittings.leg_m), _mm(book.fittings.largest_m)
        yield Problem(path=path, text=f"the leg ({leg}) is longer than the largest assembly ({largest})")
    for i, entry in enumerate(book.legs):
        if entry.profile is not None and entry.profile not in book.profiles:
            yield _no_profile(("legs", i, "profile"), entry.profile, book)
        if entry.leg_m > book.fittings.largest_m:
            leg, largest = _mm(entry.leg_m), _mm(book.fittings.largest_m)
            text = f"the leg ({leg}) is longer than the largest assembly ({largest})"
            yield Problem(path=("legs", i, "leg"), text=text)
    for i, policy in enumerate(book.policies):
        if policy.profile is not None and policy.profile not in book.profiles:
            yield _no_profile(("policies", i, "profile"), policy.profile, book)


def _crew(book: Rulebook, layers: Layers) -> Iterator[Problem]:
    crew = book.crew
    if crew.overlap_min > crew.warm_up_min:
        path = layers.blame(("crew", "overlap"), ("crew", "warm_up"))
        text = f"the overlap ({crew.overlap_min:g} min) is longer than the warm-up ({crew.warm_up_min:g} min)"
        yield Problem(path=path, text=text)
    welds = [Weld.BUTT, Weld.TRANSITION] if _all_in_factory(book) else list(Weld)
    widest_m = max((entry.width_m for entry in book.profiles.values()), default=crew.width_m)
    longest = max(welds, key=lambda weld: crew.minutes[weld])
    need_min = crew.splice_min(longest, width_m=widest_m)
    if need_min > crew.welding_min:
        path = layers.blame(
            ("crew", "shift"), ("crew", "minutes", longest.value), ("crew", "warm_up"), ("crew", "sample_weld")
        )
        text = f"a day leaves {crew.welding_min:g} min for splices, the longest ({longest}) takes {need_min:g} min"
        yield Problem(path=path, text=text)


def _sheet(book: Rulebook) -> Iterator[Problem]:
    yield from sheet_problems(book.views, book.risers, book.levels)
    for i, riser in enumerate(book.risers):
        if riser.profile is not None and riser.profile not in book.profiles:
            yield _no_profile(("risers", i, "profile"), riser.profile, book)


def _pours(book: Rulebook) -> Iterator[Problem]:
    seen: dict[str, int] = {}
    dated: list[PourEntry] = []
    for i, pour in enumerate(book.pours):
        first = seen.setdefault(pour.name.casefold(), i)
        if first != i:
            yield Problem(path=("pours", i, "name"), text=f"{pour.name!r} is the name of pour {first + 1} already")
        if pour.day is None:
            continue
        before = dated[-1] if dated else None
        if before is not None and before.day is not None and pour.day < before.day:
            text = (
                f"{pour.day} is before {before.day}, the day of {before.name!r}; list pours in the order of their days"
            )
            yield Problem(path=("pours", i, "day"), text=text)
        dated.append(pour)
    if dated and book.calendar.start is None:
        text = f"missing, but pour {dated[0].name!r} has a day; give the day on which welding starts"
        yield Problem(path=("calendar", "start"), text=text)


def _calendar(book: Rulebook) -> Iterator[Problem]:
    calendar = book.calendar
    if calendar.start is None:
        return
    weekdays = frozenset(list(Weekday).index(day) for day in calendar.weekdays)
    almanac = Almanac(start=calendar.start, weekdays=weekdays, holidays=frozenset(calendar.holidays))
    if not almanac.dates_of(1):
        yield Problem(path=("calendar", "holidays"), text=f"from {calendar.start} on every day is a holiday")


def _chance(book: Rulebook, layers: Layers) -> Iterator[Problem]:
    chance = book.chance
    for name, least, most in (
        ("pace", chance.pace_least, chance.pace_most),
        ("splice", chance.splice_least, chance.splice_most),
    ):
        if not least <= 1 <= most:
            path = layers.blame(("chance", f"{name}_least"), ("chance", f"{name}_most"))
            yield Problem(path=path, text=f"1 must lie between the least ({least:g}) and the most ({most:g})")


def _all_in_factory(book: Rulebook) -> bool:
    return all(policy is Policy.FACTORY for policy in (book.fittings.policy, *(e.policy for e in book.policies)))


def _no_profile(path: RulePath, name: str, book: Rulebook) -> Problem:
    guess = nearest(name, book.profiles)
    hint = f"did you mean {guess!r}?" if guess else f"add [profiles.{name}] or use {', '.join(book.profiles)}"
    return Problem(path=path, text=f"there is no profile {name!r}; {hint}")


def _mm(length_m: float) -> str:
    return f"{length_m * 1000:g} mm"
