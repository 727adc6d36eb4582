"""The scan's own scale told apart from shrinkage: by lengths measured with a caliper, or not at all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.distance import cdist

from ...base.errors import InputError
from ...base.estimate import Estimate
from ...base.mesh import Float
from .records import ScanScale, Shrinkage

AXES = ("x", "y", "z")
MEASURED_PCT = 0.5
"""A direction whose standard error is above this is told as not measured: prints shrink by about as much (common
practice, no source)."""

NORMAL_90 = 1.645
"""The 5th and 95th percentile of a normal law lie so many standard deviations from its middle."""

_UNKNOWN = 1e6  # variance that stands for what nothing tells
_APART_ERRORS, _LEAST_APART = 4.0, 0.003
"""A length by hand contradicts the others where it is so many standard errors off, and by so much (own choice)."""
_BLOCK = 512
"""Points whose distances to all others are held at once: some 20 MB for the hull of a part."""
_PICK_MM = 0.3
"""Standard deviation of a length from picking its points on a scan, as for check lengths (common practice)."""


@dataclass(frozen=True)
class ScanLength:
    """A length measured by hand and found on the scan: between two of its points."""

    measured_mm: float
    in_scan_mm: float
    plus_minus_mm: float  # limits


@dataclass(frozen=True)
class PrintLength:
    """The print's whole extent along an axis of the bed, or between its two farthest points, measured by hand."""

    axis: str  # "x", "y", "z" or "long"
    measured_mm: float
    plus_minus_mm: float  # limits


def told_sizes(
    seen: Float,
    covariance: Float,
    asked_mm: Float,
    on_scan: Sequence[ScanLength],
    on_print: Sequence[PrintLength],
    press: Float | None,
    to_part: Float,
    longest_mm: Float | None = None,
) -> tuple[ScanScale, tuple[Shrinkage, ...], Float]:
    """Return the scan's scale, the shrinkage along each direction, and its covariance along x, y, z, (3, 3), percent^2.

    Parameters
    ----------
    seen : (3,) float
        Natural logarithm of the scan's size over the size asked for, along x, y and z of the bed.
    covariance : (3, 3) float
        Of these, from the fit.
    asked_mm : (3,) float
        The part's whole extent along these axes.
    press : (3,) float, optional
        The press direction in the bed's axes.
    to_part : (3, 3) float
        Turns the bed's axes into the part frame: its columns are they.
    longest_mm : (3,) float, optional
        From one of the part's two farthest points to the other, in the bed's axes.

    Notes
    -----
    Generalized least squares (Aitken 1935) for four unknowns, the logarithms of three sizes and of the scan's scale:
    each length on the scan is a reading of the scale, each one on the print a reading of a size, and `seen` is size
    less scale. Limits of a measurement count as a uniform law (standard deviation = limits over the root of 3).

    Raises InputError when the lengths contradict each other, or one is far from what the part has there.
    """
    rows, readings, errors = [], [], []
    for length in on_scan:
        error = float(np.hypot(length.plus_minus_mm / np.sqrt(3.0), _PICK_MM)) / length.measured_mm
        rows.append([0.0, 0.0, 0.0, 1.0])
        readings.append(float(np.log(length.measured_mm / length.in_scan_mm)))
        errors.append(error)
    for extent in on_print:
        way = np.zeros(3) if longest_mm is None else longest_mm
        if extent.axis in AXES:
            way = np.where([each == extent.axis for each in AXES], asked_mm, 0.0)
        whole = float(np.linalg.norm(way))
        ratio = extent.measured_mm / whole
        if not 0.9 < ratio < 1.1:
            raise InputError(
                f"The print is said to be {extent.measured_mm:g} mm "
                f"{f'along {extent.axis} of the bed' if extent.axis in AXES else 'at its longest'}; asked for were "
                f"{whole:.1f} mm.",
                hint="Measure its whole extent along that axis, as it lay on the bed, or its longest extent.",
            )
        rows.append([*np.square(way / whole), 0.0])
        readings.append(float(np.log(ratio)))
        errors.append(extent.plus_minus_mm / np.sqrt(3.0) / extent.measured_mm)
    design = np.array([[1.0, 0.0, 0.0, -1.0], [0.0, 1.0, 0.0, -1.0], [0.0, 0.0, 1.0, -1.0], *rows])
    noise = np.zeros((len(design), len(design)))
    noise[:3, :3] = covariance
    noise[range(3, len(design)), range(3, len(design))] = np.square(errors)
    weight = np.linalg.inv(noise)
    inner = design.T @ weight @ design + np.diag([0.0, 0.0, 0.0, 1.0 / _UNKNOWN])
    reading = np.concatenate([seen, readings])
    spread = np.linalg.inv(inner)
    best = spread @ design.T @ weight @ reading
    _refuse_contradiction(reading, design, best, noise, spread)
    is_known = bool(rows)
    basis = {(True, True): "both", (True, False): "check length", (False, True): "caliper"}.get(
        (bool(on_scan), bool(on_print)), "unknown"
    )
    shape_errors = np.sqrt(np.diag(covariance))
    is_measured = 100.0 * shape_errors < MEASURED_PCT
    mean = np.where(is_measured, 1.0, 0.0) / max(1, int(is_measured.sum()))
    if is_known:
        scale = ScanScale(float(np.exp(best[3])), float(np.exp(best[3]) * np.sqrt(spread[3, 3])), basis)
    else:  # as large as asked for in the mean: nothing tells how large it is
        scale = ScanScale(float(np.exp(-(mean @ seen))), None, basis)
    ways = [(name, np.eye(3)[index]) for index, name in enumerate(AXES)]
    if press is not None:
        ways.append(("press direction", np.asarray(press)))
    told = []
    for name, way in ways:
        share = np.square(way)  # the length of a direction changes by the sum of its squared parts times the sizes'
        error = float(np.sqrt(share @ covariance @ share))
        beside = share - mean
        told.append(
            Shrinkage(
                name=name,
                direction=to_part @ way,
                shrinkage_pct=_estimate(-share @ best[:3], share @ spread[:3, :3] @ share) if is_known else None,
                against_mean_pct=_estimate(-beside @ seen, beside @ covariance @ beside) if is_measured.any() else None,
                standard_error_pct=100.0 * error,
                is_measured=100.0 * error < MEASURED_PCT,
            )
        )
    return scale, tuple(told), 1e4 * spread[:3, :3]


