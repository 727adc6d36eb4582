"""The scale that picked pairs, or the surfaces both scans show, imply for the impression beside the one taken."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ...base.notes import to_act_on
from ...geometry.frames import fit_similarity, moved, rigid, rotations_from_vectors
from .noise import gap_noise
from .refine import BothScans, RefinedPose, used_rows

CLEAR_ERRORS = 3.0
"""Standard errors from which an implied scale contradicts the one taken (common practice, no source)."""

LEAST_SHARE = 0.002
"""A difference below it, 0.5 mm on 250 mm, may be a scan's bend as well as its scale (common practice, no source)."""

_ROUNDS = 5
_SETTLED_MM = 2e-3
"""A step that moves the part by less is the last, as in the fit."""


@dataclass(frozen=True)
class ImpliedScale:
    """By what the impression should be multiplied to agree with the base."""

    factor: float  # 1 where the scale taken is right
    standard_error: float
    basis: str  # "pairs" or "surfaces"

    @property
    def contradicts(self) -> bool:
        """True when it is clearly not 1."""
        off = abs(self.factor - 1.0)
        return off > CLEAR_ERRORS * self.standard_error and off > LEAST_SHARE

    def note(self, length_mm: float) -> str:
        """Return what picked pairs say of a part of that length; surfaces are held against each other in every run."""
        off = 100.0 * (self.factor - 1.0)
        more = "larger" if off > 0 else "smaller"
        return to_act_on(
            f"The picked pairs fit best with the impression {abs(off):.2f} % {more} (standard error "
            f"{100.0 * self.standard_error:.2f} %), {abs(off) * length_mm / 100.0:.1f} mm on {length_mm:.0f} mm: its "
            "scale contradicts the base's. Give the impression check lengths of its own, or check those of the base."
        )


def scale_of_pairs(base_points: Float, impression_points: Float, picking_mm: float) -> ImpliedScale:
    """Return the scale that picked pairs, both (k, 3) with k >= 3, imply.

    Notes
    -----
    Umeyama 1991, doi 10.1109/34.88573. Its standard error is that of one picked coordinate (`picking_mm`, or what is
    left, where that is more) over the root of the points' summed squared distances from their middle.
    """
    fit = fit_similarity(impression_points, base_points)
    centered = impression_points - impression_points.mean(axis=0)
    free = max(1, 3 * len(base_points) - 7)
    left = fit.rms * np.sqrt(len(base_points) / free)  # per coordinate
    # Both points of a pair were picked.
    error = max(left, np.sqrt(2.0 / 3.0) * picking_mm)
    return ImpliedScale(fit.scale, float(error / np.sqrt(np.square(centered).sum())), "pairs")


def scale_of_surfaces(both: BothScans, fit: RefinedPose) -> ImpliedScale:
    """Return the scale that the surfaces both scans show imply, by the samples that took part in the fit.

    Notes
    -----
    The last fit goes on with a seventh unknown: a gap grows by normal . point with the impression's scale. Standard
    error as in `pinned_motions`, with H of the met and the own normals.
    """
    size, matrix, factor = both.size, fit.matrix, 1.0
    inverse, of_sum = np.zeros((7, 7)), np.zeros((7, 7))
    for step in range(_ROUNDS):
        matches = both.matches(matrix, both.within(fit.width_mm), factor)
        *rows, weight, gap, place = used_rows(matches, fit.width_mm, size)
        lever = (place - matrix[:3, 3]) / size  # from the impression's own middle, where it stays
        row, met, own = (np.column_stack([each, np.einsum("nk,nk->n", lever, each[:, 3:])]) for each in rows)
        if len(gap) < 50:
            return ImpliedScale(1.0, float("inf"), "surfaces")
        cross = (met * weight[:, None]).T @ own
        cross = 0.5 * (cross + cross.T) + 1e-6 * np.trace(cross) / 7.0 * np.eye(7)
        inverse = np.linalg.pinv(cross, hermitian=True)
        motion = -inverse @ (row.T @ (weight * gap))
        motion *= min(1.0, 0.1 * size / max(1e-12, float(np.linalg.norm(motion))))
        is_last = step + 1 == _ROUNDS or float(np.linalg.norm(motion)) < _SETTLED_MM
        if is_last:
            of_sum = gap_noise(place, gap, row, weight, 2.0 * both.base.cloud.cell).of_sum
        turn = rotations_from_vectors(motion[:3] / size)
        matrix = rigid(turn @ matrix[:3, :3], moved(rigid(turn, motion[3:6]), matrix[:3, 3]))
        factor += float(motion[6]) / size
        if is_last:
            break
    error = float(np.sqrt(max(0.0, (inverse @ of_sum @ inverse)[6, 6]))) / size
    return ImpliedScale(factor, error, "surfaces")
