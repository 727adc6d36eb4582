"""Pictures of 64 pixels to a number: growing and shrinking as pictures of one pixel to a number do."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from padwright.core.geometry.bit_rasters import at, cropped, grown, shrunk, unpacked

CROSS, SQUARE = ndimage.generate_binary_structure(2, 1), np.ones((3, 3), dtype=bool)


def packed(picture: np.ndarray) -> np.ndarray:
    return np.packbits(picture, axis=-1, bitorder="little").view(np.uint64)


@pytest.fixture
def picture() -> np.ndarray:
    picture = np.random.default_rng(4).random((40, 192)) < 0.02
    picture[:, 60:70] |= np.random.default_rng(5).random((40, 10)) < 0.3  # much about the border of two numbers
    return picture


def test_growing_is_by_a_cross_then_a_square(picture: np.ndarray) -> None:
    by_hand = picture
    for pixels in range(4):
        np.testing.assert_array_equal(unpacked(grown(packed(picture), pixels)), by_hand)
        by_hand = ndimage.binary_dilation(by_hand, SQUARE if pixels % 2 else CROSS)


def test_shrinking_is_growing_of_the_rest(picture: np.ndarray) -> None:
    thick = ndimage.binary_dilation(picture, SQUARE, iterations=3)
    np.testing.assert_array_equal(
        unpacked(shrunk(packed(thick), 1)), ndimage.binary_erosion(thick, CROSS, border_value=1)
    )


def test_single_pixels_are_read_back(picture: np.ndarray) -> None:
    row, column = np.indices(picture.shape)
    np.testing.assert_array_equal(at(packed(picture), row, column), picture)


def test_the_set_part_is_cut_out(picture: np.ndarray) -> None:
    picture[:7] = picture[30:] = picture[:, :64] = False
    row, column, part = cropped(packed(picture))
    assert (row, column) == (7, 64)
    np.testing.assert_array_equal(part, picture[7:30, 64:192])
    assert cropped(packed(np.zeros_like(picture)))[2].size == 0


def test_many_pictures_grow_as_one(picture: np.ndarray) -> None:
    both = np.stack([packed(picture), packed(picture[::-1])])
    np.testing.assert_array_equal(grown(both, 2)[1], grown(both[1], 2))
