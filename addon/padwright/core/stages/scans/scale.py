"""Correct a scan's scale from distances measured by hand, and say how sure that is."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.notes import to_act_on, to_look_at
from ...base.plain import picked
from ...base.units import MM_PER_UNIT
from ...job.schema import CheckLength
from .scale_checks import (
    axis_factors,
    disagreement_notes,
    factor_of,
    refuse_far_apart,
    refuse_slips,
    refuse_unit_factor,
)

_LONGEST_MM = 1e6
"""No hand measures a longer distance on a part than a kilometer."""
PICK_ERROR_MM = 0.3
"""Standard deviation of a length from picking its two points on a scan; common practice, no source."""


@dataclass(frozen=True, eq=False)
class ScaleFit:
    """The factor that makes a scan true to size."""

    factor: float  # multiplies the file's mm
    standard_error: float | None  # of the factor: the larger of the two below; None when nothing was measured
    standard_error_residuals: float | None  # from how well the lengths agree; None with fewer than two
    standard_error_stated: float | None  # from the stated errors of the lengths and of picking
    names: tuple[str, ...]
    # scan_mm, measured_mm, residuals_mm: (n,); length on the scan before the correction, by hand, and hand minus
    # corrected scan.
    scan_mm: Float
    measured_mm: Float
    residuals_mm: Float
    deviations: Float  # (n,); leave-one-out residual of each length over its standard deviation
    outlier: int | None  # index of a length that does not fit the others; never left out by itself
    factor_without_outlier: float | None
    axes: Mapping[str, tuple[float, float]]  # by axis name; for the axes of the file along which lengths were measured
    notes: tuple[str, ...]

    def half_width_mm(self, length_mm: float) -> float | None:
        """Return what the scale's error means on a true length: half the 95 % interval, mm; None if not measured.

        Notes
        -----
        Student's t with n - 1 degrees of freedom where the lengths contradict each other by more than their stated
        errors allow; else the normal law with the larger of the two standard errors.
        """
        from scipy.special import stdtrit

        if self.standard_error is None:
            return None
        if self.contradicts:
            return float(stdtrit(len(self.names) - 1, 0.975)) * self.standard_error * length_mm
        return 1.959964 * self.standard_error * length_mm

    @property
    def contradicts(self) -> bool:
        """Whether the lengths differ by more than their stated errors allow (chi-square, 1 %)."""
        from scipy.special import chdtri

        if self.standard_error_residuals is None or self.standard_error_stated is None:
            return False
        free = len(self.names) - 1
        times = self.standard_error_residuals / self.standard_error_stated
        return free * times**2 > float(chdtri(free, 0.01))

    def note_on(self, part_length_mm: float, what: str) -> str:
        """Return what the scale is and what its error means on a part so long, mm, after the correction."""
        half = self.half_width_mm(part_length_mm)
        if half is None or self.standard_error is None:
            return f"The size of the {what} was not checked."
        return (
            f"The {what} is scaled by {self.factor:.5f}, standard error {self.standard_error:.5f}: on this part, "
            f"{part_length_mm:.0f} mm long, that is +/- {half:.2f} mm (95 %)."
        )

    def evidence(self) -> dict[str, Any]:
        """Return the numbers in a form that JSON takes."""
        rows = zip(self.names, self.measured_mm, self.scan_mm, self.residuals_mm, self.deviations, strict=True)
        return {
            **picked(self, "factor", "standard_error", "standard_error_residuals", "standard_error_stated"),
            "lengths": [
                {
                    "name": name,
                    "measured_mm": float(measured),
                    "scan_mm": float(scan),
                    "residual_mm": float(residual),
                    "deviation": float(deviation) if math.isfinite(deviation) else None,
                }
                for name, measured, scan, residual, deviation in rows
            ],
            "outlier": None if self.outlier is None else self.names[self.outlier],
            "factor_without_outlier": self.factor_without_outlier,
            "axes": {axis: {"factor": fit[0], "standard_error": fit[1]} for axis, fit in self.axes.items()},
            "notes": list(self.notes),
        }


def fit_scale(
    lengths: Sequence[CheckLength],
    mm_per_unit: float,
    *,
    pick_error_mm: float = PICK_ERROR_MM,
    what: str = "base scan",
    fitting: Collection[str] = (),
) -> ScaleFit:
    """Fit the one factor that makes the scan's lengths equal those measured by hand.

    Raises InputError when a length has no extent on the scan, when one of them is off by a factor of units, or when the
    factor itself is that of a wrong unit; the likely unit is named.

    Parameters
    ----------
    lengths : sequence of CheckLength
        Without any the file's size is trusted, with a note.
    mm_per_unit : float
        What one unit of the file was believed to be, mm.
    pick_error_mm : float, mm
        Standard deviation that picking adds to each length.
    fitting : collection of str
        The units in which the scan has a size that such a part can have, where that is known.

    Notes
    -----
    Weighted least squares through the origin, y = s x: s = sum(w x y) / sum(w x^2), w = 1 / sigma^2 (textbook, e.g.
    Draper & Smith, Applied Regression Analysis). Limits count as a uniform law: sigma = limit / sqrt 3 (JCGM 100:2008,
    4.3.7). Standard error: from residuals sqrt(sum(w r^2) / ((n - 1) sum(w x^2))), from stated errors
    1 / sqrt(sum(w x^2)); the larger one is reported.
    """
    if not lengths:
        return _unmeasured(what)
    names = tuple(length.name or f"length {index + 1}" for index, length in enumerate(lengths))
    spans = _spans(lengths, names, mm_per_unit, what)
    scan = np.linalg.norm(spans, axis=1)
    measured = np.array([length.measured_mm for length in lengths], dtype=np.float64)
    limits = np.array([length.plus_minus_mm for length in lengths], dtype=np.float64)
    ratios = measured / scan
    refuse_slips(names, ratios, measured, what)
    refuse_far_apart(names, ratios, np.hypot(limits / scan, ratios * pick_error_mm / scan), measured, what)
    rough = float(scan @ measured / (scan @ scan))
    refuse_unit_factor(rough, mm_per_unit, what, fitting)
    sigma = np.sqrt(limits**2 / 3.0 + (rough * pick_error_mm) ** 2)
    factor, stated = factor_of(scan, measured, sigma)
    residuals = measured - factor * scan
    by_residuals = None
    if len(names) > 1:
        by_residuals = float(np.sqrt(((residuals / sigma) ** 2).sum() / (len(names) - 1))) * stated
    deviations, outlier = _leave_one_out(scan, measured, sigma)
    without = None
    if outlier is not None:
        kept = np.arange(len(names)) != outlier
        without = factor_of(scan[kept], measured[kept], sigma[kept])[0]
    axes = axis_factors(spans, scan, measured, sigma)
    fit = ScaleFit(
        factor, max(stated, by_residuals or 0.0), by_residuals, stated, names, scan, measured, residuals, deviations,
        outlier, without, axes, (),
    )  # fmt: skip
    notes = [*_notes_on_one(fit, what), *disagreement_notes(names, scan, measured, sigma, axes, what)]
    if outlier is not None:
        notes.append(_outlier_note(fit, outlier, what))
    return replace(fit, notes=tuple(notes))


def _spans(lengths: Sequence[CheckLength], names: Sequence[str], mm_per_unit: float, what: str) -> Float:
    """Return the ways from end to end of the lengths on the scan, (n, 3) mm; refuse those of no or no sane extent."""
    ends = np.array([[length.from_point, length.to_point] for length in lengths], dtype=np.float64)
    spans = (ends[:, 1] - ends[:, 0]) * mm_per_unit
    longest = np.abs(spans).max(axis=1)
    if longest.max() > _LONGEST_MM:
        index = int(np.argmax(longest))
        raise InputError(
            f'Check length "{names[index]}" is {longest[index]:.3g} mm long on the {what}.',
            hint="Give its two points in the scan file's own numbers.",
        )
    is_point = ~(np.linalg.norm(spans, axis=1) > 0)
    if is_point.any():
        name = names[int(np.argmax(is_point))]
        raise InputError(f'Check length "{name}" has no extent on the {what}.', hint="Pick its two ends again.")
    return np.asarray(spans)


def _outlier_note(fit: ScaleFit, outlier: int, what: str) -> str:
    off = fit.measured_mm[outlier] - (fit.factor_without_outlier or fit.factor) * fit.scan_mm[outlier]
    return to_act_on(
        f'Check length "{fit.names[outlier]}" of the {what} does not fit the other {len(fit.names) - 1}: it is off by'
        f" {off:+.2f} mm from what they say. Measure it again; without it the factor would be "
        f"{fit.factor_without_outlier:.5f} instead of {fit.factor:.5f}."
    )


def _unmeasured(what: str) -> ScaleFit:
    none = np.zeros(0)
    return ScaleFit(
        1.0, None, None, None, (), none, none, none, none, None, None, {},
        (
            # Farhan et al. 2023, doi 10.1097/pxr.0000000000000230: seven scanners on lower legs, up to 31 % off.
            to_look_at(
                f"No check length for the {what}: its file's size is trusted. Scans can be off by several percent, "
                "phone scans by 30 %: measure at least one long distance by hand."
            ),
        ),
    )  # fmt: skip


def _leave_one_out(scan: Float, measured: Float, sigma: Float) -> tuple[Float, int | None]:
    """Return each length's residual from the fit of the others, over its standard deviation, and which is too large.

    The variance is that of the length plus that of the others' factor on it (its leverage). Where the others scatter
    more than their stated errors, their scatter counts. Only with four or more can a single one be called out.
    The limit keeps false alarms at 1 % of all sets: Student's t or normal law over 2 n tails (Bonferroni).
    """
    from scipy.special import ndtri, stdtrit

    count = len(scan)
    if count < 2:
        return np.full(count, np.nan), None
    weight = sigma**-2.0
    xx, xy, yy = weight * scan**2, weight * scan * measured, weight * measured**2
    rest_xx, rest_xy, rest_yy = xx.sum() - xx, xy.sum() - xy, yy.sum() - yy
    rest_factor = rest_xy / rest_xx
    spread = np.ones(count)
    limit = np.full(count, -float(ndtri(0.005 / count)))
    if count >= 4:
        others = np.maximum(rest_yy - rest_factor * rest_xy, 0.0) / (count - 2)
        is_wide = others > 1.0
        spread[is_wide] = np.sqrt(others[is_wide])
        limit[is_wide] = -float(stdtrit(count - 2, 0.005 / count))
    deviation = (measured - rest_factor * scan) / (spread * np.sqrt(sigma**2 + scan**2 / rest_xx))
    worst = int(np.argmax(np.abs(deviation)))
    return deviation, worst if count >= 4 and abs(deviation[worst]) > limit[worst] else None


def _notes_on_one(fit: ScaleFit, what: str) -> Iterator[str]:
    """Yield what is to be said of a lone length, and of a factor far from 1."""
    if len(fit.names) == 1:
        yield to_look_at(f"Only one check length for the {what}: a slip in it can't be seen. Two more would show it.")
    if not 0.65 <= fit.factor <= 1.5:  # Farhan et al. 2023: phone scans up to 31 % off, rounded outwards
        yield to_act_on(f"The {what} is scaled by {fit.factor:.4g}, far from 1: check its unit and its check lengths.")
    elif abs(fit.factor - 1.0) > 0.05:
        yield to_look_at(f"The {what} was off by {(1 / fit.factor - 1) * 100:+.1f} %; its check lengths correct that.")


def choose_unit(
    file_unit: str | None, job_unit: str | None, what: str = "base scan", fitting: Collection[str] = ()
) -> tuple[str, tuple[str, ...]]:
    """Return the unit of a scan file, and notes: the job's own if given, else what the file states; never guessed.

    Raises InputError when neither says it; named are the units `fitting` it, in which the scan has a size that such a
    part can have.
    """
    if job_unit is None and file_unit is None:
        one_of = " or ".join(f'unit = "{unit}"' for unit in fitting)
        raise InputError(
            f"The unit of the {what} is not stated, neither by its file nor by the job.",
            hint=f"By its size, set {one_of}." if fitting else "Set unit to one of " + ", ".join(MM_PER_UNIT) + ".",
        )
    if job_unit is not None and file_unit is not None and job_unit != file_unit:
        return job_unit, (
            to_look_at(
                f"The {what}'s file states {file_unit} by its format, the job says {job_unit}; the job's word is taken."
            ),
        )
    return job_unit or file_unit or "mm", ()
