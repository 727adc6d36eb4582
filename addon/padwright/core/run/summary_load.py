"""What a run says about settings, feel, tuning and print."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from ..base.estimate import Estimate
from ..base.notes import Weight, weight_of
from ..base.text import counted, figure
from ..job.material_cards import MaterialCard
from ..stages.load.advice import advice_words
from ..stages.load.contact import LoadResult
from ..stages.load.load_case import LoadCase
from ..stages.load.load_words import cases_table, percent, span, tried_table
from ..stages.load.mat_words import beside_words
from ..stages.material.coupons.one_block import after_one_block
from ..stages.material.material_model import model_from_card
from .packing import Packed
from .parts import MadePart
from .print_words import hours_words
from .summary_room import Paragraph, growing, wrapped
from .summary_walls import walls_paragraph

_LOAD_LINES, _MAT_LINES, _TUNING_LINES, _PRINT_LINES = 5, 3, 4, 2
_FOLDS_TOLD = "an eighth either way"
"""What four blocks and a solid one left open in our study of made-up printers (docs/models/calibration.md)."""

REGIONS, LOAD, MAT, CASES, PRINT, TUNING, ADVICE = 0, 2, 3, 3, 5, 5, 6
"""Order in which they grow; 1 is for what must be acted on, 4 for what changed the part."""


def firmness_paragraphs(part: MadePart, packed: Packed, *, in_full: bool = False) -> list[Paragraph]:
    """Return how firm each region gets, what it will feel like, what was tuned, what the print takes."""
    is_folded = part.firmness is not None and part.firmness.folded is not None
    first = walls_paragraph(part, packed, REGIONS, "firmness") if is_folded else _regions(part, packed)
    found = [first, *_guess(part, packed), *_load(part, in_full=in_full)]
    if mat_beside_words(part):
        found.append(growing(mat_beside_words(part), MAT, "mat", most_lines=None if in_full else _MAT_LINES))
    tuned = tuning_words(part)
    if tuned:
        assert part.firmness is not None and part.firmness.tuning is not None
        least = 0 if part.firmness.tuning.unmet else 1  # what is not met stands among what to act on
        found.append(growing(tuned, TUNING, "tuning", least=least, most_lines=None if in_full else _TUNING_LINES))
        if in_full:
            table = tried_table(part.firmness.tuning)
            found.append(Paragraph((tuple(f"  {line}".rstrip() for line in table),), TUNING, "tuning"))
    most = _PRINT_LINES + (packed.plan.cost is not None)  # a cost takes no place from what to look at
    found.append(growing(print_words(packed), PRINT, "print", most_lines=None if in_full else most))
    return found


def mat_beside_words(part: MadePart) -> list[str]:
    """Return the mat beside the load that was checked first, sentence by sentence; nothing without one."""
    beside = None if part.firmness is None else part.firmness.beside
    return [] if beside is None or part.mat is None else beside_words(part.mat, beside)


def selection_lines(part: MadePart, packed: Packed) -> list[str]:
    """Return the lines that hold for a selection of regions: how firm each gets, what its print takes."""
    told = [line for each in (_regions(part, packed), *_guess(part, packed)) for line in each.versions[-1]]
    return [*told, *wrapped(" ".join(print_words(packed)))]


def _regions(part: MadePart, packed: Packed) -> Paragraph:
    """Return a line for each kind of settings: the regions printed so, all there is to type in, their stiffness.

    What all regions have alike is said once, above. The shorter versions have names and settings alone, at the
    shortest one behind the other.
    """
    assert part.firmness is not None
    basis = "guessed" if part.material.calibration is None else "by your coupons"
    curves = part.firmness.curves
    alike: dict[tuple[tuple[str, ...], str], list[str]] = {}
    for body in sorted(packed.bodies, key=lambda each: curves[each.id].modulus_kpa.value):
        level, wished = body.firmness_level, packed.wished[body.id]
        off = "" if level == wished else f" (level {level:.3g}, wished {wished:.3g})"
        alike.setdefault((packed.settings[body.id].pieces(), off), []).append(body.id)
    columns = list(zip(*(pieces for pieces, _ in alike), strict=True))
    is_common = [len(alike) > 1 and len(set(column)) == 1 for column in columns]
    shared = ", ".join(column[0] for column, same in zip(columns, is_common, strict=True) if same)
    names = {body.id: body.name for body in packed.bodies}
    full: list[str] = []
    plain: list[str] = []
    said: list[str] = []
    for (pieces, off), ids in alike.items():
        own = ", ".join(piece for piece, same in zip(pieces, is_common, strict=True) if not same)
        told = f"{', '.join(names[each] for each in ids)}: {own or 'as all'}"
        moduli = [curves[each].modulus_kpa for each in ids]
        low, high = min(each.low for each in moduli), max(each.high for each in moduli)
        value = sum(each.value for each in moduli) / len(moduli)
        full += wrapped(f"{told}; {value:.0f} kPa ({low:.0f} to {high:.0f}){off}", "    ", "  ")
        plain += wrapped(told, "    ", "  ")
        said.append(told)
    key = f"Closed layers: body side + base side. Bead: width x layer height.{f' All: {shared}.' if shared else ''}"
    stiffness = f"Regions, softest first. kPa: stiffness {squeezed_words(part)} ({basis})."
    head = wrapped(f"Regions, softest first. {key}")
    versions = (
        wrapped(f"Regions, softest first. {key} {'; '.join(said)}."),
        (*head, *plain),
        (*wrapped(stiffness), *wrapped(key, "    ", "  "), *full),
    )
    return Paragraph(tuple(sorted(versions, key=len)), REGIONS, "firmness")


def squeezed_words(part: MadePart) -> str:
    """Return at which strain the regions' moduli hold, from the least to the most."""
    assert part.firmness is not None
    ends = [100.0 * end(band.at for band in part.firmness.curves.values()) for end in (min, max)]
    by = " to ".join(dict.fromkeys(f"{each:.2g}" for each in ends))
    return f"when squeezed by {by} %{', as under the load' if part.firmness.levels.strains.rounds else ''}"


