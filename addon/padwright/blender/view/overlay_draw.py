"""Drawn over the 3D viewport: check lengths, pairs, load centers, what is being picked, and the color bar.

Drawing only reads. The modeller's drawing modules are imported when something is drawn.
"""

from __future__ import annotations

import itertools
from typing import Any

import bpy
import numpy as np

from ..scans import pick_session
from . import color_ramps, overlay_items, overlay_layout, value_colors, viewports

_FONT_PX = 12.0  # at interface scale 1
_PLATE, _TEXT, _EDGE = (0.11, 0.11, 0.12, 0.78), (0.95, 0.94, 0.91, 1.0), (0.0, 0.0, 0.0, 0.55)
_MARK_PX = 6.0
_CIRCLE = np.stack([np.cos(np.linspace(0.0, 2.0 * np.pi, 21)), np.sin(np.linspace(0.0, 2.0 * np.pi, 21))], axis=1)
_SQUARE = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]])
_SHAPES = {"ring": _CIRCLE, "disk": 0.6 * _CIRCLE, "square": _SQUARE}
_CROSS = np.array([[-1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [1.0, -1.0]])


class Brush:
    """Draws in a region's pixels with the modeller's own shaders."""

    def __init__(self, size: tuple[int, int], scale: float) -> None:
        import blf
        import gpu
        from gpu_extras.batch import batch_for_shader

        self._blf, self._gpu, self._batch = blf, gpu, batch_for_shader
        self._size, self.scale = size, scale
        blf.size(0, _FONT_PX * scale)
        self.line_height = blf.dimensions(0, "Hg")[1] * 1.25

    def width(self, text: str) -> float:
        """Return how wide a text is."""
        return float(self._blf.dimensions(0, text)[0])

    def text(self, x: float, y: float, text: str, color: tuple[float, ...] = _TEXT) -> None:
        """Write a line that begins at a place."""
        self._blf.position(0, round(x), round(y), 0)
        self._blf.color(0, *color)
        self._blf.draw(0, text)

    def lines(self, points: np.ndarray, color: tuple[float, ...], width: float) -> None:
        """Draw lines between each two of the points, (2 n, 2)."""
        shader = self._gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
        batch = self._batch(shader, "LINES", {"pos": _flat(points)})
        shader.uniform_float("viewportSize", self._size)
        shader.uniform_float("lineWidth", width * self.scale)
        shader.uniform_float("color", color)
        batch.draw(shader)

    def edged(self, points: np.ndarray, color: tuple[float, float, float], width: float) -> None:
        """Draw lines that are seen on light and on dark ground."""
        self.lines(points, _EDGE, width + 2.0)
        self.lines(points, (*color, 1.0), width)

    def box(self, box: overlay_layout.Box, color: tuple[float, ...]) -> None:
        """Fill a box."""
        shader = self._gpu.shader.from_builtin("UNIFORM_COLOR")
        batch = self._batch(shader, "TRIS", {"pos": _corners(box)}, indices=[(0, 1, 2), (0, 2, 3)])
        shader.uniform_float("color", color)
        batch.draw(shader)

    def blend(self, box: overlay_layout.Box, low: tuple[float, ...], high: tuple[float, ...]) -> None:
        """Fill a box with colors from below to above."""
        shader = self._gpu.shader.from_builtin("SMOOTH_COLOR")
        colors = [(*low, 1.0), (*low, 1.0), (*high, 1.0), (*high, 1.0)]
        values = {"pos": _corners(box), "color": colors}
        self._batch(shader, "TRIS", values, indices=[(0, 1, 2), (0, 2, 3)]).draw(shader)

    def see_through(self, is_on: bool) -> None:
        """Let what is drawn be seen through, or not."""
        self._gpu.state.blend_set("ALPHA" if is_on else "NONE")


def _flat(points: np.ndarray) -> list[tuple[float, float, float]]:
    return [(float(x), float(y), 0.0) for x, y in points]


def _corners(box: overlay_layout.Box) -> list[tuple[float, float, float]]:
    left, bottom, right, top = box
    return [(left, bottom, 0.0), (right, bottom, 0.0), (right, top, 0.0), (left, top, 0.0)]


def draw(context: bpy.types.Context, brush_of: Any = Brush) -> None:
    """Draw all over the viewport that the context stands for."""
    part = getattr(context.scene, "padwright", None)
    region, area = context.region, context.area
    if part is None or area is None or region is None or region.data is None:
        return
    is_off = not context.space_data.overlay.show_overlays
    if is_off and not pick_session.current:
        return
    scale = context.preferences.system.ui_scale or 1.0
    free = viewports.free_box(area, region)
    brush = brush_of((region.width, region.height), scale)
    brush.see_through(True)
    items = overlay_items.gather(context, only_picking=is_off)
    view = viewports.view_of(region, region.data)
    gizmos = viewports.gizmo_box(area, region, scale)
    taken = [gizmos] if gizmos is not None else []
    if part.view.is_colored and part.view.shows_bar and not pick_session.current:
        bar = _draw_bar(brush, part.view, free, gizmos)
        taken += [bar] if bar is not None else []
    _draw_lines(brush, view, items)
    _draw_labels(brush, view, items, free, taken)
    brush.see_through(False)


def _draw_lines(brush: Brush, view: Any, items: overlay_items.Items) -> None:
    for line in items.lines:
        seen, is_before = view.pixels(np.array([line.start, line.end]))
        if is_before.all():
            brush.edged(seen, line.color, 1.0 if line.is_thin else 2.0)
    for mark in items.marks:
        seen, is_before = view.pixels(mark.at[None])
        if not is_before[0]:
            continue
        size = _MARK_PX * brush.scale
        if mark.kind == "cross":
            brush.edged(seen + size * _CROSS, mark.color, 2.0)
        else:
            round_ = seen + size * _SHAPES[mark.kind]
            brush.edged(np.repeat(round_, 2, axis=0)[1:-1], mark.color, 2.0)


def _draw_labels(
    brush: Brush, view: Any, items: overlay_items.Items, free: overlay_layout.Box, taken: list[overlay_layout.Box]
) -> None:
    if not items.labels:
        return
    seen, is_before = view.pixels(np.array([label.at for label in items.labels]))
    pad, height = 4.0 * brush.scale, brush.line_height + 6.0 * brush.scale
    labels = [(label, at) for label, at, is_seen in zip(items.labels, seen, is_before, strict=True) if is_seen]
    offset = 10.0 * brush.scale
    wished = [
        (x + offset, y + offset / 2, x + offset + brush.width(label.text) + 2 * pad, y + offset / 2 + height)
        for label, (x, y) in labels
    ]
    for (label, _), box in zip(labels, overlay_layout.arrange(wished, free, taken), strict=True):
        if box is not None:
            brush.box(box, _PLATE)
            brush.text(box[0] + pad, box[1] + (height - 0.75 * brush.line_height) / 2, label.text, (*label.color, 1.0))


def _draw_bar(brush: Brush, view: Any, free: overlay_layout.Box, gizmos: Any) -> overlay_layout.Box | None:
    """Draw what the colors mean; return the place it takes."""
    ticks = [(share, words) for share, words in value_colors.ticks_of(view) if -1e-6 <= share <= 1.0 + 1e-6]
    title_width = max(brush.width(view.title), brush.width(view.unit))
    tick_width = max((brush.width(words) for _, words in ticks), default=0.0) + 6.0 * brush.scale
    places = overlay_layout.bar_places(free, gizmos, brush.scale, title_width, tick_width, brush.line_height)
    if places is None:
        return None
    brush.box(places.plate, _PLATE)
    left, bottom, right, top = places.bar
    stops = color_ramps.RAMPS[view.ramp]
    for (low, first), (high, second) in itertools.pairwise(stops):
        if high > low:
            height = top - bottom
            brush.blend((left, bottom + low * height, right, bottom + high * height), first, second)
    x, y = places.title
    brush.text(x, y + 0.15 * brush.line_height, view.title)
    brush.text(x, y - 0.95 * brush.line_height, view.unit, (*_TEXT[:3], 0.75))
    for share, words in ticks:
        at = bottom + share * (top - bottom)
        brush.lines(np.array([[right, at], [right + 4.0 * brush.scale, at]]), _TEXT, 1.0)
        brush.text(places.ticks_x + 4.0 * brush.scale, at - 0.35 * brush.line_height, words)
    return places.plate
