"""Specks of a zone on base side or rim that the mesh is too coarse to show on the body side too."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Float, Int, TriMesh
from ...geometry.fields import pieces
from .surface_cut import Index


def without_specks(mesh: TriMesh, weights: Float, body_index: Int) -> tuple[Index, Float]:
    """Return labels and weights without pieces of up to three vertices that lie off the body side.

    Such a piece goes to the label most of its neighbors have.

    Parameters
    ----------
    mesh : TriMesh
        The whole pad.
    weights : (n, k) float
    body_index : (b,) int
        The vertices of the body side.
    """
    label = weights.argmax(axis=1).astype(np.int64)
    part = pieces(mesh, label)
    has_body = np.zeros(part.max() + 1, dtype=bool)
    has_body[part[body_index]] = True
    is_speck = ~has_body & (np.bincount(part) <= 3)
    if not is_speck.any():
        return label, weights
    result = weights.copy()
    edge = mesh.edges
    for number in np.flatnonzero(is_speck):
        inside = part == number
        across = edge[inside[edge[:, 0]] & ~inside[edge[:, 1]]]
        if len(across) == 0:
            continue
        own = label[across[0, 0]]
        taker = int(np.bincount(label[across[:, 1]]).argmax())
        result[np.ix_(inside, [own, taker])] = result[np.ix_(inside, [taker, own])]
        label[inside] = taker
    return label, result
