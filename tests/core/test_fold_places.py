"""Stiffness of folded walls at every cell: of the walls, of what is solid, of what lies beside both."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from padwright.core.stages.load.fold_places import kpa_everywhere


def test_solid_is_endlessly_stiff_and_what_lies_beside_takes_the_nearest():
    kpa = np.zeros((5, 7))
    kpa[2, 1:4] = [10.0, 20.0, 40.0]
    is_solid = np.zeros((5, 7), dtype=bool)
    is_solid[2, 4] = True
    found = kpa_everywhere(SimpleNamespace(is_solid=is_solid), kpa)
    assert found[2].tolist() == [10.0, 10.0, 20.0, 40.0, np.inf, np.inf, np.inf]
    assert found[0, 0] == 10.0
    assert found[4, 2] == 20.0
    assert not np.isnan(found).any()


def test_without_any_walls_all_is_solid():
    found = kpa_everywhere(SimpleNamespace(is_solid=np.zeros((2, 2), dtype=bool)), np.zeros((2, 2)))
    assert np.isinf(found).all()
