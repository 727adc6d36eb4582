"""Separate contacts within a patch, their widths, and the outlines of zones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ...base.mesh import Bool, Float
from .load_case import ContactPatch

_LEAST_SHARE = 0.01
"""Pieces with less of the contact area are left out (our choice)."""


@dataclass(frozen=True, eq=False)
class ContactPiece:
    """One separate contact.

    Attributes
    ----------
    center_mm : (3,) float
    area_cm2 : float
    width_mm : float
        Diameter of the disc of the same area.
    thickness_mm : float
        Mean thickness of the pad below.
    """

    center_mm: Float
    area_cm2: float
    width_mm: float
    thickness_mm: float


def contact_pieces(patch: ContactPatch, is_loaded: Bool) -> tuple[ContactPiece, ...]:
    """Return the separate contacts, largest first; without faces all points make one."""
    label = np.zeros(len(is_loaded), dtype=np.int32)
    if patch.faces is not None:
        faces = patch.faces[is_loaded[patch.faces].all(axis=1)]
        count = len(is_loaded)
        start, end = faces.ravel(), np.roll(faces, 1, axis=1).ravel()
        graph = coo_matrix((np.ones(len(start), dtype=np.int8), (start, end)), shape=(count, count))
        label = connected_components(graph, directed=False)[1]
    area = np.where(is_loaded, patch.area_mm2, 0.0)
    sums = np.bincount(label, area)
    found = []
    for number in np.argsort(-sums, kind="stable"):
        if sums[number] < _LEAST_SHARE * area.sum() or sums[number] <= 0.0:
            break
        weight = np.where(label == number, area, 0.0) / sums[number]
        found.append(
            ContactPiece(
                weight @ patch.position,
                float(sums[number]) / 100.0,
                float(2.0 * np.sqrt(sums[number] / np.pi)),
                float(weight @ patch.thickness_mm),
            )
        )
    return tuple(found)


def outline_mm(patch: ContactPatch, is_in: Bool) -> float:
    """Return the length of the outline of some points, along the press direction; without faces, of a disc."""
    area = float(patch.area_mm2[is_in].sum())
    round_one = 2.0 * float(np.sqrt(np.pi * area))
    if patch.faces is None:
        return round_one
    faces = patch.faces[is_in[patch.faces].all(axis=1)].astype(np.int64)
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges.sort(axis=1)
    key, count = np.unique(edges[:, 0] * len(is_in) + edges[:, 1], return_counts=True)
    border = key[count == 1]
    along = patch.position[border // len(is_in)] - patch.position[border % len(is_in)]
    if patch.press_direction is not None:
        along = along - np.outer(along @ patch.press_direction, patch.press_direction)
    return max(float(np.linalg.norm(along, axis=1).sum()), round_one)
