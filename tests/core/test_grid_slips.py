"""What is wrong with a pressure grid is told in its own cells and pressures."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.support.pad_shapes import box_pad

from padwright.core.base.errors import InputError
from padwright.core.stages.zones.pressure_grid import grid_weights

GRID = np.add.outer(np.arange(8.0), np.arange(12.0))  # 0 to 18 kPa
CELLS = np.array([[0.0, 0.0], [7.0, 11.0]])


def _ends() -> np.ndarray:
    low, high = box_pad().mesh.bounds
    return np.array([[low[0], low[1], high[2]], [high[0], high[1], high[2]]])


def _share(cells=CELLS, points=None, low=None, high=None) -> float:
    return float(grid_weights(GRID, cells, _ends() if points is None else points, box_pad(), low, high)[1].mean())


def test_a_cell_that_the_grid_does_not_have_is_told():
    with pytest.raises(InputError, match=r"Place 2 .* cell \[8, 12\], but its rows go from 0 to 7 and its columns"):
        _share(CELLS + 1.0)
    with pytest.raises(InputError, match=r"Place 2 .* cell \[11, 7\]") as raised:
        _share(CELLS[:, ::-1])
    assert raised.value.hint == "The row comes first: write cell = [7, 11]."


def test_pressures_that_the_grid_does_not_reach_are_told_with_those_it_has():
    with pytest.raises(InputError, match=r"pressures go from \S+ to \S+ kPa, and the zone asks for from 300") as raised:
        _share(low=300.0)
    assert "1 mmHg is 0.133 kPa" in raised.value.hint
    most = float(re.search(r"to (\S+) kPa, and", raised.value.message)[1])
    assert 0.0 < _share(low=0.8 * most) < 1.0
    with pytest.raises(InputError, match="the zone asks for up to -5 kPa"):
        _share(high=-5.0)


def test_a_grid_beside_the_pad_is_told():
    with pytest.raises(InputError, match="lies beside the pad: on the pad it shows 0, elsewhere up to 18 kPa"):
        _share(points=_ends() + np.array([900.0, 0.0, 0.0]), low=5.0)
