"""From where a part is looked at in the pictures of a report, and what each pixel then shows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.raster import Raster, rasterize
from ..packing.long_side import long_side

_FINE = 2  # pixels of the raster a side of one of the picture
_MARGIN = 0.03  # of the picture's width, on all sides
_FLATTEST = 0.32  # least height of a picture, as a share of its width
_TALLEST = 1.0  # and its greatest


@dataclass(frozen=True, eq=False)
class PlanView:
    """Straight down on something, without perspective: where places fall on a picture."""

    eye: Float  # (3, 3); rows right, up and towards the eye
    middle: Float  # (2,), mm, of what is seen
    scale: float  # pixels a mm
    width: int
    height: int

    @classmethod
    def onto(cls, mesh: TriMesh, toward: Float, *, width: int = 640, shown: Float | None = None) -> PlanView:
        """Return the view of a mesh from a direction, (3,), its longest side across the picture.

        `shown`, (n, 3): the places that are to be in the picture, instead of all of the mesh.
        """
        toward = np.asarray(toward, dtype=np.float64) / np.linalg.norm(toward)
        right, _ = long_side(mesh.triangles, toward)
        right = right - (right @ toward) * toward
        right /= np.linalg.norm(right)
        eye = np.stack([right, np.cross(toward, right), toward])
        seen = (mesh.vertices if shown is None else shown) @ eye[:2].T
        low, high = seen.min(axis=0), seen.max(axis=0)
        wide, tall = np.maximum(high - low, 1e-6)
        room = width * (1.0 - 2.0 * _MARGIN)
        scale = min(room / wide, (_TALLEST * width - 2.0 * _MARGIN * width) / tall)
        height = int(np.ceil(max(tall * scale + 2.0 * _MARGIN * width, _FLATTEST * width)))
        return cls(eye, 0.5 * (low + high), float(scale), width, height)

    def on_picture(self, places: Float) -> Float:
        """Return places, (n, 3) mm, as pixels of the picture, x right and y down, (n, 2)."""
        flat = (places @ self.eye[:2].T - self.middle) * [self.scale, -self.scale]
        return np.asarray(flat + 0.5 * np.array([self.width, self.height]))

    def place_at(self, pixel: Float) -> Float:
        """Return a place, (3,) mm, that falls on a pixel, (2,)."""
        flat = (np.asarray(pixel) - 0.5 * np.array([self.width, self.height])) / [self.scale, -self.scale]
        return np.asarray((flat + self.middle) @ self.eye[:2])


@dataclass(frozen=True, eq=False)
class SeenMesh:
    """A mesh in a view: rastered once, colored as often as there are values to show."""

    view: PlanView
    mesh: TriMesh

    @cached_property
    def _facing(self) -> Int:
        return np.flatnonzero(self.mesh.face_normals @ self.view.eye[2] > 0.0)

    @cached_property
    def raster(self) -> Raster:
        """The raster, finer than the picture, of the faces that look to the eye."""
        flat = _FINE * self.view.on_picture(self.mesh.vertices)
        depth = _FINE * self.view.scale * (self.mesh.vertices @ self.view.eye[2])
        faces = self.mesh.faces[self._facing]
        return rasterize(np.column_stack([flat, depth]), faces, _FINE * self.view.width, _FINE * self.view.height)

    @property
    def is_hit(self) -> Bool:
        """Fine pixels that show the mesh, (h, w)."""
        return self.raster.is_hit

    @cached_property
    def face(self) -> Int:
        """The mesh's face at each fine pixel that shows it, (k,)."""
        return np.asarray(self._facing[self.raster.face[self.is_hit]])

    def at_pixels(self, values: Float) -> Float:
        """Return values of the mesh's vertices, (n,) or (n, d), at each fine pixel that shows it."""
        corners = np.asarray(values)[self.mesh.faces[self.face]]
        return np.einsum("pc,pc...->p...", self.raster.weights[self.is_hit], corners)

    @cached_property
    def light(self) -> NDArray[np.float32]:
        """How bright each fine pixel that shows the mesh is, around 1: slopes to the upper left are lit."""
        normal = self.at_pixels(self.mesh.vertex_normals) @ self.view.eye.T
        normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
        lit = np.array([-0.5, 0.6, 0.0])
        return np.asarray(np.clip(0.93 + 0.16 * normal @ lit + 0.07 * normal[:, 2], 0.6, 1.08), dtype=np.float32)


def coarse(fine: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return a fine picture, (h, w, 3) sRGB 0 to 1, as the picture's own pixels."""
    height, width, _ = fine.shape
    blocks = fine.reshape(height // _FINE, _FINE, width // _FINE, _FINE, 3)
    return np.round(255.0 * np.clip(blocks.mean(axis=(1, 3)), 0.0, 1.0)).astype(np.uint8)
