"""Stage 3: lay the impression scan on the base scan, from any pose, or say why it cannot be told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import SolveError
from ..geometry.frames import moved, rigid
from ..mesh import Float, TriMesh
from ..progress import Progress, Steps, nested
from .align_certainty import Check, Motion, check_held_back, pinned_motions
from .align_poses import likely_poses
from .align_ready import Scans, prepare
from .align_refine import Fit, expected_noise, explained, match_both
from .align_rivals import weigh
from .align_samples import Cloud

LEAST_SCORE = 0.05
"""Below this the best pose explains too little of the scans to be believed (own measurement, docs/03-align.md)."""

IMPOSSIBLE = 0.01
"""More held-back points than this where none can be, and the pose is not believed (common practice, no source)."""

WEAK_TURN_DEG = 0.1
"""Two standard errors of a turn beyond this are told, degrees: the project's own aim for the fit."""

LOPSIDED = 1.5
"""Gaps may spread this much more than their clay-free side (own measurement, docs/03-align.md: 1.2 if right)."""

_ADVICE = "Pick three or more point pairs on both scans (screw heads, corners, pen marks) and align by pairs."


@dataclass(frozen=True, eq=False)
class OtherPose:
    """A pose that was found and not taken.

    Attributes
    ----------
    matrix : (4, 4) float
        Impression to base.
    score : float
    is_rival : bool
        It fits nearly as well.
    apart_mm : float
        Mean distance of the impression's surface from where the taken pose puts it.
    turn_deg : float
    """

    matrix: Float
    score: float
    is_rival: bool
    apart_mm: float
    turn_deg: float


@dataclass(frozen=True, eq=False)
class Alignment:
    """Where the impression lies on the base, with the evidence.

    Attributes
    ----------
    matrix : (4, 4) float
        Impression frame to base frame, mm; a rotation (determinant +1) and a translation.
    rms_mm, p95_mm : float
        Of the gaps between averaged points on what both scans show, within `tolerance_mm`.
    tolerance_mm : float
    overlap : float
        Share of the impression's surface that lies on the base.
    noise_mm, expected_noise_mm : float
        Standard deviation of a gap, judged from the side that clay does not touch; and what the scans' roughness
        foretells.
    score : float
        Share of both scans explained, less what contradicts; comparable between poses of one pair of scans only.
    motions : tuple of Motion
        The six motions and how well each is pinned.
    loosest : str
        The motion that stays loose, in words; empty when all are pinned.
    check : Check
        By points that took no part in the fit.
    others : tuple of OtherPose
        The next best distinct poses, best first; none when picked pairs were given.
    margin : float
        1 - (score of the best other pose) / (own score); 1 when there is none.
    method : str
        "automatic" or "pairs".
    pair_misses_mm : tuple of float
        What is left at each picked pair.
    notes : tuple of str
    """

    matrix: Float
    rms_mm: float
    p95_mm: float
    tolerance_mm: float
    overlap: float
    noise_mm: float
    expected_noise_mm: float
    score: float
    motions: tuple[Motion, ...]
    loosest: str
    check: Check
    others: tuple[OtherPose, ...]
    margin: float
    method: str
    pair_misses_mm: tuple[float, ...]
    notes: tuple[str, ...]


def align_scans(base: TriMesh, impression: TriMesh, *, seed: int = 0) -> Steps[Alignment]:
    """Find the pose of the impression scan on the base scan from nothing.

    Parameters
    ----------
    base, impression : TriMesh
        Cleaned, turned outward, in mm after scale correction; may be open, in any pose.
    seed : int
        Of the points drawn.

    Returns
    -------
    Alignment

    Raises
    ------
    ScanError
        When a scan is too small or the sizes do not go together.
    SolveError
        When several distinct poses fit nearly as well, a motion is loose, or nothing fits.
    """
    yield Progress(0.0, "Preparing both scans")
    scans = prepare(base, impression, seed)
    starts = yield from nested(likely_poses(scans), 0.05, 0.7)
    yield Progress(0.7, f"Refining and weighing {len(starts)} poses")
    found, tolerance = weigh(scans, starts)
    yield Progress(0.9, "Checking with held-back points")
    others = tuple(
        OtherPose(
            scans.in_scans(other.fit.matrix), other.explained.score, other.is_rival, other.apart_mm, other.turn_deg
        )
        for other in found[1:]
    )
    result = judged(base, impression, scans, found[0].fit, found[0].bare, tolerance, others=others)
    _refuse_if_unsure(result)
    return result


