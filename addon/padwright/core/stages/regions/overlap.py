"""Regions that reach into the ones after them, for programs that would rather join bodies that overlap."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...geometry.through import BodySide, PadShape
from .closed_pieces import Piece
from .settle_labels import settled
from .surface_cut import cut_surface

_TILT = 1e-3
"""How far the grown border's field tilts the borders towards earlier zones: under 0.01 mm at the slopes that occur."""


def grown_pieces(
    pad: PadShape, body: BodySide, shares: Float, column: int, pieces: list[Piece], name: str, overlap_mm: float
) -> list[Piece]:
    """Return the pieces of one zone grown by `overlap_mm` into the zones after it, in the order of `pieces`.

    Raises InputError when pieces of the zone would grow together.

    Parameters
    ----------
    shares : (b, k) float
        Weights on the body side that the pieces were cut with.
    column : int
        The zone.
    pieces : list of Piece
        Its pieces without overlap.
    name : str
        For the message.
    overlap_mm : float
        Measured across the press direction, or straight through space for wrap-around parts.
    """
    flat = TriMesh(body.flat(body.mesh.vertices), body.mesh.faces)
    label = shares.argmax(axis=1)
    cut = cut_surface(flat, label.astype(np.int64), shares)
    is_between = ((cut.left == column) & (cut.right > column)) | ((cut.right == column) & (cut.left > column))
    if not is_between.any():
        return pieces
    ends = cut.vertices[cut.start[is_between]], cut.vertices[cut.end[is_between]]
    border = np.concatenate([(1 - share) * ends[0] + share * ends[1] for share in (0.0, 0.25, 0.5, 0.75)])
    reach = 4.0 * overlap_mm + 10.0 * float(np.linalg.norm(ends[0] - ends[1], axis=1).max())
    distance = np.minimum(cKDTree(border).query(flat.vertices, distance_upper_bound=reach)[0], reach)
    inside = np.where(label == column, distance, -distance) + overlap_mm
    earlier = shares[:, :column].max(axis=1) if column else np.zeros(len(shares))
    lead = earlier - shares[:, column:].max(axis=1) if column else np.full(len(shares), -1.0)
    three = np.stack([_TILT * inside, lead, -_TILT * inside], axis=1)
    three -= three.min(axis=1, keepdims=True)  # weights as `settled` wants them; the borders are where they were
    found = settled(pad, body, three, (name, "earlier zones", "later zones"), 0.0)
    grown = [piece for piece in found.pieces if piece.label == 0]
    if len(grown) < len(pieces):
        what = (
            f'pieces of the zone "{name}" grow together: {len(grown)} for {len(pieces)}'
            if grown
            else f'the zone "{name}" is too narrow to be cut'
        )
        raise InputError(
            f"With {overlap_mm:g} mm of overlap {what}.", hint="Choose a smaller overlap, or let the regions touch."
        )
    # A speck beyond an earlier zone's tip is no piece of this zone: it is left to the later zone that has the place.
    marks = [
        np.array([[*piece.mesh.bounds.mean(axis=0), np.cbrt(piece.mesh.volume)] for piece in some])
        for some in (pieces, grown)
    ]
    _, columns = linear_sum_assignment(((marks[0][:, None] - marks[1][None]) ** 2).sum(axis=2))
    return [grown[index] for index in columns]
