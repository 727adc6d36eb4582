"""The pad against general libraries on the same closed solids: manifold3d's subtraction, trimesh's volume."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from tests.support.slabs import reading_of, sheet

from padwright.core.base.mesh import TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.pad.pad import build_pad
from padwright.core.stages.pad.pad_settings import PadSettings
from padwright.core.stages.pad.pad_surface import BODY

HALF = (40.0, 30.0)


def dished(x, y):
    return 0.004 * (x**2 + y**2)


def with_clay(x, y):
    away = np.maximum(np.abs(x) / 28.0, np.abs(y) / 20.0)
    # Flanks that rise over 20 % of the half width, so that the clay leaves the base at an angle, as rolled clay does.
    rise = np.clip((1.0 - away) / 0.2, 0.0, 1.0)
    return dished(x, y) + 9.0 * rise * (1.0 - 0.35 * np.exp(-(x**2 + y**2) / 150.0))


def closed_below(top: TriMesh, depth: float) -> TriMesh:
    """Return the solid between an open sheet and a flat floor."""
    vertices = top.vertices
    floor = vertices.copy()
    floor[:, 2] = -depth
    count = len(vertices)
    border = top.boundary_edges
    walls = np.concatenate(
        [
            np.stack([border[:, 1], border[:, 0], border[:, 0] + count], axis=1),
            np.stack([border[:, 1], border[:, 0] + count, border[:, 1] + count], axis=1),
        ]
    )
    return TriMesh(np.concatenate([vertices, floor]), np.concatenate([top.faces, top.faces[:, ::-1] + count, walls]))


@pytest.fixture(scope="module")
def scans() -> tuple[TriMesh, TriMesh]:
    return sheet(dished, HALF, 1.0), sheet(with_clay, HALF, 1.0)


def test_volume_is_that_of_the_subtracted_solids(scans):
    solids = []
    for scan in scans:
        closed = closed_below(scan, 5.0)
        assert closed.is_closed
        corners, triangles = closed.vertices.copy(), closed.faces.astype(np.uint64)
        solids.append(manifold3d.Manifold(manifold3d.Mesh64(vert_properties=corners, tri_verts=triangles)))
    subtracted = (solids[1] - solids[0]).volume()
    base, impression = scans
    settings = PadSettings(fit_gap_mm=0.0, least_thickness_mm=0.5, rim_radius_mm=0.0, base_edge_radius_mm=0.0)
    pad = drain(build_pad(base, impression, reading_of(base, impression, (0, 0, -1)), settings))
    # Clay under 0.5 mm lies in a strip 0.3 mm wide around 190 mm of outline: 0.1 % of the volume. The kernel rounds the
    # foot and the shoulder of the flanks alike.
    assert pad.mesh.volume == pytest.approx(subtracted, rel=0.01)


def test_trimesh_finds_the_same_closed_solid(scans):
    base, impression = scans
    pad = drain(build_pad(base, impression, reading_of(base, impression, (0, 0, -1)), PadSettings()))
    theirs = trimesh.Trimesh(pad.mesh.vertices, pad.mesh.faces, process=False)
    assert theirs.is_watertight
    assert theirs.is_winding_consistent
    assert theirs.euler_number == 2
    assert theirs.volume == pytest.approx(pad.mesh.volume, rel=1e-9)
    assert theirs.volume / 1000.0 == pytest.approx(pad.volume_cm3, rel=1e-9)


def test_body_side_lies_on_the_formula(scans):
    base, impression = scans
    pad = drain(build_pad(base, impression, reading_of(base, impression, (0, 0, -1)), PadSettings()))
    vertices = pad.mesh.vertices[pad.side == BODY]
    # Away from the flanks, which begin at 0.8 and whose bend the kernel rounds.
    inner = vertices[np.maximum(np.abs(vertices[:, 0]) / 28.0, np.abs(vertices[:, 1]) / 20.0) < 0.5]
    error = inner[:, 2] - with_clay(inner[:, 0], inner[:, 1])
    # The dent's curvature of 0.04 / mm at a kernel of 1.2 mm leaves 0.5 % of its depth.
    assert np.abs(error).max() < 0.06
