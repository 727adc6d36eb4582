"""What to say of a mat's sum against the load, and of the mat beside the prediction."""

from __future__ import annotations

from ...base.notes import Note, to_act_on
from ...base.text import figure
from ...job.mat_table import KPA_PER_UNIT
from ..mats.laid_mat import LaidMat
from .beside_mat import MatBeside

_AGREES = 1.25  # or what the mat is good to: a share of the weight is good to a seventh; our choice
_UNIT_LIKE = 1.15  # so near to the ratio of two units that they look mixed up; our choice
_ON = {"base": "the base", "clay": "the clay", "pad": "the pad"}


def sum_notes(laid: LaidMat, beside: MatBeside) -> tuple[Note, ...]:
    """Return what to say where the mat's sum would be the load in another unit; else `beside_words` says all."""
    unit = _mixed_up(laid, beside)
    if not unit or beside.sum_n is None:
        return ()
    force = beside.sum_n.value * KPA_PER_UNIT[unit] / (laid.mat.kpa_per_unit or 1.0)
    return (
        to_act_on(
            f"The mat sums to {beside.sum_n.value:,.0f} N under a load of {beside.load_n:,.0f} N. "
            f'With unit = "{unit}" it would be {force:,.0f} N: is that what its numbers are in?'
        ),
    )


def _sum_words(laid: LaidMat, beside: MatBeside) -> str:
    """Return the mat's force beside the load, and what it may mean where they differ."""
    if beside.sum_n is None:
        return f"its numbers have no unit; it was scaled to the load of {beside.load_n:,.0f} N."
    on_pad = 0.0 if beside.on_pad_n is None else beside.on_pad_n.value
    said = f"{beside.sum_n.value:,.0f} N in all, {on_pad:,.0f} N on the pad's contact"
    times = beside.sum_n.value / beside.load_n
    agrees = max(_AGREES, 1.0 + laid.accuracy)
    if 1.0 / agrees <= times <= agrees:
        return f"{said}, the load is {beside.load_n:,.0f} N."
    said += f", {figure(times, 1)} times the load of {beside.load_n:,.0f} N"
    if _mixed_up(laid, beside):  # a note says that
        return f"{said}."
    if times < 1.0:
        return (
            f"{said}: part of the load bore beside the mat, its cells did not tell all (a mat bridges hollows), or the "
            "load is too high. Its shape counts here, not its sum."
        )
    if 1.0 / agrees <= on_pad / beside.load_n <= agrees:
        return f"{said}: the body bore beside the pad too."
    if laid.mat.frame_rule.startswith("maximum"):
        return f"{said}: each cell's maximum, from different moments. Its shape counts here, not its sum."
    if laid.mat.frame_count == 1:
        return f"{said}: a maximum over time? Such a sum never bore at once; its shape counts here, not its sum."
    return f"{said}: is the load right? Its shape counts here, not its sum."


def _mixed_up(laid: LaidMat, beside: MatBeside) -> str:
    """Return the unit in which the mat's sum would be the load, where the one it is taken in is far off; "" if none."""
    now = laid.mat.kpa_per_unit
    times = 1.0 if beside.sum_n is None else beside.sum_n.value / beside.load_n
    if now is None or laid.mat.unit not in KPA_PER_UNIT or 0.5 < times < 2.0:
        return ""
    for unit in ("kPa", "mmHg", "N/cm2", "psi", "mbar", "g/cm2", "kg/cm2", "Pa"):
        would_be = times * KPA_PER_UNIT[unit] / now
        if unit != laid.mat.unit and 1.0 / _UNIT_LIKE < would_be < _UNIT_LIKE:
            return unit
    return ""


def beside_words(laid: LaidMat, beside: MatBeside) -> list[str]:
    """Return the mat beside the prediction, sentence by sentence; what the notes say is not repeated."""
    peak = beside.mat_peak_kpa
    words = [
        f"Mat ({laid.mat.size_words}; {laid.mat.frame_rule}): {_sum_words(laid, beside)}",
        f"Scaled to the load, cell by cell ({len(beside.mat_kpa)} of them), the pad's pressure is "
        f"{figure(beside.rms_kpa, 1)} kPa off it (root of mean square); the peak is "
        f"{figure(beside.predicted_peak_kpa)} kPa where the mat had {figure(peak.value)} "
        f"({figure(peak.low)} to {figure(peak.high)}); the middle of the load lies {beside.center_off_mm.value:.0f} mm "
        f"off. The mat is taken as good to {100.0 * laid.accuracy:g} %: of what differs that may be "
        f"{figure(beside.rms_of_mat_kpa, 1)} kPa.",
    ]
    if beside.measured_on == "pad":
        words.append("The mat lay on the pad: what differs is what the prediction gets wrong, and the mat.")
    else:
        words.append(f"The mat lay on {_ON[beside.measured_on]}: what differs is what the pad changes.")
    if beside.is_load:
        words.append("The load check starts from the mat's distribution, so the two are not independent.")
    return words
