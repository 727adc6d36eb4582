"""From where a part is looked at in the pictures of a report, and what each pixel then shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.cached import cached_property
from ...base.mesh import Bool, Float, Int, TriMesh
from ...geometry.raster import Raster, rasterize
from ..packing.long_side import long_side

_LIT = np.array([-0.08, 0.096, 0.07])  # towards the light, in eye axes, times how strongly; by eye
_BEHIND_MM = 4.0  # what lies deeper below what is seen is hidden; a place is known to less
_CALM_ROUNDS = 6  # a scan's noise would be all that one sees, and most of the file
_LIGHT_DIGITS = 2  # finer nobody sees, and the file grows
WIDTH = 640  # pixels: half the page is narrower, a phone not much wider
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
    def onto(cls, mesh: TriMesh, toward: Float, *, width: int = WIDTH) -> PlanView:
        """Return the view of a mesh from a direction, (3,), its longest side across the picture."""
        toward = np.asarray(toward, dtype=np.float64) / np.linalg.norm(toward)
        right, _ = long_side(mesh, toward)
        right = right - (right @ toward) * toward
        right /= np.linalg.norm(right)
        return cls.framing(np.stack([right, np.cross(toward, right), toward]), mesh.vertices, width=width)

    @classmethod
    def framing(cls, eye: Float, places: Float, *, width: int = WIDTH) -> PlanView:
        """Return the view along the eye's axes, (3, 3), that just holds some places, (n, 3) mm."""
        seen = places @ eye[:2].T
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
    def raster(self) -> Raster:
        """The picture's pixels: of the faces that look to the eye."""
        flat = self.view.on_picture(self.mesh.vertices)
        depth = self.view.scale * (self.mesh.vertices @ self.view.eye[2])
        places = np.column_stack([flat, depth])
        return rasterize(places, self.mesh.faces, self.view.width, self.view.height, is_one_sided=True)

    @property
    def is_hit(self) -> Bool:
        """Pixels that show the mesh, (h, w)."""
        return self.raster.is_hit

    def shows(self, place: Float) -> bool:
        """Whether a place, (3,) mm, on the mesh is in sight and not behind something."""
        column, row = np.floor(self.view.on_picture(np.asarray(place)[None])[0]).astype(np.int64)
        if not (0 <= row < self.view.height and 0 <= column < self.view.width):
            return False
        nearest = float(self.raster.depth[row, column]) / self.view.scale
        return nearest - float(np.asarray(place) @ self.view.eye[2]) < _BEHIND_MM

    @cached_property
    def face(self) -> Int:
        """The mesh's face at each pixel that shows it, (k,)."""
        return np.asarray(self.raster.face[self.is_hit])

    def at_pixels(self, values: Float) -> NDArray[np.float32]:
        """Return values of the mesh's vertices, (n,) or (n, d), at each pixel that shows it."""
        known = np.asarray(values, dtype=np.float32)
        total = np.zeros((len(self.face), *known.shape[1:]), dtype=np.float32)
        for corner in range(3):
            weight = self._weights[:, corner]
            total += known[self._corners[:, corner]] * (weight if known.ndim == 1 else weight[:, None])
        return total

    @cached_property
    def _corners(self) -> Int:
        return np.asarray(self.mesh.faces[self.face])

    @cached_property
    def _weights(self) -> NDArray[np.float32]:
        return np.asarray(self.raster.weights[self.is_hit])

    @cached_property
    def light(self) -> NDArray[np.float32]:
        """How bright each pixel that shows the mesh is, around 1: slopes to the upper left are lit."""
        bright = calmed(self.mesh, self.mesh.vertex_normals @ (self.view.eye.T @ _LIT), _CALM_ROUNDS)
        light = np.round(np.clip(0.93 + self.at_pixels(bright), 0.6, 1.08), _LIGHT_DIGITS)
        return np.asarray(light, dtype=np.float32)


def calmed(mesh: TriMesh, values: Float, rounds: int) -> Float:
    """Return values, (n,), each averaged so many times with those at the other ends of its edges: noise goes first."""
    start, end = mesh.edges[:, 0], mesh.edges[:, 1]
    count = len(values)
    weight = 1.0 + np.bincount(start, minlength=count) + np.bincount(end, minlength=count)
    for _ in range(rounds):
        around = np.bincount(start, values[end], count) + np.bincount(end, values[start], count)
        values = (values + around) / weight
    return values
