"""What a run says about settings, feel, tuning and print."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ..base.estimate import Estimate
from ..base.text import figure
from ..stages.load.contact import LoadResult
from ..stages.load.load_case import LoadCase
from .packing import Packed
from .parts import Part

_WIDTH = 110
_LOAD_LINES, _TUNING_LINES, _PRINT_LINES = 3, 2, 2


def firmness_lines(part: Part, packed: Packed, *, in_full: bool = False) -> list[str]:
    """Return the lines: how firm each region gets, what it will feel like, what was tuned, what the print takes."""
    tuning = _whole(_tuning(part), None if in_full else _TUNING_LINES)
    return [*_regions(part, packed), *_load(part, in_full=in_full), *tuning, *_print(packed, in_full=in_full)]


def selection_lines(part: Part, packed: Packed) -> list[str]:
    """Return the lines that hold for a selection of regions: how firm each gets, what its print takes."""
    return [*_regions(part, packed), *_print(packed, in_full=True)]


def _whole(sentences: Sequence[str], most: int | None) -> list[str]:
    """Return as many whole sentences, in their order, as so many lines hold; the first in any case."""
    told: list[str] = []
    for sentence in sentences:
        lines = textwrap.wrap(" ".join([*told, sentence]), _WIDTH, subsequent_indent="  ")
        if not told or most is None or len(lines) <= most:
            told.append(sentence)
    return textwrap.wrap(" ".join(told), _WIDTH, subsequent_indent="  ")


def _regions(part: Part, packed: Packed) -> list[str]:
    """Return a line for each kind of settings: the regions printed so, their stiffness, all there is to type in."""
    assert part.firmness is not None
    measured = part.material.calibration is not None
    basis = "by your coupons" if measured else "by hardness alone: coupons would narrow it"
    lines = [
        f"Regions, softest first, kPa at 10 % strain ({basis}).",
        "  Closed layers: body side + base side. Bead: width x layer height.",
    ]
    curves = part.firmness.curves
    alike: dict[tuple[str, str], list[str]] = {}
    for body in sorted(packed.bodies, key=lambda each: curves[each.id].value.secant_kpa()):
        level, wished = body.firmness_level, packed.wished[body.id]
        off = "" if level == wished else f" (level {level:.3g}, wished {wished:.3g})"
        alike.setdefault((packed.settings[body.id].in_words(), off), []).append(body.id)
    names = {body.id: body.name for body in packed.bodies}
    for (settings, off), ids in alike.items():
        low = min(curves[each].low.secant_kpa() for each in ids)
        value = sum(curves[each].value.secant_kpa() for each in ids) / len(ids)
        high = max(curves[each].high.secant_kpa() for each in ids)
        text = f"{', '.join(names[each] for each in ids)}: {settings}; {value:.0f} kPa ({low:.0f} to {high:.0f}){off}"
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ", break_long_words=False)
    return lines


def _load(part: Part, *, in_full: bool) -> list[str]:
    firmness = part.firmness
    if firmness is None or not firmness.loads:
        return []
    case, result = firmness.loads[0]
    first, *felt = firmness.felt
    further = [
        f'Under "{other.posture}", {figure(found.force_n)} N, the body sinks {_span(found.sinkage_mm)} mm. '
        f"{_pressed(other, found)}"
        for other, found in firmness.loads[1:]
    ]
    shut = [text for text, (_, found) in zip(further, firmness.loads[1:], strict=True) if _is_shut(found)]
    open_ = [text for text in further if text not in shut]
    sentences = [f"Load: {first}", _pressed(case, result), *shut, *felt, *open_]
    return _whole(sentences, None if in_full else _LOAD_LINES)


def _is_shut(result: LoadResult) -> bool:
    return result.bottoming_margin.value < 0.0


def _pressed(case: LoadCase, result: LoadResult) -> str:
    """Return the pressure under one load, and what is left until the fill is shut."""
    peak, mean, margin = result.peak_pressure_kpa, result.mean_pressure_kpa, result.bottoming_margin
    far = "Far from bottoming out" if margin.low > 0.5 else "Bottoming out" if margin.value < 0.0 else "Give left"
    below = "; below 0 it is squeezed past shut" if margin.low < 0.0 else ""
    rigid = " if the body gave nothing" if case.tissue is None else ""
    return (
        f"Pressure {_span(mean)} kPa on average, {_span(peak)} at the peak{rigid}. "
        f"{far}: margin {margin.value:.2f} ({margin.low:.2f} to {margin.high:.2f}{below})."
    )


def _span(each: Estimate) -> str:
    digits = 0 if each.value >= 9.5 else 1
    low, value, high = (f"{number:.{digits}f}" for number in (each.low, each.value, each.high))
    return value if low == high else f"{value} ({low} to {high})"


def _tuning(part: Part) -> list[str]:
    if part.firmness is None or part.firmness.tuning is None:
        return []
    found = part.firmness.tuning
    met = "not met" if not found.is_met else "met as expected, but not for certain" if found.unsure else "met"
    if found.is_met and found.beyond:
        met += ", but not under every load"
    binding = [f"What binds: {', '.join(found.binding)}."] if found.binding else []
    traded = f"Changed: {'; '.join(found.traded)}." if found.traded else "Nothing to change."
    return [f"Tuning: target {met}.", *found.unmet, *found.beyond, traded, *binding, *found.unsure]


def _print(packed: Packed, *, in_full: bool) -> list[str]:
    plan = packed.plan
    mass = plan.mass_g
    cost = f", cost {plan.cost.value:.2f} ({plan.cost.low:.2f} to {plan.cost.high:.2f})" if plan.cost else ""
    text = (
        f"Print {plan.orientation.name}: {figure(mass.value)} g ({figure(mass.low)} to {figure(mass.high)}), "
        f"{figure(plan.filament_m.value)} m of filament, never under {figure(plan.flow_limit_h, 1)} h, about "
        f"{figure(plan.time_h.value, 1)} to {figure(plan.time_h.high, 1)} h{cost}."
    )
    most = _PRINT_LINES + (plan.cost is not None)  # a cost that was asked for takes no place from what to look at
    return _whole([text, *plan.notes], None if in_full else most)
