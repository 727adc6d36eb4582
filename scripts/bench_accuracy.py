"""How far what the benchmark made is from the truth of its formulas: printed beside the seconds of its rows."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from bench_job import GAP_MM
from padwright.core.base.mesh import Float, TriMesh
from padwright.core.geometry.crossings import crossings


def pose_error(case: Any, matrix: Float) -> tuple[float, float]:
    """Return how far a motion, impression to base, lays the clay's surface from the truth: mm (RMS), and degrees."""
    error = matrix @ np.linalg.inv(case.impression_to_base)
    points = case.points_in_base
    off = np.linalg.norm(points @ error[:3, :3].T + error[:3, 3] - points, axis=1)
    turn = np.degrees(np.arccos(np.clip((np.trace(error[:3, :3]) - 1.0) / 2.0, -1.0, 1.0)))
    return float(np.sqrt((off**2).mean())), float(turn)


def volume_error(case: Any, volume_cm3: float) -> float:
    """Return by what share a pad's volume differs from the true clay's less the gap; it lacks the rounded rim."""
    true_cm3 = (case.truth.volume_mm3 - GAP_MM * case.truth.footprint_area_mm2) / 1000.0
    return volume_cm3 / true_cm3 - 1.0


def thickness_errors(case: Any, mesh: TriMesh) -> Float:
    """Return how far the thickness of a pad, closed bodies in the base scan's frame, mm, is off, (n,), mm.

    Along the press direction where the clay's own is known, well within its edge; the gap lies across the base, so on
    slopes it takes a little more (0.03 mm at 20 degrees).
    """
    met = crossings(mesh, case.points_in_base, case.press_direction_in_base)
    sign = np.where(met.is_out, 1.0, -1.0)
    thickness = np.bincount(met.line, met.along * sign, len(case.points_in_base))
    return np.asarray(thickness - (case.truth.thickness - GAP_MM))


def pose_words(case: Any, matrix: Float) -> str:
    """Return how far a motion is from the truth."""
    off, turn = pose_error(case, matrix)
    return f"error over the clay {off:.3f} mm RMS, {turn:.3f} deg"


def pad_words(case: Any, volume_cm3: float, mesh: TriMesh) -> str:
    """Return how a pad, closed bodies in the base scan's frame, mm, compares with the true clay less the gap."""
    off = thickness_errors(case, mesh)
    return (
        f"volume {volume_error(case, volume_cm3):+.2%} of the true clay's less the gap (the rim is rounded), "
        f"thickness off by {np.sqrt((off**2).mean()):.3f} mm RMS, {off.mean():+.3f} mm in the mean"
    )


def job_words(case: Any, evidence: Mapping[str, Any], packed: Path) -> str:
    """Return how far a whole run's pose and pad, as written into its 3MF, are from the truth."""
    matrix = np.array(evidence["alignment"]["impression_to_base"])
    return f"{pose_words(case, matrix)}; {pad_words(case, evidence['pad']['volume_cm3'], _bodies(packed))}"


def _bodies(packed: Path) -> TriMesh:
    """Return all bodies of a 3MF as one list of triangles, in the part's own frame, as lib3mf reads them."""
    import lib3mf

    model = lib3mf.get_wrapper().CreateModel()
    model.QueryReader("3mf").ReadFromFile(str(packed))
    found = model.GetMeshObjects()
    vertices, faces, count = [], [], 0
    while found.MoveNext():
        body = found.GetCurrentMeshObject()
        vertices.append(np.array([list(each.Coordinates) for each in body.GetVertices()]))
        faces.append(np.array([list(each.Indices) for each in body.GetTriangleIndices()]) + count)
        count += len(vertices[-1])
    return TriMesh(np.concatenate(vertices), np.concatenate(faces).astype(np.int32))
