"""Survey a drawing of any known kind: what it holds, before anyone says what is waterstop."""

from pathlib import Path

from .drawing import DrawingKind
from .layer import LayerSurvey, Survey
from .reader import kind_of
from .unit import LengthUnit

__all__ = ["LayerSurvey", "Survey", "survey"]


def survey(path: Path, *, unit: LengthUnit | None = None) -> Survey:
    """Tell what a drawing holds, layer by layer or element type by element type.

    Parameters
    ----------
    path : Path
        The file.
    unit : LengthUnit or None
        Unit it is drawn in, before what the file states. Where neither says, lengths are in drawing units only.

    Returns
    -------
    Survey

    Raises
    ------
    UnreadableDrawingError
        The file is absent, of no known kind, or too damaged.
    """
    if kind_of(path) is DrawingKind.IFC:
        from .ifc_survey import survey_ifc  # noqa: PLC0415 - its library is imported only for an IFC

        return survey_ifc(path, unit=unit)
    from .dxf_survey import survey_dxf  # noqa: PLC0415 - its library is imported only for a DXF

    return survey_dxf(path, unit=unit)
