"""The dished seat: its scans are what they claim to be."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.cases import moved
from tests.support.dished_seat import make_dished_seat

from padwright.core.geometry.query import NearestSurface


@pytest.fixture(scope="module")
def clean():
    return make_dished_seat(noise_mm=0.0, pose="none", holes=False)


@pytest.mark.parametrize("wave_mm", [(2.0, 30.0), (12.0, 12.0), None])
def test_noise_has_the_asked_strength_and_wave_length(clean, wave_mm):
    noisy = make_dished_seat(3, wave_mm=wave_mm, pose="none", holes=False)
    offset = ((noisy.impression.vertices - clean.impression.vertices) * clean.impression.vertex_normals).sum(axis=1)
    # A patch of 180 x 250 mm holds some 200 waves of 15 mm: the strength is known to 1 / sqrt(2 x 200) = 5 %, 3 of it.
    assert np.sqrt((offset**2).mean()) == pytest.approx(0.6, rel=0.15)
    edge = clean.impression.edges
    alike = float((offset[edge[:, 0]] * offset[edge[:, 1]]).mean() / (offset**2).mean())
    assert alike > 0.4 if wave_mm else abs(alike) < 0.1


def test_scans_lie_on_each_other_by_the_true_pose_and_a_quarter_shows_bare_base():
    case = make_dished_seat(1, noise_mm=0.0)
    distance = NearestSurface(case.base_mm).find(case.impression_aligned.vertices).distance
    area = case.impression_aligned.vertex_areas
    # Facets of 2 mm on the tightest curve, a radius of 3 mm, sag by 2^2 / (8 x 3) = 0.17 mm.
    assert area[distance < 0.2].sum() / area.sum() == pytest.approx(case.truth.overlap_share, abs=0.05)
    assert 0.2 < case.truth.overlap_share < 0.3
    on_body = NearestSurface(case.impression_aligned).find(moved(case.base_pose, case.truth.load_centres))
    assert on_body.distance.max() < 0.1


def test_same_seed_same_scans():
    first, second = make_dished_seat(5), make_dished_seat(5)
    assert np.array_equal(first.base.vertices, second.base.vertices)
    assert not np.array_equal(first.base.vertices, make_dished_seat(6).base.vertices)
