"""Piecing: the best way to cut one small group, with splices wherever they may be, by an integer program.

It is asked where the plain way, rolls filled one after the other, does not leave every part long enough.
"""

from collections import Counter
from collections.abc import Sequence
from math import inf
from typing import Any

import numpy as np

from .short_job import Content
from .stock import CuttingJob, Group, Part, RollCut

__all__ = ["cut_exactly"]

_NODES = 20_000
_MOST_CELLS = 400
"""Runs times rolls beyond which no answer is sought."""


def cut_exactly(
    job: CuttingJob, content: Content, *, offcuts: Sequence[int], most_rolls: int, seconds: float
) -> Group | None:
    """Cut a group from the cheapest rolls.

    Parameters
    ----------
    job : CuttingJob
    content : Content
        What is in the group.
    offcuts : sequence of int
        Positions of the offcuts that it may use, each once.
    most_rolls : int
        Number of rolls that it may use.
    seconds : float
        Time after which no answer is sought any longer [s].

    Returns
    -------
    Group or None
        None where it cannot be cut, or is too large to be sure.
    """
    if sum(number for _, number in content) * most_rolls > _MOST_CELLS:
        return None
    return _Program(job, content, Counter(offcuts), most_rolls).solve(seconds)


class _Program:
    """One group as an integer program.

    For every run and roll: whether the run has a part there, how long it is, whether that is its first or its last
    part; for every run whether it is spliced; for every roll which stock length it is.
    """

    def __init__(self, job: CuttingJob, content: Content, offcuts: Counter[int], rolls: int) -> None:
        self._job, self._rolls = job, rolls
        self._runs = [(demand, copy) for demand, number in content for copy in range(number)]
        self._stocks = [*job.buyable, *offcuts]
        self._offcuts = offcuts
        runs = len(self._runs)
        self._here = np.arange(runs * rolls).reshape(runs, rolls)
        self._long, self._first, self._last = (self._here + (k + 1) * runs * rolls for k in range(3))
        self._spliced = np.arange(runs) + 4 * runs * rolls
        self._kind = np.arange(rolls * len(self._stocks)).reshape(rolls, -1) + runs + 4 * runs * rolls
        self._count = int(self._kind[-1, -1]) + 1
        self._unit = float(job.longest)
        self._rows: list[dict[int, float]] = []
        self._bounds: list[tuple[float, float]] = []

    def solve(self, seconds: float) -> Group | None:
        for run in range(len(self._runs)):
            self._ask_run(run)
        self._ask_rolls()
        here = self._best(seconds)
        return None if here is None else self._group(here)

    def _ask(self, row: dict[int, float], least: float, most: float) -> None:
        self._rows.append({int(at): value for at, value in row.items()})
        self._bounds.append((least, most))

    def _ask_run(self, run: int) -> None:
        job, demand = self._job, self._job.demands[self._runs[run][0]]
        unit, spliced, rolls = self._unit, int(self._spliced[run]), range(self._rolls)
        here, long = self._here[run], self._long[run]
        first, last = self._first[run], self._last[run]
        longest = max(job.stocks[i].length for i in self._stocks)
        self._ask(dict.fromkeys(here, 1.0) | {spliced: -(self._rolls - 1.0)}, -inf, 1)
        self._ask(dict.fromkeys(here, 1.0) | {spliced: -1.0}, 1, inf)
        sums = {int(f): 1.0 for f in long} | {int(h): -job.loss / unit for h in here}
        self._ask(sums, (demand.length - job.loss) / unit, (demand.length - job.loss) / unit)
        for ends in (first, last):
            self._ask(dict.fromkeys(ends, 1.0) | {spliced: -1.0}, 0, 0)
        for j in rolls:
            self._ask({long[j]: 1.0, here[j]: -longest / unit}, -inf, 0)
            self._ask({long[j]: 1.0, here[j]: -job.least / unit, spliced: -job.least / unit}, -job.least / unit, inf)
            self._ask({first[j]: 1.0, last[j]: 1.0, here[j]: -1.0}, -inf, 0)
            self._ask({long[j]: 1.0, first[j]: -demand.first / unit, last[j]: -demand.last / unit}, 0, inf)

    def _ask_rolls(self) -> None:
        job, unit = self._job, self._unit
        lengths = [job.stocks[i].length / unit for i in self._stocks]
        for j in range(self._rolls):
            kinds = dict(zip(self._kind[j].tolist(), lengths, strict=True))
            self._ask(dict.fromkeys(self._long[:, j], 1.0) | {k: -length for k, length in kinds.items()}, -inf, 0)
            self._ask(dict.fromkeys(kinds, 1.0), 0, 1)
            if j:  # rolls from long to short: the same plan in another order is no other plan
                before = dict(zip(self._kind[j - 1].tolist(), lengths, strict=True))
                self._ask(before | {k: -length for k, length in kinds.items()}, 0, inf)
        for at, stock in enumerate(self._stocks):
            if stock in self._offcuts:
                self._ask(dict.fromkeys(self._kind[:, at].tolist(), 1.0), 0, self._offcuts[stock])

    def _best(self, seconds: float) -> Any:  # noqa: ANN401 (an array of truths, or None)
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 (slow to import)

        job = self._job
        weights = np.zeros(self._count)
        weights[self._here] = job.splice_weight
        weights[self._kind] = [job.weights[i] for i in self._stocks]
        whole, most = np.ones(self._count), np.ones(self._count)
        whole[self._long] = 0
        most[self._long] = np.inf
        if not job.splices:
            most[self._spliced] = 0
        done = milp(
            weights / (float(weights.max()) or 1.0),
            integrality=whole,
            bounds=Bounds(0, most),
            constraints=LinearConstraint(self._matrix(), *np.array(self._bounds).T),
            options={"node_limit": _NODES, "mip_rel_gap": 0.0} | ({"time_limit": seconds} if seconds < inf else {}),
        )
        return None if done.x is None or done.status != 0 else done.x

    def _matrix(self) -> Any:  # noqa: ANN401 (a matrix of scipy's)
        from scipy.sparse import csr_array  # noqa: PLC0415

        entries = [(i, at, value) for i, row in enumerate(self._rows) for at, value in row.items()]
        rows, columns, values = zip(*entries, strict=True)
        return csr_array((values, (rows, columns)), shape=(len(self._rows), self._count))

    def _group(self, found: Any) -> Group | None:  # noqa: ANN401
        """Turn the program's answer into whole ticks; None where rounding breaks it."""
        here = found[self._here] > 0.5
        kinds = [self._stocks[int(np.argmax(found[row]))] if found[row].max() > 0.5 else -1 for row in self._kind]
        lengths = self._lengths(here, found, kinds)
        if lengths is None:
            return None
        rolls = []
        for j, kind in enumerate(kinds):
            parts = [
                Part(demand=demand, copy=copy, place=self._place(found, i, j), length=int(lengths[i, j]))
                for i, (demand, copy) in enumerate(self._runs)
                if here[i, j]
            ]
            if parts:
                rolls.append(RollCut(stock=kind, parts=tuple(parts)))
        return Group(rolls=tuple(rolls))

    def _place(self, found: Any, run: int, roll: int) -> int:  # noqa: ANN401
        """Give a part its number along the run: the first, those between by roll, the last."""
        order = sorted(
            (j for j in range(self._rolls) if found[self._here[run, j]] > 0.5),
            key=lambda j: (found[self._last[run, j]] > 0.5, found[self._first[run, j]] <= 0.5, j),
        )
        return order.index(roll)

    def _lengths(self, here: Any, found: Any, kinds: Sequence[int]) -> Any:  # noqa: ANN401
        """Find whole lengths for the parts, once it is known which run has a part in which roll."""
        from scipy.optimize import linprog  # noqa: PLC0415

        job = self._job
        at = np.argwhere(here)
        spliced = here.sum(axis=1) > 1
        least = [self._least(found, i, j) if spliced[i] else 0 for i, j in at.tolist()]
        runs = np.array([[float(i == k) for i, _ in at.tolist()] for k in range(len(self._runs))])
        rolls = np.array([[float(j == k) for _, j in at.tolist()] for k in range(self._rolls)])
        needed = [job.demands[d].length + (int(here[k].sum()) - 1) * job.loss for k, (d, _) in enumerate(self._runs)]
        room = [job.stocks[kind].length if kind >= 0 else 0 for kind in kinds]
        done = linprog(
            np.zeros(len(at)),
            A_ub=rolls,
            b_ub=np.array(room) / 1000,
            A_eq=runs,
            b_eq=np.array(needed) / 1000,
            bounds=[(value / 1000, None) for value in least],
            method="highs-ds",
        )
        if done.x is None:
            return None
        lengths = np.zeros(here.shape, dtype=np.int64)
        lengths[here] = np.round(done.x * 1000).astype(np.int64)
        fits = (lengths.sum(axis=0) <= room).all() and (lengths.sum(axis=1) == needed).all()
        return lengths if fits and (lengths[here] >= least).all() else None

    def _least(self, found: Any, run: int, roll: int) -> int:  # noqa: ANN401
        demand = self._job.demands[self._runs[run][0]]
        ends = ((self._first, demand.first), (self._last, demand.last))
        return max(self._job.least, *(least for end, least in ends if found[end[run, roll]] > 0.5), 0)
