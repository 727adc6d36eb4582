"""What to watch: before the first use, while the part is worn, and what the run remarked."""

from __future__ import annotations

from ...base.notes import Weight, heaviest_first, weight_of
from ...stages.report.page import Section, bullets, escape, heading
from ..summary_notes import acting_notes, notes_of
from .source import ReportSource

_HEADS = {
    Weight.ACT: "Act on this before you print",
    Weight.CHANGED: "Not as asked, or not used",
    Weight.LOOK: "Worth a look",
    Weight.BACKGROUND: "Background",
}


def watch_section(source: ReportSource) -> Section:
    """Return all cautions of the family, whole and with where they come from, and all notes by their weight."""
    part = source.part
    cautions = "".join(
        f'<li>{escape(each.text)}<br><span class="quiet">{escape(each.source)}</span></li>\n'
        for each in part.family.cautions
    )
    body = f'<div class="calm">\n<h3>While it is in use</h3>\n<ul>\n{cautions}</ul>\n</div>\n' if cautions else ""
    notes = heaviest_first([*acting_notes(part, source.packed), *notes_of(part)])
    for weight, head in _HEADS.items():
        mine = [note for note in notes if weight_of(note) is weight]
        if mine:
            body += heading(head) + bullets(mine, "quiet" if weight is Weight.BACKGROUND else "")
    return Section("watch", "What to watch", body)
