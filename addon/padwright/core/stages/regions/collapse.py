"""Triangles that lost their area to rounding, taken out without opening the solid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from ...base.mesh import Int

Long = NDArray[np.int64]
_ROUNDS = 50


def without_degenerate(counts: Long, faces: Int) -> Int:
    """Return the faces, (k, 3) int32, without those that have no area; the surface stays closed and keeps its shape.

    Edges of no length are collapsed, two triangles left back to back are dropped, and a triangle whose middle corner
    lies on its longest edge hands that corner to its neighbor (an edge flip); where that cannot be, a corner of it with
    no more than three faces around is taken out. All depend on the whole-number coordinates and on which faces meet
    alone, so two solids that share a face change it alike. What cannot be mended stays and is for the
    check to name.

    Parameters
    ----------
    counts : (n, 3) int64
        Coordinates as whole numbers, under 1e9 in size.
    faces : (m, 3) int
    """
    result = faces.astype(np.int64)
    for _ in range(_ROUNDS):
        flat = np.flatnonzero(is_flat(counts, result))
        if not len(flat):
            break
        before = result
        result = _without_opposites(_welded(counts, result), len(counts))
        if len(result) == len(before):
            result = _flipped(counts, result, flat)
            if np.array_equal(result, before):
                result = _without_spikes(result, flat)
            if len(result) == len(before) and np.array_equal(result, before):
                break
    return result.astype(np.int32)


def is_flat(counts: Long, faces: Long) -> NDArray[np.bool_]:
    """Say which faces have no area, (m,); exact, in whole numbers."""
    x, y, z = (np.ascontiguousarray(counts[:, axis]) for axis in range(3))
    a, b, c = faces.T
    first_x, first_y, first_z = x[a], y[a], z[a]
    one_x, two_x, one_y, two_y = x[b] - first_x, x[c] - first_x, y[b] - first_y, y[c] - first_y
    flat = one_x * two_y == one_y * two_x
    if flat.any():  # few faces stand upright, so the third axis is seldom needed
        some = np.flatnonzero(flat)
        one_z, two_z = z[b[some]] - first_z[some], z[c[some]] - first_z[some]
        flat[some] = (one_y[some] * two_z == one_z * two_y[some]) & (one_z * two_x[some] == one_x[some] * two_z)
    return flat


def _welded(counts: Long, faces: Long) -> Long:
    """Collapse edges of no length. Only ends of an edge are joined: two sheets that just touch stay apart."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges = edges[(counts[edges[:, 0]] == counts[edges[:, 1]]).all(axis=1)]
    if not len(edges):
        return faces
    size = len(counts)
    links = coo_array((np.ones(len(edges), dtype=np.int8), (edges[:, 0], edges[:, 1])), shape=(size, size))
    number, label = connected_components(links, directed=False)
    keeper = np.full(number, size, dtype=np.int64)
    np.minimum.at(keeper, label, np.arange(size))
    faces = keeper[label][faces]
    a, b, c = faces.T
    return faces[(a != b) & (b != c) & (c != a)]


def _without_opposites(faces: Long, size: int) -> Long:
    """Drop pairs of faces with the same corners turned against each other: together they enclose nothing."""
    corner = np.sort(faces, axis=1)
    _, group = np.unique(corner[:, 0] * size + corner[:, 1], return_inverse=True)
    group = group.reshape(-1) * np.int64(size) + corner[:, 2]
    order = np.argsort(group, kind="stable")
    is_double = group[order[1:]] == group[order[:-1]]
    if not is_double.any():
        return faces
    a, b, c = faces.T
    turn = np.where((a < b).astype(int) + (b < c) + (c < a) == 2, 1, -1)
    kept = np.ones(len(faces), dtype=bool)
    for start in np.flatnonzero(is_double):
        one, two = order[start], order[start + 1]
        if kept[one] and kept[two] and turn[one] != turn[two]:
            kept[one] = kept[two] = False
    return faces[kept]


def _without_spikes(faces: Long, flat: Long) -> Long:
    """Take out the corners of flat faces that have three faces around: one face over their other corners is left.

    There the surface folds back on itself, and the edge that a flip would make is there already.
    """
    gone = np.zeros(len(faces), dtype=bool)
    made: list[tuple[int, int, int]] = []
    for index in flat:
        for corner in np.sort(faces[index]):
            around = np.flatnonzero((faces == corner).any(axis=1))
            others = np.unique(faces[around])
            if len(around) != 3 or len(others) != 4 or gone[around].any():
                continue
            first = faces[around[0]]
            after = np.roll(first, -int(np.argmax(first == corner)))  # the corner first, its two neighbors in turn
            (last,) = set(others.tolist()) - set(after.tolist())
            new = (int(after[1]), int(after[2]), int(last))
            if (np.sort(faces, axis=1) == np.sort(new)).all(axis=1).any():
                continue  # a tetrahedron: nothing would be left of it
            gone[around] = True
            made.append(new)
            break
    return np.concatenate([faces[~gone], np.array(made, dtype=np.int64).reshape(-1, 3)])


def _flipped(counts: Long, faces: Long, flat: Long) -> Long:
    """Flip the longest edge of each flat face to its middle corner; one round, no face touched twice."""
    size = np.int64(len(counts))
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    key = edges[:, 0] * size + edges[:, 1]
    order = np.argsort(key)
    sorted_key = key[order]

    def face_of(start: int, end: int) -> int:
        """Index of the face that has the edge, or -1."""
        wanted = start * size + end
        at = int(np.searchsorted(sorted_key, wanted))
        return int(order[at]) % len(faces) if at < len(key) and sorted_key[at] == wanted else -1

    # A fixed order by place, so that the same patch in another solid is worked through alike.
    place = np.sort(counts[faces[flat]] @ np.array([1, 3_000_017, 9_000_101]), axis=1)
    result = faces.copy()
    touched: set[int] = set()
    added: set[tuple[int, int]] = set()
    for index in flat[np.lexsort(place.T)]:
        face = faces[index]
        length = [((counts[face[i]] - counts[face[(i + 1) % 3]]) ** 2).sum() for i in range(3)]
        side = int(np.argmax(length))
        u, v, middle = int(face[side]), int(face[(side + 1) % 3]), int(face[(side + 2) % 3])
        other = face_of(v, u)
        if other < 0 or other in touched or int(index) in touched:
            continue
        apex = int(faces[other].sum()) - u - v
        new = (min(middle, apex), max(middle, apex))
        if apex == middle or new in added or face_of(middle, apex) >= 0 or face_of(apex, middle) >= 0:
            continue
        result[index] = (middle, u, apex)
        result[other] = (middle, apex, v)
        touched.update((int(index), other))
        added.add(new)
    return result
