"""Records that own their arrays."""

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.load.load_case import ContactPatch
from padwright.core.stages.material.curves import StressCurve
from padwright.core.stages.pad.relief import PlacedRelief

POINTS = np.array([[0.0, 0.0, 0.0], [9.0, 0.0, 0.0], [0.0, 9.0, 0.0]])


@pytest.mark.parametrize(
    ("make", "name", "given"),
    [
        (lambda points: TriMesh(points, np.array([[0, 1, 2]])), "vertices", POINTS),
        (lambda points: PlacedRelief("opening", points), "points", POINTS),
        (lambda points: ContactPatch(points, np.ones(3), np.ones(3), np.zeros(3), None), "position", POINTS),
        (
            lambda strain: StressCurve(strain, np.array([0.0, 1.0]), densification=0.5, poisson=0.3),
            "strain",
            np.array([0.0, 0.5]),
        ),
    ],
)
def test_a_record_has_arrays_of_its_own_that_no_one_writes_into(make, name, given):
    before, given = given.copy(), given.copy()
    held = getattr(make(given), name)
    given += 1.0
    assert np.array_equal(held, before)
    with pytest.raises(ValueError, match="read-only"):
        held[0] = 7.0
