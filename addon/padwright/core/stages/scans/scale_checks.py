"""What can be wrong with check lengths: a wrong unit, a slip in one of them, lengths that do not agree."""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from ...base.errors import InputError
from ...base.mesh import Float
from ...base.notes import to_act_on
from ...base.units import MM_PER_UNIT

_UNIT_RATIOS = tuple(each**way for way in (1, -1) for each in (1000.0, 100.0, 39.37007874, 25.4, 10.0, 2.54))
_MOST_APART = 0.10  # a scan may be stretched by some percent, not by more; a choice of ours, no source
_MOST_OFF = 1.5  # phone scans are up to 31 % off (Farhan et al. 2023), rounded outwards
WHICH_OF_TWO = (
    "To find which, measure a third distance between other points and add it: the length it agrees with is right. Then "
    "measure the other one again and check its from, to and measured_mm."
)
_SWAPPED_AGREE = 0.02  # lengths that agree so once two are exchanged were typed for each other; our choice
_AXIS_SPREAD = 0.005  # axes that differ by more are told; common practice, no source
_DISAGREES = 2.5758  # two-sided 1 % of the normal law


def refuse_unit_factor(factor: float, mm_per_unit: float, what: str, fitting: Collection[str] = ()) -> None:
    """Refuse a factor that is the ratio of two units; `mm_per_unit` is that of the file as it was believed.

    A scan may be off by a quarter on top of a wrong unit; a ratio that leads to no unit of the list must be met within
    5 %. What is named always leads out of here: where it is known, the unit is one `fitting` such a part.

    Raises InputError with the likely unit of the scan, or of the lengths.
    """
    likely = [
        (abs(math.log(factor * mm_per_unit / mm)), unit)
        for unit, mm in MM_PER_UNIT.items()
        if abs(mm / mm_per_unit - 1.0) > 1e-9 and abs(math.log(factor * mm_per_unit / mm)) < math.log(1.25)
    ]
    typed = _typed_in(factor, 1.25)
    unit = min(likely)[1] if likely else ""
    # A scan that has the right size as it is, and would not in the other unit, is not to blame: the lengths are.
    believed = next((each for each, mm in MM_PER_UNIT.items() if abs(mm / mm_per_unit - 1.0) < 1e-9), "")
    if typed and unit and believed in fitting and unit not in fitting:
        unit = ""
    said, slip = f"The check lengths would scale the {what} by {factor:.5g}: that", ""
    if typed:
        slip = f"the lengths were typed in {typed[0]} instead of mm: multiply each measured_mm by {typed[1]:g}."
    if unit or slip:
        hint = f'The unit is likely "{unit}": set unit = "{unit}" for this scan.{f" Or {slip}" if slip else ""}'
        raise InputError(f"{said} is a wrong unit, no scan error.", hint=hint if unit else f"Likely {slip}")
    for ratio in _UNIT_RATIOS:
        if abs(math.log(factor / ratio)) < math.log(1.05):
            raise InputError(
                f"{said} smells of mixed units, no scan error.",
                hint=f"By hand the lengths are {factor:.4g} times as long as on the scan: check this scan's unit, the "
                "measured lengths (mm) and the picked points.",
            )


def _typed_in(ratio: float, within: float) -> tuple[str, float] | None:
    """Return in what unit lengths were typed that come out short by a ratio, and how many mm it is."""
    units = (("cm", 10.0), ("m", 1000.0), ("inches", 25.4))
    return next((each for each in units if abs(math.log(ratio * each[1])) < math.log(within)), None)


