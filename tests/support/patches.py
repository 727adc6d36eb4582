"""Contact patches on real triangle meshes, uneven on purpose, for checks against closed forms."""

from __future__ import annotations

import numpy as np
from scipy.spatial import Delaunay

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.load.load_case import ContactPatch, patch_of
from padwright.core.stages.material.curves import StressCurve

DOWN = np.array([0.0, 0.0, -1.0])


def sheet(width, depth, step, *, seed=0):
    """Return a flat rectangle about the origin of uneven triangles about `step` wide."""
    rng = np.random.default_rng(seed)
    nx, ny = (max(round(size / step), 2) + 1 for size in (width, depth))
    x, y = np.meshgrid(np.linspace(-width / 2, width / 2, nx), np.linspace(-depth / 2, depth / 2, ny), indexing="ij")
    inner = np.zeros((nx, ny), dtype=bool)
    inner[1:-1, 1:-1] = True
    for axis in (x, y):
        axis[inner] += rng.uniform(-0.25, 0.25, int(inner.sum())) * step
    return planar(np.stack([x.ravel(), y.ravel()], axis=1))


def disc(radius, step):
    """Return a flat disc about the origin, rings about `step` apart."""
    rings = max(round(radius / step), 2)
    points = [np.zeros((1, 2))]
    for ring in range(1, rings + 1):
        angle = 2 * np.pi * (np.arange(6 * ring) + 0.5 * (ring % 2)) / (6 * ring)
        points.append(radius * ring / rings * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return planar(np.concatenate(points))


def planar(points):
    faces = Delaunay(points).simplices.astype(np.int32)
    corner = points[faces]
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    turned = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] < 0
    faces[turned] = faces[turned][:, ::-1]
    return TriMesh(np.column_stack([points, np.zeros(len(points))]), faces)


def patch(mesh, *, gap=None, thickness=20.0, zone=0, press=DOWN):
    """Return the whole mesh as a contact patch; gap, thickness and zone are functions of x and y or numbers."""
    x, y = mesh.vertices[:, 0], mesh.vertices[:, 1]

    def values(given):
        return np.broadcast_to(given(x, y) if callable(given) else given, x.shape)

    made, index = patch_of(mesh, np.ones(len(x), dtype=bool), values(thickness), values(zone), press)
    assert (index == np.arange(len(x))).all()
    gaps = np.zeros(len(x)) if gap is None else values(gap)
    return ContactPatch(
        made.position, made.area_mm2, made.thickness_mm, made.zone, made.press_direction, gaps, made.faces
    )


def linear(modulus_kpa, densification=0.9, poisson=0.0):
    return StressCurve(np.array([0.0, 0.98]), np.array([0.0, 0.98 * modulus_kpa]), densification, poisson)


def avalle(factor=1.0, knots=500):
    """Return Avalle's form (2007, Int. J. Impact Eng. 34:3) with A 10 kPa, m 12, B 6 kPa, n 1.6."""
    strain = np.linspace(0.0, 0.9, knots)
    stress = 10.0 * -np.expm1(-12.0 * strain) + 6.0 * (strain / (1.0 - strain)) ** 1.6
    return StressCurve(strain, factor * stress, 0.8, 0.0)
