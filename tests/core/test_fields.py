import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.fields import (
    chains,
    harmonic,
    pieces,
    stiffness,
    vertex_gradients,
)
from support.planes import plane


def is_inner(mesh: TriMesh) -> np.ndarray:
    inner = np.ones(len(mesh.vertices), dtype=bool)
    inner[mesh.boundary_edges.ravel()] = False
    return inner


def test_the_laplacian_of_a_linear_field_vanishes():
    mesh = plane()
    field = 2.0 * mesh.vertices[:, 0] - mesh.vertices[:, 1] + 5.0
    assert np.abs((stiffness(mesh) @ field)[is_inner(mesh)]).max() < 1e-10


def test_the_laplacian_is_that_of_libigl_with_no_weight_below_zero():
    import igl

    mesh = plane(15, jitter=0.35)
    weights = igl.cotmatrix(mesh.vertices, mesh.faces.astype(np.int64)).toarray()
    np.fill_diagonal(weights, 0.0)
    assert weights.min() < -1e-3
    wanted = np.diag(np.maximum(weights, 0.0).sum(axis=1)) - np.maximum(weights, 0.0)
    assert np.abs(stiffness(mesh).toarray() - wanted).max() < 1e-12


def test_the_harmonic_field_of_linear_border_values_is_linear():
    mesh = plane(21)
    field = mesh.vertices[:, 0] - 3.0 * mesh.vertices[:, 1]
    assert harmonic(mesh, ~is_inner(mesh), field) == pytest.approx(field, abs=1e-3)


def test_gradients_of_a_linear_field_are_exact():
    mesh = plane(jitter=0.4)
    slope = np.array([1.0, 2.0, -0.5])
    normal = mesh.face_normals[0]  # the plane is level all over
    across = slope - normal * (normal @ slope)
    assert vertex_gradients(mesh, mesh.vertices @ slope) == pytest.approx(np.tile(across, (41**2, 1)), abs=1e-10)


def test_chains_join_links_into_open_and_closed_paths():
    paths = chains(np.array([5, 1, 2, 8, 9]), np.array([6, 2, 3, 9, 8]))
    assert sorted(map(tuple, paths), key=len) == [(5, 6), (1, 2, 3), (8, 9, 8)]


def test_pieces_follow_labels():
    mesh = plane(9)
    label = np.sign(np.round(mesh.vertices[:, 0], 6)).astype(int) * np.sign(mesh.vertices[:, 1] + 0.1).astype(int)
    found = pieces(mesh, label)
    # four quadrants, whose labels agree only across the corner, and the line x = 0 between them
    assert len(np.unique(found)) == 5
    assert len(np.unique(pieces(mesh))) == 1
