"""Whether base and impression, laid on each other, are of one size: the factor that would fit them better."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float, TriMesh, sums_by
from ...base.notes import to_act_on
from ...geometry.matching import row_numbers
from ...geometry.query import NearestSurface

_MOST_POINTS = 4_000
"""The standard error is then 0.01 % on a scanned seat, a fortieth of what is told (own measurement)."""
_ROUNDS = 5
_SETTLED_MM = 0.01  # a step that moves no point by more is the last
_FAR = 0.05  # of the part's length: what is farther apart at the start is clay, whatever the size
_BLOCKS = 7
"""Along the longest side. Noise of scans hangs together over centimeters, so the error is taken over blocks of the
part, not over points (cluster-robust standard error, Liang & Zeger 1986, doi 10.1093/biomet/73.1.13)."""
_FEWEST_BLOCKS = 12
_FEWEST_POINTS = 130
_TOLD, _TOLD_ERRORS = 0.004, 4.0
"""A ratio is told from 0.4 % (1.2 mm on 300 mm) and four standard errors on: choices of ours, no source."""

MOST_APART = 0.02
"""Two scans of one thing that differ by more are not both right, and no pad can fit both. A choice of ours."""


@dataclass(frozen=True)
class SizeRatio:
    """How much larger the impression would fit the base best."""

    value: float  # 1 when they are of one size; 1.01 when the impression, as scaled, is 1 % too small
    standard_error: float

    @property
    def is_off(self) -> bool:
        """Whether it differs from 1 by more than chance and by an amount that matters."""
        return abs(self.value - 1.0) > max(_TOLD, _TOLD_ERRORS * self.standard_error)


def size_ratio(base: TriMesh, impression: TriMesh, within_mm: float) -> SizeRatio | None:
    """Return the factor on the impression that fits the base best, from the places that both show; None with too few.

    Both are aligned, mm; points nearer than `within_mm` are bare of clay at the start.

    Notes
    -----
    Point to plane with a seventh unknown for the size (Chen & Medioni 1992, doi 10.1016/0262-8856(92)90066-C, for the
    six), Tukey weights. On a flat or round base the size is loose along the surface; the standard error shows it.
    """
    picked = impression.vertices[:: max(len(impression.vertices) // _MOST_POINTS, 1)]
    surface = NearestSurface.of(base)
    middle = picked.mean(axis=0)
    length = float(np.ptp(picked, axis=0).max())
    is_inner = ~base.is_on_border[base.faces].any(axis=1)
    placed, total, reach = picked, 1.0, within_mm
    error = math.inf
    for turn in range(_ROUNDS):
        found = surface.find(placed)
        if turn == 0:  # far places, which take the longest to look up, are not asked again
            is_near = found.distance < max(3.0 * within_mm, _FAR * length)
            placed, found = placed[is_near], found.taken(is_near)
        normal = base.face_normals[found.face]
        gap = np.einsum("ij,ij->i", placed - found.point, normal)
        mine = np.flatnonzero((np.abs(gap) < reach) & is_inner[found.face])
        place, normal, gap = placed[mine] - middle, normal[mine], gap[mine]
        block = row_numbers(np.floor(place / (length / _BLOCKS)).astype(np.int64))
        if len(mine) < _FEWEST_POINTS or block.max() + 1 < _FEWEST_BLOCKS:
            return None
        rows = np.column_stack(
            [np.cross(place, normal) / length, normal, np.einsum("ij,ij->i", place, normal) / length]
        )
        weight = (1.0 - np.minimum(np.abs(gap) / reach, 1.0) ** 2) ** 2
        square = (rows * weight[:, None]).T @ rows
        square += 1e-6 * np.trace(square) / 7.0 * np.eye(7)  # what slides freely stays where it is
        step = -np.linalg.solve(square, (rows * weight[:, None]).T @ gap)
        left = gap + rows @ step
        score = sums_by(block, rows * (weight * left)[:, None])
        inverse = np.linalg.inv(square)
        error = float(np.sqrt((inverse @ score.T @ score @ inverse)[6, 6])) / length
        placed, grown = _moved(placed, middle, step, length)
        total *= grown
        before = reach
        reach = min(reach, max(0.3 * within_mm, 6.0 * 1.4826 * float(np.median(np.abs(left)))))
        if float(np.linalg.norm(step)) < _SETTLED_MM and reach > 0.99 * before:
            break
    return SizeRatio(total, error)


def _moved(points: Float, middle: Float, step: Float, length: float) -> tuple[Float, float]:
    """Return the points turned, grown about the middle and shifted by a step, and how much they grew."""
    from scipy.spatial.transform import Rotation

    turn = Rotation.from_rotvec(step[:3] / length).as_matrix()
    grown = 1.0 + float(step[6]) / length
    return middle + grown * (points - middle) @ turn.T + step[3:6], grown


def size_note(ratio: SizeRatio, length_mm: float, *, is_taken_over: bool, base_factor: float = 1.0) -> str:
    """Return what to say of sizes that differ, for a part so long, mm.

    Taken over is the scale of an impression that has no check lengths of its own; `base_factor` is that by which the
    base scan was corrected and such an impression was not.
    """
    percent = 100.0 * (ratio.value - 1.0)
    if not is_taken_over:
        advice = "Check the lengths of both scans."
    elif base_factor != 1.0:
        advice = (
            f"It is taken as large as its file says, and the base was made {100.0 * abs(base_factor - 1.0):.1f} % "
            f'{"larger" if base_factor > 1.0 else "smaller"}: if both were scanned alike write scale = "as base", or '
            "give the impression a check length of its own."
        )
    else:
        advice = "The impression's scale is taken from the base: give it a check length of its own."
    return to_act_on(
        f"Where both scans show the same surface, the impression would fit the base better {abs(percent):.1f} % "
        f"{'larger' if percent > 0 else 'smaller'} (standard error {100 * ratio.standard_error:.1f} %): "
        f"{abs(percent) / 100 * length_mm:.1f} mm on {length_mm:.0f} mm. {advice}"
    )
