"""The lines in plan that walls stand on: rows inside a frame of rings that follow the outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float
from .columns import PadColumns
from .level_lines import distance_to, is_closed, level_lines, resampled

SPACING_MM = 1.5
"""Between the points of a line: a wave of 120 mm is followed to a hundredth of a millimeter."""

_GALLERY_SHARE, _GALLERY_MM = 0.7, (0.5, 1.2)

GRAZING = 0.65
"""Where the border's normal has more than this along x, rows run into the ring there and end in it: kept off, they
would leave a wider roof between them than they do between each other."""

_UPRIGHT, _LEANING = -0.7, -0.1
"""At the far rim rings would lean towards the rows, which lean towards them: where the inward normal's x part is below
the first, rings stand upright, from the second on they lean as they may, between the two it is blended."""

_BEND_SHARE = (
    0.6  # a fold stands out by no more than so much of the radius of a bend, so that it never closes on itself
)
_RIDGE_SHARE = 0.8  # nor farther than so much of the way to where the rings of the other side come from
_ALONG = 0.5  # most change of the limit along a ring
_EASED_MM = 4.0  # the limit is eased over so much: no kinks in the fold
_LEAST_LOOP = 3.0  # pitches: a shorter closed ring is a post
_FAR_MM = 1e3


@dataclass(frozen=True, eq=False)
class WallCurve:
    """A wall seen from above: the line its foot and its head stand on, and where its fold goes."""

    points: Float  # (n, 2), plane frame, mm; a closed one ends where it begins
    kind: str  # "row", "ring", "tie"
    toward: Float  # (n, 2), unit: the way it leans
    most_mm: Float  # (n,): the fold stands out no farther
    radius_mm: Float  # (n,): of a ring's bend in plan; inf of rows, whose waves are told apart

    @property
    def is_closed(self) -> bool:
        """It ends where it begins."""
        return is_closed(self.points)


@dataclass(frozen=True, eq=False)
class Border:
    """The border of where walls may stand."""

    distance_mm: Float  # (nx, ny); to the border, negative outside
    normal: Float  # (2, nx, ny); unit, inward
    is_before_solid: Float  # (nx, ny); 1 where the border's nearest place has solid behind it, not the open side


def border_of(columns: PadColumns) -> Border:
    """Return the border of the core, a line smoothed over a cell or two."""
    step = columns.step_mm
    soft = ndimage.gaussian_filter(columns.is_core.astype(np.float64), 1.2)
    lines = [line for line in level_lines(soft, 0.5, columns.origin, step) if len(line) > 8]
    distance = distance_to(lines, soft > 0.5, columns.origin, step)
    gradient = np.stack(np.gradient(ndimage.gaussian_filter(distance, max(1.0 / step, 1.0)), step))
    at = ndimage.distance_transform_edt(columns.is_core, return_distances=False, return_indices=True)
    normal = gradient / np.maximum(np.hypot(*gradient), 1e-9)
    return Border(distance, normal, columns.is_solid[tuple(at)].astype(np.float64))


def gallery_mm(width_mm: float) -> float:
    """Return how far rows end before a ring, or something solid, that they do not graze: seven tenths of their width.

    Air passes there, and a fold that moves sideways is not held by a wall that stands square to it. Half a millimeter
    at least, three beads at most (our choice).
    """
    return float(np.clip(_GALLERY_SHARE * width_mm, *_GALLERY_MM))


def rings_in(border: Border, pitch_mm: float) -> int:
    """Return how many rings frame the rows: two, one where a pad is so narrow that two would leave no field."""
    return 2 if float(border.distance_mm.max()) > 5.0 * pitch_mm else 1


def rings_to_ridge(border: Border, pitch_mm: float, width_mm: float) -> int:
    """Return how many rings there are from the outline to where those of the other side come from."""
    return int(max(float(border.distance_mm.max()) - width_mm, 0.0) / pitch_mm) + 1


def frame(
    columns: PadColumns, border: Border, pitch_mm: float, width_mm: float, count: int, *, to_ridge: bool = False
) -> list[WallCurve]:
    """Return the rings along the outline, from outside in, the first one's outer face on the border.

    They lean inward; before what is solid there are none, for it holds the pad's edge by itself. As a frame for rows
    they stand upright at the far rim. To the ridge they fill the pad. Where the next ring finds no room one at half the
    pitch stands in its place, so that no roof is wider than between two rings.
    """
    found: list[WallCurve] = []
    for number in range(count):
        level = 0.5 * width_mm + number * pitch_mm
        found += _rings_at(columns, border, level, pitch_mm, width_mm, faces_rows=not to_ridge)
        if to_ridge or number < count - 1:
            found += _rings_at(
                columns, border, level + 0.5 * pitch_mm, pitch_mm, width_mm,
                faces_rows=not to_ridge, most_mm=level + pitch_mm,
            )  # fmt: skip
    return found


def _rings_at(
    columns: PadColumns,
    border: Border,
    level_mm: float,
    pitch_mm: float,
    width_mm: float,
    *,
    faces_rows: bool,
    most_mm: float | None = None,
) -> list[WallCurve]:
    """Return the rings at a distance from the border; only where the ridge is nearer than `most_mm`, if given."""
    found: list[WallCurve] = []
    for line in level_lines(border.distance_mm, level_mm, columns.origin, columns.step_mm):
        length = float(np.hypot(*np.diff(line, axis=0).T).sum())
        if length < _LEAST_LOOP * pitch_mm:
            continue
        even = resampled(line, SPACING_MM, round_mm=1.5)
        inward, limit, radius, room = _inward(columns, border, even, width_mm, faces_rows=faces_rows)
        keep = columns.sample(border.is_before_solid, even) < 0.5
        if most_mm is not None:
            keep &= level_mm + room < most_mm + 0.5
        if keep.all() and is_closed(even):
            found.append(WallCurve(even, "ring", inward, limit, radius))
            continue
        if is_closed(even):
            start = int(np.flatnonzero(~keep)[0])
            even, inward, limit, radius, keep = (
                np.concatenate([each[start:-1], each[: start + 1]]) for each in (even, inward, limit, radius, keep)
            )
        for first, last in runs(keep):
            if last - first > 3:
                some = slice(first, last)
                found.append(WallCurve(even[some], "ring", inward[some], limit[some], radius[some]))
    return found


def rows(
    columns: PadColumns,
    border: Border,
    pitch_mm: float,
    width_mm: float,
    rings: int,
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
    innermost = (rings - 1) * pitch_mm + 0.5 * width_mm
    found: list[WallCurve] = []
    for number in range(first, last + 1):
        points = np.stack([middle[0] + number * pitch_mm + swing, y], axis=1)
        distance = columns.sample(border.distance_mm, points)
        solid = columns.sample(border.is_before_solid, points) > 0.5
        stands = distance > np.where(solid, 0.0, innermost)
        for start, end in runs(stands):
            # A row that stays inside the ring would only thicken it.
            beyond = 0.0 if solid[start:end].all() else innermost
            if distance[start:end].max() > beyond + 0.5 * width_mm and (end - start) * 0.25 > max(width_mm, 1.5):
                line = resampled(points[start:end], SPACING_MM)
                toward = np.tile([1.0, 0.0], (len(line), 1))
                far = np.full(len(line), _FAR_MM)
                found.append(WallCurve(line, "row", toward, far, np.full(len(line), np.inf)))
    return found


def keeps_off(columns: PadColumns, border: Border, points: Float, pitch_mm: float, width_mm: float, rings: int) -> Bool:
    """Return which points (n, 2) of rows are clear of the innermost ring, or of what is solid, by the gallery.

    Where a row grazes it, all are.
    """
    innermost = (rings - 1) * pitch_mm + 0.5 * width_mm
    solid = columns.sample(border.is_before_solid, points) > 0.5
    clear = columns.sample(border.distance_mm, points) > np.where(solid, 0.0, innermost + width_mm) + gallery_mm(
        width_mm
    )
    return np.asarray(clear | (np.abs(columns.sample(border.normal[0], points)) > GRAZING))


def is_frame(columns: PadColumns, border: Border, pitch_mm: float, width_mm: float, rings: int) -> Bool:
    """Return the cells where the frame's rings stand, up to half a pitch inside the innermost, (nx, ny)."""
    reach = (rings - 1) * pitch_mm + 0.5 * width_mm + 0.5 * pitch_mm
    return np.asarray((border.distance_mm < reach) & columns.is_core & (border.is_before_solid < 0.5))