def _guess(part: MadePart, packed: Packed) -> list[Paragraph]:
    said = guess_words(part, packed)
    return [Paragraph(((), wrapped(said)), REGIONS, "firmness")] if said else []


def guess_words(part: MadePart, packed: Packed) -> str:
    """Return how far the filament is only guessed, and what a first printed block would make of it; "" if it is not."""
    card = part.material
    is_folded = part.firmness is not None and part.firmness.folded is not None
    if card.pressed("folds" if is_folded else "settings") is not None:
        return ""
    if is_folded:
        rests = "hardness alone" if card.calibration is None else "your blocks of fills"
        return (
            f"Filament: by {rests} {card.hardness} may be {_mpa(model_from_card(card).solid)} MPa, and nobody knows "
            "how wide your printer makes walls. Blocks of folded walls (command: coupons --folds), pressed on a "
            f"kitchen scale, would tell what walls bear to {_FOLDS_TOLD}."
        )
    nozzle_mm = next(iter(packed.settings.values())).nozzle_diameter_mm
    solid, told = model_from_card(card).solid, _after_one_block(card, nozzle_mm)
    known = f"would tell it to {_mpa(told)} MPa" if told else "would narrow it"
    return (
        f"Filament: by hardness alone {card.hardness} may be {_mpa(solid)} MPa, so what is felt is as unsure. "
        f"One printed block (command: coupons), pressed on a bathroom scale, {known}."
    )


@lru_cache(maxsize=1)
def _after_one_block(card: MaterialCard, nozzle_mm: float) -> Estimate | None:
    """Plan the block once for the summary, short and in full, and the report of a run."""
    return after_one_block(model_from_card(card), card, nozzle_mm)


def _mpa(each: Estimate) -> str:
    return " to ".join(figure(end / 1000.0) for end in (each.low, each.high))


def _load(part: MadePart, *, in_full: bool) -> list[Paragraph]:
    firmness = part.firmness
    if firmness is None or not firmness.loads:
        return []
    first, *said = load_words(part, in_full=in_full)
    tried = advice_words(firmness.advice)
    said = [f"Load: {first[:1].lower()}{first[1:]}", *said]
    paragraphs = [growing(said, LOAD, "load", most_lines=None if in_full else _LOAD_LINES)]
    if any(each == tried and (in_full or weight_of(each) is not Weight.ACT) for each in firmness.felt):
        paragraphs.append(Paragraph(((), wrapped(tried)), ADVICE, "load"))
    further = firmness.loads[1:]
    if not further:
        return paragraphs
    table = cases_table(firmness.loads) if in_full else ()
    if table:
        return [*paragraphs, Paragraph((tuple(f"  {line}" for line in table),), CASES, "load")]
    each_line = tuple(line for other, found in further for line in wrapped(_case(other, found), "    ", "  "))
    versions: tuple[tuple[str, ...], ...] = (each_line,)
    if not in_full and len(further) > 1:
        folded = wrapped(_folded([found for _, found in further]), "    ", "  ")
        versions = (folded, each_line) if len(folded) < len(each_line) else versions
    return [*paragraphs, Paragraph(versions, CASES, "load")]


