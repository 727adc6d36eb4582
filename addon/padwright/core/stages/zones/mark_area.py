"""What marks on a picture surround: lines closed over gaps, areas filled, specks dropped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float

_EIGHT = np.ones((3, 3), dtype=bool)
SPECK_MM2 = 0.5
"""Spots smaller than this are noise and close no line: half a millimeter of a pen's line. Ours."""
_WIDEST_LINE_MM = 3.4
"""What is nowhere wider is a line and no area: a zone so narrow is rounded away."""
WIDER_GAPS_MM = (5.0, 8.0, 12.0, 16.0, 20.0, 30.0)


@dataclass(frozen=True)
class MarkPiece:
    """One piece of a marked area."""

    row: float  # of its middle, pixels
    column: float
    area_mm2: float
    is_line: bool  # nowhere wide enough for a zone: it closes around nothing
    length_mm: float  # of a line, about


@dataclass(frozen=True, eq=False)
class MarkArea:
    """What marks cover and surround."""

    is_in: Bool  # (h, w)
    pieces: tuple[MarkPiece, ...]  # the largest first
    dropped: int  # pieces smaller than the least
    dropped_mm2: float


def mark_area(
    is_mark: Bool, is_hole: Bool, pixel_mm: float, *, gap_mm: float, is_filled: bool, least_mm2: float
) -> MarkArea:
    """Return the area of marks on a picture, (h, w), with holes in which nothing is known, (h, w).

    Gaps up to `gap_mm` are closed (a disk of half that is laid around each mark and taken off again from outside), what
    is then surrounded is filled, and pieces smaller than `least_mm2` are dropped. The mark itself belongs to the area:
    that of a ring ends at the outer edge of its line. A hole that a mark meets closes its line; of the hole that is in
    which lies nearer to the area than to what is outside.
    """
    marked = _without_small(is_mark, SPECK_MM2 / pixel_mm**2)[0]
    margin = int(np.ceil(0.5 * gap_mm / pixel_mm)) + 2
    wide = np.pad(marked, margin)
    if gap_mm > 0:
        wide = _grown(wide, 0.5 * gap_mm / pixel_mm)
    if is_filled:
        wide = ndimage.binary_fill_holes(wide | _touched(np.pad(is_hole, margin), wide))
    if gap_mm > 0:
        wide = ~_grown(~wide, 0.5 * gap_mm / pixel_mm)
    closed = wide[margin:-margin, margin:-margin] | marked
    if is_filled:
        closed = ndimage.binary_fill_holes(closed)
    if is_hole.any():
        near = ndimage.distance_transform_edt(is_hole, return_distances=False, return_indices=True)
        closed = closed[near[0], near[1]]
    kept, dropped, dropped_pixels = _without_small(closed, least_mm2 / pixel_mm**2)
    return MarkArea(kept, _pieces_of(kept, pixel_mm), dropped, dropped_pixels * pixel_mm**2)


def closing_gap(is_mark: Bool, is_hole: Bool, pixel_mm: float, least_mm2: float) -> float | None:
    """Return the gap at which marks that close around nothing would close around something, mm; None where at none."""
    for gap in WIDER_GAPS_MM:
        found = mark_area(is_mark, is_hole, pixel_mm, gap_mm=gap, is_filled=True, least_mm2=least_mm2)
        if any(not each.is_line for each in found.pieces):
            return gap
    return None


def distance_inside(is_in: Bool, pixel_mm: float) -> Float:
    """Return the distance of each pixel to the area's edge, (h, w) mm, + inside."""
    inside, outside = ndimage.distance_transform_edt(is_in), ndimage.distance_transform_edt(~is_in)
    return np.asarray((np.maximum(inside - 0.5, 0.0) - np.maximum(outside - 0.5, 0.0)) * pixel_mm)


def _touched(is_hole: Bool, is_in: Bool) -> Bool:
    """Return the holes that the pixels that are in meet."""
    label, count = ndimage.label(is_hole, structure=_EIGHT)
    near = np.unique(label[ndimage.binary_dilation(is_in, structure=_EIGHT)])
    is_met = np.zeros(count + 1, dtype=bool)
    is_met[near] = True
    is_met[0] = False
    return np.asarray(is_met[label])


def _grown(is_in: Bool, by: float) -> Bool:
    """Return the pixels within a distance, in pixels, of some."""
    if not is_in.any():
        return is_in
    return np.asarray(ndimage.distance_transform_edt(~is_in) <= by)


def _without_small(is_in: Bool, least: float) -> tuple[Bool, int, float]:
    """Return the pixels without pieces of fewer than `least`, how many pieces that were, and their pixels."""
    label, count = ndimage.label(is_in, structure=_EIGHT)
    size = np.bincount(label.ravel(), minlength=count + 1)
    is_small = size < least
    is_small[0] = False
    return is_in & ~is_small[label], int(is_small.sum()), float(size[is_small].sum())


def _pieces_of(is_in: Bool, pixel_mm: float) -> tuple[MarkPiece, ...]:
    label, count = ndimage.label(is_in, structure=_EIGHT)
    if not count:
        return ()
    numbers = np.arange(1, count + 1)
    within = ndimage.distance_transform_edt(is_in)
    widest = np.asarray(ndimage.maximum(within, label, numbers)) * 2.0 * pixel_mm
    area = np.bincount(label.ravel(), minlength=count + 1)[1:] * pixel_mm**2
    middle: NDArray[np.float64] = np.asarray(ndimage.center_of_mass(is_in, label, numbers))
    found = [
        MarkPiece(
            float(row), float(column), float(size), bool(wide < _WIDEST_LINE_MM), float(size / max(wide, pixel_mm))
        )
        for (row, column), size, wide in zip(middle, area, widest, strict=True)
    ]
    return tuple(sorted(found, key=lambda each: -each.area_mm2))
