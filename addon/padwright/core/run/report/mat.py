"""What the pressure mat showed, and the prediction beside it."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from ...base.estimate import Estimate
from ...base.mesh import Bool, Float
from ...base.scales import round_up, scale_top
from ...base.text import figure
from ...stages.load.beside_mat import MatBeside
from ...stages.report.field_picture import Scale
from ...stages.report.page import Section, bullets, heading, paragraph, side_by_side, table
from ..summary_load import mat_beside_words
from .pictures import value_figures
from .source import ReportSource

_LAID = {
    "places": "It was laid on by the places you gave.",
    "load_centers": "It was laid on by where it bears hardest, on the load centers of the clay.",
    "outline": "It was laid on by what it shows, where that agrees best with the imprint.",
}


def mat_section(source: ReportSource) -> Section | None:
    """Return what a mat showed, how it was laid on, and its difference from the prediction; None without a mat."""
    part = source.part
    laid, pad = part.mat, part.pad
    if laid is None or pad is None or pad.press_direction is None:
        return None
    body = paragraph(_LAID[laid.laid] + _agrees(laid.agreement))
    if len(laid.poses) > 1:
        body += _poses(source)
    words = mat_beside_words(part)
    body += bullets(words) if words else ""
    beside = None if part.firmness is None else part.firmness.beside
    if beside is None:
        shown = laid.at(pad.mesh.vertices)
        scale = Scale.over(0.0, max(scale_top(shown), 0.1), "kPa" if laid.mat.is_kpa else "raw")
        body += side_by_side(
            value_figures(
                source.pad_views, shown, scale, "The mat", "What the mat showed, where it lies on the part.",
                is_known=laid.covers(pad.mesh.vertices), plain="beside the mat", is_mirrored=source.is_mirrored,
            )
        )  # fmt: skip
    else:
        body += side_by_side(_figures(source, beside)) + _zones(beside)
    return Section("mat", "What did the mat show?", body)


def _agrees(agreement: float | None) -> str:
    return "" if agreement is None else f" It agrees with the imprint by {agreement:.2f} (1 at most)."


def _poses(source: ReportSource) -> str:
    laid = source.part.mat
    assert laid is not None
    rows = [
        (
            str(number),
            laid.turned_words(number),
            "from below" if each.is_flipped else "from the body",
            f"{each.agreement:.2f}",
        )
        for number, each in enumerate(laid.poses, 1)
    ]
    return table(("Pose", "How it lies", "Seen", "Agrees"), rows, "All ways in which the mat fits. Another: mat.pose.")


def _on_pad(source: ReportSource, beside: MatBeside, values: Float) -> tuple[Float, Bool]:
    """Return values of the contact's points at the pad's vertices, and where there are some."""
    firmness, pad = source.part.firmness, source.part.pad
    assert firmness is not None and firmness.patch is not None and pad is not None
    found, is_known = np.zeros(len(pad.mesh.vertices)), np.zeros(len(pad.mesh.vertices), dtype=bool)
    place = cKDTree(pad.mesh.vertices).query(firmness.patch.position)[1]
    found[place] = values
    is_known[place] = beside.is_compared
    return found, is_known


def _figures(source: ReportSource, beside: MatBeside) -> list[str]:
    shown, is_known = _on_pad(source, beside, beside.shown_kpa)
    top = max(scale_top(beside.shown_kpa), 0.1)
    told = f"What the mat showed, scaled to {beside.load_n:.0f} N."
    found = value_figures(
        source.pad_views, shown, Scale.over(0.0, top, "kPa"), "The mat", told, is_known=is_known, plain="not compared",
        is_mirrored=source.is_mirrored,
    )  # fmt: skip
    off, _ = _on_pad(source, beside, beside.difference_kpa)
    most = round_up(max(float(np.percentile(np.abs(beside.difference_kpa[beside.is_compared]), 98.0)), 0.1))
    scale = Scale(-most, most, most / 5.0, "two_way", "kPa")
    return found + value_figures(
        source.pad_views, off, scale, "Predicted less mat",
        "Where the pad bears more than the mat did (blue) and less (brick), each averaged over a cell of the mat.",
        is_known=is_known, plain="not compared", is_mirrored=source.is_mirrored,
    )  # fmt: skip


def _zones(beside: MatBeside) -> str:
    rows = [
        (each.name, _between(each.mat.scaled(100.0), "{:.0f} %"), f"{100.0 * each.predicted:.0f} %")
        for each in beside.zones
    ]
    for name, force in (("on the pad's contact, N", beside.on_pad_n), ("in all, N", beside.sum_n)):
        if force is not None:
            rows.append((name, _between(force, "{:,.0f}"), figure(beside.load_n)))
    return heading("Share of the load") + table(("Zone", "Mat", "Predicted"), rows)


def _between(number: Estimate, form: str) -> str:
    """Return a number of the mat's with its low and high; alone where the mat is taken as exact."""
    value, low, high = (form.format(each) for each in (number.value, number.low, number.high))
    return value if low == high else f"{value} ({low} to {high})"
