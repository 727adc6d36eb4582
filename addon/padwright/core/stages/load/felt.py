"""What a load check means in the hand and under the body, in plain words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.estimate import Estimate
from ...base.notes import to_act_on
from ...base.text import figure, placed
from ..material.curves import CurveBand, StressCurve, layered_ratio
from .bulging_layers import COLUMN_LIMIT, Bounds, solid_ratio
from .contact import LoadResult
from .load_case import ContactPatch, LoadCase
from .load_words import length_words, worst_zone
from .narrow_contacts import narrow_ratio
from .pressure_lines import JUST_NOTICEABLE

STEPS_MM = ((1.0, "nearly rigid"), (3.0, "firm"), (8.0, "cushioned"))
"""Give below which we call it so, and "soft" above; our own words, common practice, no source."""

STIFF_MM = STEPS_MM[1][0]
"""Give below which a cushion is spoken of, and what would help."""

CUSHION_MM = 4.0
"""Give that feels like a cushion: our choice, common practice, no source."""

THUMB_N, THUMB_CM2 = 50.0, 2.0
"""How a person tries a sample: a firm thumb; common practice, no source."""

THUMB_MOST = 0.8
"""Share of the thickness past which a thumb is not followed: there the fill is shut."""

THUMB_LEAST_MM = 8.0
"""Of a thinner pad a thumb, twice as wide, tells nothing; our choice."""

_TIPS_PCT = 50.0
"""Share of the patch below which the body is said to tip; an imprint bears all over. Our choice."""

FOAM_KPA, FOAM_STRAIN = (3.0, 5.0), 0.40
"""What common cushion foam bears at 40 % strain (CV40 of ISO 3386-1 is measured there); values common practice, no
source."""


def felt(
    result: LoadResult,
    case: LoadCase,
    patch: ContactPatch,
    bands: Sequence[CurveBand | StressCurve],
    *,
    rigid: LoadResult | None = None,
    has_coupons: bool = False,
    advice: str = "",
) -> tuple[str, ...]:
    """Say what the person will feel, what matters most first, and what would change it.

    Bands are those given to `check_load`; `rigid` is the same load by a body without flesh. With coupons (printed
    blocks were pressed already) none are advised. Advice, of `advice_words`, says what was tried to let it give more;
    it is told where it gives less than `STIFF_MM`.
    """
    curves = [band.value if isinstance(band, CurveBand) else band for band in bands]
    give = result.sinkage_mm
    under = patch.area_mm2 * patch.is_covered  # where the body only hovers it stands on nothing
    thickness = float(patch.thickness_mm @ under) / float(under.sum())
    what = (
        f"Under {figure(result.force_n)} N"
        if patch.press_direction is not None
        else f"Under {figure(result.mean_pressure_kpa.value)} kPa all round"
    )
    word = "down to the hard base in places"
    if result.bottoming_margin.value >= 0.0:
        word = feel_word(give.value)
        word += f" (a cushion gives some {CUSHION_MM:.0f} mm)" if give.value < STIFF_MM else ""
    said: list[str] = [f"{what} the pad gives {give_words(result)} of its {thickness:.0f} mm: {word}."]
    at = int(np.argmax([zone.share.value for zone in result.zones]))
    main = curves[at]
    said += [*_bottoming(result), *_tipping(result, patch)]
    if give.value < STIFF_MM:
        said += ["So thin a pad cannot feel like a cushion."] if _is_thin(thickness) else []
        said += [advice] if advice else []
    said += _thumb(bands[at], thickness, give.value, result.zones[at].name)
    said += [*_zones(result, case, rigid), *_flesh(result)]
    if result.bottoming_margin.value >= 0.0 and feel_word(give.low) != feel_word(give.high):
        is_guessed = any(isinstance(band, CurveBand) and band.basis not in ("model", "measured") for band in bands)
        said.append(
            f"What is not known may make it anything from {_feel(give.low)} to {_feel(give.high)}"
            f"{'; printed coupons narrow that' if is_guessed and not has_coupons else ''}."
        )
    if give.value < STIFF_MM and not _is_thin(thickness):
        said += _unlike_foam(main)
    return tuple(said)


def feel_word(give_mm: float) -> str:
    """Return our word for a pad that gives so much, as it is told: 0.97 is told as 1.0 mm."""
    return next((word for limit, word in STEPS_MM if round(give_mm, 1) < limit), "soft")


def _feel(give_mm: float) -> str:
    """Return the word for a pad that gives so much, with how much that is."""
    over = [0.0, *(limit for limit, _ in STEPS_MM)]
    word = feel_word(give_mm)
    least = max(limit for limit in over if limit <= round(give_mm, 1))
    most = min((limit for limit in over if limit > round(give_mm, 1)), default=None)
    if most is None:
        return f"{word} (over {least:g} mm)"
    return f"{word} (under {most:g} mm)" if least == 0.0 else f"{word} ({least:g} to {most:g} mm)"


def thumb_mm(curve: StressCurve, thickness_mm: float, end: str = "value") -> float:
    """Return about how far a thumb (`THUMB_N` on `THUMB_CM2`) presses into a pad so thick, mm.

    `end` is "low", "value" or "high" of what the pad around the thumb adds: a narrow contact like any other
    (`narrow_ratio`), a round one with pad all around, strained near the thumb by as much more as it is stiffer, until
    its cells are shut there. At most 80 % of the thickness.
    """
    area = THUMB_CM2 * 100.0
    radius = float(np.sqrt(area / np.pi))
    wide = layered_ratio(curve)
    ratio = Bounds(wide, wide, wide)
    if curve.poisson > COLUMN_LIMIT:
        ratio = solid_ratio(curve.poisson, thickness_mm, area, 2 * area / radius)
    stiffer = getattr(narrow_ratio(radius / thickness_mm, curve, ratio), end)
    deep = np.linspace(0.0, THUMB_MOST * thickness_mm, 401)[1:]
    strain = stiffer * deep / thickness_mm
    shut = min(curve.densification, float(curve.strain[-1]))
    near = np.minimum(strain, np.maximum(shut, deep / thickness_mm))
    enough = getattr(ratio, end) * curve.stress(near) / near * strain * area >= THUMB_N * 1000.0
    return float(deep[int(np.argmax(enough))] if enough.any() else deep[-1])


def _thumb(band: CurveBand | StressCurve, thickness: float, give: float, place: str) -> list[str]:
    every = (band.high, band.value, band.low) if isinstance(band, CurveBand) else (band, band, band)
    least, middle, most = (thumb_mm(curve, thickness) for curve in every)
    least, most = (
        middle * float(np.exp(sign * np.hypot(*np.log([deep / middle, thumb_mm(every[1], thickness, end) / middle]))))
        for sign, deep, end in ((-1.0, least, "high"), (1.0, most, "low"))
    )
    most = min(most, THUMB_MOST * thickness)
    if middle < max(3.0 * give, 1.0) or thickness < THUMB_LEAST_MM:
        return []
    between = "" if length_words(least) == length_words(most) else f"{length_words(least)} to {length_words(most)}"
    deep = f"{length_words(middle)} mm" + (f" ({between})" if between else "")
    if middle > 0.9 * THUMB_MOST * thickness:
        deep = f"and presses it nearly shut ({between or length_words(middle)} of {thickness:.0f} mm)"
    else:
        deep = f"about {deep}"
    return [f'A thumb pressed on "{place}" with {THUMB_N:.0f} N sinks in {deep}: the body spreads its load.']


def _zones(result: LoadResult, case: LoadCase, rigid: LoadResult | None) -> list[str]:
    bearing = [zone for zone in result.zones if zone.share.value > 0.005]
    if len(bearing) < 2:
        return []
    firm = max(bearing, key=lambda zone: zone.mean_pressure_kpa.value)
    slack = min(bearing, key=lambda zone: zone.mean_pressure_kpa.value)
    if firm.mean_pressure_kpa.value < 1.3 * slack.mean_pressure_kpa.value:
        said = ["No zone stands out: all bear about the same pressure."]
    else:
        stone = "" if case.flesh is not None else ", if the body were as hard as stone"
        said = [
            f'"{firm.name}" bears hardest, {figure(firm.mean_pressure_kpa.value)} kPa and '
            f'{100 * firm.share.low:.0f} to {100 * firm.share.high:.0f} % of the load, "{slack.name}" least, '
            f"{figure(slack.mean_pressure_kpa.value)} kPa{stone}."
        ]
    if rigid is not None:
        worst = max(rigid.zones, key=lambda zone: zone.mean_pressure_kpa.value)
        giving = next(zone for zone in result.zones if zone.name == worst.name)
        felt_kpa = (1.0 + JUST_NOTICEABLE) * giving.mean_pressure_kpa.value
        # Where zones were evened out a body of stone bears about the same: no extreme.
        if worst.mean_pressure_kpa.value > max(giving.peak_pressure_kpa.value, felt_kpa):
            said.append(
                f'A body as hard as stone would put {100 * worst.share.value:.0f} % on "{worst.name}", '
                f"{figure(worst.mean_pressure_kpa.value)} kPa: the upper extreme."
            )
    return said


def _flesh(result: LoadResult) -> list[str]:
    squeezed = result.flesh_squeezed_mm
    if squeezed is None:
        return []
    return [f"The body's own flesh is squeezed by some {length_words(squeezed.value)} mm{_between(squeezed)} besides."]


def _bottoming(result: LoadResult) -> list[str]:
    margin = result.bottoming_margin
    place = placed(result.margin_place_mm)
    if margin.value < 0.0:
        left = length_words(result.least_pad_left_mm.value)
        return [
            to_act_on(
                f'It bottoms out in "{worst_zone(result).name}", at {place} mm: there you feel the hard '
                f"base, with {left} mm of pad left. Thicker or firmer there helps."
            )
        ]
    if margin.low < 0.0:
        return [f"If the material is as soft as it may be, you feel the hard base at {place} mm."]
    return []


def _tipping(result: LoadResult, patch: ContactPatch) -> list[str]:
    # What lies deeper than the body sinks, as a groove, does not bear in any case.
    is_near = patch.gaps <= result.sinkage_mm.value
    near = float(patch.area_mm2[is_near].sum())
    share = 100.0 * float(patch.area_mm2[is_near & (result.pressure_kpa > 0.0)].sum()) / near
    if near <= 0.5 * float(patch.area_mm2.sum()) or share >= _TIPS_PCT:
        return []
    return [
        to_act_on(
            f"The load lies so near the edge that the body tips: only {share:.0f} % of the patch bears. "
            "Check the load's point."
        )
    ]


def _is_thin(thickness: float) -> bool:
    return thickness < 2.5 * CUSHION_MM


def _unlike_foam(curve: StressCurve) -> list[str]:
    at_foam = float(curve.stress(np.array(FOAM_STRAIN)))
    if at_foam <= 2.0 * FOAM_KPA[1]:
        return []
    takes = f"{at_foam:.0f}" if at_foam < 1000.0 else "more than 1000"
    return [
        f"Cushion foam gives {100 * FOAM_STRAIN:.0f} % under {FOAM_KPA[0]:.0f} to {FOAM_KPA[1]:.0f} kPa, this fill "
        f"under {takes}: expect support that follows the shape, rather than softness."
    ]


def give_words(result: LoadResult) -> str:
    """Return how far the pad gives at most, and between which bounds."""
    give = result.sinkage_mm
    most = max(result.zones, key=lambda zone: zone.sinkage_mm.high)
    if most.bottoming_margin.low < 0.0 <= result.bottoming_margin.value:
        # There it is as deep as the pad is thick at that place, which may be more than its mean thickness.
        return f"{length_words(give.value)} mm ({length_words(give.low)} to pressed shut)"
    return f"{length_words(give.value)} mm{_between(give)}"


def _between(give: Estimate) -> str:
    low, high = length_words(give.low), length_words(give.high)
    return "" if low == high else f" ({low} to {high})"
