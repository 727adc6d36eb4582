"""What the print sheet tells, gathered from the part as it is laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..base.estimate import Estimate
from ..base.mesh import TriMesh, joined
from ..base.notes import Weight, heaviest_first, weight_of
from ..base.text import figure
from ..geometry.frames import moved
from ..stages.packing.sidecar import threemf_name
from ..stages.packing.thumbnail import firmness_color
from ..stages.printing.orientation import SPOT_CM2
from ..stages.printing.print_record import heat_record
from ..stages.printing.support_words import is_worth_telling, support_words
from ..stages.report.bed_pictures import from_above, from_below
from ..stages.report.setting_lines import RegionLines, body_is_up, setting_lines
from ..stages.report.sheet import SheetParts, SheetRegion, print_sheet
from ..stages.report.words_map import WordsMap
from .packing import Packed
from .parts import MadePart
from .summary_notes import acting_notes


def part_sheet(part: MadePart, packed: Packed, words: WordsMap) -> tuple[str, bytes]:
    """Return name and content of the print sheet of a part, or of a selection of its regions."""
    told = part.job.part if packed.selection is None else packed.selection.named(part.job.part)
    # A mirror's plane contains the press direction, so the part for the other side lies as this one does.
    is_up = body_is_up(None if part.pad is None else part.pad.press_direction, packed.to_bed[:3, :3])
    card_colors = [level.display_color for level in part.family.levels]
    colors = [firmness_color(body.firmness_level, card_colors) for body in packed.bodies]
    material = part.material.name
    mass = {each.id: each.mass_g for each in packed.plan.regions}
    regions = tuple(
        SheetRegion(
            RegionLines(
                body.id,
                body.name,
                setting_lines(packed.settings[body.id].as_json(), words, is_body_up=is_up, material=material),
            ),
            color,
            _layers(body.mesh, packed, packed.settings[body.id].layer_thickness_mm),
            figure(mass[body.id]),
        )
        for body, color in zip(packed.bodies, colors, strict=True)
    )
    parts = SheetParts(
        told.name,
        told.number,
        told.revision,
        packed.created.replace("T", " ").replace("Z", " UTC"),
        words.program,
        _facts(part, packed, told.number),
        regions,
        tuple((each.name, each.value) for each in words.always),
        _watch(packed, acting_notes(part, packed)),
        f"{_range(packed.plan.mass_g)} expected, without supports",
        f"{_range(packed.plan.time_h)} expected",
        from_below(_outside(packed), packed.to_bed),
        from_above(packed.bodies, colors, packed.to_bed),
    )
    return f"{told.number}.sheet.html", print_sheet(parts)


def _outside(packed: Packed) -> TriMesh:
    """Return the outside of what is printed, as the print is planned."""
    return packed.outside if len(packed.bodies) == len(packed.whole) else joined([body.mesh for body in packed.bodies])


def _layers(mesh: TriMesh, packed: Packed, layer_mm: float) -> str:
    height = moved(packed.to_bed, mesh.vertices)[:, 2] * packed.bed_scale[2]
    # A slice is printed where the part is at its middle; one that it hardly touches is none.
    first, last = (math.floor(float(end) / layer_mm + 0.5) for end in (height.min(), height.max()))
    return f"{first + 1} to {max(last, first + 1)}"


def _facts(part: MadePart, packed: Packed, number: str) -> tuple[tuple[str, str], ...]:
    plan, job = packed.plan, part.job
    way, bed = plan.orientation, job.printer.bed_mm
    size = " x ".join(figure(float(side)) for side in way.size_mm)
    given = "printer.bed_mm" in job.given
    room = " x ".join(f"{side:g}" for side in bed)
    heat = heat_record(part.material)
    drying, warm = heat.get("drying", {}), heat.get("temperatures", {})
    hours = f"{drying['hours']:g} h" if "hours" in drying else ""
    at = f"at {drying['at_degC']:g} degrees C" if "at_degC" in drying else ""
    places = (("nozzle", "nozzle_degC"), ("bed", "bed_degC"))
    degrees = [f"{name} {warm[key]:g} degrees C" for name, key in places if key in warm]
    facts = [
        ("open", threemf_name(number)),
        ("lies", f"{way.name}, as in the file"),
        ("mirrored", "the part for the other side" if packed.mirror is not None else ""),
        ("size", f"{size} mm{_enlarged(packed)}"),
        ("bed", f"{room} mm{'' if given else ' (a guess)'}{'' if way.fits else ': DOES NOT FIT'}"),
        ("supports", _support(packed)),
        ("temperatures", ", ".join(degrees) or "those on the spool"),
        ("dry it", f"{hours} {at}".strip()),
        ("flow", f"{job.printer.flow_pct:g} % of what it is now" if job.printer.flow_pct != 100.0 else ""),
        ("takes", f"{figure(plan.mass_g.value)} g, {figure(plan.filament_m.value)} m, without supports"),
        ("prints", f"{_range(plan.time_h)} h"),
        ("costs", f"{plan.cost.value:.2f}" if plan.cost is not None else ""),
    ]
    return tuple((what, how) for what, how in facts if how)


def _enlarged(packed: Packed) -> str:
    """Return by how much the files are larger than the part is to be; "" where they are not."""
    if (packed.bed_scale == 1.0).all():
        return ""
    more = ", ".join(
        f"{axis} {100.0 * (each - 1.0):+.2f} %" for axis, each in zip("xyz", packed.bed_scale, strict=True)
    )
    return f", enlarged for shrinkage: {more}"


def _support(packed: Packed) -> str:
    way = packed.plan.orientation
    if not is_worth_telling(way):
        return "none"
    where = "from the bed, under what is hatched"
    return f"{where}: {figure(way.support_cm2)} of {figure(way.under_cm2)} cm2, up to {figure(way.support_most_mm)} mm"


def _watch(packed: Packed, notes: Sequence[str]) -> tuple[str, ...]:
    """Return what to look at: what must be acted on first, then what holds for every part."""
    way = packed.plan.orientation
    layer = next(iter(packed.settings.values())).layer_thickness_mm
    told = [f"Before you print: {each}" for each in notes]
    whole = "no gap between regions, and a fill in each" if len(packed.bodies) > 1 else "nothing missing"
    off = "no supports on the body side" if way.body_support_cm2 <= SPOT_CM2 else "supports only where hatched"
    told.append(f"In the layers shown before printing: {whole}; {off}.")
    if is_worth_telling(way):
        until = math.ceil(way.support_most_mm * packed.bed_scale[2] / layer)
        told.append(
            f"Until layer {until} ({figure(way.support_most_mm)} mm) it rests on supports in part: stay near until "
            "then, and see that none comes loose."
        )
    about = (*support_words(way), *notes)
    plan = [
        each for each in heaviest_first(packed.plan.notes) if each not in about and weight_of(each) is not Weight.ACT
    ]
    return (*told, *plan)


def _range(each: Estimate) -> str:
    low, high = figure(each.low), figure(each.high)
    return low if low == high else f"{low} to {high}"
