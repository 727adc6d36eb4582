"""A point typed with a minus sign lost is told as it should be."""

from __future__ import annotations

import re

import numpy as np
import pytest
from tests.support.packing import block

from padwright.core.base.errors import InputError
from padwright.core.stages.alignment.placed_scans import refuse_far_points


@pytest.mark.parametrize("typed", [[50.0, 45.0, 10.0], [-50.0, -45.0, -10.0], [50.0, 45.0, -10.0]])
def test_a_lost_minus_sign_is_told_with_the_point_to_write(typed):
    mesh = block((40.0, -60.0, 5.0), (60.0, -40.0, 25.0))
    given = np.array([typed])
    with pytest.raises(InputError, match="minus sign looks lost or one too many") as raised:
        refuse_far_points(given, given, mesh, "base scan", mesh.bounds)
    told = [float(each) for each in re.search(r"write \[(.*)\], which", raised.value.hint)[1].split(", ")]
    assert told == [50.0, -45.0, 10.0]
    refuse_far_points(np.array([told]), np.array([told]), mesh, "base scan", mesh.bounds)


def test_a_point_of_another_place_is_not_taken_for_a_slip_of_signs():
    mesh = block((40.0, -60.0, 5.0), (60.0, -40.0, 25.0))
    given = np.array([[500.0, 45.0, 10.0]])
    with pytest.raises(InputError, match="Is it a point of the other scan"):
        refuse_far_points(given, given, mesh, "base scan", mesh.bounds)