def refuse_slips(names: Sequence[str], ratios: Float, measured: Float, what: str) -> None:
    """Refuse a length that differs from the others by a ratio of units, e.g. one typed in cm.

    Of two lengths the one that leaves the scan near its size is believed; where neither does, or both, none is blamed.
    The ratios, (n,), are what each, measured, (n,) mm, would scale the scan by.

    Raises InputError with its name.
    """
    if len(names) < 2:
        return
    is_sane = np.abs(np.log(ratios)) < math.log(_MOST_OFF)
    is_told = len(names) > 2 or int(is_sane.sum()) == 1
    middle = float(np.median(ratios)) if len(names) > 2 else float(ratios[is_sane][0] if is_told else ratios[0])
    for index, (name, ratio, length) in enumerate(zip(names, ratios, measured, strict=True)):
        times = float(ratio) / middle
        for unit_ratio in _UNIT_RATIOS:
            if abs(math.log(times / unit_ratio)) >= math.log(1.05):
                continue
            if not is_told:
                raise InputError(
                    f'Check lengths "{names[0]}" and "{names[1]}" of the {what} would scale it by {ratios[0]:.4g} and '
                    f"{ratios[1]:.4g}: one of the two is wrong, likely typed in another unit than mm.",
                    hint=WHICH_OF_TWO,
                )
            against = "the others" if len(names) > 2 else f'"{names[int(np.argmax(is_sane))]}"'
            typed = _typed_in(times, 1.05)
            hint = (
                f"It looks typed in {typed[0]} instead of mm: write measured_mm = {length * typed[1]:.5g}."
                if typed
                else f"Check its two points and its measured_mm, {length:.5g}: by {against} it is {length / times:.5g}."
            )
            raise _of_length(
                index, f'Check length "{name}" of the {what} is {times:.4g} times what {against} would make it.', hint
            )


def _of_length(index: int, text: str, hint: str) -> InputError:
    """Return an error that blames what was measured of one length."""
    error = InputError(text, hint=hint)
    error.within = (index, "measured_mm")
    return error


def refuse_far_apart(names: Sequence[str], ratios: Float, sigma: Float, measured: Float, what: str) -> None:
    """Refuse lengths that want factors more than a tenth apart: one of them is a slip, and the mean would hide it.

    Of two lengths the one that leaves the scan near its size is believed; where neither does, or both, none is blamed.
    The ratios, (n,), are what each, measured, (n,) mm, would scale the scan by; three times their standard deviation,
    (n,), is allowed beside.

    Raises InputError with the one length without which the others agree, or the two that are farthest apart.
    """
    low, high = int(np.argmin(ratios)), int(np.argmax(ratios))
    apart = float(ratios[high] / ratios[low]) - 1.0
    allowed = _MOST_APART + 3.0 * float(np.hypot(sigma[low], sigma[high]) / ratios[low])
    if apart <= allowed:
        return
    said = (
        f'Check lengths "{names[low]}" and "{names[high]}" of the {what} are {apart:.0%} apart: they would '
        f"scale it by {ratios[low]:.4g} and {ratios[high]:.4g}."
    )
    pair = _exchanged(ratios, measured)
    if pair is not None:
        one, other = pair
        raise _of_length(
            one,
            f"{said} With two of them exchanged all agree: they look typed for each other.",
            f'Write measured_mm = {measured[other]:.6g} for "{names[one]}" and measured_mm = {measured[one]:.6g} for '
            f'"{names[other]}".',
        )
    suspect = odd_one_out(ratios) if len(names) > 2 else None
    if suspect is not None:
        raise _of_length(
            suspect,
            f'{said} Without "{names[suspect]}" the others agree.',
            f'Measure "{names[suspect]}" again and check its two points, or leave it out.',
        )
    is_sane = np.abs(np.log(ratios)) < math.log(_MOST_OFF)
    if len(names) == 2 and int(is_sane.sum()) == 1:
        wrong, right = int(np.argmin(is_sane)), int(np.argmax(is_sane))
        should = measured[wrong] * ratios[right] / ratios[wrong]
        raise _of_length(
            wrong,
            f'Check length "{names[wrong]}" of the {what} looks mistyped{_shifted(measured[wrong], should)}: it is '
            f"{measured[wrong]:.5g} mm, but its ends lie {measured[wrong] / ratios[wrong]:.5g} mm apart on the scan, "
            f'and by "{names[right]}", which leaves the scan near its size, it is {should:.5g} mm.',
            f"Measure it again and check its two points; if that is confirmed write measured_mm = {should:.5g}. Or "
            "leave this check length out.",
        )
    raise InputError(f"{said} One was measured, typed or picked wrong.", hint=WHICH_OF_TWO)


