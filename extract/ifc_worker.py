"""A process of its own that asks ifcopenshell's geometry kernel, since the kernel may crash on a damaged model.

It is started as ``python -m splicewright.extract.ifc_worker MODEL``, reads one request a line, ``mesh NUMBER`` or
``course NUMBER``, and answers each with one line of JSON: points in metres with faces or with distances along, or
what is wrong.
"""

import json
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import ifcopenshell
import numpy as np
from numpy.typing import NDArray

from .curve import CHORD_TURN_DEG
from .line import Points

__all__ = ["answer", "main"]

_MOST_VERTICES = 20_000
_ROUGH = 400


def main(path: str) -> None:
    """Answer requests until there are no more."""
    model = ifcopenshell.open(Path(path), ".ifc")
    for line in sys.stdin:
        kind, number = line.split()
        sys.stdout.write(json.dumps(answer(model, kind, int(number))) + "\n")
        sys.stdout.flush()


def answer(model: Any, kind: str, number: int) -> dict[str, Any]:  # noqa: ANN401 (a library's model)
    """Return what the kernel makes of one instance, or what it says is wrong."""
    try:
        item = model.by_id(number)
        return _mesh(item) if kind == "mesh" else _course(item)
    except Exception as reason:  # noqa: BLE001 (whatever the kernel raises, the reader counts the element)
        return {"fault": str(reason).split("\n")[0][:120]}


def _mesh(item: Any) -> dict[str, Any]:  # noqa: ANN401
    geom = import_module("ifcopenshell.geom")
    shape = geom.create_shape(geom.settings(), item)
    body = getattr(shape, "geometry", shape)
    points = np.array(body.verts, dtype=np.float64).reshape(-1, 3)
    return {"points": points.tolist(), "faces": np.array(body.faces, dtype=np.intp).reshape(-1, 3).tolist()}


def _course(curve: Any) -> dict[str, Any]:  # noqa: ANN401
    geom, wrapper = (import_module(f"ifcopenshell.{name}") for name in ("geom", "ifcopenshell_wrapper"))
    settings = geom.settings()
    function = wrapper.map_shape(settings, curve)
    evaluator = wrapper.function_item_evaluator(settings, function)
    start, end = float(function.start()), float(function.end())
    rough = np.array(evaluator.evaluation_points(), dtype=np.float64)

    def place(at: float) -> Points:
        return np.array(evaluator.evaluate(at), dtype=np.float64)[:3, 3]

    at, points = _refined(place, start, end, rough)
    return {"points": points.tolist(), "at": at.tolist()}


def _refined(
    place: Callable[[float], Points], start: float, end: float, rough: NDArray[np.float64]
) -> tuple[NDArray[np.float64], Points]:
    """Evaluate a curve so finely that it turns little along each chord."""
    inside = rough[(rough > start) & (rough < end)]
    at = np.concatenate(([start], inside[:: max(1, len(inside) // _ROUGH)], [end]))
    points = np.array([place(value) for value in at])
    for _ in range(12):
        step = np.diff(points, axis=0)
        across = np.linalg.norm(np.cross(step[:-1], step[1:]), axis=1)
        turn = np.degrees(np.arctan2(across, np.einsum("ij,ij->i", step[:-1], step[1:])))
        coarse = np.zeros(len(step), dtype=bool)
        coarse[:-1] |= turn > CHORD_TURN_DEG
        coarse[1:] |= turn > CHORD_TURN_DEG
        coarse &= np.diff(at) > 1e-6 * (end - start)
        if not coarse.any() or len(at) > _MOST_VERTICES:
            break
        middle = (at[:-1][coarse] + at[1:][coarse]) / 2
        where = np.flatnonzero(coarse) + 1
        at = np.insert(at, where, middle)
        points = np.insert(points, where, [place(value) for value in middle], axis=0)
    return at, points


if __name__ == "__main__":
    main(sys.argv[1])
