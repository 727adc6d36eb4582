"""Where rows end: cut to follow the fold of the ring before which they end, so that air passes at every height."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Float
from ..folds.curves import GALLERY_MM, WallCurve, runs
from ..folds.layout import FoldLayout
from ..folds.level_lines import resampled
from .walls import WallPlace, WallSheet, leans, wall_sheet

_EVEN_OUT = 3.0  # the cut of an end fades out over so many times its own length
_LEAST_SHARE = 0.4  # of a row's length at its foot that has to be left at its fold


def wall_sheets(layout: FoldLayout, place: WallPlace) -> list[WallSheet | None]:
    """Return the sheet of every wall of a layout; None for a row so short that nothing would be left at its fold."""
    rings = [wall for wall in layout.walls if wall.kind == "ring"]
    folds = [wall.points + leans(place, wall, wall.points) for wall in rings]
    tree = cKDTree(np.concatenate([resampled(each, 0.5) for each in folds])) if folds else None
    found: list[WallSheet | None] = []
    for wall in layout.walls:
        fold: Float | None = wall.points
        if wall.kind == "row" and tree is not None:
            fold = _cut_fold(layout, place, wall, tree)
        if fold is None:
            found.append(None)
            continue
        lean = leans(place, wall, fold)
        found.append(
            wall_sheet(place, wall.points, fold, lean, layout.width_mm, layout.folds, is_closed=wall.is_closed)
        )
    return found


def _cut_fold(layout: FoldLayout, place: WallPlace, wall: WallCurve, tree: cKDTree) -> Float | None:
    """Return the points of a row's line over which its fold stands, as many: it ends before the rings' fold."""
    columns, border = layout.columns, layout.border
    line = resampled(wall.points, 0.5)
    fold = line + leans(place, wall, line)
    near = tree.data[tree.query(fold)[1]]
    clear = columns.sample(border.distance_mm, fold) - columns.sample(border.distance_mm, near)
    # What grazes a ring, or has something solid before it, ends as its foot does.
    ends_so = (np.abs(columns.sample(border.normal[0], line)) > 0.8) | (
        columns.sample(border.is_before_solid, line) > 0.5
    )
    stretches = runs((clear > layout.width_mm + GALLERY_MM) | ends_so)
    if not stretches:
        return None
    start, end = max(stretches, key=lambda run: run[1] - run[0])
    if end - start < _LEAST_SHARE * len(line):
        return None
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(wall.points, axis=0).T))])
    whole = length[-1]
    before, behind = whole * start / (len(line) - 1), whole * (len(line) - end) / (len(line) - 1)
    at = length.copy()
    if before > 0.0:
        at += before * np.clip(1.0 - length / (_EVEN_OUT * before), 0.0, 1.0)
    if behind > 0.0:
        at -= behind * np.clip(1.0 - (whole - length) / (_EVEN_OUT * behind), 0.0, 1.0)
    return np.stack([np.interp(at, length, wall.points[:, axis]) for axis in (0, 1)], axis=1)
