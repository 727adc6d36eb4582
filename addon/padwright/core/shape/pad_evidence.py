"""How well the pad fits: what the numbers of its evidence are and how they are found."""

from __future__ import annotations

from typing import TypedDict

import numpy as np
from numpy.typing import NDArray

from ..geometry.implicit import Field, Grid, smoothed_values
from ..mesh import Bool, Float, TriMesh
from .pad_surface import BODY


class FitEvidence(TypedDict):
    """The pad's numbers of that name, see `pad.Pad`."""

    base_noise_mm: float
    base_noise_left_mm: float
    body_change_mm: float


def is_plain_body(mesh: TriMesh, side: NDArray[np.int8], is_press: bool) -> Bool:
    """Return where the body side can be measured: not on the pad's flanks, where a vertical line only grazes it."""
    is_body = side == BODY
    return np.asarray(is_body & (mesh.vertex_normals[:, 2] > 0.5) if is_press else is_body)


def least_thickness(thickness: Float, is_measured: Bool) -> float:
    """Return the least of the thicknesses (n,) where they are measured (n,), mm; not a number where none is."""
    return float(thickness[is_measured].min()) if is_measured.any() else float("nan")


def fit_evidence(
    base: TriMesh,
    impression: TriMesh | None,
    base_field: Field,
    body_field: Field,
    grid: Grid,
    width: float,
    inside: Field,
) -> FitEvidence:
    """Return how the scans scatter about the pad, and how far the pad's body side moved from its scan.

    Parameters
    ----------
    base, impression : TriMesh
        In the grid's frame.
    base_field, body_field, inside : (nx, ny, nz) float32, mm
        Distances to both surfaces, and inside the outline.
    width : float, mm
        The averaging kernel's.
    """
    # 1.4826 times the median absolute deviation estimates the standard deviation of normal noise.
    base_value, is_used = _residuals(base, base_field, grid, width, inside)
    noise = 1.4826 * float(np.median(np.abs(base_value[is_used]))) if is_used.any() else 0.0
    area = float(np.median(base.vertex_areas[is_used])) if is_used.any() else 0.0
    # Averaging n = 4 pi width^2 / (area a vertex) independent values leaves 1/sqrt(n) (variance of a Gaussian mean);
    # the noise of the normals adds to it: 1.3 times that is what a noisy plane shows (measured over six seeds).
    left = 1.3 * noise * float(np.sqrt(area / (4.0 * np.pi * width**2)))
    change = 0.0
    if impression is not None:
        body_value, is_used = _residuals(impression, body_field, grid, width, inside)
        # Eight rounds of averaging take out the scan's noise and leave what the body side really changed.
        mean = smoothed_values(impression, body_value, rounds=8)[is_used]
        change = float(np.percentile(np.abs(mean), 95.0)) if len(mean) else 0.0
    return {"base_noise_mm": noise, "base_noise_left_mm": left, "body_change_mm": change}


def _residuals(mesh: TriMesh, distance: Field, grid: Grid, width: float, inside: Field) -> tuple[Float, Bool]:
    value = grid.sample(distance, mesh.vertices)
    is_used = (grid.sample(inside, mesh.vertices) > 3.0 * width) & (np.abs(value) < 3.0 * width)
    return np.where(is_used, value, 0.0), is_used
