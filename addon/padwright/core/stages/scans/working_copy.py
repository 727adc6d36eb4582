"""A lighter copy of a dense scan for the stages that need no more: each vertex the mean of those of its patch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int, TriMesh, face_middles, sums_at_corners, sums_by
from ...base.rows import bounds_of
from ...base.text import counted
from ...geometry.matching import first_equal, renumber
from ...geometry.nearby import by_neighborhood
from .mend import part_crowded_edges, repeats_to_drop, split_at_parted_edges
from .topology import clusters, edge_table, face_pieces

VERTICES = 40_000
"""Of a copy, about (our choice): 1.8 mm apart on a seat, where the pad's averaging takes 1.9 mm and more together."""

WORTH_IT = 3.0
"""A scan with fewer than so many times the vertices is left as it is: patches of one or two points average nothing."""

_CANDIDATES = 0.7  # edge of the cells whose means are candidates for the middle of a patch, over the least distance
_APART = 0.64  # least distance of two middles, over that in an even net of so many (measured: it gives that many)
_CELLS_ACROSS = 120
_FEWEST = 20  # faces of a piece: fewer are what a fold left over
_CHECKED = 20_000  # points of the scan whose distance to the copy is measured


@dataclass(frozen=True)
class CopyFacts:
    """What a lighter copy of a scan is, and how far it lies off what was scanned; before its scale is corrected."""

    triangles: int
    spacing_mm: float  # distance of its vertices
    # Of the scan's own points to the copy's surface: 95 % lie nearer, noise and all; on average so far outside it.
    within_mm: float
    outside_mm: float

    def note(self, role: str, triangles: int) -> str:
        """Return what a person should know of it; the scan, by its role, has so many triangles."""
        return (
            f"The {role} has {counted(triangles, 'triangle')}; the work goes on with a copy of "
            f"{self.triangles:,}, "
            f"each corner the mean of the scan within some {0.5 * self.spacing_mm:.2g} mm. 95 % of the scan lie within "
            f"{self.within_mm:.2g} mm of it, its noise included, on average {abs(self.outside_mm):.1g} mm "
            f"{'outside' if self.outside_mm >= 0 else 'inside'}."
        )


def working_copy(mesh: TriMesh, vertices: int = VERTICES) -> tuple[TriMesh, CopyFacts] | None:
    """Return a copy of a cleaned scan, mm, with about so many vertices; None where it has hardly more itself.

    Notes
    -----
    The scan's vertices go to the nearest of middles that lie about evenly; a patch is what hangs together of those, its
    place their mean, so that noise is averaged as later stages would. Three patches that meet in a triangle of the scan
    make a triangle of the copy (the dual of a Voronoi diagram on the scan). Patches on an open border take the mean of
    their border alone, so that it does not draw back. A mean over a patch of radius r lies k r^2 / 4 inside a surface
    of curvature k: 0.002 mm at 0.5 mm and a radius of 30 mm.
    """
    count = len(mesh.vertices)
    if count < WORTH_IT * vertices:
        return None
    spacing = float(np.sqrt(_smooth_area(mesh.vertices) / (np.sqrt(0.75) * vertices)))
    calm = _calmed(mesh, 3 if count > 6.0 * vertices else 2)
    patch = _patches(mesh.faces, calm, _middles(calm, _APART * spacing))
    del calm
    faces = patch[mesh.faces]
    is_whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    places, colors = _means(mesh, patch, mesh.is_on_border)
    source, faces = _surface(places, faces.compress(is_whole, axis=0))
    copy = TriMesh(places[source], faces, None if colors is None else colors[source])
    number = np.full(len(places), -1, dtype=np.int32)
    number[source] = np.arange(len(source), dtype=np.int32)
    within, outside = _off(mesh, copy, number[patch])
    return copy, CopyFacts(len(copy.faces), spacing, within, outside)


def _smooth_area(points: Float) -> float:
    """Return about the area of the surface, mm2, that points scatter about: their triangles may have twice as much.

    Of the cells of a net a surface of any tilt meets 1.5 for each that would lie in it, on average.
    """
    low, high = bounds_of(points)
    cell = float(np.linalg.norm(high - low)) / _CELLS_ACROSS
    where = np.floor((points - low) / cell).astype(np.int32)
    return float(len(renumber(first_equal([where[:, 0], where[:, 1], where[:, 2]]))[0]) * cell**2 / 1.5)


