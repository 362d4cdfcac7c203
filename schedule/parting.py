"""Parting: which runs are welded on site against the wish to join them, so that every assembly can be shipped.

Of every set of runs that make an assembly too large, one at least is parted: a hitting-set problem. It is solved
exactly where a group of neighbours is small, as an integer program to which the sets are added as they turn up. In
large groups assemblies grow in two ways, run by run, and piece by piece from one side of the job to the other, and the
better counts; sets that have no run in common prove how many must be parted at least.
"""

from collections import deque
from collections.abc import Container, Iterable, Iterator, Sequence

import numpy as np

from .box import Extent
from .tie import Bench, Roots

__all__ = ["part_runs"]

_MOST_EXACT = 48
"""Runs of a group up to which the least number of field splices is sought exactly."""

_MOST_ROUNDS = 400
"""Rounds of the search after which it stops with what is proven until then."""

_MOST_TRIMMED = 64
"""Runs of a set up to which those that it can do without are left out."""


def part_runs(bench: Bench) -> tuple[set[int], int]:
    """Choose the runs of one group to part, and prove how many field splices there are at least.

    As few runs as can be are parted that are too short for both legs; then as few field splices as can be are left.

    Parameters
    ----------
    bench : Bench
        The group.

    Returns
    -------
    set of int
        Numbers of the runs to part.
    int
        Field splices on the runs of the group that no choice can go below.
    """
    every = range(len(bench.ties))
    if all(bench.fits(part) for part in bench.parts(every)):
        return set(), 0
    weights = _weights(bench)
    cut = _part_exactly(bench, weights) if len(bench.ties) <= _MOST_EXACT else None
    if cut is not None:
        return cut, _fewest_splices(bench, cut)
    bound = _bound(bench)
    grown = (_part_by_run(bench), _part_by_piece(bench))
    return min(grown, key=lambda chosen: sum(weights[number] for number in chosen)), bound


def _fewest_splices(bench: Bench, cut: set[int]) -> int:
    """Prove how few field splices any choice leaves: to part a run too short for both legs may save others."""
    costs = [tie.cost for tie in bench.ties]
    fewest: set[int] | None = cut
    if any(tie.forced for tie in bench.ties) and not all(bench.ties[number].forced for number in cut):
        fewest = _part_exactly(bench, costs)
    return _bound(bench) if fewest is None else sum(costs[number] for number in fewest)


def _bound(bench: Bench) -> int:
    """Bound the field splices by sets of runs that have no run in common."""
    conflicts = _conflicts(bench, range(len(bench.ties)))
    return sum(min(bench.ties[number].cost for number in conflict) for conflict in conflicts)


def _weights(bench: Bench) -> list[int]:
    """Weigh every run by its field splices, one that is too short for both legs more than all others together."""
    optional = 1 + sum(tie.cost for tie in bench.ties if not tie.forced)
    return [optional if tie.forced else tie.cost for tie in bench.ties]


def _part_exactly(bench: Bench, weights: Sequence[int]) -> set[int] | None:
    """Part runs that weigh as little as can be; None where the search takes too long."""
    conflicts: list[list[int]] = []
    cut: set[int] = set()
    for _ in range(_MOST_ROUNDS):
        found = list(_conflicts(bench, (i for i in range(len(bench.ties)) if i not in cut)))
        if not found:
            return cut
        conflicts += found
        cut = _hit(conflicts, weights)
    return None


