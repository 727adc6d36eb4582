"""The lines in plan that walls stand on: rows, and hems that follow the outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float
from .columns import PadColumns
from .level_lines import distance_to, is_closed, level_lines, resampled

SPACING_MM = 1.5
"""Between the points of a line: a wave of 40 mm is followed to a hundredth of a millimeter."""

HEM_SHARE = 0.35
"""The outline gets a hem where its normal has more than so much along x; elsewhere rows run out across it, within 21
degrees of square, and the roof between two of them hangs free over a third of their gap at most."""

GALLERY_MM = 1.2
"""Rows that do not graze a hem, or something solid, end so far before it: air passes, and a fold that moves sideways is
not held by a wall that stands square to it. A choice of ours: three beads."""

_GRAZING_SHARE = 0.7  # where the border's normal has more than this along x, rows run into it and end there


@dataclass(frozen=True, eq=False)
class WallCurve:
    """A wall seen from above: the line its foot and its head stand on."""

    points: Float  # (n, 2), plane frame, mm
    kind: str  # "row", "hem"


@dataclass(frozen=True, eq=False)
class Border:
    """The border of where walls may stand."""

    distance_mm: Float  # (nx, ny); to the border, negative outside
    normal_x: Float  # (nx, ny); x part of the unit normal that points inward
    is_before_solid: Bool  # (nx, ny); the border's nearest place has solid behind it, not the open side


def border_of(columns: PadColumns) -> Border:
    """Return the border of the core, a line smoothed over a cell or two."""
    step = columns.step_mm
    soft = ndimage.gaussian_filter(columns.is_core.astype(np.float64), 1.2)
    lines = [line for line in level_lines(soft, 0.5, columns.origin, step) if len(line) > 8]
    distance = distance_to(lines, soft > 0.5, columns.origin, step)
    gx, gy = np.gradient(ndimage.gaussian_filter(distance, max(1.0 / step, 1.0)), step)
    normal_x = gx / np.maximum(np.hypot(gx, gy), 1e-9)
    at = ndimage.distance_transform_edt(columns.is_core, return_distances=False, return_indices=True)
    return Border(distance, normal_x, columns.is_solid[tuple(at)])


def rows(
    columns: PadColumns,
    border: Border,
    pitch_mm: float,
    width_mm: float,
    middle: Float,
    amplitude_mm: float,
    wave_mm: float,
) -> list[WallCurve]:
    """Return the rows: lines along y, a pitch apart, x swinging as cos(2 pi y / wave) about the middle (2,)."""
    low = columns.origin
    high = low + columns.step_mm * (np.array(columns.low_mm.shape) - 1)
    y = np.arange(low[1], high[1], 0.25)
    swing = amplitude_mm * np.cos(2.0 * np.pi * (y - middle[1]) / wave_mm)
    first = int(np.floor((low[0] - middle[0] - amplitude_mm) / pitch_mm))
    last = int(np.ceil((high[0] - middle[0] + amplitude_mm) / pitch_mm))
    before_solid = border.is_before_solid.astype(np.float64)
    found: list[WallCurve] = []
    for number in range(first, last + 1):
        points = np.stack([middle[0] + number * pitch_mm + swing, y], axis=1)
        distance = columns.sample(border.distance_mm, points)
        facing = np.abs(columns.sample(border.normal_x, points))
        solid = columns.sample(before_solid, points) > 0.5
        off = np.where(facing < HEM_SHARE, 0.1, width_mm + GALLERY_MM)
        stands = distance > np.where(facing > _GRAZING_SHARE, 0.1, np.where(solid, GALLERY_MM, off))
        for start, end in _runs(stands):
            # A row that stays inside the hem would only thicken it.
            if distance[start:end].max() > 0.9 * width_mm and (end - start) * 0.25 > 2.0 * width_mm:
                found.append(WallCurve(resampled(points[start:end], SPACING_MM), "row"))
    return found


def hems(columns: PadColumns, border: Border, width_mm: float) -> list[WallCurve]:
    """Return the walls along the outline, their outer faces on the border, where it does not run across the rows."""
    found: list[WallCurve] = []
    for line in level_lines(border.distance_mm, 0.5 * width_mm, columns.origin, columns.step_mm):
        if len(line) < 8:
            continue
        even = resampled(line, SPACING_MM, round_mm=1.0)
        normal = columns.sample(border.normal_x, even)
        solid = columns.sample(border.is_before_solid.astype(np.float64), even) > 0.5
        keep = (np.abs(normal) >= HEM_SHARE) & ~solid
        if is_closed(even) and not keep.all():
            start = int(np.flatnonzero(~keep)[0])
            even = np.concatenate([even[start:-1], even[: start + 1]])
            keep = np.concatenate([keep[start:-1], keep[: start + 1]])
        found += [WallCurve(even[start:end], "hem") for start, end in _runs(keep) if end - start > 3]
    return found


def _runs(keep: Bool) -> list[tuple[int, int]]:
    """Return start and end of each unbroken run of True."""
    change = np.diff(np.concatenate([[0], keep.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(change > 0).tolist(), np.flatnonzero(change < 0).tolist(), strict=True))
