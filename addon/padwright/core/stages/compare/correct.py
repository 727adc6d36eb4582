"""What the comparison says to correct: the print's size by axis, and how much filament the printer puts down."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Float
from ...base.notes import on_change
from ...base.text import figure
from .records import Correction, Shrinkage, Weighing
from .scale import NORMAL_90

KITCHEN_SCALE_G = 1.0
"""Limits of a kitchen scale (common practice, no source)."""

CLEAR_ERRORS = 2.0
"""Standard errors from which a shrinkage is corrected: 95 % of those that are none stay below (normal law)."""

_LEAST_PCT = 0.1
"""A smaller shrinkage, 0.3 mm on 300 mm, is not worth a change (common practice, no source)."""

_LIKELY_PCT = 3.0
"""Printed TPU shrinks by some tenths of a percent to about 2 (common practice, no source); with an error of a length by
hand and of a scan on top, more than this is no shrinkage (own choice)."""

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
    covariance_pct2: Float | None = None,
) -> tuple[tuple[Correction, ...], tuple[str, ...]]:
    """Return which keys to change, and notes; nothing is corrected that was not measured clearly.

    `covariance_pct2`: (3, 3), of the shrinkage along x, y and z; None: their errors share nothing.
    """
    found: list[Correction] = []
    notes: list[str] = []
    size, told = _sizes(shrinkage, old_shrinkage_pct, covariance_pct2)
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


def _sizes(
    shrinkage: Sequence[Shrinkage], old: tuple[float, ...] | None, covariance: Float | None
) -> tuple[Correction | None, list[str]]:
    before = (0.0, 0.0, 0.0) if old is None else old
    axes = {each.name: each for each in shrinkage if each.name in ("x", "y", "z")}
    usable = {
        name: each.shrinkage_pct for name, each in axes.items() if each.is_measured and each.shrinkage_pct is not None
    }
    if not usable:
        return None, []
    new, why, unlikely = list(before), [], []
    measured = {name: (each.value, _error(each)) for name, each in usable.items()}
    if {"x", "y"} <= set(measured):
        one, other = measured["x"], measured["y"]
        of_both = np.diag(np.square([one[1], other[1]])) if covariance is None else covariance[:2, :2]
        # The scan's scale is wrong along both alike, so they may be told apart better than either is known.
        apart = float(np.sqrt(of_both[0, 0] + of_both[1, 1] - 2.0 * of_both[0, 1]))
        if abs(one[0] - other[0]) <= CLEAR_ERRORS * apart:  # both get what they have in common
            measured |= dict.fromkeys("xy", _common(np.array([one[0], other[0]]), of_both))
            why.append(
                f"x and y, {one[0]:+.2f} and {other[0]:+.2f} %, cannot be told apart ({apart:.2f}) and get what they "
                "have in common"
            )
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
            unlikely.append(f"{abs(value):.1f} % too {'small' if value > 0 else 'large'} along {name}")
    if unlikely:
        return None, [
            on_change(
                f"No shrinkage is proposed: the print would be {', '.join(unlikely)}, and printed TPU shrinks by 0 to "
                "about 2 % (common practice, no source). The scan's unit or scale, or a length by hand, is more likely "
                "wrong; or another size or revision of the part was printed. Check these and the size in the print "
                "program, then compare again. If it is true all the same, write printer.shrinkage_pct yourself."
            )
        ]
    if new == list(before):
        return None, []
    words = "; ".join(why) + ". In brackets: standard errors."
    return Correction(("printer", "shrinkage_pct"), new, None if old is None else list(old), words), []


def _common(values: Float, covariance: Float) -> tuple[float, float]:
    """Return the mean of two readings of one value, weighed by their covariance (Aitken 1935), and its error."""
    apart = covariance[0, 0] + covariance[1, 1] - 2.0 * covariance[0, 1]
    first = float(np.clip((covariance[1, 1] - covariance[0, 1]) / max(apart, 1e-12), 0.0, 1.0))
    weight = np.array([first, 1.0 - first])
    return float(weight @ values), float(np.sqrt(weight @ covariance @ weight))


def _error(found: Estimate) -> float:
    return (found.high - found.low) / (2.0 * NORMAL_90)
