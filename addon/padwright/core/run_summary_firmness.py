"""What a run says about settings, feel, tuning and print."""

from __future__ import annotations

import textwrap

from .estimate import Estimate
from .firmness.contact import LoadResult
from .firmness.load_case import LoadCase
from .packing import Packed
from .run_parts import Part
from .wording import figure

_WIDTH = 110


def firmness_lines(part: Part, packed: Packed) -> list[str]:
    """Return the lines: how firm each region gets, what it will feel like, what was tuned, what the print takes."""
    return [*_regions(part, packed), *_load(part), *_tuning(part), *_print(packed)]


def selection_lines(part: Part, packed: Packed) -> list[str]:
    """Return the lines that hold for a selection of regions: how firm each gets, what its print takes."""
    return [*_regions(part, packed), *_print(packed)]


def _regions(part: Part, packed: Packed) -> list[str]:
    assert part.firmness is not None
    measured = part.material.calibration is not None
    basis = "by your coupons" if measured else "by hardness alone: coupons would narrow it"
    lines = [f"Regions, softest first; stiffness at 10 % strain as printed, low to high ({basis}):"]
    curves = part.firmness.curves
    for body in sorted(packed.bodies, key=lambda each: curves[each.id].value.secant_kpa()):
        settings, band = packed.settings[body.id], curves[body.id]
        level, wished = body.firmness_level, packed.wished[body.id]
        off = "" if level == wished else f" (level {level:.3g}, wished {wished:.3g})"
        lines.append(
            f"  {body.name:<20.20s}{figure(body.mesh.volume / 1000.0, 1):>7} cm3 {band.value.secant_kpa():6.0f} kPa "
            f"({band.low.secant_kpa():.0f} to {band.high.secant_kpa():.0f}): {settings.in_words()}{off}"
        )
    return lines


def _load(part: Part) -> list[str]:
    firmness = part.firmness
    if firmness is None or not firmness.loads:
        return []
    case, result = firmness.loads[0]
    lines = textwrap.wrap(f"Load: {' '.join(firmness.felt)} {_pressed(case, result)}", _WIDTH, subsequent_indent="  ")
    for further, found in firmness.loads[1:]:
        text = (
            f'Under "{further.posture}", {figure(found.force_n)} N, the body sinks {_span(found.sinkage_mm)} mm. '
            f"{_pressed(further, found)}"
        )
        lines += textwrap.wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="  ")
    return lines


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
    text = f"Tuning: target {met}; {'; '.join(found.traded) or 'nothing to change'}."
    if found.binding:
        text += f" What binds: {', '.join(found.binding)}."
    text = " ".join([text, *found.unmet, *found.beyond, *found.unsure])
    return textwrap.wrap(text, _WIDTH, subsequent_indent="  ")


def _print(packed: Packed) -> list[str]:
    plan = packed.plan
    mass = plan.mass_g
    cost = f", cost {plan.cost.value:.2f} ({plan.cost.low:.2f} to {plan.cost.high:.2f})" if plan.cost else ""
    text = (
        f"Print {plan.orientation.name}: {figure(mass.value)} g ({figure(mass.low)} to {figure(mass.high)}), "
        f"{figure(plan.filament_m.value)} m of filament, never under {figure(plan.flow_limit_h, 1)} h, about "
        f"{figure(plan.time_h.value, 1)} to {figure(plan.time_h.high, 1)} h{cost}."
    )
    return textwrap.wrap(" ".join([text, *plan.notes]), _WIDTH, subsequent_indent="  ")
