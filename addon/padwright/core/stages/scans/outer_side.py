"""Decide which side of a scanned surface is the outside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, Int, face_middles, sums_by
from ...base.rows import bounds_of, lengths
from ...base.text import counted
from ...geometry.matching import first_equal, renumber

_NEARLY_CLOSED = 0.15
"""Openness up to which the enclosed volume alone decides; at 0.15 the missing part is about a seventh of the surface.
A choice of ours, no source."""
_CELLS_ACROSS = 60
_RIDGE_COSINE = 0.82
"""Neighboring cells whose normals differ by more than 35 degrees are a ridge or a groove; a smooth bowl or dome as
wide as the scan turns by some 3 degrees a cell. A choice of ours, no source."""

_FACES_FOR_BENDS = 300000


@dataclass(frozen=True)
class OutsideEvidence:
    """What speaks for the side the faces show."""

    openness: float  # length of the sum of all area vectors over the area: 0 for a closed surface, 1 for a flat sheet
    enclosed_volume: float  # signed volume between the surface and the middle of its border; negative says inside out
    # ridges, grooves: counts of neighboring cells bent sharply outward and inward as the faces show it now.
    ridges: int
    grooves: int
    is_inside_out: bool
    is_sure: bool  # False for an open surface on which nothing decides: then the file's own side is kept

    @property
    def words(self) -> str:
        """What says that it is inside out."""
        if self.openness <= _NEARLY_CLOSED:
            return f"its volume comes out as {self.enclosed_volume / 1000:.4g} cm3"
        bends = counted(self.grooves, "place bends", "places bend")
        return f"{bends} sharply inward, {self.ridges} outward"


def outside_evidence(points: Float, faces: Int, vectors: Float, border_points: Float) -> OutsideEvidence:
    """Weigh whether a surface, turned alike all over, shows its outside.

    `vectors`, (m, 3), are the area vectors of its faces, `border_points`, (b, 3), lie on its open borders.

    Notes
    -----
    Closed or nearly so: the sign of the volume (divergence theorem). Open: a solid seen from outside shows its sharp
    bends as ridges, from inside as grooves; volume and bends must both speak clearly to overrule the file, since a
    bare hollow (the inside of a shell) has a negative volume too, but no sharp grooves all along. A rule of ours.
    """
    area = float(np.sqrt(np.einsum("ij,ij->i", vectors, vectors)).sum())
    openness = float(np.linalg.norm(vectors.sum(axis=0))) / area if area > 0 else 1.0
    used = points.take(faces[:, 0], axis=0)
    middle = border_points.mean(axis=0) if len(border_points) else bounds_of(used).mean(axis=0)
    volume = float(np.einsum("ij,ij->", used - middle, vectors) / 3.0)
    if openness <= _NEARLY_CLOSED:
        return OutsideEvidence(openness, volume, 0, 0, volume < 0, volume != 0)
    step = max(len(faces) // _FACES_FOR_BENDS, 1)
    ridges, grooves = _sharp_bends(points, faces[::step], vectors[::step])
    is_strong = abs(volume) > 0.002 * area**1.5  # a sphere has 0.094; a wavy flat sheet has almost none
    is_inside_out = is_strong and volume < 0 and grooves > 3 * ridges and grooves >= _CELLS_ACROSS // 2
    is_sure = is_inside_out or (is_strong and volume > 0 and ridges > 3 * grooves and ridges >= _CELLS_ACROSS // 2)
    return OutsideEvidence(openness, volume, ridges, grooves, is_inside_out, is_sure)


def _sharp_bends(points: Float, faces: Int, vectors: Float) -> tuple[int, int]:
    """Count pairs of joined grid cells whose mean normals meet in a ridge and in a groove."""
    is_used = np.zeros(len(points), dtype=bool)
    is_used[faces.reshape(-1)] = True
    number = np.cumsum(is_used, dtype=np.int32) - np.int32(1)
    points, faces = points.compress(is_used, axis=0), number[faces]
    center = face_middles(points, faces)
    low, high = bounds_of(center)
    width = float((high - low).max()) / _CELLS_ACROSS
    if width <= 0:
        return 0, 0
    grid = ((points - low) / width).astype(np.int64)
    cell_key = np.clip(grid, -4, _CELLS_ACROSS + 4) + 5
    code = (cell_key[:, 0] * 128 + cell_key[:, 1]) * 128 + cell_key[:, 2]
    kept, cell = renumber(first_equal([code]))
    count = len(kept)
    face_cell = cell[faces[:, 0]]
    weight = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    total = np.bincount(face_cell, weight, count)
    normal = sums_by(face_cell, vectors, count)
    place = sums_by(face_cell, weight[:, None] * center, count)
    is_good = lengths(normal) > 0.6 * np.maximum(total, 1e-300)
    is_good &= total > 0.2 * width**2
    normal /= np.maximum(lengths(normal)[:, None], 1e-300)
    place /= np.maximum(total, 1e-300)[:, None]
    one, other = face_cell, cell[faces[:, 1]]
    is_step = (one != other) & is_good[one] & is_good[other]
    pair = np.unique(np.minimum(one, other)[is_step].astype(np.int64) * count + np.maximum(one, other)[is_step])
    one, other = pair // count, pair % count
    is_sharp = np.einsum("ij,ij->i", normal[one], normal[other]) < _RIDGE_COSINE
    bend = np.einsum("ij,ij->i", normal[other] - normal[one], place[other] - place[one])[is_sharp]
    return int((bend > 0).sum()), int((bend < 0).sum())