def _exchanged(ratios: Float, measured: Float) -> tuple[int, int] | None:
    """Return the two lengths whose numbers look typed for each other; None where no exchange makes all of them agree.

    They must then leave the scan near its size too.
    """
    scan = measured / ratios
    for one, other in itertools.combinations(range(len(ratios)), 2):
        order = np.arange(len(ratios))
        order[[one, other]] = other, one
        mended = measured[order] / scan
        is_near_size = abs(math.log(float(np.median(mended)))) < math.log(_MOST_OFF)
        if is_near_size and mended.max() / mended.min() - 1.0 <= _SWAPPED_AGREE:
            return one, other
    return None


def _shifted(typed: float, should: float) -> str:
    """Return a question for a zero or a place of the point, where that accounts for a wrong length; "" elsewhere."""
    places = round(math.log10(should / typed))
    meant = typed * 10.0**places
    return f" ({typed:.5g} for {meant:.5g}?)" if places and abs(meant / should - 1.0) < _MOST_APART else ""


def odd_one_out(ratios: Float) -> int | None:
    """Return the one length without which the others agree to 1 %; None where none or more than one is."""
    alone = []
    for index in range(len(ratios)):
        others = np.delete(ratios, index)
        if others.max() / others.min() - 1.0 < 0.01:
            alone.append(index)
    return alone[0] if len(alone) == 1 else None


def factor_of(scan: Float, measured: Float, sigma: Float) -> tuple[float, float]:
    """Return the factor that fits lengths on the scan, (n,), to those measured, and its error from stated errors."""
    weight = sigma**-2.0
    total = float((weight * scan**2).sum())
    return float((weight * scan * measured).sum()) / total, 1.0 / math.sqrt(total)


def axis_factors(spans: Float, scan: Float, measured: Float, sigma: Float) -> dict[str, tuple[float, float]]:
    """Return factor and standard error of the lengths that run along each axis of the file (within 37 degrees)."""
    along = np.abs(spans) / scan[:, None]
    found = {}
    for axis, name in enumerate("xyz"):
        mine = along[:, axis] >= 0.8
        if mine.any():
            found[name] = factor_of(scan[mine], measured[mine], sigma[mine])
    return found


def disagreement_notes(
    names: Sequence[str],
    scan: Float,
    measured: Float,
    sigma: Float,
    axes: Mapping[str, tuple[float, float]],
    what: str,
) -> tuple[str, ...]:
    """Return notes on two or three lengths that disagree, and on axes that do."""
    notes = []
    ratio, error = measured / scan, sigma / scan
    agree = [
        (first, second)
        for first, second in itertools.combinations(range(len(names)), 2)
        if abs(ratio[first] - ratio[second]) <= _DISAGREES * math.hypot(error[first], error[second])
    ]
    if len(names) == 2 and not agree:
        notes.append(
            to_act_on(
                f'The two check lengths of the {what}, "{names[0]}" and "{names[1]}", disagree by'
                f" {abs(ratio[0] / ratio[1] - 1) * 100:.2f} %, more than their errors allow. A third length"
                " would tell which of them is off."
            )
        )
    if len(names) == 3 and len(agree) == 1:
        first, second = agree[0]
        notes.append(
            to_act_on(
                f'Of the three check lengths of the {what} only "{names[first]}" and "{names[second]}" agree.'
                f' Measure "{names[3 - first - second]}" again.'
            )
        )
    if len(names) == 3 and not agree:
        notes.append(to_act_on(f"No two of the three check lengths of the {what} agree. Measure all of them again."))
    for (axis, (one, one_error)), (other, (two, two_error)) in itertools.combinations(axes.items(), 2):
        apart = abs(one / two - 1.0)
        if apart > _AXIS_SPREAD and abs(one - two) > 2.0 * math.hypot(one_error, two_error):
            notes.append(
                to_act_on(
                    f"Along {axis} and {other} of the file the check lengths of the {what} want factors {one:.4f} and"
                    f" {two:.4f}, {apart * 100:.1f} % apart: the scan may be stretched. One factor is applied to all."
                )
            )
    return tuple(notes)
