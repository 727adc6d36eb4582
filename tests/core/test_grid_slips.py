"""A zone's own file of pressures: read as any mat's, laid by places; what is wrong is told in its cells and kPa."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from tests.support.mats import csv_of
from tests.support.pad_shapes import box_pad

from padwright.core.base.errors import InputError
from padwright.core.base.notes import Weight, weight_of
from padwright.core.stages.mats.laid_mat import LaidMat
from padwright.core.stages.zones.pressure_grid import Ends, mat_weights, own_mat

GRID = np.round(np.add.outer(9.0 * np.arange(8) / 7.0, 9.0 * np.arange(12) / 11.0), 1)  # 0 to 18 kPa
CELLS = np.array([[0.0, 0.0], [7.0, 11.0]])
TEXT = csv_of(GRID, decimals=1)


def _ends() -> np.ndarray:
    low, high = box_pad().mesh.bounds
    return np.array([[low[0], low[1], high[2]], [high[0], high[1], high[2]]])


def _laid(text=TEXT, cells=CELLS, points=None, name="g.csv") -> LaidMat:
    return own_mat(text.encode(), name, cells, _ends() if points is None else points, box_pad())


def _share(laid: LaidMat, low=None, high=None) -> float:
    return float(mat_weights(laid, box_pad(), Ends(low, high, None, None))[1].mean())


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (csv_of(GRID, sign=";", comma=True, head="made by a mat\nUnit;kPa\n"), "g.txt"),
        (csv_of(GRID / 0.133322387415, sign="\t", decimals=9, head="UNITS mmHg\n"), "g.txt"),
        (json.dumps({"unit": "N/cm2", "frames": [(0.1 * GRID).tolist()]}), "g.json"),
    ],
)
def test_whatever_a_mat_may_write_gives_the_zone_that_plain_kpa_give(text, name):
    plain, other = _laid(), _laid(text, name=name)
    # Nine decimals of mmHg are 1e-10 kPa; a tenth and back differs by rounding alone.
    assert np.allclose(other.mat.pressure, plain.mat.pressure, atol=1e-8)
    assert 0.0 < _share(plain, low=9.05) < 1.0
    assert _share(other, low=9.05) == _share(plain, low=9.05)


def test_where_no_unit_is_stated_it_is_kpa_and_that_is_said():
    said = [note for note in _laid().notes if "taken as kPa" in note]
    assert len(said) == 1 and weight_of(said[0]) is Weight.LOOK and '"g.csv"' in said[0]
    assert not any("taken as kPa" in note for note in _laid("Unit: kPa\n" + TEXT).notes)
    with pytest.raises(InputError, match="names kPa and psi"):
        _laid("pressure kPa, also psi\n" + TEXT)


def test_percent_of_the_peak_holds_for_a_file_of_its_own_too_and_kpa_are_refused_where_it_is_raw():
    raw = _laid("Unit: raw\n" + TEXT)
    by_pct = mat_weights(raw, box_pad(), Ends(None, None, 50.0, None))[1]
    assert by_pct.mean() == _share(_laid(), low=9.0)  # half of the 18 kPa
    with pytest.raises(InputError, match="the mat's numbers are raw"):
        _share(raw, low=9.0)


def test_a_row_that_is_short_is_told_with_its_line():
    with pytest.raises(InputError, match="line 3: 11 cells; the rows beside it have 12"):
        _laid("\n".join(line[:-5] if at == 2 else line for at, line in enumerate(TEXT.splitlines())))


def test_a_cell_that_the_grid_does_not_have_is_told():
    with pytest.raises(InputError, match=r"Place 2 .* cell \[8, 12\], but its rows go from 0 to 7 and its columns"):
        _laid(cells=CELLS + 1.0)
    with pytest.raises(InputError, match=r"Place 2 .* cell \[11, 7\]") as raised:
        _laid(cells=CELLS[:, ::-1])
    assert raised.value.hint == "The row comes first: write cell = [7, 11]."


def test_pressures_that_the_grid_does_not_reach_are_told_with_those_it_has():
    with pytest.raises(InputError, match=r"pressures go from \S+ to \S+ kPa, and the zone asks for from 300") as raised:
        _share(_laid(), low=300.0)
    assert "1 mmHg is 0.133 kPa" in raised.value.hint
    most = float(re.search(r"to (\S+) kPa, and", raised.value.message)[1])
    assert 0.0 < _share(_laid(), low=0.8 * most) < 1.0
    with pytest.raises(InputError, match="the zone asks for up to -5 kPa"):
        _share(_laid(), high=-5.0)


def test_a_grid_beside_the_pad_is_told():
    with pytest.raises(InputError, match="lies beside the pad: on the pad it shows 0, elsewhere up to 18 kPa"):
        _share(_laid(points=_ends() + np.array([900.0, 0.0, 0.0])), low=5.0)
