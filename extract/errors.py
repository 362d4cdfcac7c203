"""The errors a caller may meet: one sentence each, naming the file, the layer or entity, and the remedy."""

__all__ = [
    "CrowdedError",
    "DrawingError",
    "MissingUnitError",
    "NothingSelectedError",
    "OutputError",
    "RecordError",
    "RulesError",
    "SplicewrightError",
    "UnreadableDrawingError",
]


class SplicewrightError(Exception):
    """Root of every error raised on purpose; its text is one sentence fit to show to a user."""


class DrawingError(SplicewrightError):
    """The drawing cannot be used."""


class UnreadableDrawingError(DrawingError):
    """The file is absent, empty, not a drawing of a known kind, or too damaged to read."""


class CrowdedError(DrawingError):
    """So many lines lie within the tolerance of each other that the unit or the tolerance must be wrong."""


class MissingUnitError(DrawingError):
    """The drawing states no length unit; the user must."""


class NothingSelectedError(DrawingError):
    """No layer or element matches what was asked for; the sentence lists the candidates."""


class RulesError(SplicewrightError):
    """The rules file cannot be used; the sentence starts with the full path to the field."""


class OutputError(SplicewrightError):
    """A result cannot be written where it was asked for."""


class RecordError(SplicewrightError):
    """A file given as the record of an earlier schedule is none, is incomplete, or is of a newer version."""
