"""Places that no zone claims, given away by a stated rule."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float, TriMesh
from ...base.notes import on_change
from ...geometry.fields import harmonic


def without_gaps(mesh: TriMesh, shares: Float, rest_column: int | None) -> tuple[Float, str]:
    """Return shares (b, k) in which every vertex belongs somewhere, and a note where something had to be given away.

    Parameters
    ----------
    mesh : TriMesh
        The body side.
    shares : (b, k) float
        What each zone took; a row may sum to less than 1.
    rest_column : int, optional
        The zone that takes what is missing. Without one, it goes to the zones around it: to the one whose harmonic
        field from the claimed vertices is largest there, which is the nearest one for a gap between two.
    """
    missing = 1.0 - shares.sum(axis=1)
    result = shares.copy()
    if rest_column is not None:
        result[:, rest_column] += missing
        return result, ""
    is_gap = missing > 0.5
    if not is_gap.any():
        return result, ""
    if is_gap.all():
        return result, ""
    claimed = np.eye(shares.shape[1])[result.argmax(axis=1)]
    filled = harmonic(mesh, ~is_gap, np.where(is_gap[:, None], 0.0, claimed))
    is_lost = is_gap & (filled.sum(axis=1) <= 0)
    filled[is_lost, 0] = 1.0
    result[is_gap] = np.eye(shares.shape[1])[filled[is_gap].argmax(axis=1)]
    area = float(mesh.vertex_areas[is_gap].sum()) / 100.0
    return result, (
        on_change(
            f"{area:.1f} cm2 of the body side belonged to no zone and went to the zones around it "
            f'(a zone with the source "rest" would take them).'
        )
    )
