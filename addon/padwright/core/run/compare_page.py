"""A comparison with the print as a page and a picture: where it stands out, where it lies back, what to correct."""

from __future__ import annotations

import numpy as np

from ..base.mesh import Bool, Float
from ..base.text import placed
from ..job.toml_lines import show_path
from ..job.toml_values import toml_value
from ..stages.compare.records import Comparison
from ..stages.report.field_picture import Scale, scale_key, value_png
from ..stages.report.marks import PlaceMark, marked_picture
from ..stages.report.page import (
    PageHead,
    Section,
    bullets,
    facts,
    figure,
    paragraph,
    report_page,
    side_by_side,
    table,
)
from ..stages.report.plan_view import PlanView, SeenMesh
from .compare_words import distance_words, scale_words, shrinkage_words


def compare_sections(found: Comparison) -> tuple[Section, ...]:
    """Return the chapters of a comparison, for a page of its own or a report."""
    sections = [
        Section("distances", "How far the print is off", _distances(found)),
        Section("size", "Size and bend", _sizes(found)),
        Section("correct", "What to correct", _corrections(found)),
    ]
    if found.doubts or found.notes:
        sections.append(
            Section(
                "doubts",
                "What the scan cannot tell, and what was done with it",
                bullets(found.doubts) + bullets(found.notes, "quiet"),
            )
        )
    return tuple(sections)


def compare_page(found: Comparison, part_name: str) -> bytes:
    """Return the comparison as one HTML file that asks for nothing outside itself."""
    told = [f"Number {found.number}, revision {found.revision}; scan of the print: {found.scan_file}"]
    body = facts(
        [
            ("95 % lies within", f"{found.percentiles_mm['95 of size']:.2f} mm"),
            ("Without size and bend", f"{found.left_mm['95 of size']:.2f} mm"),
            ("Seen by the scan", f"{100.0 * found.seen_share:.0f} %"),
        ],
        "big",
    )
    return report_page(compare_sections(found), PageHead("Print compared", part_name, told, body))


def compare_png(found: Comparison) -> bytes:
    """Return the picture of the distances as a PNG, from the side that the scan shows most of."""
    seen, _, scale, is_known = _pictures(found)[0]
    return value_png(seen, found.part_distance_mm, scale, is_known)


def _pictures(found: Comparison) -> list[tuple[SeenMesh, str, Scale, Bool]]:
    """Return the part as looked at from both sides, the one that the scan shows more of first."""
    is_known = np.isfinite(found.part_distance_mm)
    x, y, z = (next(each.direction for each in found.shrinkage if each.name == name) for name in "xyz")
    press = next((each.direction for each in found.shrinkage if each.name == "press direction"), None)
    mesh, limit = found.part, found.color_limit_mm
    scale = Scale.over(-limit, limit, "mm", ramp="two_way")
    views = []
    # As it lies on the bed, so that left, right, front and back in words are those of the picture from above.
    for where, eye in (
        ("above as it lies on the bed, x to the right, y up", np.stack([x, y, z])),
        ("below, x of the bed to the left, y up", np.stack([-x, y, -z])),
    ):
        side = "" if press is None else "the body side, " if press @ eye[2] < 0.0 else "the base side, "
        facing = np.clip(mesh.vertex_normals @ eye[2], 0.0, None) * mesh.vertex_areas
        seen = SeenMesh(PlanView.framing(eye, mesh.vertices), mesh)
        views.append((float((facing * is_known).sum()), seen, f"{side}seen from {where}"))
    views.sort(key=lambda each: -each[0])
    shown = [each for each in views if each[0] > 0.05 * views[0][0]]
    return [(seen, words, scale, is_known) for _, seen, words in shown]


def _distances(found: Comparison) -> str:
    figures = []
    for seen, words, scale, is_known in _pictures(found):
        marks = _marks(found, seen)
        png = value_png(seen, found.part_distance_mm, scale, is_known)
        shown = marked_picture(png, seen.view, f"How far the print is off, {words}", marks)
        key = scale_key(scale, "The print stands out (above 0) or lies back (below 0)", "not shown by the scan")
        rings = " Rings: the places of the table." if marks else ""
        figures.append(figure(shown, f"{words[:1].upper()}{words[1:]}.{rings}", key))
    rows = [
        (
            str(number),
            f"{each.distance_mm:+.2f} mm",
            f"{each.area_cm2:.1f} cm2",
            f"{each.words}; {placed(each.position_mm)} mm",
            "the place itself" if each.is_local else "size or bend",
        )
        for number, each in enumerate(found.worst, start=1)
    ]
    worst = (
        table(("Ring", "Off by", "Over", "Where (ends as the part lies on the bed)", "By"), rows)
        if rows
        else paragraph("No place is off by more than the print's texture and the scan's noise.")
    )
    within = ", ".join(f"{100.0 * share:.0f} % within {limit:g} mm" for limit, share in found.share_seen_within.items())
    return paragraph(distance_words(found), "lead") + side_by_side(figures) + worst + paragraph(f"{within}.", "quiet")


def _marks(found: Comparison, seen: SeenMesh) -> list[PlaceMark]:
    marks = []
    for number, each in enumerate(found.worst, start=1):
        near = int(np.argmin(np.linalg.norm(found.part.vertices - each.position_mm, axis=1)))
        normal: Float = found.part.vertex_normals[near]
        if normal @ seen.view.eye[2] > 0.0:
            marks.append(PlaceMark(each.position_mm, str(number)))
    return marks


def _sizes(found: Comparison) -> str:
    rows = [(each.words, shrinkage_words(each), f"{each.standard_error_pct:.2f} %") for each in found.shrinkage]
    return (
        paragraph(scale_words(found))
        + table(("Along", "The print is", "Standard error of the shape"), rows, "In brackets: 5th to 95th percentile.")
        + paragraph(found.bend.note)
    )


def _corrections(found: Comparison) -> str:
    weight = "" if found.weighing is None else paragraph(found.weighing.note)
    if not found.corrections:
        return weight + paragraph("Nothing, by what was measured.")
    rows = [
        (show_path(each.path), toml_value(each.value), "none" if each.old is None else toml_value(each.old), each.why)
        for each in found.corrections
    ]
    return weight + table(("Key of the job", "Next", "This print", "Why"), rows)