def _middles(points: Float, apart: float) -> Float:
    """Return means of the points that lie about evenly, none nearer to another than `apart`, mm."""
    cell = np.floor((points - bounds_of(points)[0]) / (_CANDIDATES * apart)).astype(np.int32)
    _, group = renumber(first_equal([cell[:, 0], cell[:, 1], cell[:, 2]]))
    candidates = sums_by(group, points) / np.bincount(group)[:, None]
    pairs = cKDTree(candidates).query_pairs(apart, output_type="ndarray").astype(np.int32)
    rank = np.random.default_rng(0).permutation(len(candidates))
    is_open, is_taken = np.ones(len(candidates), dtype=bool), np.zeros(len(candidates), dtype=bool)
    while is_open.any():
        # What has the lowest rank of all open ones around it is taken; those around it are done.
        one, other = pairs[:, 0], pairs[:, 1]
        is_lower = rank[one] < rank[other]
        is_first = is_open.copy()
        is_first[np.where(is_lower, other, one)] = False
        is_taken |= is_first
        is_open &= ~is_first
        is_open[other[is_first[one]]] = False
        is_open[one[is_first[other]]] = False
        pairs = pairs[is_open[one] & is_open[other]]
    return np.asarray(candidates[is_taken])


def _calmed(mesh: TriMesh, rounds: int) -> Float:
    """Return the vertices, each averaged so many times with those around: noise as high as patches are wide folds them.

    They tell which vertices make a patch; its place is the mean of what was scanned.
    """
    count = np.maximum(np.bincount(mesh.faces.reshape(-1), minlength=len(mesh.vertices)), 1)
    points = mesh.vertices
    for _ in range(rounds):
        points = sums_at_corners(mesh.faces, face_middles(points, mesh.faces), len(points)) / count[:, None]
    return np.asarray(points)


def _patches(faces: Int, points: Float, middles: Float) -> Int:
    """Return the patch of each point, (n,): those nearest to one middle that hang together."""
    nearest = cKDTree(middles).query(points, workers=-1)[1].astype(np.int32)
    of_face = nearest[faces]
    one, other = [], []
    for start, end in ((0, 1), (1, 2), (2, 0)):
        is_within = of_face[:, start] == of_face[:, end]
        one.append(faces[is_within, start])
        other.append(faces[is_within, end])
    return clusters(len(nearest), np.concatenate(one), np.concatenate(other))[1]


def _means(mesh: TriMesh, patch: Int, is_open: Bool) -> tuple[Float, NDArray[np.uint8] | None]:
    count = int(patch.max()) + 1
    has_open = np.zeros(count, dtype=bool)
    has_open[patch[is_open]] = True
    weight = (is_open | ~has_open[patch]).astype(np.float64)
    total = np.bincount(patch, weight, count)[:, None]
    places = sums_by(patch, weight[:, None] * mesh.vertices, count) / total
    if mesh.colors is None:
        return places, None
    mean = sums_by(patch, weight[:, None] * mesh.colors, count) / total
    return places, np.rint(mean).astype(np.uint8)


def _surface(places: Float, faces: Int) -> tuple[Int, Int]:
    """Return faces without repeats and folds, cut loose where more than two meet at an edge, and their vertices."""
    table = edge_table(faces, len(places))
    dropped, _ = repeats_to_drop(faces, table)
    if len(dropped):
        faces = np.delete(faces, dropped, axis=0)
        table = edge_table(faces, len(places))
    pairs = part_crowded_edges(places, faces, table)
    piece_count, piece = face_pieces(len(faces), pairs)
    faces, source = split_at_parted_edges(faces, pairs, table.crowded)
    faces = faces[np.bincount(piece, minlength=piece_count)[piece] >= _FEWEST]
    is_used = np.zeros(len(source), dtype=bool)
    is_used[faces.reshape(-1)] = True
    used = np.flatnonzero(is_used)
    used = used[by_neighborhood(places[source[used]])]  # all later work on the copy is faster for it
    number = np.zeros(len(source), dtype=np.int32)
    number[used] = np.arange(len(used), dtype=np.int32)
    faces = number[faces]
    return source[used], faces[np.argsort(faces[:, 0], kind="stable")]


def _off(mesh: TriMesh, copy: TriMesh, corner: Int) -> tuple[float, float]:
    """Return how near 95 % of the scan's vertices lie to the copy, and how far outside it they do on average, mm.

    Each is measured to the tangent plane at its own corner of the copy, (n,), -1 for none.
    """
    asked = np.arange(0, len(corner), max(1, len(corner) // _CHECKED))
    asked = asked[corner[asked] >= 0]
    mine = corner[asked]
    signed = np.einsum("ij,ij->i", mesh.vertices[asked] - copy.vertices[mine], copy.vertex_normals[mine])
    return float(np.percentile(np.abs(signed), 95.0)), float(signed.mean())