def judged(
    base: TriMesh,
    impression: TriMesh,
    scans: Scans,
    fit: Fit,
    bare: tuple[Cloud, Cloud],
    tolerance: float,
    *,
    others: tuple[OtherPose, ...] = (),
    method: str = "automatic",
    pair_misses: tuple[float, ...] = (),
    notes: tuple[str, ...] = (),
) -> Alignment:
    """Return the alignment of a refined pose with all its evidence."""
    sample = scans.base_fit, scans.impression_fit
    gap = np.abs(
        np.concatenate(
            [
                match.gap[match.is_seen & (np.abs(match.gap) < tolerance)]
                for match in match_both(scans.base, scans.impression, fit.matrix, tolerance + 5.0, *sample)
            ]
        )
    )
    whole = explained(scans.base, scans.impression, fit.matrix, tolerance, *sample)
    motions, loosest = pinned_motions(scans.base, scans.impression, fit, scans.size, *bare)
    held = [
        Cloud(moved(rigid(np.eye(3), middle), cloud.points), cloud.normals, cloud.is_edge, cloud.cell)
        for cloud, middle in (
            (scans.base_held, scans.base_middle),
            (scans.impression_held, scans.impression_middle),
        )
    ]
    matrix = scans.in_scans(fit.matrix)
    # Triangles carry the scan's whole noise, averaged points about half of it: twice the tolerance.
    check = check_held_back(base, impression, matrix, held[0], held[1], 2.0 * tolerance)
    margin = 1.0
    if others and whole.score > 0:
        margin = 1.0 - max(0.0, others[0].score) / whole.score
    return Alignment(
        matrix=matrix,
        rms_mm=float(np.sqrt(np.square(gap).mean())) if len(gap) else float("inf"),
        p95_mm=float(np.quantile(gap, 0.95)) if len(gap) else float("inf"),
        tolerance_mm=tolerance,
        overlap=whole.overlap,
        noise_mm=fit.noise_mm,
        expected_noise_mm=expected_noise(scans.base, scans.impression),
        score=whole.score,
        motions=motions,
        loosest=loosest,
        check=check,
        others=others,
        margin=margin,
        method=method,
        pair_misses_mm=pair_misses,
        notes=(*notes, *_weak_turns(motions)),
    )


def _weak_turns(motions: tuple[Motion, ...]) -> tuple[str, ...]:
    return tuple(
        f"The {motion.name} is known to {2.0 * motion.standard_error:.2f} degrees only "
        f"({motion.reach_mm:.2f} mm on the clay)."
        for motion in motions
        if motion.name.startswith("turn") and WEAK_TURN_DEG < 2.0 * motion.standard_error and not motion.is_loose
    )


def _refuse_if_unsure(found: Alignment) -> None:
    if found.score < LEAST_SCORE:
        raise SolveError(
            f"No pose fits: the best explains {100 * max(0.0, found.score):.0f} % of the two scans.",
            hint="Check that both scans show the same base at the same scale. " + _ADVICE,
        )
    rivals = [other for other in found.others if other.is_rival]
    if rivals:
        first = rivals[0]
        loose = f" Loose motion: {found.loosest}." if found.loosest else ""
        raise SolveError(
            f"{len(rivals) + 1} distinct poses fit the scans nearly as well (the second explains "
            f"{100 * first.score:.1f} % of them, the best {100 * found.score:.1f} %); they differ by a turn of "
            f"{first.turn_deg:.0f} degrees and {first.apart_mm:.0f} mm.{loose}",
            hint=_ADVICE,
        )
    if found.loosest:
        raise SolveError(f"The base does not pin the impression down: {found.loosest} stays loose.", hint=_ADVICE)
    # Warp between two good scans adds to their roughness; twice it and 0.2 mm is more than scans of one base show.
    if found.noise_mm > 2.0 * found.expected_noise_mm + 0.2:
        raise SolveError(
            f"The best pose leaves {found.noise_mm:.2f} mm where the scans' roughness explains "
            f"{found.expected_noise_mm:.2f} mm: it is no real fit.",
            hint="Check the scale of both scans. " + _ADVICE,
        )
    if found.rms_mm > LOPSIDED * max(found.noise_mm, found.expected_noise_mm):
        raise SolveError(
            f"In the best pose the gaps are lopsided: {found.rms_mm:.2f} mm over all, {found.noise_mm:.2f} mm on the "
            "base's side: it is no real fit.",
            hint="Check that both scans are turned outward and at the same scale. " + _ADVICE,
        )
    if found.check.share_inside > IMPOSSIBLE:
        raise SolveError(
            f"In the best pose {100 * found.check.share_inside:.0f} % of the held-back points lie inside the base or "
            "outside the clay.",
            hint="Check that both scans show the same base. " + _ADVICE,
        )
