"""What a load check means in the hand and under the body, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .contact import LoadResult
from .curves import CurveBand, StressCurve, layered_ratio
from .half_space import plane_modulus, punch_force_mn
from .load_case import ContactPatch, LoadCase

STEPS_MM = ((1.0, "nearly rigid"), (3.0, "firm"), (8.0, "cushioned"))
"""Give below which we call it so, and "soft" above; our own words, common practice, no source."""

CUSHION_MM = 4.0
"""Give that feels like a cushion: our choice, common practice, no source."""

THUMB_N, THUMB_CM2 = 50.0, 2.0
"""How a person tries a sample: a firm thumb; common practice, no source."""

FOAM_KPA, FOAM_STRAIN = (3.0, 5.0), 0.40
"""What common cushion foam bears at 40 % strain (CV40 of ISO 3386-1 is measured there); values common practice, no
source."""


def felt(
    result: LoadResult, case: LoadCase, patch: ContactPatch, bands: Sequence[CurveBand | StressCurve]
) -> tuple[str, ...]:
    """Say what the person will feel, and what would change it.

    Parameters
    ----------
    result : LoadResult
    case : LoadCase
    patch : ContactPatch
    bands : sequence of CurveBand or StressCurve
        As given to `check_load`.
    """
    curves = [band.value if isinstance(band, CurveBand) else band for band in bands]
    give = result.sinkage_mm
    thickness = float(patch.thickness_mm @ patch.area_mm2) / float(patch.area_mm2.sum())
    word = feel_word(give.value)
    what = f"Under {result.force_n:.0f} N" if patch.press_direction is not None else "Under this grip"
    said = [
        f"{what} the pad gives {_mm(give.value)} mm ({_mm(give.low)} to {_mm(give.high)}) of its {thickness:.0f} mm: "
        f"{word}."
    ]
    if feel_word(give.low) != feel_word(give.high):
        said.append(
            f"The material may make it anything from {feel_word(give.low)} to {feel_word(give.high)}; a printed coupon "
            "would tell."
        )
    main = curves[int(np.argmax([zone.share.value for zone in result.zones]))]
    said += _thumb(main, thickness, give.value)
    said += _zones(result)
    said += _bottoming(result)
    if give.value < STEPS_MM[0][0]:
        said += _softer(main, give.value, thickness, result.mean_pressure_kpa.value)
    return tuple(said)


def feel_word(give_mm: float) -> str:
    """Return our word for a pad that gives so much."""
    return next((word for limit, word in STEPS_MM if give_mm < limit), "soft")


def thumb_mm(curve: StressCurve, thickness_mm: float) -> float:
    """Return how far a thumb presses in, about.

    Notes
    -----
    A flat round punch on a half-space (F = 2 E* a d, with the secant modulus at the strain d / 2a), or the column
    below it, whichever is stiffer: the pad around the thumb helps to carry, and so does the base. At most 80 % of the
    thickness.
    """
    radius = float(np.sqrt(THUMB_CM2 * 100.0 / np.pi))
    deep = np.linspace(0.0, 0.8 * thickness_mm, 401)[1:]
    strain = np.minimum(deep / (2.0 * radius), deep / thickness_mm)
    wide = punch_force_mn(plane_modulus(1.0, curve.poisson), radius, 1.0) * curve.stress(strain) / strain * deep
    column = curve.stress(deep / thickness_mm) * layered_ratio(curve) * THUMB_CM2 * 100.0
    enough = np.maximum(wide, column) >= THUMB_N * 1000.0
    return float(deep[int(np.argmax(enough))] if enough.any() else deep[-1])


def _thumb(curve: StressCurve, thickness: float, give: float) -> list[str]:
    deep = thumb_mm(curve, thickness)
    if deep < 3.0 * give:
        return []
    return [
        f"A thumb pressed hard ({THUMB_N:.0f} N on {THUMB_CM2:.0f} cm2) sinks in about {_mm(deep)} mm: it feels far "
        "softer in the hand than under the body, which spreads its load."
    ]


def _zones(result: LoadResult) -> list[str]:
    bearing = [zone for zone in result.zones if zone.share.value > 0.005]
    if len(bearing) < 2:
        return []
    firm = max(bearing, key=lambda zone: zone.mean_pressure_kpa.value)
    slack = min(bearing, key=lambda zone: zone.mean_pressure_kpa.value)
    if firm.mean_pressure_kpa.value < 1.3 * slack.mean_pressure_kpa.value:
        return ["No zone stands out: all bear about the same pressure."]
    return [
        f'"{firm.name}" bears hardest: {firm.mean_pressure_kpa.value:.1f} kPa and {100 * firm.share.value:.0f} % of '
        f'the load; "{slack.name}" bears least, {slack.mean_pressure_kpa.value:.1f} kPa.'
    ]


def _bottoming(result: LoadResult) -> list[str]:
    margin = result.bottoming_margin
    place = ", ".join(f"{value:.0f}" for value in result.margin_place_mm)
    if margin.value < 0.0:
        return [
            f"It bottoms out at ({place}) mm: there you feel the hard base. {_mm(result.least_pad_left_mm.value)} mm "
            "of pad are left. Thicker or firmer there helps."
        ]
    if margin.low < 0.0:
        return [f"If the material is as soft as it may be, you feel the hard base at ({place}) mm."]
    return []


def _softer(curve: StressCurve, give: float, thickness: float, mean_kpa: float) -> list[str]:
    times = CUSHION_MM / give
    said = [
        f"To feel like a cushion it would have to give {CUSHION_MM:.0f} mm, {times:.0f} times as much. What helps: a "
        "softer filament, a sparser fill, fewer contours, a fill that bends instead of one that stretches, a thicker "
        "pad. Half the stiffness or twice the thickness doubles the give."
    ]
    at_foam = float(curve.stress(np.array(FOAM_STRAIN)))
    if at_foam > 2.0 * FOAM_KPA[1]:
        said.append(
            f"Cushion foam gives {100 * FOAM_STRAIN:.0f} % under {FOAM_KPA[0]:.0f} to {FOAM_KPA[1]:.0f} kPa; this fill "
            f"takes {at_foam:.0f} kPa for that, and the body brings {mean_kpa:.0f}. Expect support that follows the "
            "shape, rather than softness."
        )
    return said


def _mm(value: float) -> str:
    return f"{value:.1f}" if value >= 0.95 else f"{value:.2f}"
