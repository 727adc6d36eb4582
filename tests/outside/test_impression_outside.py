"""The reading of an impression against scipy and against open formulas; the source stands beside each check."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator
from scipy.signal import find_peaks, peak_prominences
from scipy.spatial import Delaunay

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.reading.clay_columns import drop_onto
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.reading.load_centers import minima_with_prominence
from support.pressed_slabs import DOWN, plate, pressed


@pytest.mark.parametrize("seed", range(5))
def test_prominence_agrees_with_scipy_signal_on_a_line(seed):
    # scipy.signal.peak_prominences: topographic prominence. The ends are lowest, so that no peak leans on them.
    signal = np.random.default_rng(seed).normal(size=300).cumsum()
    signal[[0, -1]] = signal.min() - 1.0
    peaks, _ = find_peaks(signal)
    expected = dict(zip(peaks.tolist(), peak_prominences(signal, peaks)[0], strict=True))
    edges = np.stack([np.arange(299), np.arange(1, 300)], axis=1)
    index, prominence = minima_with_prominence(-signal, edges, np.ones(300, dtype=bool))
    found = dict(zip(index.tolist(), prominence, strict=True))
    assert found.keys() == expected.keys()
    np.testing.assert_allclose([found[k] for k in expected], list(expected.values()), atol=1e-12)


def test_columns_agree_with_scipy_linear_interpolation():
    # scipy.interpolate.LinearNDInterpolator over the same Delaunay triangles.
    rng = np.random.default_rng(4)
    flat, height = rng.uniform(-50.0, 50.0, (800, 2)), rng.normal(0.0, 2.0, 800)
    triangles = Delaunay(flat)
    corner = flat[triangles.simplices]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    up = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] > 0
    faces = np.where(up[:, None], triangles.simplices, triangles.simplices[:, ::-1])
    asked = np.column_stack([rng.uniform(-60.0, 60.0, (2000, 2)), np.full(2000, 30.0)])
    above, found = drop_onto(TriMesh(np.column_stack([flat, height]), faces), asked, DOWN, 3.0)
    expected = 30.0 - LinearNDInterpolator(triangles, height)(asked[:, :2])
    assert (found == np.isfinite(expected)).all()
    np.testing.assert_allclose(above[found], expected[found], atol=1e-9)


def test_a_ball_pressed_into_clay_leaves_its_circle():
    # A ball of radius R sunk by h meets the plane in a circle of radius sqrt(2 R h - h^2) (spherical cap).
    radius, sunk, thickness, least = 60.0, 8.0, 20.0, 0.6

    def cap(x, y):
        return np.maximum(np.sqrt(np.maximum(radius**2 - x**2 - y**2, 0.0)) - radius + sunk, 0.0)

    reading = read_impression(
        plate(), pressed(cap), press_direction=DOWN, clay_thickness_mm=thickness, contact_depth_mm=least
    )
    circle = [np.pi * (2 * radius * h - h * h) / 100.0 for h in (sunk - least, sunk)]
    # From the circle at the asked depth to the whole one; half a 2 mm step on its radius of 30 mm is 3 %.
    assert 0.97 * circle[0] < reading.contact_area_cm2 < 1.03 * circle[1]
    (center,) = reading.load_centers
    np.testing.assert_allclose(center.position_mm, [0.0, 0.0, thickness - sunk], atol=0.1)
    assert center.depth_mm == pytest.approx(sunk, abs=0.05)
