"""Placing: the labour to place and tie the strip itself, apart from welding."""

from collections.abc import Iterable
from dataclasses import dataclass

from .footage import Footage
from .rules import Rules

__all__ = ["Placing", "count_placing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Labour to place and tie one profile.

    Attributes
    ----------
    profile : str
    length_m : float
        Measured length [m].
    labourer, craftsman, head_craftsman, foreman, person_days : float
        Labour by trade, and all of it [person-days].
    """

    profile: str
    length_m: float
    labourer: float
    craftsman: float
    head_craftsman: float
    foreman: float
    person_days: float


def count_placing(footage: Iterable[Footage], rules: Rules) -> tuple[Placing, ...]:
    """Count the labour to place and tie the strip; nothing where the rules do not ask for it.

    Parameters
    ----------
    footage : iterable of Footage
        Measured lengths by profile.
    rules : Rules
        Whether it is counted, the rates, and where the wide ones begin.

    Returns
    -------
    tuple of Placing
        By profile.

    References
    ----------
    Indonesian public-works guideline on unit prices (AHSP), items B.42 and B.43: person-days by trade for one metre of
    PVC waterstop, 200 mm and 230 to 320 mm wide.
    """
    placing = rules.placing
    if not placing.counted:
        return ()
    rows = []
    for row in footage:
        narrow = rules.profile_of(row.profile).width_m <= placing.narrow_to_m + 1e-9
        rates = placing.narrow if narrow else placing.wide
        rows.append(
            Placing(
                profile=row.profile,
                length_m=row.measured_m,
                labourer=rates.labourer * row.measured_m,
                craftsman=rates.craftsman * row.measured_m,
                head_craftsman=rates.head_craftsman * row.measured_m,
                foreman=rates.foreman * row.measured_m,
                person_days=rates.person_days * row.measured_m,
            )
        )
    return tuple(rows)
