"""Where rows end: before a ring, their ends cut to follow its fold, so that air passes; their heads go on to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ..folds.curves import GRAZING, WallCurve, gallery_mm, keeps_off, runs
from ..folds.layout import SPARE_DEG, FoldLayout
from ..folds.level_lines import resampled
from .walls import WallPlace, WallSheet, leans, turns_back, wall_sheet

_EVEN_OUT = 3.0  # the cut of an end fades out over so many times its own length
_ROUNDS_BACK, _BACK = 6, 0.7  # of drawing one wall's lean back, and to how much of it where a side crosses itself
_ROUNDS = 3  # of drawing rings back where rows' heads do not reach them
_MOST_SHORT_MM, _NEAR_MM = 0.5, 8.0
_LEAST_SHARE = 0.4  # of a row's length that has to be left at its fold
_LEAST_MM = 1.5
_MOST_LOST_MM = 6.0  # of a row beyond a place where it has no room; a longer one would leave a roof without a wall
_LEAST_STAND = 0.5  # of its height that a row is long at its fold, so that the nozzle does not push it over

Lines = tuple[Float, Float, Float]


def foot_lines(layout: FoldLayout) -> list[Float | None]:
    """Return the line that each wall's foot stands on, as many points as the wall has; None for rows too short."""
    found: list[Float | None] = []
    for wall in layout.walls:
        if wall.kind != "row":
            found.append(wall.points)
            continue
        cut = _cut(wall.points, _keeps_off(layout, resampled(wall.points, 0.5)))
        found.append(None if cut is None else _shortened(wall.points, *cut))
    return found


def wall_sheets(layout: FoldLayout, place: WallPlace) -> list[WallSheet | None]:
    """Return the sheet of every wall of a layout; None for a row so short that nothing would be left at its fold.

    A row's head goes up to the ring before which it ends, or as far towards it as its end may lean out: so its roof is
    held on all sides, and where both stand fast in the skin it makes nothing stiffer.
    """
    feet = foot_lines(layout)
    walls = list(layout.walls)
    for _ in range(_ROUNDS):
        rows, short = _rows(layout, place, walls, feet)
        if not short:
            break
        walls = [_drawn_back(place, wall, short) if wall.kind == "ring" else wall for wall in walls]
    found: list[WallSheet | None] = []
    for number, wall in enumerate(walls):
        lines = (wall.points, wall.points, wall.points) if wall.kind == "ring" else rows.get(number)
        if lines is None:
            found.append(None)
            continue
        is_tie = wall.kind != "ring" and lines[0] is wall.points
        lean = np.zeros((len(lines[1]), 2)) if is_tie else leans(place, wall, lines[1])
        found.append(_no_steeper(layout, place, lines, lean, wall.is_closed))
    return found


def _rows(
    layout: FoldLayout, place: WallPlace, walls: list[WallCurve], feet: list[Float | None]
) -> tuple[dict[int, Lines], list[tuple[Float, float]]]:
    """Return the lines of foot, fold and head of each row, and where heads stay away from a ring, and how far, mm.

    A row too short to stand by itself is a tie: upright, and from ring to ring.
    """
    folds = [resampled(wall.points + leans(place, wall, wall.points), 0.5) for wall in walls if wall.kind == "ring"]
    tree = cKDTree(np.concatenate(folds)) if folds else None
    found: dict[int, Lines] = {}
    short: list[tuple[Float, float]] = []
    for number, (wall, foot) in enumerate(zip(walls, feet, strict=True)):
        if wall.kind == "ring":
            continue
        if wall.kind == "tie":
            found[number] = (wall.points, wall.points, wall.points)
            continue
        low, high = place.heights(wall.points)
        cut, close = _fold_cut(layout, place, wall, tree)
        whole = float(np.hypot(*np.diff(wall.points, axis=0).T).sum())
        if foot is None or cut is None or whole - sum(cut) < _LEAST_STAND * float((high - low).mean()):
            found[number] = (wall.points, wall.points, wall.points)
            continue
        out = np.tan(np.radians(layout.most_slope_deg - 2.0 * SPARE_DEG)) * (high - low) / (2.0 * layout.folds)
        ends = max(cut[0] - float(out[0]), 0.0), max(cut[1] - float(out[-1]), 0.0)
        # A foot goes no farther either: the sheet between would be bent along the row.
        below = _cut(wall.points, _keeps_off(layout, resampled(wall.points, 0.5))) or (0.0, 0.0)
        if max(ends[0] - below[0], ends[1] - below[1]) > 0.0 and whole - sum(map(max, ends, below)) > _LEAST_MM:
            foot = _shortened(wall.points, max(ends[0], below[0]), max(ends[1], below[1]))
        found[number] = (foot, _shortened(wall.points, *cut), _shortened(wall.points, *ends))
        short += close
        short += [(wall.points[end], gap) for end, gap in zip((0, -1), ends, strict=True) if gap > _MOST_SHORT_MM]
    return found, short


