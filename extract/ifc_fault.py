"""Faults: why an element of a model cannot be read as a line."""

__all__ = ["IfcFault"]


class IfcFault(ValueError):  # noqa: N818 (a fault of the model, which becomes a finding; no caller ever meets it)
    """What is wrong with one element of a model.

    Attributes
    ----------
    reason : str
        Stable short name, as the drawing counts it; the table in `ifc_haul` lists them.
    detail : str
        What shows it, "" where the reason says it all.
    """

    def __init__(self, reason: str, detail: str = "") -> None:
        super().__init__(f"{reason}: {detail}" if detail else reason)
        self.reason = reason
        self.detail = detail
