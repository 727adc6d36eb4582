"""Tables saved by spreadsheets that part cells by semicolons or tabs and write decimals with a comma."""

from __future__ import annotations

import numpy as np
import pytest

from padwright.core.base.errors import InputError
from padwright.core.stages.zones.pressure_grid import read_grid
from padwright.core.stages.zones.weights_file import read_weights


@pytest.mark.parametrize("sign", [",", ";", "\t", ", ", " ; "])
@pytest.mark.parametrize("point", [".", ","])
def test_a_row_is_read_whatever_parts_its_cells(sign, point):
    if point == "," and sign.strip(" ") == ",":
        return  # nobody can tell these apart
    rows = [["1.5", "2.25", "3.0"], ["4.0", "5.5", "6.125"]]
    text = "\n".join(sign.join(cell.replace(".", point) for cell in row) for row in rows)
    assert np.array_equal(read_grid(text.encode(), "g.csv"), np.array(rows, dtype=float))
    head = sign.join(("x", "y", "z", "weight"))
    line = sign.join(each.replace(".", point) for each in ("1.5", "-2.0", "3.25", "0.75"))
    places, weights = read_weights(f"{head}\n{line}\n".encode(), "w.csv")
    assert places.tolist() == [[1.5, -2.0, 3.25]] and weights.tolist() == [0.75]


def test_a_missing_head_is_told_with_what_stands_there():
    with pytest.raises(InputError, match=r'line 1: expected the head x,y,z,weight; got "1;2;3;0,5"'):
        read_weights(b"1;2;3;0,5\n", "w.csv")
