"""Footage: measured, supplied in fittings, cut from rolls, lost in welds; the ledger that must balance."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import fsum

from .fitting import FittingType, strip_by_profile
from .roll import CutList
from .splice import Made, Splice, SpliceKind
from .stretch import Layout

__all__ = ["Footage", "balance"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """The lengths of one profile.

    Attributes
    ----------
    profile : str
        Profile.
    measured_m : float
        Length of all runs along the centreline [m]: the pay length, nothing added.
    in_fittings_m : float
        Of that, supplied as fittings [m], including what their legs lose in welds.
    in_pieces_m : float
        Length of all pieces cut from rolls [m].
    lost_in_welds_m : float
        What the field splices melt away [m].
    order_m : float
        Length of the rolls that the plan cuts [m].
    offcuts_m : float
        Length of the offcuts in stock that it cuts [m].
    trimmed_m, left_m : float
        What cuts take of rolls and offcuts, and what is left of them [m].
    runs : int
        Number of runs.
    """

    profile: str
    measured_m: float
    in_fittings_m: float
    in_pieces_m: float
    lost_in_welds_m: float
    order_m: float
    runs: int
    offcuts_m: float = 0.0
    trimmed_m: float = 0.0
    left_m: float = 0.0

    @property
    def difference_m(self) -> float:
        """What the ledger fails to account for [m]; less than a millimetre in a sound schedule."""
        return self.measured_m - (self.in_fittings_m + self.in_pieces_m - self.lost_in_welds_m)

    @property
    def roll_difference_m(self) -> float:
        """What rolls and offcuts fail to account for [m]; less than a millimetre in a sound schedule."""
        return self.order_m + self.offcuts_m - (self.in_pieces_m + self.trimmed_m + self.left_m)


def balance(
    layout: Layout, types: Sequence[FittingType], cut_list: CutList, splices: Iterable[Splice], *, melt_m: float
) -> list[Footage]:
    """Draw up the ledger, each column from its own source, so that it balances only if they agree.

    Measured comes from the drawn runs, fittings from what the shop makes, pieces from the cut list, losses from the
    list of splices.

    Parameters
    ----------
    layout : Layout
        The drawn runs.
    types : sequence of FittingType
        What the shop makes.
    cut_list : CutList
        What is cut from rolls.
    splices : iterable of Splice
        All splices of the job.
    melt_m : float
        What one butt melts away [m]; half of it for each strip that ends at a node where strips are welded in place.

    Returns
    -------
    list of Footage
        By profile.
    """
    columns = {
        "measured_m": _total((stretch.profile, stretch.run.length_m) for stretch in layout.stretches),
        "in_fittings_m": _total(
            entry for kind in types for copy in kind.copies for entry in strip_by_profile(copy).items()
        ),
        "in_pieces_m": _total((roll.profile, piece.length_m) for roll in cut_list.rolls for piece in roll.pieces),
        "lost_in_welds_m": _total(_losses(layout, splices, melt_m)),
        "offcuts_m": _total((roll.profile, roll.length_m) for roll in cut_list.rolls if roll.stock is not None),
        "trimmed_m": _total((roll.profile, roll.trimmed_m) for roll in cut_list.rolls),
        "left_m": _total((roll.profile, roll.offcut_m) for roll in cut_list.rolls),
        "order_m": _total((order.profile, order.quantity * order.length_m) for order in cut_list.orders),
    }
    runs = Counter(stretch.profile for stretch in layout.stretches)
    return [
        Footage(profile=name, runs=runs[name], **{column: sums.get(name, 0.0) for column, sums in columns.items()})
        for name in sorted(runs)
    ]


def _total(entries: Iterable[tuple[str, float]]) -> dict[str, float]:
    lengths: dict[str, list[float]] = {}
    for profile, length_m in entries:
        lengths.setdefault(profile, []).append(length_m)
    return {profile: fsum(values) for profile, values in lengths.items()}


def _losses(layout: Layout, splices: Iterable[Splice], melt_m: float) -> Iterator[tuple[str, float]]:
    """Yield what each field splice melts away; strips that end at a node lose half a melt each."""
    in_place: set[str] = set()
    for splice in splices:
        if splice.made is not Made.FIELD:
            continue
        if splice.kind in _WITHIN_RUNS:
            yield splice.profile, melt_m
        elif splice.node and splice.fitting is None:
            in_place.add(splice.node)
    for mark in sorted(in_place):
        for arm in layout.nodes[layout.node_at[mark]].arms:
            yield layout.stretch(arm.run).profile, melt_m / 2


_WITHIN_RUNS = frozenset({SpliceKind.LEG, SpliceKind.LEG_TO_LEG, SpliceKind.PIECE})