def load_words(part: MadePart, *, in_full: bool) -> list[str]:
    """Return what the first load does, sentence by sentence; without `in_full` not what must be acted on.

    What was tried to make the part give more has words of its own (`stages.load.advice`).
    """
    assert part.firmness is not None
    case, result = part.firmness.loads[0]
    first, *felt = (each for each in part.firmness.felt if in_full or weight_of(each) is not Weight.ACT)
    tried = advice_words(part.firmness.advice)
    return [first, *_pressed(case, result), *(each for each in felt if each != tried)]


def _case(case: LoadCase, result: LoadResult) -> str:
    """Return one further load case in a line."""
    return (
        f'"{case.posture}", {figure(result.force_n)} N: gives {span(result.sinkage_mm)} mm, at most '
        f"{figure(result.peak_pressure_kpa.value)} kPa; {_left(result)}{_sideways(case)}."
    )


def _sideways(case: LoadCase) -> str:
    """Return what of a load pushes across the pad, and the friction that holds it."""
    if case.sideways_n <= 0.0:
        return ""
    return f"; pushes {figure(case.sideways_n)} N sideways and slides if friction is below {case.needed_friction:.2f}"


def _folded(found: Sequence[LoadResult]) -> str:
    """Return all further load cases in one sentence."""
    gives = sorted(each.sinkage_mm.value for each in found)
    worst = min(found, key=lambda each: each.bottoming_margin.value)
    return (
        f"Under the {counted(len(found), 'further load')} it gives {figure(gives[0], 1)} to {figure(gives[-1], 1)} mm; "
        f"at the worst {_left(worst)}."
    )


def _left(result: LoadResult) -> str:
    """Return how much of the way to a fill that is pressed shut is left."""
    if result.bottoming_margin.value < 0.0:
        return "in places it is pressed shut and feels hard"
    return f"{percent(result.bottoming_margin)} of its give is left"


def _pressed(case: LoadCase, result: LoadResult) -> tuple[str, str]:
    """Return the pressure under one load, and what is left until the fill is shut."""
    peak, mean = result.peak_pressure_kpa, result.mean_pressure_kpa
    rigid = " if the body were as hard as stone" if case.flesh is None else ""
    left = f"At the worst place {_left(result)}."
    if result.bottoming_margin.value < 0.0:
        left = "In places it is pressed shut and feels hard."
    return f"Pressure {_span(mean)} kPa on average, {_span(peak)} at the peak{rigid} (10 kPa: 1 kg on 10 cm2).", left


def _span(each: Estimate) -> str:
    digits = len(figure(each.value).partition(".")[2])
    low, value, high = (f"{number:.{digits}f}" for number in (each.low, each.value, each.high))
    return value if low == high else f"{value} ({low} to {high})"


def tuning_words(part: MadePart) -> list[str]:
    """Return what tuning came to, sentence by sentence; none where there was none."""
    if part.firmness is None or part.firmness.tuning is None:
        return []
    found = part.firmness.tuning
    met = "not met" if not found.is_met else "met as expected, but not for certain" if found.unsure else "met"
    if found.is_met and found.beyond:
        met += ", but not under every load"
    binding = [f"What binds: {', '.join(found.binding)}."] if found.binding else []
    if found.unchanged:
        return [f"Tuning: target {met}.", found.unchanged, *binding, *found.unsure]
    traded = f"Changed: {'; '.join(found.traded)}." if found.traded else "Nothing to change."
    return [f"Tuning: target {met}.", traded, *binding, *found.unsure]


def print_words(packed: Packed) -> list[str]:
    """Return how the part is printed and what that takes, sentence by sentence."""
    plan = packed.plan
    mass = plan.mass_g
    cost = f", cost {plan.cost.value:.2f} ({plan.cost.low:.2f} to {plan.cost.high:.2f})" if plan.cost else ""
    text = (
        f"Print {plan.orientation.name}: {figure(mass.value)} g ({figure(mass.low)} to {figure(mass.high)}), "
        f"{figure(plan.filament_m.value)} m of filament, {hours_words(plan.time_h)}{cost}."
    )
    return [text, *(note for note in plan.notes if weight_of(note) is not Weight.ACT)]
