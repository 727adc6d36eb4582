"""The dished seat: its scans are what they claim to be, and reading them through correlated noise is honest."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.cases import moved
from tests.support.dished_seat import clay_inside, dished_seat_part, make_dished_seat

from padwright.core.base.progress import drain
from padwright.core.geometry.fields import pieces
from padwright.core.geometry.query import NearestSurface
from padwright.core.stages.pad.pad import build_pad
from padwright.core.stages.pad.pad_settings import PadSettings
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.scan_noise import bare_noise


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
    on_body = NearestSurface(case.impression_aligned).find(moved(case.base_pose, case.truth.load_centers))
    assert on_body.distance.max() < 0.1


def test_same_seed_same_scans():
    first, second = make_dished_seat(5), make_dished_seat(5)
    assert np.array_equal(first.base.vertices, second.base.vertices)
    assert not np.array_equal(first.base.vertices, make_dished_seat(6).base.vertices)


@pytest.fixture(scope="module")
def readings():
    made = []
    for seed in range(5):
        case = make_dished_seat(seed, pose="none")
        reading = read_impression(
            case.base_mm, case.impression_aligned, press_direction=(0.0, 0.0, -1.0), compare_sides=False,
            expected_centers=(2, 2),
        )  # fmt: skip
        made.append((case, reading))
    return made


def test_contact_ends_short_of_the_clays_rim(readings):
    for case, reading in readings:
        mesh, part = case.impression_aligned, dished_seat_part()
        x, y = mesh.vertices[:, 0], mesh.vertices[:, 1]
        area = mesh.vertex_areas * reading.is_contact
        at_rim = area[clay_inside(x, y) < 2.0].sum() / area.sum()
        # The wall rises over 7 mm; the patch is told by lengths of 5 mm and noise of 0.6 mm moves its border.
        assert at_rim < 0.04
        assert area[part.is_contact(x, y)].sum() / area.sum() > 0.9


def test_load_centers_are_found_and_lie_within_their_stated_range(readings):
    held, found = 0, 0
    for case, reading in readings:
        for center in reading.load_centers:
            away = np.linalg.norm((case.truth.load_centers - center.position_mm)[:, :2], axis=1).min()
            held += away <= center.plus_minus_mm
            found += 1
            assert center.plus_minus_mm < 20.0
    # Ten are there; 95 % promised: eight or fewer of ten held have a chance of 9 %, seven of 1 %.
    assert found >= 8 and held >= found - 2


def test_the_pad_is_one_body_of_the_true_volume(readings):
    for case, reading in readings[:3]:
        pad = drain(build_pad(case.base_mm, case.impression_aligned, reading, PadSettings()))
        assert pad.mesh.is_closed and pieces(pad.mesh).max() == 0
        true = (case.truth.volume_mm3 - 0.4 * case.truth.footprint_area_mm2) / 1000.0
        # Into the slot, 160 x 13 mm, the pad dips by some 5 mm where the scans end.
        assert true < pad.volume_cm3 < true + 1.3 * 16.0 * 0.5 * 1.5
        assert pad.base_gap_mm[1] == pytest.approx(0.4, abs=0.1)


@pytest.mark.parametrize("wave_mm", [(2.0, 30.0), (12.0, 12.0)])
def test_the_noise_of_bare_base_is_found_with_its_correlation(wave_mm):
    case = make_dished_seat(2, pose="none", wave_mm=wave_mm, holes=False)
    mesh = case.impression_aligned
    found = NearestSurface(case.base_mm).find(mesh.vertices)
    normal = case.base_mm.face_normals[found.face]
    distance = ((mesh.vertices - found.point) * normal).sum(axis=1)
    is_bare = (clay_inside(mesh.vertices[:, 0], mesh.vertices[:, 1]) < -3.0) & (
        (mesh.vertex_normals * normal).sum(axis=1) > 0.7
    )
    noise = bare_noise(mesh, distance, is_bare, 5.0)
    # Two scans of 0.6 mm each; the nose shows some 30 waves of 12 mm, and the shortest cancel within triangles.
    at_one_place = float(noise.propagated(np.ones((1, 1)), np.zeros((1, 2)), 0.5)[0, 0])
    assert np.sqrt(at_one_place) == pytest.approx(0.6 * np.sqrt(2.0), rel=0.35)
    # The mean over a disk of 6 mm across keeps most of 12 mm waves, and next to nothing of white noise.
    disk = np.stack(np.meshgrid(np.linspace(-3, 3, 9), np.linspace(-3, 3, 9)), axis=-1).reshape(-1, 2)
    kept = float(noise.propagated(np.full((1, 81), 1.0 / 81.0), disk, 0.5)[0, 0])
    assert 0.25 < kept / at_one_place < 1.0
