"""The report of a run: its chapters in the order in which a person asks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from ..base.progress import Progress, Steps
from ..base.together import at_the_side, together
from ..stages.report.page import PageHead, Section, report_page
from ..stages.report.side_by_side import SideBySide
from .beside import Beside
from .packing import Packed
from .parts import MadePart
from .print_sheet import part_sheet
from .report.feel import feel_section
from .report.fit import fit_section
from .report.head import report_head
from .report.mat import mat_section
from .report.printing import print_section
from .report.provenance import provenance_section
from .report.revisions import revisions_section
from .report.source import ReportSource
from .report.turn import turn_section
from .report.watch import watch_section
from .report.wearer import wearer_section
from .report.what import what_section
from .trial_notes import places_name

SECTIONS: tuple[Callable[[ReportSource], Section | None], ...] = (
    what_section,
    turn_section,
    fit_section,
    feel_section,
    mat_section,
    print_section,
    revisions_section,
    watch_section,
    wearer_section,
    provenance_section,
)
"""What makes each chapter, in their order; None where the part has nothing to tell in it."""


def report_files(
    part: MadePart, packed: Packed, files: Mapping[str, bytes], beside: Beside, compared: SideBySide | None = None
) -> Steps[dict[str, bytes]]:
    """Return by name what is written for people to read; of a selection of the part's regions the print sheet alone.

    `files`: the run's others, whose digests the report gives; `compared`: this revision beside the one before.
    """

    def sheet() -> dict[str, bytes]:
        return dict([part_sheet(part, packed, beside.words)] if part.job.output.sheet else [])

    yield Progress(0.0, "writing the print sheet and the report")
    if packed.selection is not None or not part.job.output.report:
        return sheet()
    source = ReportSource(
        part, packed, files, trials=beside.trials, words=beside.words, beside=beside.inputs, compared=compared
    )
    with at_the_side(sheet) as sheets:
        made = together([partial(make, source) for make in SECTIONS])
        found = sheets()
    sections = [section for section in made if section is not None]
    head: PageHead = report_head(source)
    if source.places_picture is not None:
        found[places_name(part.job.part.number)] = source.places_picture.encode()
    return {**found, report_name(part.job.part.number): report_page(sections, head)}


def report_name(number: str) -> str:
    """Return the name of a part's report."""
    return f"{number}.report.html"
