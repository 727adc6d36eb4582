"""A triangle mesh that never changes, with the measures every stage asks of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .cached import cached_property
from .errors import InputError
from .frozen import hold
from .rows import bounds_of, lengths

Float = NDArray[np.float64]
Int = NDArray[np.int32]
Bool = NDArray[np.bool_]

_AT_A_TIME = 1 << 18  # faces


def directed_edges(faces: NDArray[Any]) -> NDArray[Any]:
    """Return the edges of faces (m, 3) in their direction, (3m, 2): first all (0, 1), then (1, 2), then (2, 0)."""
    return np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])


def all_paired(faces: NDArray[Any], count: int) -> bool:
    """Return whether every edge of faces, (m, 3), between so many vertices lies on two faces turned alike."""
    if len(faces) % 2:
        return False
    starts, ends = faces.reshape(-1).astype(np.int64), faces[:, [1, 2, 0]].reshape(-1).astype(np.int64)
    # An edge is a number whose last bit is the way it runs: in order, both ways stand side by side and nothing else.
    key = np.where(starts < ends, 2 * (starts * count + ends), 2 * (ends * count + starts) + 1)
    key.sort()
    one, other = key[0::2], key[1::2]
    return bool((one % 2 == 0).all() and (other == one + 1).all() and (np.diff(one) > 0).all())


def sums_by(group: NDArray[Any], values: NDArray[Any], count: int = 0) -> Float:
    """Return the sums of rows of values, (n, k), by the group that each is in, (n,): (groups, k), `count` at least."""
    count = max(count, int(group.max()) + 1) if len(group) else count
    return _scattered(group, values, count, 1)


def area_vectors(points: Float, faces: Int) -> Float:
    """Return the area vector of every face, (m, 3), in the square of the points' unit; a part at a time, for memory."""
    vectors = np.zeros((len(faces), 3))
    for begin in range(0, len(faces), _AT_A_TIME):
        part = faces[begin : begin + _AT_A_TIME]
        corner, one, two = (points.take(part[:, index], axis=0) for index in range(3))
        one -= corner
        two -= corner
        out = vectors[begin : begin + _AT_A_TIME]
        out[:, 0] = one[:, 1] * two[:, 2] - one[:, 2] * two[:, 1]
        out[:, 1] = one[:, 2] * two[:, 0] - one[:, 0] * two[:, 2]
        out[:, 2] = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    vectors *= 0.5
    return vectors


def face_middles(points: Float, faces: Int) -> Float:
    """Return the middle of every face, (m, 3), in the points' unit."""
    one, two, three = (points.take(faces[:, index], axis=0) for index in range(3))
    return (one + two + three) / 3.0


def sums_at_corners(faces: Int, values: Float, count: int) -> Float:
    """Return for each of so many vertices the sum of values, (m, k), over the faces, (m, 3), around it: (count, k)."""
    return _scattered(faces.reshape(-1), values, count, 3)


def _scattered(rows: NDArray[Any], values: NDArray[Any], count: int, each: int) -> Float:
    """Return the sums, (count, k), of values, (m, k), each of which goes to `each` of the rows, in their order.

    As `np.bincount` column by column adds them, to the last bit; as the product with a sparse matrix all columns go at
    once, without a copy of the values for each corner.
    """
    from scipy.sparse import csc_matrix  # here, so that one who misses scipy is told so by whoever needs it

    starts = np.arange(0, len(rows) + 1, each, dtype=np.int64 if len(rows) > np.iinfo(np.int32).max else np.int32)
    matrix = csc_matrix((np.ones(len(rows)), rows, starts), shape=(count, len(values)))
    return np.asarray(matrix @ values)


def cross(first: Float, second: Float) -> Float:
    """Return the cross products of vectors, (n, 3) each: numpy's own takes twice the time for them."""
    ax, ay, az = first.T
    bx, by, bz = second.T
    result = np.zeros_like(first)
    result[:, 0] = ay * bz - az * by
    result[:, 1] = az * bx - ax * bz
    result[:, 2] = ax * by - ay * bx
    return result


