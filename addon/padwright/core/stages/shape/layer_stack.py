"""A solid as layers of pixels, cut half way up every layer, with what the outlines alone tell of each."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...base.progress import Progress, Steps
from ...geometry.bit_rasters import Bits, PixelGrid
from ...geometry.level_cuts import LevelCuts, LevelCutter

FINEST_MM, COARSEST_MM = 0.15, 0.25
"""Pixels lie between a third and a half of a usual bead."""

_PIXELS = 1.0e6  # of one layer: what a part on a usual bed takes in seconds
_MARGIN = 8  # free pixels all round, so that nothing grows over the border
BLOCK_MM = 1.0
"""Layers are cut so much height at a time."""


@dataclass(frozen=True, eq=False)
class LayerStack:
    """Every layer of a solid in the build frame, the first on the bed."""

    grid: PixelGrid
    layer_mm: float
    bits: Bits  # (n, rows, words); pixels whose middle lies in the solid half way up the layer
    area_mm2: Float  # (n,)
    outline_mm: Float  # (n,); length of all outlines

    @property
    def count(self) -> int:
        """How many layers there are."""
        return len(self.bits)

    def middle_mm(self, layer: int) -> float:
        """Return the height of the middle of a layer."""
        return (layer + 0.5) * self.layer_mm

    def layer_above(self, height_mm: Float) -> NDArray[np.int64]:
        """Return the first layer whose middle lies at or above a height; the underside there is that layer's."""
        return np.ceil(height_mm / self.layer_mm - 0.5 - 1e-6).astype(np.int64)  # its middle itself is in it


def stack_layers(
    mesh: TriMesh, layer_mm: float, on_block: Callable[[LevelCuts, int, PixelGrid], None]
) -> Steps[LayerStack]:
    """Cut a closed mesh in the build frame (z up, bed at 0) into layers.

    `on_block` is handed the outlines of each block of layers, the number of its first layer, and the grid.

    Raises InputError where the mesh lies under the bed, or is empty.
    """
    if layer_mm <= 0.0 or len(mesh.faces) == 0:
        raise InputError(f"A part of {len(mesh.faces)} faces cannot be cut into layers of {layer_mm:g} mm.")
    low, high = mesh.bounds
    if low[2] < -layer_mm:
        raise InputError(f"The part reaches {-low[2]:.2f} mm below the bed.", hint="Lay it on the bed first (z = 0).")
    count = max(1, math.ceil(high[2] / layer_mm - 0.5))
    across = high[:2] - low[:2]
    pixel = math.ceil(100.0 * min(max(math.sqrt(across.prod() / _PIXELS), FINEST_MM), COARSEST_MM)) / 100.0
    grid = PixelGrid.around(low[:2], high[:2], pixel, _MARGIN)
    bits = np.zeros((count, grid.rows, grid.words), dtype=np.uint64)
    area, outline = np.zeros(count), np.zeros(count)
    cutter, block = LevelCutter(mesh), max(1, round(BLOCK_MM / layer_mm))
    for first in range(0, count, block):
        last = min(first + block, count)
        cuts = cutter.cut((np.arange(first, last) + 0.5) * layer_mm)
        bits[first:last] = grid.filled(cuts)
        area[first:last], outline[first:last] = cuts.areas_mm2(), cuts.lengths_mm()
        on_block(cuts, first, grid)
        yield Progress(last / count, f"Cutting the solid: layer {last} of {count}")
    return LayerStack(grid, layer_mm, bits, area, outline)