def is_far_rim(border: Border) -> Bool:
    """Return the cells nearest to a place of the border where rings stand all but upright, (nx, ny)."""
    return np.asarray(border.normal[0] < 0.5 * (_UPRIGHT + _LEANING))


def _inward(
    columns: PadColumns, border: Border, line: Float, width_mm: float, *, faces_rows: bool
) -> tuple[Float, Float, Float, Float]:
    """Return the inward normals along a ring, (n, 2), how far its fold may go, its radius, its room to the ridge."""
    closed = is_closed(line)
    along = derivative(line, closed)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    mode = "wrap" if closed else "nearest"
    core = slice(0, -1) if closed else slice(None)
    soft = np.array(along)
    soft[core] = ndimage.gaussian_filter1d(along[core], 4.0 / SPACING_MM, axis=0, mode=mode)
    soft /= np.linalg.norm(soft, axis=1, keepdims=True)
    if closed:
        soft[-1] = soft[0]
    inward = np.stack([-soft[:, 1], soft[:, 0]], axis=1)  # higher distances lie on the left
    turn = derivative(soft, closed)
    bend = (soft[:, 0] * turn[:, 1] - soft[:, 1] * turn[:, 0]) / SPACING_MM
    limit = np.where(bend > 1e-6, _BEND_SHARE / np.maximum(bend, 1e-6), _FAR_MM)
    room = _room(columns, border, line, inward)
    limit = np.minimum(limit, np.maximum(_RIDGE_SHARE * room - width_mm, 0.0))
    blend = np.clip((inward[:, 0] - _UPRIGHT) / (_LEANING - _UPRIGHT), 0.0, 1.0)
    limit = np.minimum(limit, 40.0) * (blend if faces_rows else 1.0)
    for _ in range(2 if closed else 1):
        for i in range(1, len(limit)):
            limit[i] = min(limit[i], limit[i - 1] + _ALONG * SPACING_MM)
        for i in range(len(limit) - 2, -1, -1):
            limit[i] = min(limit[i], limit[i + 1] + _ALONG * SPACING_MM)
        if closed:
            limit[0] = limit[-1] = min(limit[0], limit[-1])
    limit[core] = ndimage.gaussian_filter1d(limit[core], _EASED_MM / SPACING_MM, mode=mode)
    if closed:
        limit[-1] = limit[0]
    return inward, limit, 1.0 / np.maximum(np.abs(bend), 1e-6), room


