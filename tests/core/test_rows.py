"""Measures of rows agree with numpy's own."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.rows import bounds_of, extent, lengths


@pytest.mark.parametrize("width", [2, 3])
def test_rows_are_measured_as_numpy_measures_them(width: int) -> None:
    rows = np.random.default_rng(5).normal(0.0, 100.0, (1000, width))
    # Sums in another order differ by a few last bits.
    np.testing.assert_allclose(lengths(rows), np.linalg.norm(rows, axis=1), rtol=8 * np.finfo(np.float64).eps)
    np.testing.assert_array_equal(bounds_of(rows), [rows.min(axis=0), rows.max(axis=0)])
    np.testing.assert_array_equal(extent(rows), np.ptp(rows, axis=0))


def test_what_is_no_number_stays_none_and_no_row_is_an_error() -> None:
    rows = np.array([[0.0, np.nan, 1.0], [2.0, 3.0, np.inf]])
    np.testing.assert_array_equal(np.isnan(bounds_of(rows)), [[False, True, False], [False, True, False]])
    np.testing.assert_array_equal(np.isnan(lengths(rows)), [True, False])
    with pytest.raises(ValueError, match="zero-size"):
        bounds_of(np.zeros((0, 3)))