def longest_way(vertices: Float, sizes: Float) -> Float:
    """Return the way between the two points of a part that lie farthest apart on its print, (3,), mm as asked for.

    A part that is about as long across its corners as along has its longest extent elsewhere once the axes shrank
    unlike, so it is looked for on the print.

    Parameters
    ----------
    vertices : (n, 3) float
        Of the part on the bed, mm.
    sizes : (3,) float
        By how much the print's size along x, y and z of the bed is that asked for; a factor common to all is free.
    """
    corners = vertices[ConvexHull(vertices).vertices]
    printed = corners * sizes
    best, way = -1.0, np.zeros(3)
    for start in range(0, len(printed), _BLOCK):
        apart = cdist(printed[start : start + _BLOCK], printed)
        one, other = np.unravel_index(int(apart.argmax()), apart.shape)
        if apart[one, other] > best:
            best, way = float(apart[one, other]), np.asarray(corners[other] - corners[start + one])
    return way


def _estimate(smaller: float, variance: float) -> Estimate:
    """Return a shrinkage, percent, with its 5th and 95th percentile, of the logarithm of how much smaller."""
    error = NORMAL_90 * float(np.sqrt(max(variance, 0.0)))
    value, low, high = (100.0 * (1.0 - float(np.exp(-each))) for each in (smaller, smaller - error, smaller + error))
    return Estimate(value, low, high, "measured")


def _refuse_contradiction(reading: Float, design: Float, best: Float, noise: Float, spread: Float) -> None:
    """Refuse lengths that lie apart by more than their limits and the scan's noise explain: each residual over its own.

    The covariance of residuals is the readings' less what the fit takes up of it.
    """
    off = reading - design @ best
    left = np.sqrt(np.maximum(np.diag(noise - design @ spread @ design.T), 0.0))
    for number, (miss, error) in enumerate(zip(off[3:], left[3:], strict=True), start=1):
        if abs(miss) > max(_APART_ERRORS * float(error), _LEAST_APART):
            raise InputError(
                f"The lengths measured by hand contradict each other: number {number} is {100.0 * miss:+.1f} % off "
                "what the others and the scan's shape say.",
                hint="Measure again; on the print measure whole extents along the bed's axes.",
            )
