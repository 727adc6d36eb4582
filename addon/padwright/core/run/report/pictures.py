"""Pictures of the part: what is where, seen from the body."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ...base.mesh import Bool, Float
from ...base.scales import scale_top
from ...stages.report.field_picture import Scale, scale_key, value_png
from ...stages.report.marks import PlaceMark, marked_picture
from ...stages.report.page import figure
from ...stages.report.plan_view import SeenMesh
from .source import ReportSource


def value_figures(
    views: Sequence[tuple[str, SeenMesh]],
    values: Float,
    scale: Scale,
    title: str,
    caption: str,
    *,
    is_known: Bool | None = None,
    plain: str = "",
    marks: Sequence[PlaceMark] = (),
    is_mirrored: bool = False,
) -> list[str]:
    """Return a figure for each view of values at a mesh's vertices, (n,).

    `plain` says what it means where `is_known`, (n,), is not; `title` names the values above the key.
    """
    found = []
    for words, seen in views:
        png = value_png(seen, values, scale, is_known)
        said = f"{title}, {words}"
        there = marks if len(views) == 1 else [mark for mark in marks if seen.shows(mark.place)]
        shown = marked_picture(png, seen.view, said, there, is_mirrored=is_mirrored)
        told = caption if len(views) == 1 else f"{words[:1].upper()}{words[1:]}. {caption}"
        found.append(figure(shown, told, scale_key(scale, title, plain)))
    return found


def center_marks(source: ReportSource) -> list[PlaceMark]:
    """Return rings around the load centers, numbered."""
    reading = source.part.reading
    centers = () if reading is None else reading.load_centers
    return [PlaceMark(each.position_mm, str(number)) for number, each in enumerate(centers, start=1)]


def center_words(source: ReportSource) -> str:
    """Return what the rings are, "" without any."""
    marks = center_marks(source)
    if not marks:
        return ""
    return " Ring 1 marks the load center." if len(marks) == 1 else f" Rings 1 to {len(marks)} mark the load centers."


def depth_figures(source: ReportSource) -> list[str]:
    """Return how deep the body sank into the clay; none without an impression."""
    part = source.part
    reading = part.reading
    if reading is None:
        return []
    depth = reading.imprint_depth
    is_known = reading.is_clay & ~reading.is_wall
    if not is_known.any():
        return []
    top = scale_top(depth[is_known])
    scale = Scale.over(0.0, max(top, 0.1), "mm")
    return value_figures(
        source.impression_views, depth, scale, "Imprint depth",
        f"How deep the body sank below the clay as it was laid.{center_words(source)}",
        is_known=is_known, plain="no clay", marks=center_marks(source),
    )  # fmt: skip


def thickness_figures(source: ReportSource) -> list[str]:
    """Return how thick the part is, its thinnest place away from the rim ringed."""
    pad = source.part.pad
    assert pad is not None
    is_known = pad.is_through
    if not is_known.any():
        return []
    scale = Scale.over(0.0, float(np.percentile(pad.thickness[is_known], 99.8)), "mm")
    marks, said = [], ""
    if pad.least_thickness_mm is not None:
        there = np.flatnonzero(is_known & (np.abs(pad.thickness - pad.least_thickness_mm) < 1e-6))
        if len(there):
            marks = [PlaceMark(pad.mesh.vertices[there[0]], "")]
            said = f" The ring: its thinnest place away from the rounded rim, {pad.least_thickness_mm:.1f} mm."
    return value_figures(
        source.pad_views, pad.thickness, scale, "Thickness", f"How thick the part is.{said}",
        is_known=is_known, plain="rounded edge", marks=marks, is_mirrored=source.is_mirrored,
    )  # fmt: skip
