"""Carrying fields from the body side of a pad through its thickness, so that body side and base side agree."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from ..errors import SolidError
from ..mesh import Bool, Float, Int, TriMesh
from .query import NearestSurface

BODY_SIDE = 1
BASE_SIDE = 2

STEEP = 0.3
"""A face whose normal has less than this along the press direction (steeper than some 73 degrees) is seen edge-on: it
counts as rim, and carries what lies beside it."""


class PadShape(Protocol):
    """What is asked of a pad: a closed mesh, the side of its vertices, the way it is loaded."""

    @property
    def mesh(self) -> TriMesh:
        """Closed mesh, mm."""

    @property
    def side(self) -> NDArray[Any]:
        """(n,) int: 1 body side, 2 base side, 0 rim."""

    @property
    def press_direction(self) -> Float | None:
        """(3,) unit vector from the body into the part; None for wrap-around parts."""


@dataclass(frozen=True, eq=False)
class BodySide:
    """The body side of a pad as a mesh of its own, and where every pad vertex lies on it.

    Attributes
    ----------
    mesh : TriMesh
        The body side, open.
    index : (b,) int32
        The pad vertex of every vertex of the body side.
    pad_vertices : (n, 3) float, mm
    press_direction : (3,) float or None
    """

    mesh: TriMesh
    index: Int
    pad_vertices: Float
    press_direction: Float | None

    def flat(self, points: Float) -> Float:
        """Return points (q, 3) moved along the press direction onto one plane; unchanged for wrap-around parts."""
        if self.press_direction is None:
            return points
        return points - np.outer(points @ self.press_direction, self.press_direction)

    @cached_property
    def _surface(self) -> NearestSurface:
        return NearestSurface(TriMesh(self.flat(self.mesh.vertices), self.mesh.faces))

    def in_front(self, points: Float) -> Float:
        """Return the place on the body side, seen as by `flat`, that each point (q, 3) takes its values from."""
        return self._surface.find(self.flat(points)).point

    def carried(self, values: Float, points: Float) -> Float:
        """Return the body side's values at points elsewhere in the pad.

        Along the press direction, or from the nearest point of the body side for wrap-around parts; a point beside the
        body side's outline takes the value of the nearest point of the outline.

        Parameters
        ----------
        values : (b,) or (b, k) float
        points : (q, 3) float, mm

        Returns
        -------
        (q,) or (q, k) float
        """
        if len(points) == 0:
            return np.zeros((0, *np.shape(values)[1:]))
        found = self._surface.find(self.flat(points))
        corner = self.mesh.faces[found.face]
        share = _barycentric(self.flat(self.mesh.vertices)[corner], found.point)
        return np.einsum("qc,qc...->q...", share, np.asarray(values)[corner])

    def on_pad(self, values: Float) -> Float:
        """Return the body side's values (b, ...) carried to every pad vertex (n, ...)."""
        values = np.asarray(values, dtype=np.float64)
        result = np.zeros((len(self.pad_vertices), *values.shape[1:]))
        is_other = np.ones(len(result), dtype=bool)
        is_other[self.index] = False
        result[self.index] = values
        result[is_other] = self.carried(values, self.pad_vertices[is_other])
        return result

    @cached_property
    def is_outline(self) -> Bool:
        """(b,) bool: vertices on the open border of the body side."""
        result = np.zeros(len(self.mesh.vertices), dtype=bool)
        result[self.mesh.boundary_edges.ravel()] = True
        return result


def body_side(pad: PadShape) -> BodySide:
    """Return the body side of a pad: the faces marked so, less those too steep to be seen along the press direction.

    Raises
    ------
    SolidError
        When no face has all its corners on the body side.
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
    return BodySide(mesh, index.astype(np.int32), pad.mesh.vertices, press)


def _barycentric(corners: Float, points: Float) -> Float:
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
