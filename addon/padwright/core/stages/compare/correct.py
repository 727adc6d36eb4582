"""What the comparison says to correct: the print's size by axis, and how much filament the printer puts down."""

from __future__ import annotations

from collections.abc import Sequence

from ...base.estimate import Estimate
from ...base.text import figure
from .records import Correction, Shrinkage, Weighing

KITCHEN_SCALE_G = 1.0
"""Limits of a kitchen scale (common practice, no source)."""

CLEAR_ERRORS = 2.0
"""Standard errors from which a shrinkage is corrected: 95 % of those that are none stay below (normal law)."""

_LEAST_PCT = 0.1
"""A smaller shrinkage, 0.3 mm on 300 mm, is not worth a change (common practice, no source)."""

_LIKELY_PCT = 3.0
"""Printed TPU shrinks by some tenths of a percent to about 2 (common practice, no source)."""

_FLOW_PCT = (70.0, 130.0)
"""Beyond, something else is wrong than the flow (own choice)."""


def weighed(measured_g: float, plus_minus_g: float, predicted: Estimate) -> Weighing:
    """Return the print's weight held against the mass that was predicted for it."""
    is_explained = predicted.low - plus_minus_g <= measured_g <= predicted.high + plus_minus_g
    bounds = f"{predicted.value:.0f} g ({predicted.low:.0f} to {predicted.high:.0f})"
    off = 100.0 * (measured_g / predicted.value - 1.0)
    if is_explained:
        note = (
            f"It weighs {measured_g:g} g; predicted were {bounds}: as it should. The difference of {off:+.0f} % is no "
            "more than the prediction is unsure by, so it says nothing about flow or fill."
        )
    else:
        beyond = predicted.low - measured_g if measured_g < predicted.low else measured_g - predicted.high
        note = (
            f"It weighs {measured_g:g} g; predicted were {bounds}: {off:+.0f} %, {figure(beyond)} g beyond what the "
            "prediction is unsure by. Look at the fill first (supports taken off? the same fill, contours and closed "
            "layers as in settings.json? the filament's true diameter?); what is left is the flow."
        )
    return Weighing(measured_g, plus_minus_g, predicted, is_explained, note)


def corrections(
    shrinkage: Sequence[Shrinkage],
    weighing: Weighing | None,
    old_shrinkage_pct: tuple[float, ...] | None,
    old_flow_pct: float,
) -> tuple[tuple[Correction, ...], tuple[str, ...]]:
    """Return which keys to change, and notes; nothing is corrected that was not measured clearly."""
    found: list[Correction] = []
    notes: list[str] = []
    size, told = _sizes(shrinkage, old_shrinkage_pct)
    notes += told
    if size is not None:
        found.append(size)
    if weighing is not None and not weighing.is_explained:
        flow = old_flow_pct * weighing.predicted_g.value / weighing.measured_g
        low = old_flow_pct * (weighing.predicted_g.low) / (weighing.measured_g + weighing.plus_minus_g)
        high = old_flow_pct * (weighing.predicted_g.high) / max(weighing.measured_g - weighing.plus_minus_g, 1e-9)
        if _FLOW_PCT[0] <= flow <= _FLOW_PCT[1]:
            found.append(
                Correction(
                    ("printer", "flow_pct"),
                    float(round(flow)),
                    old_flow_pct,
                    f"{low:.0f} to {high:.0f} % would give the predicted mass, if fill and filament were as in the "
                    "settings.",
                )
            )
        else:
            notes.append(
                f"No flow is proposed: {flow:.0f} % would be needed, and so much is no matter of flow. Was the whole "
                "part weighed, and printed with the fill of settings.json?"
            )
    return tuple(found), tuple(notes)


def _sizes(shrinkage: Sequence[Shrinkage], old: tuple[float, ...] | None) -> tuple[Correction | None, list[str]]:
    before = (0.0, 0.0, 0.0) if old is None else old
    axes = {each.name: each for each in shrinkage if each.name in ("x", "y", "z")}
    usable = {
        name: each.shrinkage_pct for name, each in axes.items() if each.is_measured and each.shrinkage_pct is not None
    }
    if not usable:
        return None, []
    notes: list[str] = []
    measured = {name: (each.value, _error(each)) for name, each in usable.items()}
    if {"x", "y"} <= set(measured):
        (x, _), (y, _) = measured["x"], measured["y"]
        apart = float((axes["x"].standard_error_pct ** 2 + axes["y"].standard_error_pct ** 2) ** 0.5)
        if abs(x - y) <= CLEAR_ERRORS * apart:  # they cannot be told apart: both get what they have in common
            weight = [1.0 / max(axes[each].standard_error_pct, 1e-6) ** 2 for each in "xy"]
            both = (weight[0] * x + weight[1] * y) / sum(weight)
            measured |= {each: (both, min(measured["x"][1], measured["y"][1])) for each in "xy"}
    new, why = list(before), []
    for number, name in enumerate("xyz"):
        if name not in measured:
            why.append(f"{name} was not measured well enough and stays")
            continue
        value, error = measured[name]
        if abs(value) <= max(CLEAR_ERRORS * error, _LEAST_PCT):
            why.append(f"{name} is right to what can be told ({value:+.2f} %, standard error {error:.2f})")
            continue
        new[number] = round(100.0 * (1.0 - (1.0 - value / 100.0) * (1.0 - before[number] / 100.0)), 2)
        more = " more than corrected for" if before[number] else ""
        why.append(f"{name} came out {abs(value):.2f} % {'smaller' if value > 0 else 'larger'}{more} ({error:.2f})")
        if abs(value) > _LIKELY_PCT:
            notes.append(
                f"Along {name} the print is off by {value:.1f} %; printed TPU shrinks by up to about 2 % (common "
                "practice, no source): check the lengths that were measured, and the size in the print program."
            )
    if new == list(before):
        return None, notes
    words = "; ".join(why) + ". In brackets: the standard error."
    return Correction(("printer", "shrinkage_pct"), new, None if old is None else list(old), words), notes


def _error(found: Estimate) -> float:
    return (found.high - found.low) / (2.0 * 1.645)
