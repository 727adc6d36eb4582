"""Whether a pose's stated standard errors hold its error, for white noise and for noise with long waves.

Each draw has noise of its own and starts near the true pose. The table stands in docs/models/align.md.
"""

from __future__ import annotations

import sys

import numpy as np
from tests.support.cases import Case, make_case
from tests.support.dished_seat import make_dished_seat

import studying
from padwright.core.geometry.frames import inverse_rigid, moved, rigid, rotations_from_vectors
from padwright.core.stages.alignment.bare_base import refine_bare
from padwright.core.stages.alignment.certainty import pinned_motions
from padwright.core.stages.alignment.prepared_scans import prepare
from padwright.core.stages.alignment.refine import refine

LEAST_SHARE = 0.9
"""Of the motions' errors within two standard errors, meant are 95 %."""

Waves = tuple[float, float] | None
KINDS: tuple[tuple[str, str, float, Waves], ...] = (
    ("dished seat", "dished_seat", 0.6, (2.0, 30.0)),
    ("dished seat", "dished_seat", 0.6, (20.0, 30.0)),
    ("dished seat", "dished_seat", 0.6, None),
    ("made seat", "seat", 0.3, (2.0, 30.0)),
    ("made insole", "insole", 0.3, (2.0, 30.0)),
    ("made grip", "grip", 0.3, (2.0, 30.0)),
    ("made liner", "liner", 0.3, None),
)
TRIANGLES = 40_000


def made(kind: str, noise: float, waves: Waves, seed: int) -> Case:
    """Return one draw's scans."""
    if kind == "dished_seat":
        return make_dished_seat(seed, noise_mm=noise, wave_mm=waves, triangles=TRIANGLES)
    return make_case(kind, seed=seed, noise_mm=noise, wave_mm=waves, triangles=TRIANGLES, debris=False, turntable=False)


def one_draw(case: Case, seed: int) -> tuple[float, float, list[bool]]:
    """Return the pose's error, mm (root mean square over the impression), the stated one, and which motions hold."""
    scans = prepare(case.base_mm, case.impression_mm, seed)
    truth = scans.in_clouds(case.impression_to_base)
    rng = np.random.default_rng(seed)
    near = rigid(rotations_from_vectors(rng.normal(scale=0.01, size=3)), rng.normal(scale=0.5, size=3)) @ truth
    fit, bare = refine_bare(scans.both, refine(scans.both, near, start_width=3.0))
    pinned = pinned_motions(bare, fit)
    points = scans.both.impression.cloud.points
    off = float(np.sqrt(np.square(moved(fit.matrix, points) - moved(truth, points)).sum(axis=1).mean()))
    left = fit.matrix @ inverse_rigid(truth)
    turn = 0.5 * np.array([left[2, 1] - left[1, 2], left[0, 2] - left[2, 0], left[1, 0] - left[0, 1]])
    wrong = [
        float(np.degrees(turn @ motion.axis)) if motion.name.startswith("turn") else float(left[:3, 3] @ motion.axis)
        for motion in pinned.motions
    ]
    held = [abs(e) <= 2.0 * motion.standard_error for e, motion in zip(wrong, pinned.motions, strict=True)]
    return off, pinned.standard_error_mm, held


def study(seeds: range) -> studying.Finding:
    """Fit each case's scans with noise drawn anew and count the errors that the stated ones hold."""
    rows, claims = [], []
    for words, kind, noise, waves in KINDS:
        draws = [one_draw(made(kind, noise, waves, seed), seed) for seed in seeds]
        off, stated = (np.array([draw[k] for draw in draws]) for k in (0, 1))
        held = np.array([draw[2] for draw in draws])
        name = "white" if waves is None else f"{waves[0]:g} to {waves[1]:g} mm"
        rows.append(
            (
                f"{words}, {noise:g} mm", name, f"{np.sqrt(np.mean(off**2)):.2f} mm",
                f"{np.sqrt(np.mean(stated**2)):.2f} mm", f"{100 * held.mean():.0f} %",
            )
        )  # fmt: skip
        for motion in range(6):
            count = int(held[:, motion].sum())
            claim = f"{words}, {name}: motion {motion + 1} held in {count} of {len(seeds)}"
            claims.append((claim, studying.can_be(count, len(seeds), LEAST_SHARE)))
    head = ("scans, noise", "its waves", "error", "stated (1 standard error)", "within two")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=100, sample=1))
