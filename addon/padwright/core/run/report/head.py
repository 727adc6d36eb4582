"""What stands at the head of the report: the part, whom it is for, the numbers one asks for first."""

from __future__ import annotations

from ...base.text import figure
from ...stages.load.felt import give_words
from ...stages.load.load_words import span
from ...stages.report.page import PageHead, bullets, facts
from ..print_words import hours_words
from ..summary_notes import acting_notes
from .source import ReportSource


def report_head(source: ReportSource) -> PageHead:
    """Return the head: names, four numbers, and what must be acted on before printing."""
    part, words = source.part, source.part.job.part
    told = [f"{part.family.name}, number {words.number}, revision {words.revision}"]
    if words.mirror:
        told.append("Mirrored: this is the part for the other side.")
    mass = part.job.load.body_mass_kg
    if mass is not None:
        told.append(f"For a body of {mass:g} kg.")
    if words.note:
        told.append(words.note)
    body = facts(_numbers(source), "big")
    acting = acting_notes(part, source.packed)
    if acting:
        body += f'<div class="act">\n<h2>Before you print</h2>\n{bullets(acting)}</div>\n'
    return PageHead("Report", words.name, told, body)


def _numbers(source: ReportSource) -> list[tuple[str, str]]:
    part, plan = source.part, source.packed.plan
    found = []
    if part.firmness is not None and part.firmness.loads:
        _, result = part.firmness.loads[0]
        found.append((f"Gives under {figure(result.force_n)} N", give_words(result)))
        found.append(("Pressure at its peak", f"{span(result.peak_pressure_kpa)} kPa"))
    found.append(("Weighs", f"{span(plan.mass_g)} g"))
    found.append(("Prints", hours_words(plan.time_h)))
    return found
