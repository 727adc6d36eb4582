"""Will it fit: size, how the scans lie on each other, what the body left in the clay, what was mended."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...base.mesh import Float, TriMesh, joined
from ...base.notes import Weight, weight_of
from ...base.ramps import BRICK, INK, hex_color
from ...base.text import counted
from ...geometry.feet import FootSurface
from ...job.schema import CheckLength
from ...stages.alignment.distances import distances_to_base
from ...stages.alignment.evidence import alignment_facts
from ...stages.report.field_picture import PLAIN, Scale, marked_png, scale_key, swatches, value_png
from ...stages.report.marks import marked_picture
from ...stages.report.page import Section, bullets, figure, heading, paragraph, side_by_side, table
from ...stages.report.plan_view import PlanView, SeenMesh, calmed
from ...stages.scans.captured import Scan
from ...stages.scans.mended import Mended
from ..summary import agreement_words, body_words, clay_words, fit_words, size_words
from .pictures import depth_figures
from .source import ReportSource

_FILLED, _LEFT_OUT = BRICK, INK
_MENDED_WIDTH = 480  # pixels: patches are seen, no values read
_CALM_ROUNDS, _FAR = 5, 2.0
"""Distances are averaged with those around, so that what is seen is how the scans lie and not how they scatter; what is
farther than so many times the scale's end counts as that."""

_LIFT_MM = 0.3  # over the surface: more than noise folds it
_WORTH_A_LOOK = 0.5  # of the mended area: where less is seen from the body, the scan is shown from behind too


def fit_section(source: ReportSource) -> Section:
    """Return the evidence for size, agreement and fit."""
    part = source.part
    body = "".join(paragraph(each) for each in (*fit_words(part), size_words(part)))
    body += _lengths(source)
    if part.alignment is not None:
        body += heading("How the two scans lie on each other")
        body += paragraph(" ".join([*agreement_words(part), *alignment_facts(part.alignment)]))
    body += "".join(paragraph(each) for each in (*clay_words(part), *body_words(part)))
    if source.is_mirrored:
        body += paragraph("These pictures show the scans as they are; the part is made as their mirror image.")
    body += side_by_side([*_distance_figures(source), *depth_figures(source)])
    body += _mended(source)
    return Section("fit", "Will it fit?", body)


def _lengths(source: ReportSource) -> str:
    """Return each check length by hand and in the scan as it was corrected."""
    part = source.part
    found = _length_rows(part.base, part.job.base.check_lengths)
    if part.impression is not None and part.job.impression is not None:
        found += _length_rows(part.impression, part.job.impression.check_lengths)
    head = ("Measured between", "By hand, mm", "In the scan as used, mm", "Apart, mm")
    return (
        table(head, found, "Lengths measured by hand, against the scan after it was corrected by them.")
        if found
        else ""
    )


def _length_rows(scan: Scan, lengths: tuple[CheckLength, ...]) -> list[tuple[str, str, str, str]]:
    if scan.fit is None:
        return []
    rows = []
    for each, name, measured in zip(lengths, scan.fit.names, scan.fit.scan_mm, strict=True):
        used = float(measured) * scan.factor
        apart = round(used - each.measured_mm, 2) + 0.0  # nothing has no minus
        rows.append((each.name or name, f"{each.measured_mm:g}", f"{used:.2f}", f"{apart:+.2f}" if apart else "0.00"))
    return rows


def _distance_figures(source: ReportSource) -> list[str]:
    """Return how far the impression scan stands off the base; none without an impression."""
    part = source.part
    if part.alignment is None or part.aligned is None:
        return []
    base, scan = part.base.mesh, part.aligned
    found = distances_to_base(base, scan.vertices, part.alignment, FootSurface.of(base).under(scan))
    limit = found.limit_mm
    calm = calmed(part.aligned, np.clip(found.values_mm, -_FAR * limit, _FAR * limit), _CALM_ROUNDS)
    scale = Scale(-limit, limit, limit / 4.0, "two_way", "mm")
    figures = []
    for words, seen in source.impression_views:
        png = value_png(seen, calm, scale, ~found.is_beyond)
        shown = marked_picture(png, seen.view, f"Distance between the scans, {words}")
        caption = (
            "How far the scan with clay stands off the base scan, averaged with the places around. Pale: they agree. "
            "Dark blue: the clay. Brick: inside the base, where nothing can be, so there the scans disagree. "
            f"{' '.join(found.notes)}"
        )
        figures.append(figure(shown, caption, scale_key(scale, "Off the base", "base not scanned there")))
    return figures


def _mended(source: ReportSource) -> str:
    """Return what was mended in the scans, in words and pictures."""
    part = source.part
    body = ""
    figures: list[str] = []
    scans = [("base scan", part.base)]
    if part.impression is not None and part.alignment is not None:
        scans.append(("scan with clay", part.impression.moved(part.alignment.matrix)))
    for name, scan in scans:
        if scan.mended.is_any:
            figures += _mended_figures(source, name, scan.mesh, scan.mended)
        notes = scan_notes(scan)
        if notes:
            body += heading(f"The {name}") + bullets(notes)
    return heading("What was mended in the scans") + side_by_side(figures) + body if body or figures else ""


def scan_notes(scan: Scan) -> list[str]:
    """Return what was done to a scan; what is to be looked at stands with all that is."""
    return [note for note in scan.notes if weight_of(note) is Weight.BACKGROUND]


def _mended_figures(source: ReportSource, name: str, clean: TriMesh, mended: Mended) -> list[str]:
    new, left_out = mended.new, mended.left_out
    # What is new lies on the surface and is shown before it; loose pieces may face any way: from both sides.
    lifted = replace(new, vertices=new.vertices + _LIFT_MM * new.vertex_normals)
    mesh = joined([clean, lifted, left_out, left_out.flipped()])
    colors = np.tile(PLAIN, (len(mesh.faces), 1))
    colors[len(clean.faces) :] = _LEFT_OUT
    colors[len(clean.faces) : len(clean.faces) + len(new.faces)] = _FILLED
    rows = [(hex_color(_FILLED), "filled or joined anew")] if len(new.faces) else []
    rows += [(hex_color(_LEFT_OUT), "left out")] if len(left_out.faces) else []
    key = f'<div class="key">{swatches(rows)}</div>'
    figures = []
    for words, eye in _eyes(source, new):
        framed = SeenMesh(PlanView.framing(eye, clean.vertices, width=_MENDED_WIDTH), mesh)
        shown = marked_picture(
            marked_png(framed, colors.astype(np.float64)), framed.view, f"Where the {name} was mended, {words}"
        )
        told = f"The {name}, {words}: {counted(len(new.faces), 'new triangle')}, "
        told += f"{counted(len(left_out.faces), 'triangle')} left out."
        figures.append(figure(shown, told, key))
    return figures


def _eyes(source: ReportSource, new: TriMesh) -> list[tuple[str, Float]]:
    """Return from where a scan is shown, in words and as eye axes: as the part is, and from behind where more shows."""
    found = [(words, seen.view.eye) for words, seen in source.pad_views]
    if len(found) > 1 or len(new.faces) == 0:
        return found
    eye = found[0][1]
    seen = new.face_normals @ eye[2] > 0.0
    if new.face_areas[seen].sum() < _WORTH_A_LOOK * new.area:
        found.append(("seen from behind", eye * np.array([[-1.0], [1.0], [-1.0]])))
    return found
