"""Offcut: lengths left over from earlier jobs, which cost nothing: how they are filled, what they can save at most."""

from collections.abc import Callable, Sequence
from dataclasses import replace

from .chain import cut_chain
from .column import bound_by_columns
from .filling import Ladder
from .short_job import content_of
from .stock import CuttingJob, Group, Stock

__all__ = ["bound_with_offcuts", "fill_offcuts"]

_MOST_LENGTHS = 6
"""Lengths of offcuts that a bound tells apart."""


def fill_offcuts(job: CuttingJob) -> tuple[list[Group], list[int]]:
    """Fill every offcut with whole runs as well as can be, the longest first.

    Parameters
    ----------
    job : CuttingJob

    Returns
    -------
    list of Group
        What is cut from offcuts.
    list of int
        Number of runs left of each demand.
    """
    left = [demand.quantity for demand in job.demands]
    order = sorted(range(len(left)), key=lambda i: (job.demands[i].length, i))
    groups = []
    offcuts = [i for i, s in enumerate(job.stocks) for _ in range(s.available or 0)]
    for stock in sorted(offcuts, key=lambda i: (-job.stocks[i].length, i)):
        room = job.stocks[stock].length
        runs = [i for i in order for _ in range(left[i])]
        chosen = [runs[at] for at in Ladder([job.demands[i].length for i in runs], room, 200).fill(room, 0)]
        group = cut_chain(job, content_of(chosen), (stock,)) if chosen else None
        if group is not None:
            groups.append(group)
            for i in chosen:
                left[i] -= 1
    return groups, left


def bound_with_offcuts(
    job: CuttingJob,
    worth: Callable[[int], float],
    *,
    rounds: int,
    knots: Sequence[int],
    stop: Callable[[], bool] = lambda: False,
) -> float:
    """Bound the weight of all plans of a job with offcuts.

    Offcuts are as if they could be bought without limit; what those that there are would cost is taken off again. That
    is a bound at whatever price, and a good one where they cost what they are worth.

    Parameters
    ----------
    job : CuttingJob
        With offcuts in stock.
    worth : callable
        What a run of some length [ticks] would be worth, >= 0.
    rounds, knots, stop
        As `bound_by_columns` takes them.

    Returns
    -------
    float
    """
    offcuts = sorted((stock for stock in job.stocks if stock.available is not None), key=lambda stock: stock.length)
    bought, saved = [job.stocks[i] for i in job.buyable], 0.0
    size = -(-len(offcuts) // _MOST_LENGTHS)
    for at in range(0, len(offcuts), size):
        alike = offcuts[at : at + size]
        price = worth(alike[-1].length)
        bought.append(Stock(length=alike[-1].length, price=price))
        saved += price * sum(stock.available or 0 for stock in alike)
    priced = replace(job, stocks=tuple(bought))
    return bound_by_columns(priced, {}, rounds=rounds, knots=knots, stop=stop).weight - saved
