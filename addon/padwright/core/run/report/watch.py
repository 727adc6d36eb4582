"""What to watch: before the first use, while the part is worn, and what the run remarked."""

from __future__ import annotations

from ...base.notes import Weight, heaviest_first, weight_of
from ...stages.report.page import Section, bullets, escape, heading
from ..summary_notes import acting_notes, notes_of
from .fit import scan_notes
from .source import ReportSource

_HEADS = {Weight.CHANGED: "Not as asked, or not used", Weight.LOOK: "Worth a look"}
"""What must be acted on stands at the head of the report, what is background at its end."""


def watch_section(source: ReportSource) -> Section:
    """Return all cautions of the family, whole and with where they come from, and what is to be looked at."""
    part = source.part
    body = ""
    if part.family.cautions:
        rows = "".join(
            f'<li>{escape(each.text)}<br><span class="quiet">{escape(each.source)}</span></li>\n'
            for each in part.family.cautions
        )
        body = f'<div class="calm">\n<h3>While it is in use</h3>\n<ul>\n{rows}</ul>\n</div>\n'
    notes = heaviest_first([*acting_notes(part, source.packed), *notes_of(part)])
    for weight, head in _HEADS.items():
        mine = [note for note in notes if weight_of(note) is weight]
        if mine:
            body += heading(head) + bullets(mine)
    return Section("watch", "What to watch", body)


def background_notes(source: ReportSource) -> list[str]:
    """Return how numbers came about, but for what is told of the scans where their mending is shown."""
    part = source.part
    told = {note for scan in (part.base, part.impression) if scan is not None for note in scan_notes(scan)}
    notes = heaviest_first([*acting_notes(part, source.packed), *notes_of(part)])
    return [note for note in notes if weight_of(note) is Weight.BACKGROUND and note not in told]
