"""Pads at random whose walls once came out wrong: whole, every wall attached."""

from __future__ import annotations

import pytest
from tests.support.random_pads import random_pad
from tests.support.solids import to_manifold

from study_random_pads import built, looked_at


@pytest.mark.parametrize("seed", [6])  # a row so cut that its foot turns right back
def test_a_random_pad_is_whole_and_its_walls_are_attached(seed: int) -> None:
    layout, solid = built(random_pad(seed))
    assert solid.mesh.is_closed
    assert len(to_manifold(solid.mesh).decompose()) == 1
    assert looked_at(layout, solid).loose_tops.count == 0
