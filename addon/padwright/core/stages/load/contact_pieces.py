"""Separate contacts within a patch, their widths, and the outlines of zones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ...base.mesh import Bool, Float, Int
from .bulging_layers import Bounds
from .load_case import ContactPatch, border_sides

_LEAST_SHARE = 0.01
"""Pieces with less of the contact area are left out (our choice)."""

_SPLINTER = 0.1
"""A piece with less than this share of a larger one's area, nearer to it than the pad is thick, belongs to it: the pad
between the two gives way with both (our choice)."""


AS_COLUMNS = Bounds(1.0, 1.0, 1.0)


@dataclass(frozen=True, eq=False)
class ContactPiece:
    """One separate contact."""

    center_mm: Float  # (3,)
    area_cm2: float
    width_mm: float  # diameter of the disc of the same area
    thickness_mm: float  # mean of the pad below
    slenderness: float  # twice area over outline, over the thickness; for a disc radius over thickness
    open_share: float  # of its outline, where the pad ends with it
    stiffer: Bounds = AS_COLUMNS  # how much the pad around it stiffens the columns below it


def contact_pieces(patch: ContactPatch, is_loaded: Bool, sinkage: Float) -> tuple[Int, tuple[ContactPiece, ...]]:
    """Return the separate contacts, largest first, and which of them each point belongs to, (n,) (-1: none).

    Without faces all points make one contact, taken as a disc. The sinkage, (n,), mm, is above 0 where the body
    touches: between two points the contact ends where it would be 0.
    """
    count = len(is_loaded)
    label = np.zeros(count, dtype=np.int32)
    if patch.faces is not None:
        faces = patch.faces[is_loaded[patch.faces].all(axis=1)]
        start, end = faces.ravel(), np.roll(faces, 1, axis=1).ravel()
        graph = coo_matrix((np.ones(len(start), dtype=np.int8), (start, end)), shape=(count, count))
        label = connected_components(graph, directed=False)[1]
    area = np.where(is_loaded, patch.area_mm2, 0.0)
    label = np.where(is_loaded, _joined(patch, area, label), -1)
    counts = label >= 0
    sums = np.bincount(label[counts], area[counts])
    rims, ends = _rims(patch, is_loaded, sinkage, label, len(sums))
    found = []
    for number in range(len(sums)):
        weight = np.where(label == number, area, 0.0) / sums[number]
        thickness = float(weight @ patch.thickness_mm)
        width = float(2.0 * np.sqrt(sums[number] / np.pi))
        outline = max(float(rims[number]), np.pi * width)
        found.append(
            ContactPiece(
                weight @ patch.position,
                float(sums[number]) / 100.0,
                width,
                thickness,
                2.0 * float(sums[number]) / outline / thickness,
                min(float(ends[number]) / outline, 1.0),
            )
        )
    return label, tuple(found)


def _joined(patch: ContactPatch, area: Float, label: Int) -> Int:
    """Return the labels of the pieces that count, from 0, the largest first, splinters with what they belong to."""
    sums = np.bincount(label, area)
    renamed = np.full(len(sums), -1)
    kept: list[tuple[float, Float, float]] = []
    for number in np.argsort(-sums, kind="stable"):
        own = float(sums[number])
        if own < _LEAST_SHARE * area.sum() or own <= 0.0:
            break
        weight = np.where(label == number, area, 0.0) / own
        center, radius = weight @ patch.position, float(np.sqrt(own / np.pi))
        near = float(weight @ patch.thickness_mm) + radius
        away = [
            float(np.linalg.norm(center - other)) - far if own < _SPLINTER * larger else np.inf
            for larger, other, far in kept
        ]
        if away and min(away) < near:
            renamed[number] = int(np.argmin(away))
            continue
        renamed[number] = len(kept)
        kept.append((own, center, radius))
    return np.asarray(renamed[label])


def _rims(patch: ContactPatch, is_loaded: Bool, sinkage: Float, label: Int, count: int) -> tuple[Float, Float]:
    """Return the length of the rim of each contact, and of that where the pad ends, (count,), mm; 0 without faces.

    Both as seen along the press direction. The pad's end counts the less the further it lies away, up to a thickness.
    """
    if patch.faces is None:
        return np.zeros(count), np.zeros(count)
    flat = _flat(patch, patch.position)
    # Inside the patch: where the sinkage is 0 on two edges of a triangle.
    touching = is_loaded[patch.faces]
    odd = patch.faces[touching.any(axis=1) & ~touching.all(axis=1)]
    touching = is_loaded[odd]
    lonely = np.where(touching.sum(axis=1) == 1, touching.argmax(axis=1), (~touching).argmax(axis=1))
    rows = np.arange(len(odd))
    alone, one, other = (odd[rows, (lonely + turn) % 3] for turn in range(3))
    ends = []
    for beside in (one, other):
        share = sinkage[alone] / np.where(sinkage[alone] == sinkage[beside], 1.0, sinkage[alone] - sinkage[beside])
        ends.append(flat[alone] + np.clip(share, 0.0, 1.0)[:, None] * (flat[beside] - flat[alone]))
    owner = label[np.where(is_loaded[alone], alone, np.where(is_loaded[one], one, other))]
    length = np.where(owner < 0, 0.0, np.linalg.norm(ends[0] - ends[1], axis=1))
    inner = np.bincount(np.maximum(owner, 0), length, count)
    # At the patch's own edge: between the middles of its sides, which wriggles less than the sides.
    sides = patch.sides
    both = np.concatenate([sides, sides[:, ::-1]])
    both = both[np.argsort(both[:, 0], kind="stable")]
    first, at, often = np.unique(both[:, 0], return_index=True, return_counts=True)
    plain = (often == 2) & (label[first] >= 0)
    first = first[plain]
    across = flat[both[at[plain], 1]] - flat[both[at[plain] + 1, 1]]
    length = 0.5 * np.linalg.norm(across, axis=1)
    whole = np.asarray(inner + np.bincount(label[first], length, count))
    if patch.beyond_mm is None:
        return whole, np.zeros(count)
    ending = 1.0 - np.clip(patch.beyond_mm[first] / patch.thickness_mm[first], 0.0, 1.0)
    return whole, np.asarray(np.bincount(label[first], length * ending, count), dtype=np.float64)


def _flat(patch: ContactPatch, vectors: Float) -> Float:
    """Return vectors without what they have along the press direction."""
    if patch.press_direction is None:
        return vectors
    return np.asarray(vectors - np.outer(vectors @ patch.press_direction, patch.press_direction))


def outline_mm(patch: ContactPatch, is_in: Bool) -> float:
    """Return the length of the outline of some points, along the press direction; without faces, of a disc."""
    area = float(patch.area_mm2[is_in].sum())
    round_one = 2.0 * float(np.sqrt(np.pi * area))
    if patch.faces is None:
        return round_one
    border = border_sides(patch.faces[is_in[patch.faces].all(axis=1)])
    along = _flat(patch, patch.position[border[:, 0]] - patch.position[border[:, 1]])
    return max(float(np.linalg.norm(along, axis=1).sum()), round_one)