def _room(columns: PadColumns, border: Border, line: Float, inward: Float) -> Float:
    """Return how far one may go along the inward normals before the distance to the border stops growing, (n,) mm."""
    steps = np.arange(0.0, 40.0, 1.0)
    value = np.stack([columns.sample(border.distance_mm, line + reach * inward) - reach for reach in steps], axis=1)
    # On the way in the distance grows as the way does, up to the ridge.
    falls_short = value < value[:, :1] - 1.5
    return np.where(falls_short.any(axis=1), steps[falls_short.argmax(axis=1)], steps[-1])


def derivative(values: Float, closed: bool) -> Float:
    """Return central differences from point to point, (n, k); a closed line goes on at its end."""
    if not closed:
        return np.asarray(np.gradient(values, axis=0))
    core = values[:-1]
    inner = 0.5 * (np.roll(core, -1, axis=0) - np.roll(core, 1, axis=0))
    return np.concatenate([inner, inner[:1]])


def runs(keep: Bool) -> list[tuple[int, int]]:
    """Return start and end of each unbroken run of True."""
    change = np.diff(np.concatenate([[0], keep.astype(np.int8), [0]]))
    return list(zip(np.flatnonzero(change > 0).tolist(), np.flatnonzero(change < 0).tolist(), strict=True))
