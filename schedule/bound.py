"""Bound: costs that no plan can stay under, proven by lengths and numbers alone.

Every plan pays for rolls whose usable lengths add up to what the runs and the splices of the longest runs take; the
cheapest whole numbers of rolls that do are a bound. It is met by plans in which next to nothing is wasted.
"""

from itertools import product
from math import gcd

import numpy as np

from .stock import CuttingJob

__all__ = ["bound_by_length", "grain_of", "least_rolls", "splices_needed"]

_MOST_OTHER = 60
"""Rolls of each dearer length that are tried; with more of them a plan costs provably more or is bounded by rate."""
_MOST_TRIED = 200_000
_GRAINS = 10_000
"""Costs are looked at to this part of the currency's unit, or of a metre."""


def splices_needed(job: CuttingJob) -> int:
    """Return the number of splices inside runs that no plan can do without: runs longer than the longest roll.

    Parameters
    ----------
    job : CuttingJob

    Returns
    -------
    int
    """
    worth = job.longest - job.loss
    parts = ((demand.quantity, -((job.loss - demand.length) // worth)) for demand in job.demands)
    return sum(quantity * max(0, number - 1) for quantity, number in parts)


def bound_by_length(job: CuttingJob) -> float:
    """Return the weight of the cheapest rolls that are long enough in all, and of the splices needed.

    Offcuts in stock cost nothing, so their length is simply taken off.

    Parameters
    ----------
    job : CuttingJob

    Returns
    -------
    float
        No plan weighs less, tie-breaks included.
    """
    needed = splices_needed(job)
    length = job.total + needed * job.loss
    length -= sum(stock.length * stock.available for stock in job.stocks if stock.available is not None)
    return _cheapest(job, max(0, length)) + needed * job.splice_weight


def least_rolls(job: CuttingJob, stock: int) -> int:
    """Return the least number of rolls of one length that the runs take, were they cut from these alone."""
    return -((-job.total) // job.stocks[stock].length)


def grain_of(job: CuttingJob) -> float:
    """Return the amount that all possible costs are whole multiples of, 0 where there is none worth the name.

    Parameters
    ----------
    job : CuttingJob

    Returns
    -------
    float
    """
    prices = [job.stocks[i].price for i in job.buyable] + [stock.price for stock in job.stocks]
    if job.splices:
        prices.append(job.splice_price)
    whole = [round(price * _GRAINS) for price in prices]
    if any(abs(number - price * _GRAINS) > 1e-6 for number, price in zip(whole, prices, strict=True)):
        return 0.0
    return gcd(*whole) / _GRAINS


def _cheapest(job: CuttingJob, length: int) -> float:
    """Return the least weight of whole rolls that add up to a length [ticks], or a bound on it."""
    rates = sorted((job.weights[i] / job.stocks[i].length, i) for i in job.buyable)
    (rate, best), others = rates[0], [i for _, i in rates[1:]]
    if not others:
        return -(-length // job.stocks[best].length) * job.weights[best]
    most = _MOST_OTHER if len(others) < 3 else max(2, int(_MOST_TRIED ** (1 / len(others))) - 1)
    counts = np.array(list(product(range(most + 1), repeat=len(others))), dtype=np.int64)
    left = np.maximum(0, length - counts @ np.array([job.stocks[i].length for i in others], dtype=np.int64))
    whole = -(-left // job.stocks[best].length)
    least = float((counts @ np.array([job.weights[i] for i in others]) + whole * job.weights[best]).min())
    # A plan with more of some other length than tried pays at least its excess over the best rate that often.
    excess = min(job.weights[i] - rate * job.stocks[i].length for i in others)
    return min(least, rate * length + (most + 1) * max(0.0, excess))
