"""What is drawn over the viewport: lines, marks and labels at places in the scene. Only reads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np

from ...core.base.mesh import Float
from .. import bridge, reporting, state
from ..mats import mat_in_job
from ..scans import pick_session

Color = tuple[float, float, float]
LENGTH, ACTIVE, OFF = (0.49, 0.85, 0.78), (0.99, 0.92, 0.66), (0.98, 0.55, 0.36)
ON_SCAN = {
    "base": (0.49, 0.85, 0.78),
    "impression": (0.96, 0.72, 0.45),
    "pad": (0.99, 0.92, 0.66),
    "mat_picture": (0.80, 0.72, 0.98),
}
RUN = (0.99, 0.92, 0.66)
_RUN_SHARE, _HEAD = 0.25, 0.16  # of the arrow: half its length in the pad's size, its head in its length
CENTER = (0.99, 0.92, 0.66)
LOAD_CENTER, DEPTH = "padwright_load_center", "padwright_depth_mm"  # on the empties that mark load centers
_LONGEST_NAME = 28  # letters of a check length's name beside it
_SURFACES = {"TEXTURED", "SOLID"}


@dataclass(frozen=True)
class Mark:
    """A mark: "ring", "disk", "cross" or "square"."""

    at: Float
    kind: str
    color: Color


@dataclass(frozen=True)
class Line:
    """A line between two places."""

    start: Float
    end: Float
    color: Color
    is_thin: bool = False


@dataclass(frozen=True)
class Label:
    """Text beside a place; what matters more comes first."""

    at: Float
    text: str
    color: Color


@dataclass
class Items:
    """All that is drawn at places of the scene."""

    lines: list[Line] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)


def gather(context: bpy.types.Context, *, only_picking: bool = False) -> Items:
    """Return what is to be drawn now."""
    items = Items()
    part = context.scene.padwright
    for session in pick_session.current:
        _picking(context, session, items)
    if only_picking:
        return items
    is_built = part.pad is not None and part.pad.visible_get() and not pick_session.current
    is_pairing = any(session.thing == "pair" for session in pick_session.current)
    is_mat = any(click.scan == "mat_picture" for session in pick_session.current for click in session.clicks)
    if part.view.shows_lengths and not is_pairing and not is_built:  # on the pad they would be in the way
        _lengths(context, part, items)
    if part.view.shows_pairs and not is_built and (is_pairing or not pick_session.current):
        _pairs(context, part, items)
    if part.view.shows_mat_places and not is_built and (is_mat or not pick_session.current):
        _mat_places(context, part, items)
    if part.view.shows_centers and not pick_session.current:
        _centers(context, items)
    if part.view.shows_run and is_built:
        _run(part, items)
    return items


def _run(part: Any, items: Items) -> None:
    """Where a direction was chosen, add an arrow that way over the pad's middle, and one to the side walls lean to."""
    if part.base is None or (part.fill_kind, part.fill_layout, part.rows_run) != ("folds", "rows", "given"):
        return
    way = np.array(bridge.pose_of(part.base).to_3x3() @ bridge.Vector(part.run_vector), dtype=np.float64)
    up = pad_up(part)
    way -= (way @ up) * up
    if np.linalg.norm(way) < 1e-9:
        return
    way /= np.linalg.norm(way)
    side = np.cross(way, up)
    corners = np.array([part.pad.matrix_world @ bridge.Vector(corner) for corner in part.pad.bound_box])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    half = _RUN_SHARE * float(np.linalg.norm(np.ptp(corners, axis=0)))
    start, end = middle - half * way, middle + half * way
    _arrow(items, start, end, side)
    lean = middle + 0.5 * half * side
    _arrow(items, middle, lean, way)
    items.labels += [Label(end, "Rows run this way", RUN), Label(lean, "walls lean", RUN)]


def _arrow(items: Items, start: Float, end: Float, side: Float) -> None:
    back = start - end
    wing = 0.5 * np.linalg.norm(back) * side
    items.lines += [Line(start, end, RUN), *(Line(end, end + _HEAD * (back + each), RUN) for each in (wing, -wing))]


def pad_up(part: Any) -> Float:
    """Return the way from the pad towards the body in the scene, as it was found when the pad was built."""
    up = np.array(part.pad.matrix_world.to_3x3() @ bridge.Vector(part.view.body_way), dtype=np.float64)
    return np.asarray(up / max(float(np.linalg.norm(up)), 1e-12))


def _placer(context: bpy.types.Context, scan: str) -> Callable[[Any], Float] | None:
    """Return what turns a scan's own numbers into places in the scene; None when the scan shows no surface."""
    part = context.scene.padwright
    obj = getattr(part, scan)
    if obj is None or obj.type != "MESH" or not obj.visible_get() or obj.display_type not in _SURFACES:
        return None
    factors = reporting.or_none(bridge.scan_factors, obj, context.scene, bridge.unit_mm(part, scan))
    if factors is None or not np.all(factors):
        return None
    matrix = np.array(obj.matrix_world, dtype=np.float64)
    return lambda numbers: matrix[:3, :3] @ (np.array(numbers, dtype=np.float64) / factors) + matrix[:3, 3]


