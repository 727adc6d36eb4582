"""Find how a mat lay: by its own load centers, or by what it shows against where the body pressed the clay."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from scipy import ndimage
from scipy.optimize import minimize

from ...base.mesh import Float
from .mat_pose import CellMap, rigid_map
from .pressed_plan import PressedPlan

_TURNS = 24  # tried all around; between two of them the polishing finds its way
_POLISHED = 5  # of those as seen from the body, and of those from below
_MOST_CENTERS, _MOST_PEAKS = 4, 6
_FARTHEST = 1.6  # how many times the mat's peaks may be farther apart than the load centers, or nearer; our choice
_SAME_DEG, _SAME_MM = 25.0, 25.0  # two poses nearer than that are one
_MOST_POSES = 8


@dataclass(frozen=True, eq=False)
class FoundPose:
    """One way a mat may have lain."""

    cells: CellMap
    agreement: float  # with the imprint, 1 at most
    spacing_ratio: float | None = None  # by load centers: those of the clay over those of the mat, by its pitch

    @property
    def is_flipped(self) -> bool:
        """Whether the mat is seen from below then."""
        return self.cells.is_flipped


def mat_peaks(pressure: Float, over: float = 1.0) -> Float:
    """Return where a mat bears hardest, (k, 2) row and column, hardest first.

    It is averaged over a Gaussian of a standard deviation of `over` cells; peaks lie more than twice that apart.
    """
    smooth = ndimage.gaussian_filter(pressure, over, mode="constant")
    is_top = (smooth == ndimage.maximum_filter(smooth, size=2 * round(2.0 * over) + 1)) & (smooth > 0.2 * smooth.max())
    cells = np.argwhere(is_top)
    order = np.argsort(-smooth[is_top], kind="stable")[:_MOST_PEAKS]
    return np.array([_between_cells(smooth, row, column) for row, column in cells[order]]).reshape(-1, 2)


def _between_cells(smooth: Float, row: int, column: int) -> list[float]:
    """Return a maximum between cells: that of the parabola through it and its two neighbors, each way."""
    found = []
    for at, line in ((row, smooth[:, column]), (column, smooth[row])):
        shift = 0.0
        if 0 < at < len(line) - 1:
            before, here, after = line[at - 1 : at + 2]
            bend = before - 2.0 * here + after
            shift = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
        found.append(float(at + np.clip(shift, -0.5, 0.5)))
    return found


def by_centers(
    pressure: Float,
    pitch: tuple[float, float] | None,
    plan: PressedPlan,
    flips: Iterable[bool],
    over: float = 1.0,
) -> list[FoundPose]:
    """Return the ways in which two of a mat's peaks lie on two load centers, that which agrees best first.

    Without a pitch the distance of the load centers tells it. None where there are no two of both. `over` is as for
    `mat_peaks`.
    """
    peaks = mat_peaks(pressure, over)
    found = []
    flips = tuple(flips)
    for first, second in permutations(range(min(len(peaks), _MOST_PEAKS)), 2):
        for one in range(min(len(plan.centers), _MOST_CENTERS)):
            for other in range(one + 1, min(len(plan.centers), _MOST_CENTERS)):
                pair = peaks[[first, second]]
                found += list(_on_pair(pressure, pitch, plan, pair, plan.centers[[one, other]], flips))
    return distinct(found)


def _on_pair(
    pressure: Float,
    pitch: tuple[float, float] | None,
    plan: PressedPlan,
    cells: Float,
    centers: Float,
    flips: Sequence[bool],
) -> Iterator[FoundPose]:
    apart = float(np.linalg.norm(centers[1] - centers[0]))
    in_cells = cells[:, ::-1]
    down, across = pitch or (1.0, 1.0)
    on_mat = float(np.linalg.norm((in_cells[1] - in_cells[0]) * [across, down]))
    if on_mat <= 0.0 or apart <= 0.0:
        return
    ratio = apart / on_mat
    if pitch is not None and not 1.0 / _FARTHEST < ratio < _FARTHEST:
        return
    used = (down, across) if pitch is not None else (ratio, ratio)
    for flipped in flips:
        way = (in_cells[1] - in_cells[0]) * [used[1] * (-1.0 if flipped else 1.0), used[0]]
        there = centers[1] - centers[0]
        turn = float(np.arctan2(there[1], there[0]) - np.arctan2(way[1], way[0]))
        made = rigid_map(plan.plane, used, turn, in_cells.mean(axis=0), centers.mean(axis=0), flipped=flipped)
        yield FoundPose(made, plan.agreement(pressure, made), ratio)


def by_pattern(
    pressure: Float, pitch: tuple[float, float], plan: PressedPlan, flips: Iterable[bool]
) -> list[FoundPose]:
    """Return the ways in which what a mat shows lies on where the body pressed, that which agrees best first.

    Notes
    -----
    All turns in steps of 15 degrees, for each the shift with the greatest cross-correlation of both patterns' roots
    (all shifts at once, by fast Fourier transform); the best are then moved and turned freely (Nelder-Mead) until they
    agree best.
    """
    from scipy.signal import fftconvolve  # here: it takes half a second to load, and few jobs have a mat

    target = np.where(plan.is_near, np.sqrt(plan.depth), 0.0)
    target = np.where(plan.is_near, target - target[plan.is_near].mean(), 0.0)
    rows, columns = pressure.shape
    middle = 0.5 * np.array([columns - 1.0, rows - 1.0])
    half = int(np.ceil(0.5 * np.hypot(rows * pitch[0], columns * pitch[1]) / plan.step_mm)) + 1
    span = plan.step_mm * np.arange(-half, half + 1)
    right, down = np.meshgrid(span, span)
    places = np.stack([right.ravel(), down.ravel()], axis=1)
    found: list[FoundPose] = []
    for flipped in flips:
        rough = []
        for number in range(_TURNS):
            turn = 2.0 * np.pi * number / _TURNS
            here = rigid_map(plan.plane, pitch, turn, middle, np.zeros(2), flipped=flipped)
            row_column = here.flat_row_column(places)
            seen = ndimage.map_coordinates(pressure, row_column, order=1, mode="constant").reshape(right.shape)
            fits = fftconvolve(target, np.sqrt(np.maximum(seen, 0.0))[::-1, ::-1], mode="full")
            best = np.unravel_index(int(np.argmax(fits)), fits.shape)
            at = plan.corner + plan.step_mm * (np.array([best[1], best[0]]) - half)
            made = rigid_map(plan.plane, pitch, turn, middle, at, flipped=flipped)
            rough.append(FoundPose(made, plan.agreement(pressure, made)))
        found += [_polished(pressure, pitch, plan, middle, each) for each in distinct(rough)[:_POLISHED]]
    return distinct(found)


def _polished(
    pressure: Float,
    pitch: tuple[float, float],
    plan: PressedPlan,
    middle: Float,
    rough: FoundPose,
) -> FoundPose:
    at, flipped = rough.cells.flat_of(middle[None, ::-1])[0], rough.is_flipped
    turn = float(np.radians(rough.cells.turn_deg))
    reach = 0.25 * max(pressure.shape[0] * pitch[0], pressure.shape[1] * pitch[1])  # mm that a turn of 1 moves an edge

    def made(motion: Float) -> CellMap:
        return rigid_map(plan.plane, pitch, turn + motion[2] / reach, middle, at + motion[:2], flipped=flipped)

    start = np.zeros((4, 3))
    start[1:] = 5.0 * np.eye(3)
    end = minimize(
        lambda motion: -plan.agreement(pressure, made(motion)), np.zeros(3), method="Nelder-Mead",
        options={"initial_simplex": start, "xatol": 0.1, "fatol": 1e-5, "maxiter": 150},
    )  # fmt: skip
    return FoundPose(made(end.x), -float(end.fun))


def distinct(found: Sequence[FoundPose]) -> list[FoundPose]:
    """Return poses that differ in more than a little, the best first."""
    kept: list[FoundPose] = []
    for each in sorted(found, key=lambda pose: -pose.agreement):
        if len(kept) < _MOST_POSES and not any(_alike(each, other) for other in kept):
            kept.append(each)
    return kept


def _alike(one: FoundPose, two: FoundPose) -> bool:
    if one.is_flipped != two.is_flipped:
        return False
    off = abs(one.cells.turn_deg - two.cells.turn_deg) % 360.0
    corner = np.array([[0.0, 0.0]])
    apart = float(np.linalg.norm(one.cells.flat_of(corner) - two.cells.flat_of(corner)))
    return min(off, 360.0 - off) < _SAME_DEG and apart < 2.0 * _SAME_MM


def size_by_spread(pressure: Float, pitch: tuple[float, float], plan: PressedPlan) -> float:
    """Return by which factor cells would have to be farther apart for a mat to be as wide as the imprint.

    Of both the distance from their own middle, root of mean square, weighed by the roots of pressure and depth: however
    the mat lies.
    """
    rows, columns = np.indices(pressure.shape)
    on_mat = np.stack([columns.ravel() * pitch[1], rows.ravel() * pitch[0]], axis=1)
    return _spread(plan.places, np.sqrt(plan.pressed)) / _spread(on_mat, np.sqrt(pressure.ravel()))


def _spread(places: Float, weight: Float) -> float:
    middle = np.average(places, axis=0, weights=weight)
    return float(np.sqrt(np.average(((places - middle) ** 2).sum(axis=1), weights=weight)))
