"""Mend how faces hang together: crowded edges, faces without area, patches turned over. No vertex is moved."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components

from ...base.mesh import Bool, Float, Int, area_vectors
from ...geometry.matching import first_equal
from .topology import (
    EdgeTable,
    clusters,
    edge_table,
    face_pieces,
    half_edge_ends,
    has_no_area,
    turned_half_edges,
)


def take_out_flat_faces(points: Float, faces: Int) -> tuple[Int, int]:
    """Return the faces without those that have no area, and how many those were.

    A face whose middle corner lies on its longest edge is taken out by cutting its neighbor across that edge at
    that corner, so that no crack is left; where the neighbor is in doubt (border, crowded edge, two at once) the
    face is only left out.
    """
    removed = 0
    for _ in range(8):  # a neighbor may itself become flat; more rounds than a few do not occur in scans
        vectors = area_vectors(points, faces)
        flat = np.flatnonzero(has_no_area(points, faces, vectors))
        if len(flat) == 0:
            break
        removed += len(flat)
        table = edge_table(faces, len(points))
        partner = np.full(3 * len(faces), -1, dtype=np.int64)
        partner[table.pairs[:, 0]], partner[table.pairs[:, 1]] = table.pairs[:, 1], table.pairs[:, 0]
        corner = points[faces[flat]]
        longest = np.linalg.norm(np.roll(corner, -1, axis=1) - corner, axis=2).argmax(axis=1)
        across = partner[3 * flat + longest]
        neighbor = across // 3
        is_flat = np.zeros(len(faces), dtype=bool)
        is_flat[flat] = True
        once = np.bincount(np.maximum(neighbor, 0), minlength=len(faces)) == 1
        is_sure = (across >= 0) & ~is_flat[neighbor] & once[neighbor]
        middle = faces[flat, (longest + 2) % 3][is_sure]
        cut, side = neighbor[is_sure], across[is_sure] % 3
        begin, end, tip = (faces[cut, (side + step) % 3] for step in range(3))
        is_good = tip != middle
        is_kept = ~is_flat
        is_kept[cut[is_good]] = False
        halves = [
            np.stack([begin, middle, tip], axis=1)[is_good],
            np.stack([middle, end, tip], axis=1)[is_good],
        ]
        faces = np.concatenate([faces[is_kept], *halves]).astype(np.int32)
    return faces, removed


def repeats_to_drop(faces: Int, table: EdgeTable) -> tuple[Int, int]:
    """Return the faces to drop because another has the same corners, and how many of them are folds.

    Of equal faces the first stays. Two that face against each other and hang on by one or two edges only are a fold
    without thickness and go both, unless there are many: then the scan is a surface with two sides.
    """
    chosen = np.unique(table.crowded // 3)
    corner = np.sort(faces[chosen], axis=1)
    first = first_equal([corner[:, 0], corner[:, 1], corner[:, 2]])
    repeat = np.flatnonzero(first != np.arange(len(chosen)))
    twin = first[repeat]
    is_crowded = np.zeros(3 * len(faces), dtype=bool)
    is_crowded[table.crowded] = True
    hangs_free = ~is_crowded.reshape(-1, 3)[chosen[repeat]].all(axis=1)
    is_opposite = _is_even(faces[chosen[repeat]]) != _is_even(faces[chosen[twin]])
    is_pair = np.bincount(twin, minlength=len(chosen))[twin] == 1
    fold = hangs_free & is_opposite & is_pair
    if fold.sum() > 0.01 * len(faces):
        fold[:] = False
    dropped = np.concatenate([chosen[repeat], chosen[twin[fold]]]).astype(np.int32)
    return dropped, 2 * int(fold.sum())


def _is_even(faces: Int) -> Bool:
    """Return which faces name their corners in an even order of the numbers."""
    a, b, c = faces[:, 0], faces[:, 1], faces[:, 2]
    return (a < b).astype(int) + (b < c) + (c < a) == 2


def part_crowded_edges(points: Float, faces: Int, table: EdgeTable) -> Int:
    """Return the paired half-edges, (p, 2), with the flattest pair of faces joined at each crowded edge.

    The other faces on such an edge end there; what only they held becomes a piece of its own.
    """
    if len(table.crowded) == 0:
        return table.pairs
    begin, end = half_edge_ends(faces, table.crowded)
    tip = faces[table.crowded // 3, (table.crowded % 3 + 2) % 3]
    # Direction from the edge into each face, square to the edge (its sense does not matter for that).
    along = points[end] - points[begin]
    inward = points[tip] - points[begin]
    inward -= along * (np.einsum("ij,ij->i", inward, along) / np.maximum((along**2).sum(axis=1), 1e-300))[:, None]
    inward /= np.maximum(np.linalg.norm(inward, axis=1, keepdims=True), 1e-300)
    order = np.argsort(table.crowded_edge, kind="stable")
    bounds = np.flatnonzero(np.diff(table.crowded_edge[order])) + 1
    joined: list[tuple[int, int]] = []
    for group in np.split(order, bounds):
        bend = inward[group] @ inward[group].T  # -1: the two faces go on straight across the edge
        # Beside flatness, two faces that are turned alike go before two that are not.
        bend = bend + np.where(begin[group][:, None] == begin[group][None, :], 0.5, 0.0)
        np.fill_diagonal(bend, np.inf)
        one, other = np.unravel_index(int(bend.argmin()), bend.shape)
        joined.append((int(table.crowded[group[one]]), int(table.crowded[group[other]])))
    return np.concatenate([table.pairs, np.array(joined, dtype=np.int32).reshape(-1, 2)])


def split_at_parted_edges(faces: Int, pairs: Int, crowded: Int) -> tuple[Int, Int]:
    """Return faces whose vertices on crowded edges are doubled where their faces no longer hang together.

    Returns
    -------
    faces : (m, 3) int32
    source : (k,) int32
        For each vertex the old one; the first ones are the old vertices in their order.

    Notes
    -----
    Cutting along the edges that are not manifold: Gueziec, Taubin, Lazarus & Horn 2001, "Cutting and stitching",
    doi 10.1109/2945.928166.
    """
    old_count = int(faces.max()) + 1 if len(faces) else 0
    source = np.arange(old_count, dtype=np.int32)
    if len(crowded) == 0:
        return faces, source
    is_near = np.zeros(old_count, dtype=bool)
    for ends in half_edge_ends(faces, crowded):
        is_near[ends] = True
    flat = faces.reshape(-1)
    corners = np.flatnonzero(is_near[flat])
    place = np.full(len(flat), -1, dtype=np.int64)
    place[corners] = np.arange(len(corners))
    one, other = pairs[:, 0].astype(np.int64), pairs[:, 1].astype(np.int64)
    one_end, other_end = one // 3 * 3 + (one % 3 + 1) % 3, other // 3 * 3 + (other % 3 + 1) % 3
    same_way = flat[one] == flat[other]
    links = [
        (one, np.where(same_way, other, other_end)),
        (one_end, np.where(same_way, other_end, other)),
    ]
    left = np.concatenate([place[a] for a, _ in links])
    right = np.concatenate([place[b] for _, b in links])
    is_link = (left >= 0) & (right >= 0)
    count, fan = clusters(len(corners), left[is_link], right[is_link])
    vertex_of_fan = np.zeros(count, dtype=np.int32)
    vertex_of_fan[fan] = flat[corners]
    _, first_fan = np.unique(vertex_of_fan, return_index=True)
    is_extra = np.ones(count, dtype=bool)
    is_extra[first_fan] = False
    number = vertex_of_fan.copy()
    number[is_extra] = old_count + np.arange(int(is_extra.sum()), dtype=np.int32)
    result = flat.copy()
    result[corners] = number[fan]
    return result.reshape(-1, 3), np.concatenate([source, vertex_of_fan[is_extra]])


def turn_alike(faces: Int, pairs: Int, runs_alike: Bool, area: NDArray[np.float64]) -> tuple[Int, Int, int, int]:
    """Return the faces turned alike within each piece, the smaller part by area being turned over.

    Returns
    -------
    faces : (m, 3) int32
    pairs : (q, 2) int32
        The pairs that now agree; a pair on a one-sided surface (like a Moebius band) is left out.
    turned : int
        Faces turned over.
    parted : int
        Pairs that cannot agree.
    """
    if not runs_alike.any():
        return faces, pairs, 0, 0
    patch_count, patch = face_pieces(len(faces), pairs[~runs_alike])
    bad = pairs[runs_alike]
    one, other = patch[bad[:, 0] // 3], patch[bad[:, 1] // 3]
    graph = coo_matrix(
        (np.ones(2 * len(one)), (np.r_[one, other], np.r_[other, one])), shape=(patch_count,) * 2
    ).tocsr()
    group_count, group = connected_components(graph, directed=False)
    patch_area = np.bincount(patch, area, patch_count)
    is_over = np.zeros(patch_count, dtype=bool)
    # From the largest patch of each group, every step to a neighbor turns it over.
    order = np.lexsort((-patch_area, group))
    seeds = order[np.r_[True, np.diff(group[order]) > 0]]
    lonely = np.bincount(group, minlength=group_count) == 1
    for seed in seeds[~lonely[group[seeds]]]:
        visited, before = breadth_first_order(graph, int(seed), directed=False)
        for node in visited[1:]:
            is_over[node] = ~is_over[before[node]]
        over = visited[is_over[visited]]
        if patch_area[over].sum() > 0.5 * patch_area[visited].sum():
            is_over[visited] = ~is_over[visited]
    turned = is_over[patch]
    result = faces.copy()
    result[turned] = faces[turned][:, ::-1]
    changed = turned[pairs[:, 0] // 3] ^ turned[pairs[:, 1] // 3]
    agrees = ~(runs_alike ^ changed)
    return result, turned_half_edges(pairs[agrees], turned), int(turned.sum()), int((~agrees).sum())
