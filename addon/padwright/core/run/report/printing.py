"""How to print it: mass and hours, how it lies, what to set in each region."""

from __future__ import annotations

from collections.abc import Sequence

from ...base.text import figure as number_words
from ...stages.load.load_words import span
from ...stages.printing.print_record import print_record
from ...stages.report.page import Section, bullets, facts, heading, paragraph, table
from ...stages.report.setting_lines import RegionLines, SettingLine, body_is_up, setting_lines, shared_lines
from ..summary_load import print_words, squeezed_words
from ..summary_notes import acting_notes
from .source import ReportSource
from .walls import layers_rows


def print_section(source: ReportSource) -> Section:
    """Return the print plan and the settings of every region."""
    part, packed, job = source.part, source.packed, source.part.job
    plan = packed.plan
    first, *_ = print_words(packed)
    shapes = sum(name.endswith(".stl") for name in source.files)
    is_given = "printer.bed_mm" in job.given
    record = print_record(plan, job.printer.bed_mm, is_bed_given=is_given, stl_count=shapes, card=part.material)
    acting = set(acting_notes(part, packed))
    said = [each for each in record["in_words"] if each not in acting]
    body = paragraph(first, "lead") + bullets(said)
    if job.output.sheet:
        body += paragraph(f"All there is to type in, on one page for the printer: {job.part.number}.sheet.html.")
    layers = layers_rows(source)
    if layers:
        body += heading("Layer by layer") + facts(layers)
    return Section("print", "How do I print it?", body + _settings(source))


def _settings(source: ReportSource) -> str:
    """Return what all regions have alike, then a row for each kind of settings; in the person's words."""
    part, packed = source.part, source.packed
    assert part.firmness is not None
    is_up = body_is_up(None if part.pad is None else part.pad.press_direction, packed.to_bed[:3, :3])
    regions = [
        RegionLines(
            body.id,
            body.name,
            setting_lines(
                packed.settings[body.id].as_json(), source.words, is_body_up=is_up, material=part.material.name
            ),
        )
        for body in packed.bodies
    ]
    same, differing = shared_lines(regions)
    mass = {each.id: each.mass_g for each in packed.plan.regions}
    moduli = {body.id: part.firmness.curves[body.id].modulus_kpa for body in packed.bodies}
    head = ("Region", *(_with_unit(line) for line in differing), "Stiffness, kPa", "g")
    rows: list[Sequence[str]] = [
        (
            each.name if len(regions) == 1 else f"{number}  {each.name}",
            *(each.value(line.key) for line in differing),
            span(moduli[each.id]),
            number_words(mass[each.id]),
        )
        for number, each in enumerate(regions, start=1)
    ]
    basis = "guessed from the filament's hardness" if part.material.calibration is None else "by your coupons"
    caption = f"Stiffness {squeezed_words(part)}, {basis}, with low and high."
    own = [(each.name, each.value) for each in source.words.always]
    shared = [(line.name, f"{line.value} {line.unit}".strip()) for line in same] + own
    alike = heading("In all regions alike" if len(regions) > 1 else "Settings") + facts(shared) if shared else ""
    return alike + heading("Region by region") + table(head, rows, caption)


def _with_unit(line: SettingLine) -> str:
    return f"{line.name}, {line.unit}" if line.unit else line.name
