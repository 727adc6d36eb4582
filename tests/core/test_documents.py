"""Settings, 3MF, STL and evidence of a run agree, whatever the job."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.documents import check_documents
from tests.support.flat_pads import flat_job

from padwright.core.estimate import Estimate
from padwright.core.pipeline import run_job
from padwright.core.progress import drain


@pytest.mark.parametrize("seed", range(12))
def test_a_flat_pad_from_an_own_envelope_is_written_wherever_it_lies(tmp_path, seed):
    """Its faces move as a whole when coordinates are rounded, so volumes before and after differ by more than noise."""
    rng = np.random.default_rng(seed)
    size = (rng.uniform(40, 150), rng.uniform(40, 110), rng.uniform(5, 20))
    result = drain(run_job(flat_job(tmp_path, size, tuple(rng.uniform(-300, 300, 3))), tmp_path))
    check_documents(result.files, result.evidence)


def test_bounds_hold_their_value_to_the_last_digit():
    exact = 0.1 + 0.2
    assert Estimate(exact, 0.1, 0.3, "model").high == exact
    assert Estimate(1.0, 1.0 + 2**-52, 2.0, "model").low == 1.0
