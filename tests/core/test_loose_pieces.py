"""Scans with very many loose pieces: cleaned in seconds, or refused in a word."""

from __future__ import annotations

import time

import numpy as np
import pytest

from padwright.core.base.errors import ScanError
from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.scans.clean import CleanScan, clean_scan
from support.cases import make_case

SEAT = make_case("seat", triangles=30_000, noise_mm=0.1, debris=False, turntable=False).base_mm


def scattered(count: int, corners: int, size_mm: float) -> TriMesh:
    """Return the seat among loose pieces, each of `corners` corners and two triangles fewer, near its surface."""
    rng = np.random.default_rng(0)
    middle = SEAT.vertices[rng.integers(0, len(SEAT.vertices), count)] + rng.normal(scale=3.0, size=(count, 3))
    points = middle[:, None] + rng.normal(scale=size_mm, size=(count, corners, 3))
    fan = np.array([[0, corner, corner + 1] for corner in range(1, corners - 1)])
    faces = (corners * np.arange(count)[:, None, None] + fan).reshape(-1, 3) + len(SEAT.vertices)
    return TriMesh(
        np.concatenate([SEAT.vertices, points.reshape(-1, 3)]), np.concatenate([SEAT.faces, faces]).astype(np.int32)
    )


def cleaned(mesh: TriMesh) -> tuple[CleanScan, float]:
    began = time.process_time()
    clean = drain(clean_scan(mesh))
    return clean, time.process_time() - began


def debris_of(clean: CleanScan) -> list[str]:
    return [note for note in clean.notes if "dropped as debris" in note]


def test_crumbs_by_the_ten_thousand_are_dropped_and_the_part_is_as_without_them():
    alone, _ = cleaned(SEAT)
    clean, seconds = cleaned(scattered(60_000, 3, 0.3))
    assert debris_of(clean)[0].startswith("60000 loose pieces with 60000 triangles")
    assert len(clean.mesh.faces) == len(alone.mesh.faces)
    assert clean.mesh.area == pytest.approx(alone.mesh.area, rel=1e-12)
    assert seconds < 3.5  # 1.5 s; 5 s where each crumb asked for its neighbors. 300,000 take 6 s


def test_more_shreds_than_part_are_refused_before_they_are_searched():
    began = time.process_time()
    with pytest.raises(ScanError, match=r"does not hold together: 40001 pieces, the largest with \d+.\d% of the surf"):
        cleaned(scattered(40_000, 4, 2.5))
    assert time.process_time() - began < 4.0  # 1 s; to search them takes 15 s


def test_slivers_around_a_part_larger_than_it_in_all_leave_the_part():
    clean, _ = cleaned(scattered(30_000, 3, 2.5))
    assert clean.before.area > 2.0 * SEAT.area
    assert len(clean.mesh.faces) == pytest.approx(len(SEAT.faces), rel=0.02)


def test_borders_are_told_as_they_are_one_by_one():
    sheet = scattered(3, 4, 4.0)
    holes = [hole for hole in drain(clean_scan(sheet)).before.holes if hole.edge_count == 4]
    assert len(holes) == 3
    for quad in sheet.vertices[-12:].reshape(3, 4, 3):
        around = np.linalg.norm(quad - np.roll(quad, -1, axis=0), axis=1).sum()
        found = [hole for hole in holes if np.allclose(hole.center, quad.mean(axis=0))]
        assert found[0].perimeter == pytest.approx(around) and found[0].width == pytest.approx(
            np.ptp(quad, axis=0).max()
        )
