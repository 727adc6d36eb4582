"""The chapter that lays the revision before beside this one."""

from __future__ import annotations

from ...stages.report.field_picture import Scale
from ...stages.report.marks import PlaceMark
from ...stages.report.page import Section, side_by_side
from ...stages.report.side_by_side import SideBySide, side_by_side_section
from .pictures import value_figures
from .source import ReportSource


def revisions_section(source: ReportSource) -> Section | None:
    """Return the chapter; None for a part without a revision before."""
    found = source.compared
    return None if found is None else side_by_side_section(found, _pictures(source, found))


def _pictures(source: ReportSource, found: SideBySide) -> str:
    """Return where the part is thicker and where thinner; "" where it is as before, or could not be compared."""
    change, pad = found.shape.change, source.part.pad
    if change is None or pad is None or max(found.shape.thicker_mm, found.shape.thinner_mm) < 0.05:
        return ""
    values, is_known = change.at(pad.mesh.vertices)
    top = max(found.shape.thicker_mm, found.shape.thinner_mm, 0.1)
    marks = [
        PlaceMark(place, words)
        for place, words in ((found.shape.thicker_at, "+"), (found.shape.thinner_at, "-"))
        if place is not None
    ]
    caption = f"Thickness of revision {found.now} less that of revision {found.before}, along the press."
    rings = " Rings mark the largest changes away from the rim; at the rim there may be larger ones." if marks else ""
    return side_by_side(
        value_figures(
            source.pad_views,
            values,
            Scale.over(-top, top, "mm", ramp="two_way"),
            "Thicker (+) or thinner (-)",
            caption + rings,
            is_known=is_known,
            plain="one of them alone",
            marks=marks,
            is_mirrored=source.is_mirrored,
        )
    )
