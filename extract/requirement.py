"""Requirements: what an IFC model must hold for its waterstop to be read in full, as a file that BIM tools check by.

`waterstop.ids` beside this module holds them. A model that lacks something is read as far as it goes.

References
----------
buildingSMART International, Information Delivery Specification (IDS), version 1.0.
"""

from importlib.resources import files

__all__ = ["requirements"]


def requirements() -> str:
    """Return the requirements, to be saved as an ``.ids`` file and given to whoever makes the model.

    Returns
    -------
    str
        XML, IDS 1.0, for IFC2X3, IFC4 and IFC4X3.

    Examples
    --------
    >>> "<title>Waterstop in a model</title>" in requirements()
    True
    """
    return files(__package__).joinpath("waterstop.ids").read_text(encoding="utf-8")
