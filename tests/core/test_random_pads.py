"""Pads at random whose walls once came out wrong: whole, every wall attached, nothing that would print badly."""

from __future__ import annotations

import pytest
from tests.support.random_pads import random_pad
from tests.support.solids import to_manifold

from study_random_pads import built, looked_at

pytestmark = pytest.mark.slow

ONCE_WRONG = {
    2: "a slit beside the ring, where the roof stepped in the air instead of over a wall",
    5: "no wall at all for half the length of a row that comes close to an opening's ring on its way",
    6: "a row so cut that its foot turns right back; a roof without end where rings end before what is solid",
}


@pytest.mark.parametrize("seed", ONCE_WRONG, ids=[f"seed {seed}" for seed in ONCE_WRONG])
def test_a_random_pad_is_whole_and_prints(seed: int) -> None:
    layout, solid = built(random_pad(seed))
    assert solid.mesh.is_closed
    assert len(to_manifold(solid.mesh).decompose()) == 1
    report = looked_at(layout, solid)
    assert report.loose_tops.count == 0
    assert report.errors == ()
