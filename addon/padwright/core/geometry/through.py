"""Carrying fields from the body side of a pad through its thickness, so that body side and base side agree."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..base.cached import cached_property
from ..base.errors import SolidError
from ..base.mesh import Bool, Float, Int, TriMesh, sums_by
from .fields import harmonic
from .query import NearestSurface
from .smoothing import smoothed

BODY_SIDE = 1
BASE_SIDE = 2

_NORMAL_ROUNDS = 8  # reaches about three edges: over the noise of single triangles, not over a finger's groove

STEEP = 0.3
"""A face whose normal has less than this along the press direction (steeper than some 73 degrees) is seen edge-on: it
counts as rim, and carries what lies beside it."""


@dataclass(frozen=True, eq=False)
class PadShape:
    """A pad as its zones and regions see it."""

    mesh: TriMesh  # closed, part frame, mm
    side: NDArray[Any]  # (n,); 1 body side, 2 base side, 0 rim, for each vertex
    press_direction: Float | None  # (3,); unit vector from the body into the part; None for a wrap-around part


@dataclass(frozen=True, eq=False)
class BodySide:
    """The body side of a pad as a mesh of its own, and where every pad vertex lies on it."""

    mesh: TriMesh  # the body side, open
    index: Int  # (b,); the pad vertex of every vertex of the body side
    pad_mesh: TriMesh
    is_base: Bool  # (n,); pad vertices on the base side
    press_direction: Float | None  # (3,)

    def flat(self, points: Float) -> Float:
        """Return points (q, 3) moved along the press direction onto one plane; unchanged for wrap-around parts."""
        if self.press_direction is None:
            return points
        return points - np.outer(points @ self.press_direction, self.press_direction)

    @cached_property
    def _surface(self) -> NearestSurface:
        return NearestSurface(TriMesh(self.flat(self.mesh.vertices), self.mesh.faces))

    def on_pad(self, values: Float) -> Float:
        """Return the body side's values, (b,) or (b, k), carried to every pad vertex, (n,) or (n, k).

        Along the press direction, a point beside the body side's outline taking the value of the nearest point of the
        outline. For wrap-around parts along the base side's inward normals, smoothed, up to the body side; the rim and
        what no normal reaches take the even (harmonic) field between, and all that is carried is smoothed over an edge.
        """
        values = np.asarray(values, dtype=np.float64)
        vertices = self.pad_mesh.vertices
        result = np.zeros((len(vertices), *values.shape[1:]))
        is_other = np.ones(len(result), dtype=bool)
        is_other[self.index] = False
        result[self.index] = values
        if self.press_direction is not None:
            found = self._surface.find(self.flat(vertices[is_other]))
            corner = self.mesh.faces[found.face]
            share = barycentric(self.flat(self.mesh.vertices)[corner], found.point)
            result[is_other] = np.einsum("qc,qc...->q...", share, values[corner])
            return result
        reached, face, share = self._ahead
        result[reached] = np.einsum("qc,qc...->q...", share, values[self.mesh.faces[face]])
        is_known = ~is_other
        is_known[reached] = True
        edge_mm = float(np.sqrt(4.0 / np.sqrt(3.0) * self.pad_mesh.area / len(self.pad_mesh.faces)))
        result = harmonic(self.pad_mesh, is_known, result)
        return smoothed(self.pad_mesh, result, edge_mm, is_fixed=~is_other)

    @cached_property
    def _ahead(self) -> tuple[NDArray[np.int64], NDArray[np.int64], Float]:
        """Base vertices whose inward normal meets the body side, the face it meets, and where in it."""
        normal = self.pad_mesh.vertex_normals
        for _ in range(_NORMAL_ROUNDS):
            normal = _averaged(self.pad_mesh, normal, self.is_base)
        base = np.flatnonzero(self.is_base & (np.linalg.norm(normal, axis=1) > 0))
        base = base[~np.isin(base, self.index)]
        face, share = self._surface.first_hit(self.pad_mesh.vertices[base], -normal[base])
        base, face, share = base[face >= 0], face[face >= 0], share[face >= 0]
        if len(base) == 0:
            return base, face, share
        place = np.einsum("qc,qcx->qx", share, self.mesh.triangles[face])
        length = np.linalg.norm(place - self.pad_mesh.vertices[base], axis=1)
        # a normal that leaves through the rim may meet the body side somewhere else
        is_near = length <= 3.0 * np.median(length)
        return base[is_near], face[is_near], share[is_near]

    @cached_property
    def front(self) -> Float:
        """(n, 3) mm: the place on the body side, seen as by `flat`, that each pad vertex takes its values from."""
        if self.press_direction is not None:
            return self.flat(self.pad_mesh.vertices)
        return self.on_pad(self.mesh.vertices)


def body_side(pad: PadShape) -> BodySide:
    """Return the body side of a pad: the faces marked so, less those too steep to be seen along the press direction.

    Raises SolidError when no face has all its corners on the body side.
    """
    is_body = np.asarray(pad.side) == BODY_SIDE
    is_seen = is_body[pad.mesh.faces].all(axis=1)
    press = None
    if pad.press_direction is not None:
        press = np.asarray(pad.press_direction, dtype=np.float64)
        press = press / np.linalg.norm(press)
        is_seen &= pad.mesh.face_normals @ press < -STEEP
    faces = pad.mesh.faces[is_seen]
    if len(faces) == 0:
        raise SolidError("The pad has no body side: none of its faces is marked as one and faces the body.")
    index = np.unique(faces)
    renumber = np.zeros(len(pad.mesh.vertices), dtype=np.int32)
    renumber[index] = np.arange(len(index))
    mesh = TriMesh(pad.mesh.vertices[index], renumber[faces])
    return BodySide(mesh, index.astype(np.int32), pad.mesh, np.asarray(pad.side) == BASE_SIDE, press)


def _averaged(mesh: TriMesh, normal: Float, is_base: Bool) -> Float:
    """Return normals averaged with their neighbors' on the base side, unit length."""
    edge = mesh.edges
    edge = edge[is_base[edge].all(axis=1)]
    total = normal + sums_by(edge[:, 0], normal[edge[:, 1]], len(normal))
    length = np.linalg.norm(total, axis=1, keepdims=True)
    return np.divide(total, length, out=np.zeros_like(total), where=length > 0)


def barycentric(corners: Float, points: Float) -> Float:
    """Return the barycentric coordinates (q, 3) of points that lie on their triangles (q, 3, 3)."""
    one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    rest = points - corners[:, 0]
    aa, ab, bb = (np.einsum("ij,ij->i", left, right) for left, right in ((one, one), (one, two), (two, two)))
    ra, rb = np.einsum("ij,ij->i", rest, one), np.einsum("ij,ij->i", rest, two)
    area = aa * bb - ab * ab
    # a face seen edge-on along the press direction has no area there: any of its corners will do
    is_flat = area <= 1e-12 * np.maximum(aa * bb, 1e-300)
    area = np.where(is_flat, 1.0, area)
    second, third = (bb * ra - ab * rb) / area, (aa * rb - ab * ra) / area
    share = np.clip(np.stack([1.0 - second - third, second, third], axis=1), 0.0, 1.0)
    share[is_flat] = (1.0, 0.0, 0.0)
    return share / share.sum(axis=1, keepdims=True)
