"""Level cuts: outlines that close, with the areas and lengths that formulas give."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.folded_block import box, folded_block, to_mesh

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.bit_rasters import PixelGrid, unpacked
from padwright.core.geometry.level_cuts import LevelCutter


def cone() -> TriMesh:
    """A four-sided pyramid, 20 x 12 at the bed and a point 10 mm up."""
    corner = np.array([[-10, -6, 0], [10, -6, 0], [10, 6, 0], [-10, 6, 0], [0, 0, 10]], dtype=float)
    return TriMesh(corner, np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4], [0, 2, 1], [0, 3, 2]]))


def test_areas_and_lengths_of_a_pyramid() -> None:
    height = np.array([0.5, 2.0, 7.5, 9.9, 11.0])
    cuts = LevelCutter(cone()).cut(height)
    left = np.clip(1.0 - height / 10.0, 0.0, None)
    np.testing.assert_allclose(cuts.areas_mm2(), 240.0 * left**2, atol=1e-9)
    np.testing.assert_allclose(cuts.lengths_mm(), 64.0 * left, atol=1e-9)


@pytest.mark.parametrize("height", [0.0, 1.0, 11.0, 21.0, 10.3])  # through corners and whole faces too
def test_outlines_close_at_any_height(height: float) -> None:
    cuts = LevelCutter(to_mesh(folded_block())).cut(np.array([height]))
    out = {tuple(each) for each in cuts.start}
    assert out == {tuple(each) for each in cuts.end}, "every piece ends, to the last bit, where another starts"


def test_solid_lies_to_the_left() -> None:
    cuts = LevelCutter(to_mesh(box((0, 0, 0), (4, 3, 2)))).cut(np.array([1.0]))
    twice = cuts.start[:, 0] * cuts.end[:, 1] - cuts.end[:, 0] * cuts.start[:, 1]
    assert twice.sum() / 2.0 == pytest.approx(12.0)


def test_layers_add_up_to_the_volume() -> None:
    mesh = to_mesh(folded_block(slope_deg=37.0, wave_mm=1.5))
    cuts = LevelCutter(mesh).cut((np.arange(220) + 0.5) * 0.1)
    # The walls' level cuts are straight in height but where they are folded, half way up a layer: the sum is exact.
    assert cuts.areas_mm2().sum() * 0.1 == pytest.approx(mesh.volume, rel=1e-3)


def test_pixels_are_those_whose_middle_lies_inside() -> None:
    mesh = cone()
    grid = PixelGrid.around(mesh.bounds[0, :2], mesh.bounds[1, :2], 0.1, 5)
    height = np.array([0.5, 5.0, 9.0])
    bits = grid.filled(LevelCutter(mesh).cut(height))
    column, row = np.meshgrid(np.arange(64 * grid.words), np.arange(grid.rows))
    x, y = (grid.origin[axis] + (each + 0.5) * 0.1 for axis, each in enumerate((column, row)))
    for picture, level in zip(bits, height, strict=True):
        left = 1.0 - level / 10.0
        inside = np.maximum(np.abs(x) / 10.0, np.abs(y) / 6.0) - left
        is_clear = np.abs(inside) > 1e-9  # a middle right on the outline may fall either way
        np.testing.assert_array_equal(unpacked(picture)[is_clear], (inside < 0.0)[is_clear])