def _drawn_back(place: WallPlace, ring: WallCurve, short: list[tuple[Float, float]]) -> WallCurve:
    """Return a ring that leans less where rows' heads do not reach it, eased along it."""
    lean = np.minimum(place.columns.sample(place.lean_mm, ring.points), ring.most_mm)
    most = ring.most_mm.copy()
    for point, gap in short:
        far = np.hypot(*(ring.points - point).T)
        less = np.maximum(lean - gap, 0.0)
        most = np.minimum(most, np.where(far < _NEAR_MM, less, less + 0.5 * (far - _NEAR_MM)))
    return replace(ring, most_mm=most)


def _no_steeper(
    layout: FoldLayout, place: WallPlace, lines: tuple[Float, Float, Float], lean: Float, is_closed: bool
) -> WallSheet:
    """Return the sheet with its lean drawn back where a face would be steeper than allowed, or a side cross itself."""
    most = layout.most_slope_deg - SPARE_DEG
    sheet = wall_sheet(place, lines, lean, layout.width_mm, layout.folds, is_closed)
    for _ in range(_ROUNDS_BACK):
        over = np.tan(np.radians(np.minimum(sheet.lean_deg.max(axis=1), 89.0))) / np.tan(np.radians(most))
        crosses = turns_back(sheet)
        if float(over.max()) <= 1.0 + 1e-6 and not crosses.any():
            break
        mode = "wrap" if is_closed else "nearest"
        back = np.minimum(1.0 / np.maximum(over, 1.0), np.where(crosses, _BACK, 1.0))
        back = ndimage.minimum_filter1d(back, 5, mode=mode)
        back = np.minimum(ndimage.gaussian_filter1d(back, 1.5, mode=mode), 1.0)
        if is_closed:
            back[-1] = back[0]
        lean = lean * back[:, None]
        sheet = wall_sheet(place, lines, lean, layout.width_mm, layout.folds, is_closed)
    return sheet


def _keeps_off(layout: FoldLayout, line: Float) -> Bool:
    return keeps_off(layout.columns, layout.border, line, layout.pitch_mm, layout.width_mm, layout.rings)


def _fold_cut(
    layout: FoldLayout, place: WallPlace, wall: WallCurve, tree: cKDTree | None
) -> tuple[tuple[float, float] | None, list[tuple[Float, float]]]:
    """Return how much a row's fold is shorter than its line at start and end, mm: it ends before the rings' fold.

    And where it comes too close to it on its way, and by how much, mm.
    """
    columns, border = layout.columns, layout.border
    line = resampled(wall.points, 0.5)
    stands = _keeps_off(layout, line)
    if tree is None:
        return _cut(wall.points, stands), []
    fold = line + leans(place, wall, line)
    near = tree.data[tree.query(fold)[1]]
    clear = columns.sample(border.distance_mm, fold) - columns.sample(border.distance_mm, near)
    # What grazes a ring, or has something solid before it, ends as its foot does.
    ends_so = (np.abs(columns.sample(border.normal[0], line)) > GRAZING) | (
        columns.sample(border.is_before_solid, line) > 0.5
    )
    lacks = np.where(ends_so, 0.0, np.maximum(layout.width_mm + gallery_mm(layout.width_mm) - clear, 0.0))
    stands &= lacks == 0.0
    cut = _cut(wall.points, stands)
    if cut is None:
        return None, []
    at = np.linspace(0.0, float(np.hypot(*np.diff(wall.points, axis=0).T).sum()), len(line))
    within = (at > cut[0]) & (at < at[-1] - cut[1]) & (lacks > _MOST_SHORT_MM)
    return cut, [(line[index], float(lacks[index])) for index in np.flatnonzero(within)]


def _cut(points: Float, stands: Bool) -> tuple[float, float] | None:
    """Return how much of a line lies before and behind what of it stands, mm; None if that is short.

    `stands` is even along the line. Over a gap between two long stretches the wall goes on.
    """
    stretches = runs(stands)
    if not stretches:
        return None
    longest = max(end - start for start, end in stretches)
    step = float(np.hypot(*np.diff(points, axis=0).T).sum()) / max(len(stands) - 1, 1)
    kept = [run for run in stretches if run[1] - run[0] == longest or (run[1] - run[0]) * step > _MOST_LOST_MM]
    start, end = kept[0][0], kept[-1][1]
    if end - start < _LEAST_SHARE * len(stands):
        return None
    whole = float(np.hypot(*np.diff(points, axis=0).T).sum())
    before, behind = whole * start / (len(stands) - 1), whole * (len(stands) - end) / (len(stands) - 1)
    return (before, behind) if whole - before - behind > _LEAST_MM else None


def _shortened(points: Float, before: float, behind: float) -> Float:
    """Return points moved along a line so that they leave out so much of its start and end, mm."""
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    whole = length[-1]
    if _EVEN_OUT * (before + behind) >= whole:
        at = before + length * ((whole - before - behind) / whole)
    else:
        at = length.copy()
        if before > 0.0:
            at += before * np.clip(1.0 - length / (_EVEN_OUT * before), 0.0, 1.0)
        if behind > 0.0:
            at -= behind * np.clip(1.0 - (whole - length) / (_EVEN_OUT * behind), 0.0, 1.0)
    return np.stack([np.interp(at, length, points[:, axis]) for axis in (0, 1)], axis=1)
