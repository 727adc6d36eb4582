"""What to say of a mat's sum against the load, and of the mat beside the prediction."""

from __future__ import annotations

from ...base.notes import Note, to_act_on, to_look_at
from ...base.text import figure
from ...job.mat_table import KPA_PER_UNIT
from ..mats.laid_mat import LaidMat
from .beside_mat import MatBeside

_AGREES = 1.25  # a mat is good to a tenth, a share of the weight to a seventh; our choice
_UNIT_LIKE = 1.15  # so near to the ratio of two units that they look mixed up; our choice
_ON = {"base": "the base", "clay": "the clay", "pad": "the pad"}


def sum_notes(laid: LaidMat, beside: MatBeside) -> tuple[Note, ...]:
    """Return what to say where the mat's sum is not the load; nothing where they agree, or it has no unit."""
    note = _sum_note(laid, beside)
    return () if note is None else (note,)


def _sum_note(laid: LaidMat, beside: MatBeside) -> Note | None:
    if beside.sum_n is None:
        return None
    times = beside.sum_n / beside.load_n
    if 1.0 / _AGREES <= times <= _AGREES:
        return None
    said = f"The mat sums to {beside.sum_n:,.0f} N, {figure(times, 1)} times the load of {beside.load_n:,.0f} N"
    unit = _mixed_up(laid, times)
    if unit:
        force = beside.sum_n * KPA_PER_UNIT[unit] / (laid.mat.kpa_per_unit or 1.0)
        return to_act_on(f'{said}. With unit = "{unit}" it would be {force:,.0f} N: is that what its numbers are in?')
    if times < 1.0:
        return to_look_at(
            f"{said}: part of the load bore beside the mat, its cells did not tell all (a mat bridges hollows), or the "
            "load is too high. Its shape was compared, not its sum."
        )
    on_pad = beside.on_pad_n or 0.0
    if on_pad / beside.load_n <= _AGREES and on_pad / beside.load_n >= 1.0 / _AGREES:
        return to_look_at(f"{said}; {on_pad:,.0f} N of it lie on the pad's contact: the body bore beside it too.")
    if laid.mat.frame_rule.startswith("maximum"):
        why = "each cell's maximum over the frames, from different moments"
    elif laid.mat.frame_count == 1:
        why = (
            "a maximum over time? Each cell's greatest, from different moments, adds up to more than ever bore at once"
        )
    else:
        why = "more than the load, frame by frame: is the load right"
    ends = "." if why.endswith("once") or why.endswith("moments") else "?"
    return to_look_at(f"{said}: {why}{ends} Its shape was compared, not its sum.")


def _mixed_up(laid: LaidMat, times: float) -> str:
    """Return the unit in which the mat's sum would be the load, where the one it is taken in is far off; "" if none."""
    now = laid.mat.kpa_per_unit
    if now is None or laid.mat.unit not in KPA_PER_UNIT or 0.5 < times < 2.0:
        return ""
    for unit in ("kPa", "mmHg", "N/cm2", "psi", "mbar", "g/cm2", "kg/cm2", "Pa"):
        would_be = times * KPA_PER_UNIT[unit] / now
        if unit != laid.mat.unit and 1.0 / _UNIT_LIKE < would_be < _UNIT_LIKE:
            return unit
    return ""


def beside_words(laid: LaidMat, beside: MatBeside) -> list[str]:
    """Return the mat beside the prediction, sentence by sentence; what the notes say is not repeated."""
    first = f"Mat ({laid.mat.size_words}; {laid.mat.frame_rule})"
    if beside.sum_n is not None:
        first += f": {beside.sum_n:,.0f} N in all, {beside.on_pad_n or 0.0:,.0f} N on the pad's contact"
        first += f", the load is {beside.load_n:,.0f} N."
    else:
        first += f": its numbers have no unit; it was scaled to the load of {beside.load_n:,.0f} N."
    words = [
        first,
        f"Scaled to the load, cell by cell ({len(beside.mat_kpa)} of them), the pad's pressure is "
        f"{figure(beside.rms_kpa, 1)} kPa off it (root of mean square); the peak is "
        f"{figure(beside.predicted_peak_kpa)} kPa where the mat had {figure(beside.mat_peak_kpa)}; "
        f"the middle of the load lies {beside.center_off_mm:.0f} mm off.",
    ]
    if beside.measured_on == "pad":
        words.append("The mat lay on the pad: what differs is what the prediction gets wrong, and the mat.")
    else:
        words.append(f"The mat lay on {_ON[beside.measured_on]}: what differs is what the pad changes.")
    if beside.is_load:
        words.append("The load check starts from the mat's distribution, so the two are not independent.")
    return words
