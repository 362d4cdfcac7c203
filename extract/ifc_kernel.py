"""The geometry kernel of ifcopenshell, asked only for what cannot be read directly, in a process of its own.

A damaged model can crash the kernel, which would take the whole program with it.
"""

import json
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path
from threading import Timer
from typing import Any

import numpy as np

from .ifc_course import Course
from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .line import Points

__all__ = ["Kernel"]

_PATIENCE_S = 60.0
_COMMAND = (sys.executable, "-m", "splicewright.extract.ifc_worker")


@dataclass(slots=True, kw_only=True, eq=False)
class Kernel:
    """What the kernel makes of a model's items, in the model's own unit.

    Attributes
    ----------
    path : Path
        The model as it was opened.
    metres : float
        Length of the model's unit [m]; the kernel's own is the metre.
    """

    path: Path
    metres: float
    worker: "subprocess.Popen[str] | None" = None
    known: dict[tuple[str, int], dict[str, Any]] = field(default_factory=dict)

    def course(self, curve: Entity) -> Course:
        """Evaluate a curve that is given by its distance along.

        Raises
        ------
        IfcFault
            The kernel cannot evaluate it.
        """
        found = self._ask("course", curve.id())
        points = np.array(found.get("points", ()), dtype=np.float64).reshape(-1, 3) / self.metres
        at = np.array(found.get("at", ()), dtype=np.float64) / self.metres
        if len(points) < 2:
            raise IfcFault("unread-curve", curve.is_a())
        drawn = np.zeros(len(points), dtype=bool)
        drawn[[0, -1]] = True
        return Course(points=points, at=at, drawn=drawn, metric=True)

    def mesh(self, item: Entity) -> tuple[Points, list[list[int]]]:
        """Return vertices, shape (n, 3), and triangles of a body.

        Raises
        ------
        IfcFault
            The kernel makes nothing of it.
        """
        found = self._ask("mesh", item.id())
        faces: list[list[int]] = found.get("faces", [])
        if not faces:
            raise IfcFault("no-centre-line", item.is_a())
        return np.array(found["points"], dtype=np.float64).reshape(-1, 3) / self.metres, faces

    def close(self) -> None:
        """End the process, if one was needed."""
        if self.worker is not None:
            self.worker.kill()
            self.worker.communicate()
            self.worker = None

    def _ask(self, kind: str, number: int) -> dict[str, Any]:
        """Return the kernel's answer; an empty one where it fails, crashes or takes too long."""
        key = (kind, number)
        if key not in self.known:
            self.known[key] = self._answer(f"{kind} {number}\n")
        return self.known[key]

    def _answer(self, request: str) -> dict[str, Any]:
        worker = self.worker = self.worker or self._start()
        timer = Timer(_PATIENCE_S, worker.kill)
        timer.start()
        try:
            if worker.stdin is None or worker.stdout is None:
                return {}
            worker.stdin.write(request)
            worker.stdin.flush()
            answer: dict[str, Any] = json.loads(worker.stdout.readline() or "{}")
        except (OSError, ValueError):
            answer = {}
        finally:
            timer.cancel()
        if not answer:
            self.close()
        return answer

    def _start(self) -> "subprocess.Popen[str]":
        return subprocess.Popen(  # noqa: S603 (our own module, run by our own interpreter)
            [*_COMMAND, str(self.path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
        )
