"""What the print sheet tells, gathered from the part as it is laid out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..base.estimate import Estimate
from ..base.mesh import TriMesh
from ..base.notes import Weight, heaviest_first, weight_of
from ..base.text import figure
from ..geometry.frames import moved
from ..stages.packing.sidecar import threemf_name
from ..stages.printing.print_record import heat_record
from ..stages.printing.support_words import is_worth_telling, support_words
from ..stages.regions.bodies import rounded_mesh
from ..stages.report.bed_pictures import from_above, from_below, joined
from ..stages.report.setting_lines import RegionLines, body_is_up, setting_lines
from ..stages.report.sheet import SheetParts, SheetRegion, print_sheet
from ..stages.report.words_map import WordsMap
from .laid_out import LaidOut
from .parts import MadePart


def part_sheet(
    part: MadePart, laid: LaidOut, words: WordsMap, *, colors: Sequence[str], created: str, notes: Sequence[str]
) -> bytes:
    """Return the print sheet of a part as HTML.

    Raises InputError when the words map would round a number by more than 5 %.

    Parameters
    ----------
    colors : sequence of str
        "#RRGGBB" of each body.
    notes : sequence of str
        What must be acted on before printing.
    """
    job, plan = part.job, laid.plan
    is_up = body_is_up(None if part.pad is None else part.pad.press_direction, laid.to_bed[:3, :3])
    if laid.mirror is not None:  # the press direction lies in the mirror's plane
        assert abs(float(laid.mirror.plane_normal @ part.pad.press_direction)) < 1e-6 if part.pad else True
    material = part.material.name
    mass = {each.id: each.mass_g for each in plan.regions}
    regions = tuple(
        SheetRegion(
            RegionLines(
                body.id,
                body.name,
                setting_lines(laid.settings[body.id].as_json(), words, is_body_up=is_up, material=material),
            ),
            color,
            _layers(body.mesh, laid, laid.settings[body.id].layer_thickness_mm),
            figure(mass[body.id]),
        )
        for body, color in zip(laid.bodies, colors, strict=True)
    )
    return print_sheet(
        SheetParts(
            job.part.name,
            job.part.number,
            job.part.revision,
            created.replace("T", " ").replace("Z", " UTC"),
            words.program,
            _facts(part, laid),
            regions,
            tuple((each.name, each.value) for each in words.always),
            _watch(part, laid, notes),
            f"{_range(plan.mass_g)} expected, without supports",
            f"{_range(plan.time_h)} expected",
            from_below(_outside(part, laid), laid.to_bed),
            from_above(laid.bodies, colors, laid.to_bed),
        )
    )


def _outside(part: MadePart, laid: LaidOut) -> TriMesh:
    """Return the outside of what is printed; that of folded walls is the pad's, as the print is planned."""
    if part.folded is None or part.pad is None:
        return joined(laid.bodies)
    return rounded_mesh(laid.mirror.of(part.pad.mesh) if laid.mirror is not None else part.pad.mesh)


def _layers(mesh: TriMesh, laid: LaidOut, layer_mm: float) -> str:
    height = moved(laid.to_bed, mesh.vertices)[:, 2]
    # A slice is printed where the part is at its middle; one that it hardly touches is none.
    first, last = (math.floor(float(end) / layer_mm + 0.5) for end in (height.min(), height.max()))
    return f"{first + 1} to {max(last, first + 1)}"


def _facts(part: MadePart, laid: LaidOut) -> tuple[tuple[str, str], ...]:
    plan, job = laid.plan, part.job
    way, bed = plan.orientation, job.printer.bed_mm
    size = " x ".join(figure(float(side)) for side in way.size_mm)
    given = "printer.bed_mm" in job.given
    room = " x ".join(f"{side:g}" for side in bed)
    heat = heat_record(part.material)
    drying, warm = heat.get("drying", {}), heat.get("temperatures", {})
    dry = [f"{drying['hours']:g} h" if "hours" in drying else "", f"at {drying['at_degC']:g} degrees C" if "at_degC" in drying else ""]
    degrees = [f"{name} {warm[key]:g} degrees C" for name, key in (("nozzle", "nozzle_degC"), ("bed", "bed_degC")) if key in warm]
    facts = [
        ("open", threemf_name(job.part.number)),
        ("lies", f"{way.name}, as in the file"),
        ("size", f"{size} mm"),
        ("bed", f"{room} mm{'' if given else ' (a guess)'}{'' if way.fits else ': DOES NOT FIT'}"),
        ("supports", _support(laid)),
        ("filament", part.material.name),
        ("temperatures", ", ".join(degrees) or "those on the spool"),
        ("dry it", " ".join(each for each in dry if each)),
        ("takes", f"{figure(plan.mass_g.value)} g, {figure(plan.filament_m.value)} m, without supports"),
        ("prints", f"{_range(plan.time_h)} h"),
        ("costs", f"{plan.cost.value:.2f}" if plan.cost is not None else ""),
    ]
    return tuple((what, how) for what, how in facts if how)


def _support(laid: LaidOut) -> str:
    way = laid.plan.orientation
    if not is_worth_telling(way):
        return "none"
    where = "from the bed, under what is hatched"
    return f"{where}: {figure(way.support_cm2)} of {figure(way.under_cm2)} cm2, up to {figure(way.support_most_mm)} mm"


def _watch(part: MadePart, laid: LaidOut, notes: Sequence[str]) -> tuple[str, ...]:
    """Return what to look at: what must be acted on first, then what holds for every part."""
    way = laid.plan.orientation
    layer = next(iter(laid.settings.values())).layer_thickness_mm
    told = [f"Before you print: {each}" for each in notes]
    told.append("In the layers shown before printing: no gap between regions and a fill in each; supports off the body side."
        if len(laid.bodies) > 1 else "In the layers shown before printing: nothing missing; supports off the body side.")
    if is_worth_telling(way):
        until = math.ceil(way.support_most_mm / layer)
        told.append(
            f"Until layer {until} ({figure(way.support_most_mm)} mm) it rests on supports in part: stay near until then, "
            "and see that none comes loose."
        )
    about = (*support_words(way), *notes)
    plan = [each for each in heaviest_first(laid.plan.notes) if each not in about and weight_of(each) is not Weight.ACT]
    return (*told, *plan)


def _range(each: Estimate) -> str:
    low, high = figure(each.low), figure(each.high)
    return low if low == high else f"{low} to {high}"
