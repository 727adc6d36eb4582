"""A mesh counts as closed exactly when each edge lies on two faces turned alike; its links are its edges, each once."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from padwright.core.base.mesh import TriMesh, all_paired
from support.scanned import sphere


def _by_counting(faces: np.ndarray) -> bool:
    """Say the same edge by edge."""
    ways = Counter((int(face[k]), int(face[(k + 1) % 3])) for face in faces for k in range(3))
    return all(a != b and times == 1 and ways[(b, a)] == 1 for (a, b), times in ways.items())


def test_edges_are_paired_as_counting_them_says() -> None:
    whole = sphere(rows=6, columns=8)
    faces, count = whole.faces, len(whole.vertices)
    assert all_paired(faces, count)
    turned = faces.copy()
    turned[3] = turned[3, ::-1]
    two_on_one_edge = np.concatenate([faces, np.where(np.isin(faces, faces[0, :2]), faces, faces + count)])
    cases = [faces[1:], faces[2:], turned, np.concatenate([faces, faces[:2]]), np.concatenate([faces, faces])]
    cases += [two_on_one_edge, np.concatenate([faces, [[0, 0, 0], [1, 1, 1]]])]
    for number, case in enumerate(cases):
        assert not _by_counting(case), number
        assert not all_paired(case, 2 * count), number


def test_random_faces_are_told_as_counting_tells_them() -> None:
    rng = np.random.default_rng(0)
    told = []
    for _ in range(3000):
        faces = rng.permuted(np.tile(np.arange(4), (4, 1)), axis=1)[:, :3]
        told.append(all_paired(faces, 4))
        assert told[-1] == _by_counting(faces)
    assert 0 < sum(told) < len(told)  # some of them are tetrahedra


@pytest.mark.parametrize("what", ["closed", "open", "turned"])
def test_links_are_the_edges_each_once(what: str) -> None:
    whole = sphere(rows=6, columns=8)
    faces = whole.faces.copy()
    if what == "open":
        faces = faces[5:]
    if what == "turned":  # both faces run the same way along its three edges
        faces[3] = faces[3, ::-1]
    mesh = TriMesh(whole.vertices, faces)
    assert len(np.unique(np.sort(mesh.links, axis=1), axis=0)) == len(np.unique(np.sort(mesh.edges, axis=1), axis=0))
    is_whole = all_paired(faces, len(whole.vertices))
    assert len(mesh.links) * 2 == len(mesh.edges) if is_whole else len(mesh.links) * 2 > len(mesh.edges)
    assert set(map(tuple, np.sort(mesh.links, axis=1))) == set(map(tuple, np.sort(mesh.edges, axis=1)))


def test_middles_of_faces_are_the_means_of_their_corners() -> None:
    ball = sphere(rows=6, columns=8)
    np.testing.assert_allclose(ball.face_middles, ball.triangles.mean(axis=1), atol=1e-12)
