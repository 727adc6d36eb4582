"""Alignment by point pairs that a person picked on both scans."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...base.notes import to_act_on, to_look_at
from ...base.text import counted
from ...geometry.frames import fit_similarity, is_collinear, moved, rigid
from .align import IMPOSSIBLE, LEAST_SCORE, FoundAlignment, judged, lopsided_note
from .bare_base import refine_bare
from .implied_scale import scale_of_pairs
from .prepared_scans import prepare
from .refine import refine
from .rivals import scoring_tolerance

PICKING_MM = 1.0
"""Standard deviation of a picked point, mm (common practice, no source: screw heads and corners on a 1 mm mesh)."""

LAID_INTO = 0.05
"""More points than this inside the base or outside the clay, and the pairs are wrong ones (common practice, no source:
five times what an automatic pose may have)."""

FAR_OFF_MM = 10.0
"""A pair that misses by more than this is a wrong pair, not a badly picked one (common practice, no source)."""


def align_by_pairs(
    base: TriMesh,
    impression: TriMesh,
    base_points: Float,
    impression_points: Float,
    *,
    refined: bool = True,
    seed: int = 0,
) -> FoundAlignment:
    """Align by three or more picked pairs, then refine on what both scans show, unless `refined` is False.

    The points, (k, 3) mm, are row by row the same feature, each in its own scan's frame after scale correction.

    Raises InputError for fewer than three pairs, pairs on one line, a pair that misses by more than 10 mm, or pairs
    that lay the scans into each other; ScanError when a scan is too small or the sizes do not go together.

    Notes
    -----
    Closed form: Umeyama 1991, doi 10.1109/34.88573, with scale 1, never a mirror. In the refinement the pairs stay in
    with 1 mm standard deviation and hold what the surfaces leave loose.
    """
    base_points = np.asarray(base_points, dtype=np.float64)
    impression_points = np.asarray(impression_points, dtype=np.float64)
    _refuse_pairs(base_points, impression_points)
    matrix, misses, notes = _closed_form(base_points, impression_points)
    implied = scale_of_pairs(base_points, impression_points, PICKING_MM)
    scans = prepare(base, impression, seed)
    spread = max(PICKING_MM, float(np.sqrt(np.square(misses).mean())))
    pinned = (base_points - scans.base_middle, impression_points - scans.impression_middle, spread)
    bare, steps = scans.both, 30 if refined else 0
    fit = refine(bare, scans.in_clouds(matrix), start_width=3.0 * spread, steps=steps, pinned=pinned)
    if refined:
        fit, bare = refine_bare(bare, fit, pinned=pinned)
    after = np.linalg.norm(moved(scans.in_scans(fit.matrix), impression_points) - base_points, axis=1)
    # In a wrong pose the gaps say nothing of the noise, and there is no other pose to learn it from.
    tolerance = scoring_tolerance(scans.both, [min(fit.noise_mm, 2.0 * scans.both.noise_mm)])
    result = judged(
        base,
        impression,
        scans,
        fit,
        bare,
        tolerance,
        method="pairs",
        pair_misses=tuple(map(float, after)),
        scale_of_pairs=(implied,),
        notes=notes,
    )
    if result.check.share_inside > LAID_INTO:
        raise InputError(
            f"By these pairs {100 * result.check.share_inside:.0f} % of the points lie inside the base or outside the "
            "clay, where none can be.",
            hint="Check that each pair is the same feature on both scans, and the scale of both scans.",
        )
    return replace(result, notes=(*result.notes, *_doubts(result, spread, refined)))


def _refuse_pairs(base_points: Float, impression_points: Float) -> None:
    """Refuse pairs that cannot hold a pose, whatever the scans are."""
    if base_points.ndim != 2 or base_points.shape[1:] != (3,) or base_points.shape != impression_points.shape:
        raise InputError(
            f"Point pairs must be two arrays with shape (k, 3); got {base_points.shape} and {impression_points.shape}."
        )
    if len(base_points) < 3:
        raise InputError(
            f"{counted(len(base_points), 'point pair was', 'point pairs were')} given; 3 or more are needed.",
            hint="Pick more pairs.",
        )
    if not (np.isfinite(base_points).all() and np.isfinite(impression_points).all()):
        raise InputError("A picked point has a number that is not finite.", hint="Pick that pair again.")
    for points, name in ((base_points, "base"), (impression_points, "impression")):
        if is_collinear(points):
            raise InputError(
                f"The {len(points)} points picked on the {name} scan lie on one line.",
                hint="Pick at least one pair well off that line.",
            )


def _closed_form(base_points: Float, impression_points: Float) -> tuple[Float, Float, tuple[str, ...]]:
    """Return the motion that fits the pairs best, by how much each pair misses, mm, and notes."""
    closed = fit_similarity(impression_points, base_points, with_scale=False)
    matrix = rigid(closed.rotation, closed.translation)
    misses = np.linalg.norm(moved(matrix, impression_points) - base_points, axis=1)
    if misses.max() > FAR_OFF_MM:
        raise InputError(
            f"Point pair {int(misses.argmax()) + 1} misses by {misses.max():.1f} mm after the best fit.",
            hint="Check that each pair is the same feature on both scans, and the scale of both scans.",
        )
    if not closed.would_mirror:
        return matrix, misses, ()
    mirror = to_act_on("A mirror image would fit the pairs better than any turn: check the order of the pairs.")
    return matrix, misses, (mirror,)


def _doubts(result: FoundAlignment, spread: float, refined: bool) -> list[str]:
    """Say what speaks against the pose that was found."""
    doubts: list[str] = []
    if result.loosest:
        doubts.append(to_look_at(f"Only the picked pairs hold {result.loosest} (about {spread:.1f} mm)."))
    if result.score < LEAST_SCORE:
        doubts.append(
            to_act_on(
                f"In this pose the scans hardly meet ({100 * max(0.0, result.score):.0f} % explained): look at it "
                "closely."
            )
        )
    elif refined and result.is_lopsided:
        doubts.append(lopsided_note(result))
    if result.check.share_inside > IMPOSSIBLE:
        doubts.append(
            to_act_on(
                f"In this pose {100 * result.check.share_inside:.0f} % of the held-back points lie inside the base or "
                "outside the clay: look at it closely."
            )
        )
    return doubts
