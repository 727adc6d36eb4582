"""How far load centers lie off, and how often their 95 % range holds, under noise with and without wave lengths.

The table stands in docs/04-read-the-impression.md.
"""

from __future__ import annotations

import sys

import numpy as np
from tests.support.cases import Case, make_case
from tests.support.dished_seat import make_dished_seat

import studying
from padwright.core.stages.reading.impression import read_impression

NOISE_MM = 0.6
Waves = tuple[float, float] | None
KINDS: tuple[tuple[str, str, Waves], ...] = (
    ("narrow dished seat", "dished_seat", (2.0, 30.0)),
    ("narrow dished seat", "dished_seat", (12.0, 12.0)),
    ("narrow dished seat", "dished_seat", None),
    ("sliding seat", "seat", (2.0, 30.0)),
)


def made(kind: str, waves: Waves, seed: int) -> Case:
    """Return the scans in their true pose."""
    if kind == "dished_seat":
        return make_dished_seat(seed, noise_mm=NOISE_MM, wave_mm=waves, pose="none")
    return make_case(kind, seed=seed, noise_mm=NOISE_MM, wave_mm=waves, pose="none", debris=False, turntable=False)


def study(seeds: range) -> studying.Finding:
    """Read scans of noise drawn anew and hold the load centers against the truth."""
    rows, claims = [], []
    for words, kind, waves in KINDS:
        missing, off, held, stated = 0, [], [], []
        for seed in seeds:
            case = made(kind, waves, seed)
            reading = read_impression(
                case.base_mm, case.impression_aligned, press_direction=case.truth.press_direction,
                expected_centers=(2, 2), compare_sides=False,
            )  # fmt: skip
            missing += len(case.truth.load_centers) - len(reading.load_centers)
            for center in reading.load_centers:
                away = np.linalg.norm((case.truth.load_centers - center.position_mm)[:, :2], axis=1).min()
                off.append(away)
                stated.append(center.plus_minus_mm)
                held.append(away <= center.plus_minus_mm)
        noise = "white" if waves is None else f"{waves[0]:g} to {waves[1]:g} mm"
        rows.append(
            (
                words,
                noise,
                f"{100 * missing / (2 * len(seeds)):.0f} %",
                f"{np.sqrt(np.mean(np.square(off))):.1f}, {max(off):.1f} mm",
                f"{np.median(stated):.1f} mm",
                f"{100 * np.mean(held):.0f} %",
            )
        )
        claims.append(
            (f"{words}, {noise}: {sum(held)} of {len(held)} held", studying.can_be(sum(held), len(held), 0.93))
        )
        claims.append(
            (f"{words}, {noise}: {missing} missing", studying.can_be(2 * len(seeds) - missing, 2 * len(seeds), 0.85))
        )
    head = ("scans, noise of 0.6 mm", "its waves", "not found", "off (RMS, most)", "stated (median)", "range holds")
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=40, sample=4))
