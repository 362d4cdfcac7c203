"""Whereabouts: where in the job a strip stands, and when it is poured."""

from dataclasses import dataclass

__all__ = ["Whereabouts"]


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Whereabouts:
    """Where in the job a strip stands, and when it is poured, as far as a model tells; "" where it does not.

    Attributes
    ----------
    storey : str
        Name of the storey.
    structure : str
        Name of the building, facility or part of one.
    stage : str
        Pour or construction stage.

    Examples
    --------
    >>> bool(Whereabouts()), str(Whereabouts(storey="Base", stage="Pour 3"))
    (False, 'Base, Pour 3')
    """

    storey: str = ""
    structure: str = ""
    stage: str = ""

    def __bool__(self) -> bool:
        return bool(self.storey or self.structure or self.stage)

    def __str__(self) -> str:
        return ", ".join(part for part in (self.structure, self.storey, self.stage) if part)
