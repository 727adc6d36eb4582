"""Lay the impression scan on the base scan, from any pose, or say why it cannot be told."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ...base.errors import SolveError
from ...base.mesh import Float, TriMesh
from ...base.notes import to_act_on, to_look_at
from ...base.progress import Progress, Steps, nested
from ...base.together import at_the_side, both
from .candidates import SMALL_TURN_DEG, Candidate, UnsurePoseError, taken, turn_words
from .certainty import Check, Motion, Pinned, check_held_back, part_axes, pinned_motions
from .implied_scale import ImpliedScale, scale_of_surfaces
from .poses import likely_poses
from .prepared_scans import Scans, prepare
from .refine import BEYOND_MM, ROUGHER, BothScans, RefinedPose, explained_by
from .rivals import Found, weigh

LEAST_SCORE = 0.05
"""Below this the best pose explains too little of the scans to be believed (own measurement, docs/models/align.md)."""

IMPOSSIBLE = 0.01
"""More held-back points than this where none can be, and the pose is not believed (common practice, no source)."""

WEAK_MM, WEAK_TURN_DEG = 0.3, 0.1
"""Two standard errors of a motion beyond these are told: the project's own aims for the fit."""

LOPSIDED = 1.5
"""Gaps may spread this much more than their clay-free side (own measurement, docs/models/align.md: 1.2 if right)."""

BELIEVED = 0.3
"""A pose that explains this much is believed though its gaps are lopsided: clay that feathers out lifts the gaps at its
edge, all to one side. Eight pairs of scans of different things explain 0.18 at most (own measurement)."""

_ADVICE = "Pick three or more point pairs on both scans (screw heads, corners, pen marks) and align by pairs."


@dataclass(frozen=True, eq=False)
class FoundAlignment:
    """Where the impression lies on the base, with the evidence."""

    matrix: Float  # (4, 4); impression frame to base frame, mm; a rotation (determinant +1) and a translation
    # rms_mm, p95_mm: of the gaps between averaged points on what both scans show, within `tolerance_mm`.
    rms_mm: float
    p95_mm: float
    tolerance_mm: float
    overlap: float  # share of the impression's surface that lies on the base
    # noise_mm, expected_noise_mm: standard deviation of a gap, judged from the side that clay does not touch; and what
    # the scans' roughness foretells.
    noise_mm: float
    expected_noise_mm: float
    # Share of both scans explained, less what contradicts; comparable between poses of one pair of scans only.
    score: float
    motions: tuple[Motion, ...]  # the six motions and how well each is pinned
    loosest: str  # the motion that stays loose, in words; empty when all are pinned
    # Of the pose as a whole: how far the impression's surface is off (root mean square), from noise.
    standard_error_mm: float
    noise_reach_mm: float  # distance over which the gaps' noise falls to 1/e
    scale_implied: tuple[ImpliedScale, ...]  # what the surfaces, and picked pairs, say about the impression's scale
    check: Check  # by points that took no part in the fit
    # The distinct poses found, this one among them; none when picked pairs were given.
    candidates: tuple[Candidate, ...]
    pose: int  # the number of the one taken; 0 when picked pairs were given
    method: str  # "automatic" or "pairs"
    pair_misses_mm: tuple[float, ...]  # what is left at each picked pair
    notes: tuple[str, ...]

    @property
    def others(self) -> tuple[Candidate, ...]:
        """The poses that were found and not taken, best first."""
        return tuple(each for each in self.candidates if each.number != self.pose)

    @property
    def is_lopsided(self) -> bool:
        """The gaps spread much more than on the side that clay does not touch."""
        return self.rms_mm > LOPSIDED * max(self.noise_mm, self.expected_noise_mm)

    @property
    def margin(self) -> float:
        """1 - (score of the best other pose) / (own score); 1 when there is none."""
        if not self.others or self.score <= 0:
            return 1.0
        return 1.0 - max(0.0, self.others[0].score) / self.score


