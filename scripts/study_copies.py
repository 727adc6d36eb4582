"""How far pose, clay, load centers and pad differ from the truth with whole scans and with their lighter copies.

Each draw has noise of its own, on a seat of 260,000 triangles a scan. The table stands in docs/models/clean.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np
from tests.support.cases import Case, make_case

import studying
from bench_accuracy import pose_error, thickness_errors, volume_error
from bench_job import GAP_MM
from padwright.core.base.mesh import Float, TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.alignment.align import align_scans
from padwright.core.stages.pad.pad import build_pad
from padwright.core.stages.pad.pad_settings import PadSettings
from padwright.core.stages.reading.impression import read_impression
from padwright.core.stages.scans.clean import clean_scan
from padwright.core.stages.scans.working_copy import working_copy

TRIANGLES = 260_000
WORSE = 1.15
"""A copy may be so many times as far off in the root mean square (our choice), beside what the draws scatter."""

UNITS = ("mm", "deg", "mm", "mm", "%", "mm")
WHAT = ("pose over the clay", "pose, turn", "load centers", "their spacing", "pad's volume", "pad's thickness")


@dataclass(frozen=True)
class Errors:
    """How far off one pair of scans leads, in the order and units of `WHAT`."""

    values: tuple[float, ...]

    @classmethod
    def of(cls, case: Case, base: TriMesh, impression: TriMesh) -> Errors:
        """Return the errors with these two scans, cleaned, in mm, each in its own pose."""
        off, turn = pose_error(case, drain(align_scans(base, impression)).matrix)
        laid = impression.transformed(case.impression_to_base)  # the rest by the true pose: its error is told above
        reading = read_impression(base, laid, press_direction=case.press_direction_in_base)
        centers = np.array([each.position_mm for each in reading.load_centers])
        true = case.load_centers_in_base
        apart = np.linalg.norm(centers[:, None] - true[None], axis=2).min(axis=0)
        spacing = abs(_longest(centers) - _longest(true))
        pad = drain(build_pad(base, laid, reading, PadSettings(fit_gap_mm=GAP_MM, least_thickness_mm=4.0)))
        volume = 100.0 * abs(volume_error(case, pad.volume_cm3))
        return cls((off, turn, _root(apart), spacing, volume, _root(thickness_errors(case, pad.mesh))))


def _root(values: Float) -> float:
    return float(np.sqrt(np.square(values).mean()))


def _longest(points: Float) -> float:
    return float(np.linalg.norm(points[:, None] - points[None], axis=2).max())


def one_draw(seed: int) -> tuple[Errors, Errors]:
    """Return the errors with whole scans, and with their copies."""
    case = make_case("seat", seed=seed, triangles=TRIANGLES)
    whole = [drain(clean_scan(mesh)).mesh for mesh in (case.base_mm, case.impression_mm)]
    copies = []
    for mesh in whole:
        copy = working_copy(mesh)
        assert copy is not None, "the scan is not dense enough for a copy"
        copies.append(copy[0])
    return Errors.of(case, *whole), Errors.of(case, *copies)


def study(seeds: range) -> studying.Finding:
    """Make each seat's pad from whole scans and from their copies, and compare both with the truth."""
    draws = [one_draw(seed) for seed in seeds]
    found = np.array([[whole.values, copy.values] for whole, copy in draws])  # (draws, 2, errors)
    mean = np.sqrt(np.square(found).mean(axis=0))
    most = found.max(axis=0)
    rows, claims = [], []
    for number, (what, unit) in enumerate(zip(WHAT, UNITS, strict=True)):
        cells = (f"{mean[of, number]:.3f} {unit}, at most {most[of, number]:.3f}" for of in (0, 1))
        rows.append((what, *cells))
        times = mean[1, number] / mean[0, number]
        # A root mean square of n draws is known to 1 / sqrt(2 n) of itself, so two over each other to 1 / sqrt(n):
        # three standard deviations of that beside it.
        limit = WORSE + 3.0 / np.sqrt(len(seeds))
        claims.append((f"{what}: a copy is {times:.2f} times as far off as the whole scan", bool(times <= limit)))
    return studying.Finding(
        ("root mean square error of", "with whole scans", "with copies"), tuple(rows), tuple(claims)
    )


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=24, sample=1))