@dataclass(frozen=True, eq=False)
class TriMesh:
    """Triangles with their corners; frozen, the arrays are read-only.

    Raises InputError when a shape is wrong or a face points past the vertices.
    """

    vertices: Float  # (n, 3), mm
    faces: Int  # (m, 3); corner indices, counter-clockwise seen from outside
    colors: NDArray[np.uint8] | None = None  # (n, 4); vertex colors (red, green, blue, alpha), where the file had them

    def __post_init__(self) -> None:
        vertices = np.array(self.vertices, dtype=np.float64, order="C")
        faces = np.array(self.faces, dtype=np.int32, order="C")
        if vertices.ndim != 2 or vertices.shape[1] != 3:
            raise InputError(f"vertices must be an array with shape (-1, 3); got {vertices.shape}.")
        if faces.size == 0:
            faces = faces.reshape(0, 3)
        if faces.ndim != 2 or faces.shape[1] != 3:
            raise InputError(f"faces must be an array with shape (-1, 3); got {faces.shape}.")
        if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
            raise InputError(
                f"A face points to vertex {max(int(faces.max()), -int(faces.min()))}, but there are {len(vertices)}."
            )
        hold(self, vertices=vertices, faces=faces)
        if self.colors is not None:
            colors = np.array(self.colors, dtype=np.uint8, order="C")
            if colors.shape != (len(vertices), 4):
                raise InputError(f"colors must have shape ({len(vertices)}, 4); got {colors.shape}.")
            hold(self, colors=colors)

    @cached_property
    def triangles(self) -> Float:
        """Corner positions of every face, (m, 3, 3), mm."""
        return self.vertices.take(self.faces, axis=0)  # a third of the time of [...], here and below

    @cached_property
    def face_middles(self) -> Float:
        """Middle of every face, (m, 3), mm."""
        return face_middles(self.vertices, self.faces)

    @cached_property
    def _cross(self) -> Float:
        return 2.0 * area_vectors(self.vertices, self.faces)

    @cached_property
    def face_areas(self) -> Float:
        """Area of every face, (m,), mm2."""
        return 0.5 * lengths(self._cross)

    @cached_property
    def face_normals(self) -> Float:
        """Unit normal of every face, (m, 3); zero where a face has no area."""
        length = lengths(self._cross)[:, None]
        return np.divide(self._cross, length, out=np.zeros_like(self._cross), where=length > 0)

    @cached_property
    def vertex_areas(self) -> Float:
        """A third of the area of the faces around every vertex, (n,), mm2."""
        return sums_at_corners(self.faces, self.face_areas[:, None] / 3.0, len(self.vertices))[:, 0]

    @cached_property
    def vertex_normals(self) -> Float:
        """Area-weighted unit normal of every vertex, (n, 3); zero where a vertex has no face."""
        total = sums_at_corners(self.faces, self._cross, len(self.vertices))
        length = lengths(total)[:, None]
        return np.divide(total, length, out=np.zeros_like(total), where=length > 0)

    @cached_property
    def edges(self) -> Int:
        """As `directed_edges`, (3m, 2)."""
        return directed_edges(self.faces)

    @cached_property
    def links(self) -> Int:
        """Every edge, whichever way it runs, (e, 2): once where its two faces are turned alike."""
        border = self.boundary_edges
        once = np.flatnonzero(self.edges[:, 0] < self.edges[:, 1])
        return np.concatenate([self.edges.take(once, axis=0), border[border[:, 0] > border[:, 1]]])

    @cached_property
    def edge_lengths(self) -> Float:
        """Length of every directed edge, (3m,), mm."""
        edge = self.edges
        return lengths(self.vertices[edge[:, 0]] - self.vertices[edge[:, 1]])

    @cached_property
    def bounds(self) -> Float:
        """Least and greatest corner, (2, 3), mm."""
        return bounds_of(self.vertices)

    @cached_property
    def area(self) -> float:
        """Surface, mm2."""
        return float(self.face_areas.sum())

    @cached_property
    def volume(self) -> float:
        """Signed enclosed volume, mm3; it means something only for a closed mesh.

        Sum over the faces of v0 . n / 6, n twice the area vector, about the middle of the bounds (divergence theorem).
        """
        if len(self.faces) == 0:
            return 0.0
        corner = self.vertices.take(self.faces[:, 0], axis=0) - self.bounds.mean(axis=0)
        return float(np.einsum("ij,ij->", corner, self._cross) / 6.0)

    @cached_property
    def boundary_edges(self) -> Int:
        """Directed edges that have no opposite, (k, 2): the open borders."""
        # Around a vertex within the surface each neighbor comes once behind and once before, so random numbers of
        # theirs cancel, exactly in sums below 2^53. Only edges between two vertices where they do not can be open.
        count = len(self.vertices)
        number = np.random.default_rng(0).integers(1, 1 << 40, count).astype(np.float64)
        total = np.zeros(count)
        for at, after, before in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
            beside = number[self.faces[:, after]] - number[self.faces[:, before]]
            total += np.bincount(self.faces[:, at], beside, count)
        is_uneven = total != 0.0
        if not is_uneven.any():
            return np.zeros((0, 2), dtype=np.int32)
        # Faces with two such corners, in the order of all directed edges.
        chosen = np.concatenate(
            [
                np.flatnonzero(is_uneven[self.faces[:, one]] & is_uneven[self.faces[:, two]]) + at * len(self.faces)
                for at, (one, two) in enumerate(((0, 1), (1, 2), (2, 0)))
            ]
        )
        face, corner = chosen % len(self.faces), chosen // len(self.faces)
        edge = np.stack([self.faces[face, corner], self.faces[face, (corner + 1) % 3]], axis=1)
        wide = edge.astype(np.int64)
        forward, backward = wide[:, 0] * count + wide[:, 1], wide[:, 1] * count + wide[:, 0]
        return edge[~np.isin(forward, backward)]

    @cached_property
    def is_on_border(self) -> Bool:
        """Vertices on open borders, (n,)."""
        result = np.zeros(len(self.vertices), dtype=bool)
        result[self.boundary_edges.ravel()] = True
        return result

    @cached_property
    def finite(self) -> TriMesh:
        """The mesh without the faces that have a corner which is no finite place; itself where there is none."""
        is_finite = np.isfinite(self.vertices).all(axis=1)
        return self if is_finite.all() else self.submesh(is_finite[self.faces].all(axis=1))

    @cached_property
    def is_closed(self) -> bool:
        """True when every edge lies on two faces turned alike and the volume is positive."""
        if len(self.faces) < 4:
            return False
        return all_paired(self.faces, len(self.vertices)) and self.volume > 0.0

    def transformed(self, matrix: Float) -> TriMesh:
        """Return the mesh moved by a 4x4 matrix; faces are turned over when the matrix mirrors."""
        matrix = np.asarray(matrix, dtype=np.float64)
        moved = self.vertices @ matrix[:3, :3].T + matrix[:3, 3]
        mirrors = np.linalg.det(matrix[:3, :3]) < 0
        return replace(self, vertices=moved, faces=self.faces[:, ::-1] if mirrors else self.faces)

    def scaled(self, factor: float) -> TriMesh:
        """Return the mesh with every coordinate multiplied by a positive factor."""
        return replace(self, vertices=self.vertices * factor)

    def flipped(self) -> TriMesh:
        """Return the mesh with every face turned over."""
        return replace(self, faces=self.faces[:, ::-1])

    def submesh(self, is_kept: Bool) -> TriMesh:
        """Return the faces where `is_kept` (m,) holds, without the vertices nobody uses."""
        faces = self.faces[is_kept]
        used = np.zeros(len(self.vertices), dtype=bool)
        used[faces.ravel()] = True
        renumber = np.cumsum(used, dtype=np.int32) - 1
        colors = None if self.colors is None else self.colors[used]
        return TriMesh(self.vertices[used], renumber[faces], colors)


def joined(meshes: Sequence[TriMesh]) -> TriMesh:
    """Return meshes as one, side by side: nothing is merged, and vertex colors are left out."""
    starts = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)], dtype=np.int32)
    faces = [mesh.faces + start for mesh, start in zip(meshes, starts, strict=False)]
    return TriMesh(np.concatenate([mesh.vertices for mesh in meshes]), np.concatenate(faces))