def align_scans(base: TriMesh, impression: TriMesh, *, seed: int = 0, pose: int | None = None) -> Steps[FoundAlignment]:
    """Find the pose of the impression scan on the base scan from nothing.

    Both are cleaned, turned outward, in mm after scale correction; they may be open, in any pose. `pose` is the number
    of the candidate that the person took; the same scans and seed give the same numbers.

    Raises ScanError when a scan is too small or the sizes do not go together; InputError when there is no candidate of
    that number; UnsurePoseError when several distinct poses fit about as well; it has them, numbered; SolveError when a
    motion is loose, or nothing fits.
    """
    yield Progress(0.0, "Preparing both scans")
    scans = prepare(base, impression, seed)
    starts = yield from nested(likely_poses(scans), 0.05, 0.7)
    if not starts:
        raise _no_fit(0.0)
    found, tolerance = yield from nested(weigh(scans.both, starts), 0.7, 0.9)
    yield Progress(0.9, "Checking with held-back points")
    candidates = _numbered(scans, found)
    number = 1 if pose is None else taken(candidates, pose).number
    chosen = found[number - 1]
    result = judged(base, impression, scans, chosen.fit, chosen.bare, tolerance, candidates=candidates, number=number)
    refuse_if_unsure(result, base, impression, is_chosen=pose is not None)
    if number > 1 and not chosen.is_rival:
        result = replace(result, notes=(_no_rival_note(candidates[number - 1]), *result.notes))
    if result.is_lopsided:
        result = replace(result, notes=(*result.notes, lopsided_note(result)))
    return result


def _sizes_first(rivals: list[Candidate]) -> str:
    """Return what to look at before any pose is taken: scans of two sizes fit in several places a few mm apart."""
    if not any(each.turn_deg < SMALL_TURN_DEG for each in rivals):
        return ""
    return (
        "Poses a few mm apart often mean that one scan is larger: first check impression.scale, or give the impression "
        "check lengths of its own. "
    )


def _no_rival_note(taken_one: Candidate) -> str:
    return to_act_on(
        f"Pose {taken_one.number} was taken ({taken_one.words}), but pose 1 fits the scans clearly better: this one "
        f"explains {100.0 * max(0.0, taken_one.explains):.0f} % as much and lies {taken_one.apart_mm:.0f} mm off. "
        "Leave the pose out unless you know that it is right."
    )


def _numbered(scans: Scans, found: list[Found]) -> tuple[Candidate, ...]:
    axes = part_axes(scans.both.base.cloud)
    best = found[0]
    return tuple(
        Candidate(
            number=number,
            matrix=scans.in_scans(each.fit.matrix),
            score=each.explained.score,
            explains=each.explained.score / best.explained.score if best.explained.score > 0 else 0.0,
            behind=each.behind,
            behind_error=each.behind_error,
            is_rival=each.is_rival,
            apart_mm=each.apart_mm,
            turn_deg=each.turn_deg,
            words="the best" if number == 1 else turn_words(best.fit.matrix, each.fit.matrix, axes, each.apart_mm),
        )
        for number, each in enumerate(found, 1)
    )


def judged(
    base: TriMesh,
    impression: TriMesh,
    scans: Scans,
    fit: RefinedPose,
    bare: BothScans,
    tolerance: float,
    *,
    candidates: tuple[Candidate, ...] = (),
    number: int = 0,
    method: str = "automatic",
    pair_misses: tuple[float, ...] = (),
    scale_of_pairs: tuple[ImpliedScale, ...] = (),
    notes: tuple[str, ...] = (),
) -> FoundAlignment:
    """Return the alignment of a refined pose with all its evidence."""
    every = scans.both.in_order()
    matches = every.matches(fit.matrix, BEYOND_MM + tolerance)
    gap = np.abs(np.concatenate([each.gap[each.is_seen & (np.abs(each.gap) < tolerance)] for each in matches]))
    whole = explained_by(matches, every, tolerance)
    length = float(np.ptp(base.bounds, axis=0).max())
    told = tuple(each.note(length) for each in scale_of_pairs if each.contradicts)
    matrix = scans.in_scans(fit.matrix)
    # Triangles carry the scan's whole noise, averaged points about half of it: twice the tolerance.
    with at_the_side(partial(check_held_back, base, impression, scans, fit.matrix, 2.0 * tolerance)) as checked:
        pinned, of_surfaces = both(partial(pinned_motions, bare, fit), partial(scale_of_surfaces, bare, fit))
        check = checked()
    return FoundAlignment(
        matrix=matrix,
        rms_mm=float(np.sqrt(np.square(gap).mean())) if len(gap) else float("inf"),
        p95_mm=float(np.quantile(gap, 0.95)) if len(gap) else float("inf"),
        tolerance_mm=tolerance,
        overlap=whole.overlap,
        noise_mm=fit.noise_mm,
        expected_noise_mm=scans.both.noise_mm,
        score=whole.score,
        motions=pinned.motions,
        loosest=pinned.loosest,
        standard_error_mm=pinned.standard_error_mm,
        noise_reach_mm=pinned.noise_reach_mm,
        scale_implied=(*scale_of_pairs, of_surfaces),
        check=check,
        candidates=candidates,
        pose=number,
        method=method,
        pair_misses_mm=pair_misses,
        notes=(*told, *notes, *_weakest(pinned)),
    )


