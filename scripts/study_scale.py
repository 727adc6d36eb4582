"""How often good check lengths are called outliers, and how often the factor's 95 % interval holds the truth.

The table stands in docs/models/scale.md.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

import studying
from padwright.core.job.schema import CheckLength
from padwright.core.stages.scans.scale import ScaleFit, fit_scale

FACTOR = 0.99
PICK_SD_MM = 0.3  # of the two points picked on the scan


@dataclass(frozen=True)
class Sets:
    """Made-up sets of lengths, and the claim about them.

    Attributes
    ----------
    words : str
        The sets, and what is counted.
    count : int
        Lengths in a set.
    shortest_mm : float
        The others are up to 350 mm.
    hand_mm : float
        The measured lengths lie evenly within plus and minus this.
    stated_mm : float
        What the job says of that.
    pick_stated_mm : float or None
        What is taken for the picked points' error; None: what is usual.
    counts : callable
        True for a fit that is counted.
    least, most : float
        Shares between which the count must lie.
    """

    words: str
    count: int
    shortest_mm: float
    hand_mm: float
    stated_mm: float
    pick_stated_mm: float | None
    counts: Callable[[ScaleFit], bool]
    least: float
    most: float


def is_outlier(fit: ScaleFit) -> bool:
    """Say if one of the lengths, all good, is called an outlier."""
    return fit.outlier is not None


def is_held(fit: ScaleFit) -> bool:
    """Say if the interval of a part of 200 mm holds the true factor."""
    half_width = fit.half_width_mm(200.0)
    return half_width is not None and abs(fit.factor - FACTOR) * 200.0 <= half_width


KINDS = (
    Sets("4 good lengths: an outlier is named", 4, 50.0, 0.1, 0.1, None, is_outlier, 0.0, 0.015),
    Sets("6, errors stated ten times too small: likewise", 6, 100.0, 0.0, 0.01, 0.03, is_outlier, 0.0, 0.05),
    Sets("3: the 95 % interval holds the truth", 3, 80.0, 0.2, 0.2, None, is_held, 0.93, 0.98),
)


def fitted(kind: Sets, seed: int) -> ScaleFit:
    """Return the fit of one set along x."""
    rng = np.random.default_rng(seed)
    true = rng.uniform(kind.shortest_mm, 350.0, kind.count)
    scan = true / FACTOR + rng.normal(0.0, PICK_SD_MM, kind.count)
    measured = true + rng.uniform(-kind.hand_mm, kind.hand_mm, kind.count)
    lengths = [
        CheckLength(
            name=f"l{i}",
            measured_mm=float(y),
            plus_minus_mm=kind.stated_mm,
            from_point=(3.0 * i, 0.0, 0.0),
            to_point=(3.0 * i + float(x), 0.0, 0.0),
        )
        for i, (x, y) in enumerate(zip(scan, measured, strict=True))
    ]
    options = {} if kind.pick_stated_mm is None else {"pick_error_mm": kind.pick_stated_mm}
    return fit_scale(lengths, 1.0, **options)


def study(seeds: range) -> studying.Finding:
    """Count over made-up sets of lengths."""
    rows, claims = [], []
    for kind in KINDS:
        count = sum(kind.counts(fitted(kind, seed)) for seed in seeds)
        found, asked = f"{100 * count / len(seeds):.1f} %", f"{100 * kind.least:.0f} to {100 * kind.most:g} %"
        rows.append((kind.words, found, asked))
        is_enough = studying.can_be(count, len(seeds), kind.least)
        is_not_more = studying.can_be(len(seeds) - count, len(seeds), 1.0 - kind.most)
        claims.append((f"{kind.words}: {found}, asked are {asked}", is_enough and is_not_more))
    return studying.Finding(("sets of lengths", "found", "asked"), tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=10_000, sample=600))
