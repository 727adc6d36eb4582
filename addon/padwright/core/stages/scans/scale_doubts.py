"""What makes a fitted scale too unsure to go on with."""

from __future__ import annotations

from ...base.errors import InputError
from .scale import ScaleFit
from .scale_checks import WHICH_OF_TWO, odd_one_out

_MOST_UNSURE = 0.03  # of the size, 95 %: a seat of 300 mm good to 9 mm is no fit; a choice of ours, no source
_MOST_SHIFT = 0.01  # of the size, by one length that does not fit; 3 mm on 300 mm; a choice of ours, no source
_LONE = 0.10  # scanners are off by some percent, phones by more (Farhan et al. 2023): more asks for a second witness


def refuse_unsure(fit: ScaleFit, what: str) -> None:
    """Refuse a scale that is known no better than to some percent, and one that a single wrong length has shifted.

    Raises InputError with the lengths to measure again: the one that does not fit the others, where three or more tell.
    """
    half = fit.half_width_mm(1.0)
    if half is None:
        return
    names = fit.names
    worst = fit.outlier
    if worst is not None and fit.factor_without_outlier is not None:
        shift = fit.factor / fit.factor_without_outlier - 1.0
        if abs(shift) > _MOST_SHIFT:
            raise InputError(
                f'Check length "{names[worst]}" of the {what} does not fit the other {len(names) - 1} and would change '
                f"its size by {100 * shift:+.1f} %.",
                hint=f'Measure "{names[worst]}" again, check its two points, or leave it out.',
            )
    if half <= _MOST_UNSURE * fit.factor:
        return
    longest = float(fit.measured_mm.max())
    said = (
        f"The check lengths of the {what} leave its size open by +/- {100 * half / fit.factor:.3g} %, which is "
        f"{half / fit.factor * longest:.3g} mm on the longest, {longest:.4g} mm."
    )
    if not fit.contradicts:
        raise InputError(said, hint="Measure longer distances, and more exactly; state plus_minus_mm as it is.")
    if len(names) == 2:
        raise InputError(
            f'{said} "{names[0]}" and "{names[1]}" want factors {fit.measured_mm[0] / fit.scan_mm[0]:.4f} and '
            f"{fit.measured_mm[1] / fit.scan_mm[1]:.4f}: one of the two is wrong.",
            hint=WHICH_OF_TWO,
        )
    suspect = odd_one_out(fit.measured_mm / fit.scan_mm)
    if suspect is None:
        raise InputError(f"{said} No one of them alone is to blame.", hint="Measure all of them again.")
    raise InputError(
        f'{said} Without "{names[suspect]}" the others agree.',
        hint=f'Measure "{names[suspect]}" again and check its two points, or leave it out.',
    )


def refuse_lone_factor(fit: ScaleFit, what: str) -> None:
    """Refuse a large correction that rests on one length alone: a length to the wrong point looks just the same.

    Raises InputError with the factor.
    """
    if len(fit.names) == 1 and abs(fit.factor - 1.0) > _LONE:
        raise InputError(
            f'Check length "{fit.names[0]}" alone would scale the {what} by {fit.factor:.4g}, '
            f"{100 * (fit.factor - 1.0):+.0f} %. A length to the wrong point looks just the same.",
            hint="Check its two points, and measure a second distance, best in another direction, to confirm it.",
        )
