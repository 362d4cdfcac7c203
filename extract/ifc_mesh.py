"""Meshes: the faces of a body of an IFC model, read directly where the model lists them, else from the kernel."""

from collections.abc import Iterator

import numpy as np

from .ifc_entity import Entity
from .ifc_fault import IfcFault
from .ifc_frame import point_of
from .ifc_kernel import Kernel
from .line import Points

__all__ = ["mesh_of"]

_BODIES = ("IfcSolidModel", "IfcCsgPrimitive3D", "IfcTessellatedItem", "IfcHalfSpaceSolid")


def mesh_of(item: Entity, kernel: Kernel) -> tuple[Points, list[list[int]], bool]:
    """Return vertices and faces of a body, and whether the kernel had to make them.

    Raises
    ------
    IfcFault
        It is damaged, or the kernel makes nothing of it.
    """
    if item.is_a("IfcTessellatedFaceSet"):
        return _face_set(item)
    if item.is_a("IfcFacetedBrep"):
        return (*_listed(_polygons(item.Outer.CfsFaces)), False)
    if item.is_a("IfcFaceBasedSurfaceModel"):
        return (*_listed(_polygons(face for part in item.FbsmFaces for face in part.CfsFaces)), False)
    if item.is_a("IfcShellBasedSurfaceModel"):
        return (*_listed(_polygons(face for shell in item.SbsmBoundary for face in shell.CfsFaces)), False)
    if not any(map(item.is_a, _BODIES)):
        raise IfcFault("no-centre-line", item.is_a())
    return (*kernel.mesh(item), True)


def _face_set(item: Entity) -> tuple[Points, list[list[int]], bool]:
    points = np.array([(*row, 0.0)[:3] for row in item.Coordinates.CoordList], dtype=np.float64).reshape(-1, 3)
    if item.is_a("IfcTriangulatedFaceSet"):
        rows = [list(row) for row in item.CoordIndex or ()]
    elif item.is_a("IfcPolygonalFaceSet"):
        rows = [list(face.CoordIndex) for face in item.Faces or ()]
    else:
        raise IfcFault("no-centre-line", item.is_a())
    chosen = getattr(item, "PnIndex", None)
    faces = [[(chosen[index - 1] if chosen else index) - 1 for index in row] for row in rows]
    if any(not 0 <= index < len(points) for face in faces for index in face):
        raise IfcFault("damaged", "a face that asks for points it does not have")
    return points, faces, False


def _polygons(faces: Iterator[Entity]) -> Iterator[Points]:
    for face in faces:
        for bound in face.Bounds:
            loop = bound.Bound
            if not loop.is_a("IfcPolyLoop"):
                raise IfcFault("no-centre-line", loop.is_a())
            if bound.is_a("IfcFaceOuterBound") or len(face.Bounds) == 1:
                yield np.array([point_of(point) for point in loop.Polygon])


def _listed(polygons: Iterator[Points]) -> tuple[Points, list[list[int]]]:
    parts = list(polygons)
    if not parts:
        raise IfcFault("damaged", "a body without faces")
    ends = np.cumsum([len(part) for part in parts])
    faces = [list(range(end - len(part), end)) for part, end in zip(parts, ends.tolist(), strict=True)]
    return np.vstack(parts), faces