def _weakest(pinned: Pinned) -> tuple[str, ...]:
    """Return a note on the least firm motion when noise leaves it less sure than the project aims for."""
    if pinned.loosest:
        return ()
    least = max(pinned.motions, key=lambda motion: motion.reach_mm)
    turns = [2.0 * motion.standard_error for motion in pinned.motions if motion.name.startswith("turn")]
    if least.reach_mm <= WEAK_MM and max(turns) <= WEAK_TURN_DEG:
        return ()
    unit = "degrees" if least.name.startswith("turn") else "mm"
    return (
        to_look_at(
            f"The scans' noise leaves the pose known to {2.0 * pinned.standard_error_mm:.2f} mm; the least firm is the "
            f"{least.name}, known to {2.0 * least.standard_error:.2f} {unit} ({least.reach_mm:.2f} mm on the clay)."
        ),
    )


def _no_fit(score: float) -> SolveError:
    return SolveError(
        f"No pose fits: the best explains {100 * max(0.0, score):.0f} % of the two scans.",
        hint="Check that both scans show the same base at the same scale. " + _ADVICE,
    )


def lopsided_note(found: FoundAlignment) -> str:
    """Return what is said of a pose whose gaps are lopsided."""
    return to_act_on(
        f"In this pose the gaps are lopsided, {found.rms_mm:.2f} mm over all and {found.noise_mm:.2f} mm on the base's "
        "side, as where clay feathers out: look at it closely, and at the scale of both scans."
    )


def refuse_if_unsure(found: FoundAlignment, base: TriMesh, impression: TriMesh, *, is_chosen: bool) -> None:
    """Refuse a pose that the scans do not tell for certain; where the person chose it, rivals are no reason any more.

    Raises UnsurePoseError, SolveError as for `align_scans`.
    """
    if found.score < LEAST_SCORE:
        raise _no_fit(found.score)
    rivals = [each for each in found.candidates if each.is_rival]
    if rivals and not is_chosen and found.loosest:
        raise SolveError(
            f"{len(rivals) + 1} poses fit the scans about equally well, and more between them: {found.loosest} stays "
            "loose.",
            hint=_ADVICE,
        )
    if rivals and not is_chosen:
        first = rivals[0]
        raise UnsurePoseError(
            f"{len(rivals) + 1} distinct poses fit the scans about equally well: the second, {first.words}, explains "
            f"{100 * first.explains:.1f} % as much as the best.",
            hint=f"{_sizes_first(rivals)}Look at them and take one by its number ([alignment] pose in the job), or "
            "pick three or more point pairs on both scans and align by pairs.",
            candidates=found.candidates[: len(rivals) + 1],
            base=base,
            impression=impression,
        )
    if found.loosest:
        raise SolveError(f"The base does not pin the impression down: {found.loosest} stays loose.", hint=_ADVICE)
    # Long waves and warp add to the roughness between neighbors; this is more than scans of one base show.
    if found.noise_mm > ROUGHER * found.expected_noise_mm + 0.2:
        raise SolveError(
            f"The best pose leaves {found.noise_mm:.2f} mm where the scans' roughness explains "
            f"{found.expected_noise_mm:.2f} mm: it is no real fit.",
            hint="Check the scale of both scans. " + _ADVICE,
        )
    if found.is_lopsided and found.score < BELIEVED:
        raise SolveError(
            f"In the best pose the gaps are lopsided: {found.rms_mm:.2f} mm over all, {found.noise_mm:.2f} mm on the "
            "base's side: it is no real fit.",
            hint="Check that both scans are turned outward and at the same scale. " + _ADVICE,
        )
    if found.check.share_inside > IMPOSSIBLE:
        raise SolveError(
            f"In the best pose {100 * found.check.share_inside:.0f} % of the held-back points lie inside the base or "
            "outside the clay.",
            hint="Check that both scans show the same base, and that neither is mirrored. " + _ADVICE,
        )