def _hit(conflicts: Sequence[Sequence[int]], weights: Sequence[int]) -> set[int]:
    """Choose runs of least weight such that every conflict holds one; of equals those of low numbers."""
    if sum(map(len, conflicts)) == len(set().union(*conflicts)):  # no run in two of them: each for itself
        return {min(conflict, key=lambda number: (weights[number], number)) for conflict in conflicts}
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (slow to import, seldom needed)

    rows = np.zeros((len(conflicts), len(weights)))
    for row, conflict in zip(rows, conflicts, strict=True):
        row[list(conflict)] = 1
    # A hair of preference for runs of low numbers makes the choice among equals one and the same.
    tie_break = np.arange(1, len(weights) + 1) / (4.0 * len(weights) ** 2)
    solved = milp(
        c=np.array(weights) + tie_break,
        integrality=np.ones(len(weights)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(rows, lb=1),
        options={"mip_rel_gap": 0},
    )
    return {i for i, value in enumerate(solved.x) if value > 0.5}


def _conflicts(bench: Bench, numbers: Iterable[int]) -> Iterator[list[int]]:
    """Yield sets of runs that are too large for one assembly; no two have a run in common, few can do with fewer."""
    left = dict.fromkeys(numbers)
    while left:
        first = next(iter(left))
        grown = _grown(bench, first, left)
        if grown is None:  # all that hangs together with it fits
            for number in list(bench.spread(first, left)):
                del left[number]
            continue
        conflict = _trimmed(bench, grown)
        yield conflict
        for number in conflict:
            del left[number]


def _grown(bench: Bench, first: int, left: Container[int]) -> list[int] | None:
    """Grow runs from one outward until they are too large; None where they never are."""
    grown: list[int] = []
    extent, mass_kg, nodes = None, 0.0, set[str]()
    for number in bench.spread(first, left):
        grown.append(number)
        tie = bench.ties[number]
        fresh = [mark for mark in dict.fromkeys((tie.start, tie.end)) if mark not in nodes]
        nodes.update(fresh)
        for own, kg in (bench.tie(number), *map(bench.node, fresh)):
            extent, mass_kg = own if extent is None else extent | own, mass_kg + kg
        if extent is not None and not bench.holds(extent, mass_kg):
            return grown
    return None


def _trimmed(bench: Bench, grown: list[int]) -> list[int]:
    """Leave out of runs that are too large together what is not needed for that."""
    if len(grown) > _MOST_TRIMMED:
        return sorted(grown)
    for number in list(grown):
        rest = [i for i in grown if i != number]
        too_large = [piece for piece in bench.parts(rest) if not bench.fits(piece)]
        if too_large:
            grown = too_large[0]
    return sorted(grown)


def _part_by_run(bench: Bench) -> set[int]:
    """Take runs into assemblies one by one, those too short for both legs first, then those that save most."""
    root, cut = Roots(), set[int]()
    held: dict[str, tuple[Extent, float]] = {}
    order = {i: (not tie.forced, -tie.cost, round(tie.stretch.run.length_m, 6)) for i, tie in enumerate(bench.ties)}
    for number in sorted(order, key=lambda i: (*order[i], i)):
        tie = bench.ties[number]
        roots = dict.fromkeys((root.of(tie.start), root.of(tie.end)))
        extent, mass_kg = bench.tie(number)
        for mark in roots:
            own, kg = held.get(mark) or bench.node(mark)
            extent, mass_kg = extent | own, mass_kg + kg
        if bench.holds(extent, mass_kg):
            root.join(*[*roots, *roots][:2])
            held[root.of(tie.start)] = (extent, mass_kg)
        else:
            cut.add(number)
    return cut


def _part_by_piece(bench: Bench) -> set[int]:
    """Fill one assembly after the other with neighbours, as much as fits, from one side of the job to the other."""
    kept, taken = set[int](), set[str]()
    for first in sorted(bench.nodes, key=lambda mark: tuple(round(value, 3) for value in bench.place(mark))):
        if first not in taken:
            taken.add(first)
            kept |= _filled(bench, first, taken)
    return set(range(len(bench.ties))) - kept


def _filled(bench: Bench, first: str, taken: set[str]) -> set[int]:
    """Fill one assembly from a node on, runs that are too short for both legs first; mark its nodes as taken."""
    (extent, mass_kg), own, inside, seen = bench.node(first), {first}, set[int](), set[int]()
    short, long = deque(_new(bench, first, seen, forced=True)), deque(_new(bench, first, seen, forced=False))
    while short or long:
        number = short.popleft() if short else long.popleft()
        tie = bench.ties[number]
        fresh = [mark for mark in dict.fromkeys((tie.start, tie.end)) if mark not in own]
        if taken.intersection(fresh):
            continue
        wider, heavier = extent, mass_kg
        for part, kg in (bench.tie(number), *map(bench.node, fresh)):
            wider, heavier = wider | part, heavier + kg
        if bench.holds(wider, heavier):
            extent, mass_kg = wider, heavier
            inside.add(number)
            own.update(fresh)
            taken.update(fresh)
            for mark in fresh:
                short += _new(bench, mark, seen, forced=True)
                long += _new(bench, mark, seen, forced=False)
    return inside


def _new(bench: Bench, mark: str, seen: set[int], *, forced: bool) -> list[int]:
    """Return the runs of one sort at a node that have not been looked at."""
    found = [number for number in bench.near(mark) if number not in seen and bench.ties[number].forced is forced]
    seen.update(found)
    return found
