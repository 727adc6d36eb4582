"""How it will feel: the load check in words, numbers and pictures, what tuning did, the part cut open."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float
from ...base.scales import scale_top
from ...base.text import figure as number_words
from ...stages.load.advice import advice_words
from ...stages.load.contact import LoadResult
from ...stages.load.load_case import LoadCase
from ...stages.load.load_words import Row, percent, span, tuning_rows
from ...stages.load.tuning import Tuning
from ...stages.report.field_picture import Scale
from ...stages.report.marks import PlaceMark
from ...stages.report.page import Section, bullets, figure, heading, paragraph, picture, side_by_side, table
from ..summary_load import guess_words, load_words, tuning_words
from .cut import cut_picture
from .pictures import value_figures
from .source import ReportSource
from .walls import walls_body

_ONE_PLACE = 32.0  # pixels: two rings nearer to each other would lie on each other


def feel_section(source: ReportSource) -> Section | None:
    """Return what the load check found; without one what the part's stiffness rests on."""
    part = source.part
    firmness = part.firmness
    if firmness is None:
        return None
    body = ""
    if firmness.loads:
        first, *said = load_words(part, in_full=False)
        tried = advice_words(firmness.advice)
        body += paragraph(first, "lead") + bullets([*said, *([tried] if tried else [])])
    else:
        body += paragraph("No load was given, so it was not worked out how the part gives under a body.", "lead")
    guess = guess_words(part, source.packed)
    body += paragraph(guess) if guess else ""
    body += side_by_side(_pressure_figures(source))
    if firmness.loads:
        body += _zones(firmness.loads[0][1]) + _cases(firmness.loads)
    body += _tuning(source) + walls_body(source)
    opened = cut_picture(source)
    if opened is not None:
        png, caption = opened
        body += heading("Cut open") + figure(
            picture(png, "The part cut open along the press direction"), caption, kind="large"
        )
    return Section("feel", "How will it feel?", body)


def _pressure_figures(source: ReportSource) -> list[str]:
    """Return the pressure under the first load, and before tuning where the part was tuned; on one scale."""
    part = source.part
    firmness, pad = part.firmness, part.pad
    if firmness is None or not firmness.loads or firmness.patch is None or pad is None:
        return []
    case, now = firmness.loads[0]
    tuning = firmness.tuning
    before = None if tuning is None else tuning.before
    if before is not None and before.pressure_kpa.shape != now.pressure_kpa.shape:
        before = None
    _, place = cKDTree(pad.mesh.vertices).query(firmness.patch.position)  # the patch's points are the pad's
    is_known = np.zeros(len(pad.mesh.vertices), dtype=bool)
    is_known[place] = True
    top = max(scale_top(each.pressure_kpa) for each in (now, before) if each is not None)
    scale = Scale.over(0.0, max(top, 0.1), "kPa")
    flesh = "with the body's flesh" if case.flesh is not None else "of a body as hard as stone"
    found = []
    for title, result in (("Pressure before tuning", before), ("Pressure", now)):
        if result is not None:
            told = title if before is None or result is before else "Pressure, tuned"
            found += _pressed(source, told, result, place, is_known, scale, flesh)
    return found


def _pressed(
    source: ReportSource, title: str, result: LoadResult, place: Float, is_known: Bool, scale: Scale, flesh: str
) -> list[str]:
    """Return one load's pressure, the hardest place and the one that has least left ringed."""
    values = np.zeros(len(is_known))
    values[place] = result.pressure_kpa
    view = source.pad_views[0][1].view
    apart = view.scale * float(np.linalg.norm(result.largest_place_mm - result.margin_place_mm))
    most, left = span(result.largest_pressure_kpa), percent(result.bottoming_margin)
    if apart < _ONE_PLACE:
        marks = [PlaceMark(result.largest_place_mm, "A")]
        said = f"A: the most pressure at any place, {most} kPa, and the least of its give left, {left}."
    else:
        marks = [PlaceMark(result.largest_place_mm, "A"), PlaceMark(result.margin_place_mm, "B")]
        said = f"A: the most pressure at any place, {most} kPa. B: the least of its give left, {left}."
    return value_figures(
        source.pad_views, values, scale, title, f"{title} under {number_words(result.force_n)} N, {flesh}. {said}",
        is_known=is_known, plain="not touched", marks=marks, is_mirrored=source.is_mirrored,
    )  # fmt: skip


def _zones(result: LoadResult) -> str:
    head = ("Zone", "Share of the load", "Gives, mm", "Mean pressure, kPa", "Peak, kPa", "Give left")
    rows = [
        (
            each.name,
            percent(each.share),
            span(each.sinkage_mm),
            span(each.mean_pressure_kpa),
            span(each.peak_pressure_kpa),
            percent(each.bottoming_margin),
        )
        for each in result.zones
        if each.share.high > 0.0
    ]
    caption = (
        "What each zone bears, with low and high: what is not known of filament, load and body may make it either. "
        "The peak leaves out the hardest half percent of the area, so ring A in the picture may have more."
    )
    return heading("Zone by zone") + table(head, rows, caption)


def _cases(loads: tuple[tuple[LoadCase, LoadResult], ...]) -> str:
    """Return all loads side by side; nothing for one alone."""
    if len(loads) < 2:
        return ""
    head = ("Load", "N", "Gives, mm", "Peak, kPa", "Give left", "Sideways")
    rows = []
    for case, result in loads:
        across = "none"
        if case.sideways_n > 0.0:
            across = f"{case.sideways_n:.0f} N, needs friction {case.needed_friction:.2f}"
        rows.append(
            (
                case.posture,
                f"{result.force_n:.0f}",
                span(result.sinkage_mm),
                span(result.peak_pressure_kpa),
                percent(result.bottoming_margin),
                across,
            )
        )
    return heading("All loads") + table(head, rows)


def _tuning(source: ReportSource) -> str:
    """Return what tuning did, before and after; nothing where none was asked for."""
    said = tuning_words(source.part)
    firmness = source.part.firmness
    if not said or firmness is None or firmness.tuning is None:
        return ""
    tuning = firmness.tuning
    body = heading("What tuning changed") + bullets(said)
    rows = [*_whole_rows(tuning), *_zone_rows(tuning)]
    return body + (table(("", "Before", "After"), rows) if rows else "")


def _whole_rows(tuning: Tuning) -> list[tuple[str, str, str]]:
    rows: tuple[Row, ...] = tuning_rows(tuning)
    return [(each.name, each.before, each.now) for each in rows]


def _zone_rows(tuning: Tuning) -> list[tuple[str, str, str]]:
    return [(f"{each.name}, kPa", number_words(each.before_kpa), number_words(each.after_kpa)) for each in tuning.zones]
