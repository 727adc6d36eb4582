"""Whether the best pose stands alone: rivals that fit nearly as well, and finds that are the same pose, unsettled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import expm, logm

from ..geometry.frames import motion_between, rotation_angle_deg
from ..mesh import Float
from .align_bare import refine_bare
from .align_ready import Scans
from .align_refine import Explained, Fit, expected_noise, explained, refine
from .align_samples import Cloud

RIVAL = 0.95
"""A distinct pose that reaches this share of the best score fits nearly as well (own measurement, docs/03-align.md)."""

MOST_REFINED = 5
"""Poses that are refined on all points; enough to tell two from several."""

SURE = 4.0
"""Standard errors by which a pose on the same ridge must score less to be no rival (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Found:
    """A refined pose of the centred clouds with what it explains.

    Attributes
    ----------
    fit : Fit
    explained : Explained
    bare : (Cloud, Cloud)
        The points of both scans that took part in its last fit.
    is_rival : bool
        It fits nearly as well as the best and is not the same pose.
    is_same_ridge : bool
        The score does not dip on the way from the best pose: a loose motion leads from one to the other.
    apart_mm, turn_deg : float
        From the best pose.
    """

    fit: Fit
    explained: Explained
    bare: tuple[Cloud, Cloud]
    is_rival: bool = False
    is_same_ridge: bool = False
    apart_mm: float = 0.0
    turn_deg: float = 0.0


def scoring_tolerance(scans: Scans, noises: list[float]) -> float:
    """Return the gap, mm, up to which two points count as one surface.

    Three standard deviations of the least noise any pose left, but no more than three times what the scans' roughness
    explains: a pose that fits badly must not widen the measure it is judged by.
    """
    expected = expected_noise(scans.base, scans.impression)
    return 3.0 * float(np.clip(min(noises), expected, 2.0 * expected))


def distinct_mm(scans: Scans) -> float:
    """Return the mean motion of the surface, mm, from which two poses count as two.

    2 % of the part, or ten times the noise (common practice, no source): below it, two finds are one pose seen through
    noise.
    """
    return min(max(0.02 * scans.size, 1.0), max(0.02 * scans.size, 10.0 * scans.noise_mm))


def weigh(scans: Scans, starts: list[Float]) -> tuple[list[Found], float]:
    """Return the refined poses, best first, distinct and with rivals marked, and the tolerance of their scores, mm."""
    few = scans.base_fit.taken(slice(0, 3000)), scans.impression_fit.taken(slice(0, 3000))
    most = scans.base_fit.taken(slice(0, 8000)), scans.impression_fit.taken(slice(0, 8000))
    fits = [
        refine(
            scans.base,
            scans.impression,
            start,
            scans.size,
            base_at=few[0],
            impression_at=few[1],
            settled=0.02,
            steps=16,
        )
        for start in starts
    ]
    tolerance = scoring_tolerance(scans, [fit.noise_mm for fit in fits])
    rough = [explained(scans.base, scans.impression, fit.matrix, tolerance, *few) for fit in fits]
    order = np.argsort([-guess.score for guess in rough], kind="stable")
    apart = distinct_mm(scans)
    points = scans.impression.cloud.points[:: max(1, len(scans.impression.cloud.points) // 400)]
    found: list[Found] = []
    for index in order:
        fit, guess, bare = fits[index], rough[index], few
        if any(motion_between(fit.matrix, known.fit.matrix, points) < 0.5 * apart for known in found):
            continue
        if guess.score > 0.85 * rough[order[0]].score and len(found) < MOST_REFINED:
            fit, *kept = refine_bare(
                scans.base,
                scans.impression,
                fit,
                scans.size,
                base_at=scans.base_fit,
                impression_at=scans.impression_fit,
            )
            guess, bare = explained(scans.base, scans.impression, fit.matrix, tolerance, *most), (kept[0], kept[1])
        if any(motion_between(fit.matrix, known.fit.matrix, points) < apart for known in found):
            continue
        found.append(Found(fit, guess, bare))
    found.sort(key=lambda pose: -pose.explained.score)
    best = found[0]
    return [best, *(_compared(scans, best, other, tolerance, points) for other in found[1:])], tolerance


def _compared(scans: Scans, best: Found, other: Found, tolerance: float, points: Float) -> Found:
    apart = motion_between(best.fit.matrix, other.fit.matrix, points)
    turn = rotation_angle_deg(other.fit.matrix[:3, :3] @ best.fit.matrix[:3, :3].T)
    is_rival = other.explained.score > RIVAL * best.explained.score
    is_same_ridge = False
    if is_rival:
        is_same_ridge = _is_one_ridge(scans, best, other, tolerance, apart)
        if is_same_ridge and len(best.explained.values) == len(other.explained.values):
            less = best.explained.values - other.explained.values
            is_rival = bool(less.mean() < SURE * less.std() / np.sqrt(len(less)))
    return Found(other.fit, other.explained, other.bare, is_rival, is_same_ridge, apart, turn)


def _is_one_ridge(scans: Scans, best: Found, other: Found, tolerance: float, apart: float) -> bool:
    """Return True when the score does not dip on the screw motion from one pose to the other."""
    few = scans.base_fit.taken(slice(0, 1500)), scans.impression_fit.taken(slice(0, 1500))
    step = other.fit.matrix @ np.linalg.inv(best.fit.matrix)
    if rotation_angle_deg(step[:3, :3]) > 179.0:
        return False  # half a turn has no one way there
    screw = np.real(logm(step))
    count = int(np.clip(apart / (2.0 * tolerance), 3, 7))
    ends = [explained(scans.base, scans.impression, pose.fit.matrix, tolerance, *few).score for pose in (best, other)]
    for share in np.linspace(0.0, 1.0, count + 2)[1:-1]:
        between = expm(share * screw) @ best.fit.matrix
        value = explained(scans.base, scans.impression, between, tolerance, *few).score
        if value < min(ends) - 0.02 * ends[0]:
            return False
    return True
