"""The face along which a mesh is cut, as triangles: to look at a part cut open, or at one layer of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..base.mesh import Bool, Float, Int, TriMesh
from .cross_sections import CrossSection, cross_section
from .crossings import across
from .solids import triangulated


@dataclass(frozen=True, eq=False)
class CutOpen:
    """What lies behind a cut, with its face."""

    mesh: TriMesh
    is_face: Bool  # (m,); triangles of the cut face


def cut_open(mesh: TriMesh, point: Float, normal: Float) -> CutOpen:
    """Return what of a closed mesh lies behind the plane through a point, (3,), across a normal, (3,), closed again."""
    cut = cross_section(mesh, point, normal)
    face = cut_face(cut, normal)
    behind = cut.behind
    faces = np.concatenate([behind.faces, face.faces + len(behind.vertices)])
    whole = TriMesh(np.concatenate([behind.vertices, face.vertices]), faces)
    return CutOpen(whole, np.arange(len(faces)) >= len(behind.faces))


def cut_face(cut: CrossSection, normal: Float) -> TriMesh:
    """Return the face of a cut across a normal, (3,), turned to where the normal points."""
    number, place = _loops(cut.outline)
    flat = place @ across(normal)[:2].T
    return TriMesh(place, triangulated([flat[each] for each in number]))


def _loops(outline: Float) -> tuple[list[Int], Float]:
    """Return closed outlines as numbers of places, one after the other, and the places, (n, 3).

    Pieces, (k, 2, 3), follow each other where an end is the start of another; where outlines touch, any goes on.
    """
    if not len(outline):
        return [], np.zeros((0, 3))
    _, label = np.unique(outline.reshape(-1, 3), axis=0, return_inverse=True)
    start, end = label.reshape(-1, 2).T.tolist()
    at: dict[int, list[int]] = {}
    for piece, number in enumerate(start):
        at.setdefault(number, []).append(piece)
    order: list[int] = []
    loops: list[Int] = []
    for first in range(len(start)):
        loop = []
        piece = first
        while at.get(start[piece]) and piece in at[start[piece]]:
            at[start[piece]].remove(piece)
            loop.append(piece)
            ahead = at.get(end[piece])
            if not ahead:
                break
            piece = ahead[-1]
        if loop:
            loops.append(np.arange(len(order), len(order) + len(loop), dtype=np.int32))
            order += loop
    return loops, outline[order, 0]
