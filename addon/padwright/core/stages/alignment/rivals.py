"""Whether the best pose stands alone: rivals that fit nearly as well, and finds that are the same pose, unsettled."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...base.mesh import Float, Int
from ...base.progress import Progress, Steps
from ...geometry.frames import motion_between, rotation_angle_deg
from ...geometry.matching import row_numbers
from .bare_base import refine_bare
from .cloud import Cloud
from .refine import ROUGHER, BothScans, Explained, RefinedPose, explained, refine

SURE = 3.0
"""Standard errors by which another pose must explain less to be no rival (own measurement, docs/models/align.md)."""

ALIKE_SHARE = 0.8
"""A pose that explains less than this share of the best one's score does not fit about equally well, even where only
borders of the scans tell it (own measurement, docs/models/align.md)."""

BLOCK = 0.15
"""Edge of a block of neighbors that count as one witness, as a share of the part's root-mean-square radius: 20 mm on a
seat (own measurement, docs/models/align.md)."""

MOST_REFINED = 12
"""Poses that are refined on all points: a hexagonal handle has six, end for end twelve."""

LIKELY = 0.7
"""A pose below this share of the best score is not refined on all points."""


@dataclass(frozen=True, eq=False)
class Found:
    """A refined pose of the centered clouds with what it explains."""

    fit: RefinedPose
    explained: Explained
    bare: BothScans  # with the points that took part in its last fit
    is_rival: bool = False  # the scans cannot tell it from the best, and it is not the same pose
    # behind, behind_error: how much less than the best it explains where both can be judged, and the standard error of
    # that.
    behind: float = 0.0
    behind_error: float = 0.0
    # apart_mm, turn_deg: from the best pose.
    apart_mm: float = 0.0
    turn_deg: float = 0.0


def scoring_tolerance(both: BothScans, noises: list[float]) -> float:
    """Return the gap, mm, up to which two points count as one surface.

    Three standard deviations of the least noise any pose left, within what the scans' roughness can explain: a pose
    that fits badly must not widen the measure it is judged by.
    """
    return 3.0 * float(np.clip(min(noises), both.noise_mm, ROUGHER * both.noise_mm))


def distinct_mm(both: BothScans) -> float:
    """Return the mean motion of the surface, mm, from which two poses count as two.

    2 % of the part, or ten times the noise (common practice, no source): below it, two finds are one pose seen through
    noise.
    """
    return min(max(0.02 * both.size, 1.0), max(0.02 * both.size, 10.0 * both.noise_mm))


def weigh(both: BothScans, starts: list[Float]) -> Steps[tuple[list[Found], float]]:
    """Return the refined distinct poses and the tolerance of their scores, mm.

    The best comes first, then its rivals, then the others, each best first. `starts` must not be empty.
    """
    few, most = both.first(3000).in_order(), both.first(8000).in_order()
    fits = []
    for number, start in enumerate(starts):
        yield Progress(0.4 * number / len(starts), f"Refining {len(starts)} poses")
        fits.append(refine(few, start, settled=0.02, steps=16))
    tolerance = scoring_tolerance(both, [fit.noise_mm for fit in fits])
    rough = [explained(few, fit.matrix, tolerance) for fit in fits]
    order = np.argsort([-guess.score for guess in rough], kind="stable")
    apart = distinct_mm(both)
    points = both.impression.cloud.points[:: max(1, len(both.impression.cloud.points) // 400)]
    found: list[Found] = []
    for index in order:
        fit = fits[index]
        if any(motion_between(fit.matrix, known.fit.matrix, points) < 0.5 * apart for known in found):
            continue
        bare = few
        if rough[index].score > LIKELY * rough[order[0]].score and len(found) < MOST_REFINED:
            yield Progress(0.4 + 0.1 * len(found), f"Weighing {len(starts)} poses")
            fit, bare = refine_bare(both, fit)
        if any(motion_between(fit.matrix, known.fit.matrix, points) < apart for known in found):
            continue
        found.append(Found(fit, explained(most, fit.matrix, tolerance), bare))
    found.sort(key=lambda pose: -pose.explained.score)
    best = found[0]
    blocks = _blocks(BLOCK * both.size, most.base_at, most.impression_at)
    others = [compared(best, other, blocks, points) for other in found[1:]]
    others.sort(key=lambda pose: not pose.is_rival)  # a stable sort: best first among equals
    return [best, *others], tolerance


def _blocks(edge: float, base_at: Cloud, impression_at: Cloud) -> Int:
    """Return the number of the block that each point lies in: the impression's points, then the base's."""
    place = np.concatenate([np.floor(cloud.points / edge).astype(np.int64) for cloud in (impression_at, base_at)])
    scan = np.repeat([0, 1], [len(impression_at.points), len(base_at.points)])
    return row_numbers(np.column_stack([scan, place])).astype(np.int32)


def compared(best: Found, other: Found, blocks: Int, points: Float) -> Found:
    """Return the other pose with what tells it from the best one.

    Notes
    -----
    A paired test: each point gives the difference of what it adds to both scores; a point that one of the poses lays
    beyond a border says nothing. Neighbors share noise, warp and clay, so blocks of them are the witnesses: variance
    of a sum over independent blocks (Liang & Zeger 1986, doi 10.1093/biomet/73.1.13). A single place that differs, were
    it ever so clear, is one witness: it may be a fault of one scan.
    """
    both = best.explained.is_judged & other.explained.is_judged
    less = np.where(both, best.explained.values - other.explained.values, 0.0)
    per_block = np.bincount(blocks, less)
    behind, error = float(per_block.sum()), float(np.sqrt(np.square(per_block).sum()))
    return replace(
        other,
        is_rival=(behind <= SURE * error) & (other.explained.score >= ALIKE_SHARE * best.explained.score),
        behind=behind,
        behind_error=error,
        apart_mm=motion_between(best.fit.matrix, other.fit.matrix, points),
        turn_deg=rotation_angle_deg(other.fit.matrix[:3, :3] @ best.fit.matrix[:3, :3].T),
    )