def _lengths(context: bpy.types.Context, part: Any, items: Items) -> None:
    place = {scan: _placer(context, scan) for scan in bridge.SCANS}
    labels = []
    for number, row in enumerate(part.lengths):
        to = place[row.scan]
        if to is None or tuple(row.start) == tuple(row.end):
            continue
        start, end = to(row.start), to(row.end)
        is_active = number == part.length_index
        color = OFF if row.is_fitted and row.is_outlier else ACTIVE if is_active else LENGTH
        items.lines.append(Line(start, end, color))
        items.marks += [Mark(start, "cross", color), Mark(end, "cross", color)]
        labels.append((not is_active, Label((start + end) / 2, length_words(part, row, is_active), color)))
    if not pick_session.current:  # then only the new length's own label counts
        items.labels += [label for _, label in sorted(labels, key=lambda each: each[0])]


def length_words(part: Any, row: Any, is_whole: bool) -> str:
    """Return what the label of a check length says; the active one's says all."""
    on_scan = row.scan_mm if row.is_fitted else np.linalg.norm(np.subtract(row.end, row.start))
    if not row.is_fitted:
        on_scan *= bridge.unit_mm(part, row.scan)
    name = row.name if len(row.name) <= _LONGEST_NAME else f"{row.name[: _LONGEST_NAME - 3]}..."
    if row.measured_mm <= 0:
        return f"{name}: {on_scan:.1f} mm on the scan"
    left = f"{round(row.residual_mm, 2) + 0.0:+.2f}" if row.is_fitted else ""
    if not is_whole:
        return f"{name}: {row.measured_mm:.1f} mm" + (f" ({left})" if left else "")
    return f"{name}: {row.measured_mm:.1f} mm by hand, {on_scan:.1f} on the scan" + (f", {left} left" if left else "")


def _pairs(context: bpy.types.Context, part: Any, items: Items) -> None:
    place = {scan: _placer(context, scan) for scan in bridge.SCANS}
    for number, pair in enumerate(part.pairs, 1):
        points = {}
        for scan in bridge.SCANS:
            if getattr(pair, f"has_{scan}") and place[scan] is not None:
                points[scan] = place[scan](getattr(pair, scan))
                items.marks.append(Mark(points[scan], "ring", ON_SCAN[scan]))
        miss = f": {pair.miss_mm:.2f} mm apart" if pair.is_fitted else ""
        if len(points) == 2:
            items.lines.append(Line(points["base"], points["impression"], ACTIVE, True))
        for scan, at in points.items():
            if not (miss and scan == "impression"):  # aligned, both are at one place
                items.labels.append(Label(at, f"{number}{miss}", ON_SCAN[scan]))


def _mat_places(context: bpy.types.Context, part: Any, items: Items) -> None:
    """Add the places of the mat where they lay on the scan and, by their cells, on the mat's picture."""
    scan = mat_in_job.places_on(part)
    place = {each: _placer(context, each) for each in (scan, "mat_picture")}
    for number, each in enumerate(part.mat_places, 1):
        numbers = {scan: each.point} if each.has_point else {}
        if each.by == "cell":
            numbers["mat_picture"] = mat_in_job.on_picture(each.cell)
        for on, at in numbers.items():
            to = place[on]
            if to is not None:
                items.marks.append(Mark(to(at), "ring", ON_SCAN[on]))
                items.labels.append(Label(to(at), f"Mat {number}", ON_SCAN[on]))
    to = place["mat_picture"]
    if to is not None:
        first = to(mat_in_job.on_picture((0.0, 0.0)))
        items.labels.append(Label(first, "row 0, column 0", ON_SCAN["mat_picture"]))


def _centers(context: bpy.types.Context, items: Items) -> None:
    for obj in state.objects_in(context.scene, "Load Centers"):
        if LOAD_CENTER in obj and DEPTH in obj and obj.visible_get():
            at = np.array(obj.matrix_world.translation, dtype=np.float64)
            name = obj.get("padwright_center_name") or obj[LOAD_CENTER]
            items.labels.append(Label(at, f"{name}: {obj[DEPTH]:.1f} mm deep", CENTER))


def _picking(context: bpy.types.Context, session: pick_session.Session, items: Items) -> None:
    """Add what is being picked: what was clicked, what a click would take, and the length between the two."""
    part = context.scene.padwright
    place = {click.scan: _placer(context, click.scan) for click in session.clicks}
    last = None
    wanted, hover = session.wanted, session.hover
    if hover is not None and wanted is not None and place[hover.scan] is not None:
        at = place[hover.scan](hover.numbers)
        color = ACTIVE if hover.is_vertex else ON_SCAN[hover.scan]
        items.marks.append(Mark(at, "square" if hover.is_vertex else "disk", color))
        number = f" {session.number_of(len(session.places))}" if session.is_repeated else ""
        last, words = at, f"{wanted.mark}{number}" + (", vertex" if hover.is_vertex else "")
        if hover.scan == "mat_picture":
            row, column = mat_in_job.cell_at(hover.numbers)
            words += f": row {row:g}, column {column:g}"
        if session.thing == "length" and session.places:
            apart = np.linalg.norm(np.subtract(hover.numbers, session.places[0].numbers))
            words += f": {apart * bridge.unit_mm(part, hover.scan):.1f} mm"
        items.labels.append(Label(at, words, color))
    for index, each in enumerate(session.places):
        if place[each.scan] is None:
            continue
        at = place[each.scan](each.numbers)
        if session.thing in ("length", "run"):
            items.marks.append(Mark(at, "cross", ACTIVE))
            if last is not None:
                items.lines.append(Line(at, last, ACTIVE))
        else:
            items.marks.append(Mark(at, "ring", ON_SCAN[each.scan]))
            items.labels.append(Label(at, str(session.number_of(index)), ON_SCAN[each.scan]))
