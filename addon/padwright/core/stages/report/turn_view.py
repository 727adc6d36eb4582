"""The part to be turned, zoomed and cut open on a page: what a browser needs for it, and a still picture for paper.

Drawn by plain WebGL 2, by the three scripts beside this file. They are put into the page as they stand.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from ...base.errors import InputError
from ...base.mesh import Float, TriMesh
from ...base.ramps import hex_color
from ...base.scales import in_words, round_step, round_ticks
from ...base.text import counted
from ...geometry.simpler import simpler
from ..packing.long_side import long_side
from .field_picture import PLAIN, swatches
from .page import escape, picture

MOST_TRIANGLES = 100_000
"""With 16-bit places and numbers they make 1.2 MB of text in the page; our choice, by the size of the file."""

_CELL_MM, _MOST_CELLS = 0.1, 200
"""Least size of a field's cells, and how many the longest side has at most: every WebGL 2 takes 256 (OpenGL ES 3.0,
table 6.29: MAX_3D_TEXTURE_SIZE)."""

_DECIMALS, _AXIS_DECIMALS = 5, 9
"""Of places, mm, and values, and of directions: the last bits of a number hang on the number of threads, and a page
shall not."""

_UPRIGHT = 0.9  # of a unit vector's z: it is nearly upright

_NEIGHBORS = 6  # places that a cell asks: borders between names run smooth
_ROUND_CELLS = 72  # a side, of a part that is gripped all around: its fields are rooms, not maps
_NONE_COLOR = hex_color(tuple(PLAIN))
_SCRIPTS = ("turn_mesh.js", "turn_paint.js", "turn_view.js")
_ASK = "Point at the part to read its values."
_HINT = (
    "Drag to turn it, with the Shift key to move it; zoom with the buttons or with Ctrl and the wheel. "
    "With the keyboard: arrows turn it, with Shift they move it, + and - zoom, 0 goes back."
)
_TOUCH_HINT = (
    "Drag it sideways to turn it, then any way; up and down scrolls the page. Two fingers zoom and move it. "
    "Tap it to read its values."
)


@dataclass(frozen=True, eq=False)
class TurnField:
    """Something that has a value at every place of the part: a number, or one of a few names."""

    title: str
    places: Float  # (k, 3), mm; where it is known: each place of the part says what the nearest of these says
    values: NDArray[Any]  # (k,); in `unit`, not a number where nothing is known; of names their place in `names`
    colors: Sequence[str]  # "#RRGGBB"; of a number evenly from low to high, else one a name
    names: Sequence[str] = ()
    unit: str = ""
    stops: Sequence[float] = ()  # the value of each color, rising; instead of low and high
    low: float = 0.0  # the ends of the colors; what is beyond has the color of the end
    high: float = 1.0
    reach_mm: float | None = None  # beyond it from all places nothing is known
    none: str = "not known"  # said where it is not known
    note: str = ""  # said below the key


@dataclass(frozen=True, eq=False)
class ViewParts:
    """What is shown."""

    name: str
    mesh: TriMesh  # closed, mm
    up: Float | None  # (3,), against the press direction; None for a part that is gripped all around
    fields: Sequence[TurnField]  # at least one; the first is shown first
    still: bytes  # PNG, colored by the first field
    # (4, 4); from the mesh's frame, mm, to the numbers of places that a job and notes of trials take.
    to_job: Float


def turn_view(parts: ViewParts) -> str:
    """Return the view as HTML: its data, its buttons, a still picture where it cannot run, a key a field.

    The page needs `turn_style` in its head and, once, `turn_script` behind all views.

    Raises InputError when there is no field, or a field's values do not fit its places.
    """
    _check(parts)
    axes = _axes(parts)
    shape = simpler(parts.mesh, MOST_TRIANGLES)
    mesh = TriMesh(_seen(shape.mesh.vertices, axes), shape.mesh.faces)
    grid = _FieldCells.over(mesh.bounds, is_round=parts.up is None)
    data = _data(parts, mesh, grid, axes)
    keys = "".join(_key(field, is_shown=number == 0) for number, field in enumerate(parts.fields))
    chosen = "".join(f"<option>{escape(field.title)}</option>" for field in parts.fields)
    error = f"Its surface is simplified here, by {shape.usual_mm:.1g} mm or less at 999 of 1000 places"
    error += f" and {shape.most_mm:.2g} mm at most." if shape.most_mm > 2.0 * shape.usual_mm else "."
    above, below = ("Above", "Below") if parts.up is None else ("Body side", "Base side")
    looks = _LOOK.format(above=above, below=below)
    still = picture(parts.still, f"{parts.name}, colored by its {parts.fields[0].title.lower()}.")
    return (
        f'<div class="turn-view">\n<p class="turn-still">{still}</p>\n'
        '<noscript><p class="quiet">With JavaScript this picture can be turned and cut open.</p></noscript>\n'
        '<div class="turn-work">\n<div class="turn-row">'
        f'<label>Colors <select class="turn-colors">{chosen}</select></label>\n{_CUT}</div>\n'
        '<div class="turn-room"><canvas class="turn-canvas" tabindex="0" role="application" '
        f'aria-roledescription="view to turn" aria-label="{escape(parts.name)}. {escape(_HINT)}"></canvas>'
        '<span class="turn-mark"></span></div>\n'
        f'<output class="turn-value">{_ASK}</output>\n</div>\n{keys}'
        f'<div class="turn-work">\n{looks}<p class="quiet turn-hint">{escape(_HINT)}</p>\n'
        f'<p class="quiet turn-touch">{escape(_TOUCH_HINT)}</p>\n<p class="quiet">{escape(error)}</p>\n</div>\n'
        f'<script type="application/json" class="turn-data">{data}</script>\n</div>\n'
    )


def turn_style() -> str:
    """Return the look of views, CSS."""
    return Path(__file__).with_name("turn_view.css").read_text("utf-8")


def turn_script() -> str:
    """Return what makes all views of a page turn, as an HTML element."""
    folder = Path(__file__).parent
    text = "\n".join(folder.joinpath(name).read_text("utf-8") for name in _SCRIPTS)
    return f'<script>\n"use strict";\n(() => {{\n{text}}})();\n</script>\n'


_LOOK = (
    '<div class="turn-row" role="group" aria-label="Look from">\n'
    '<button type="button" data-look="start">Start</button>\n'
    '<button type="button" data-look="body">{above}</button>\n'
    '<button type="button" data-look="base">{below}</button>\n'
    '<button type="button" data-look="long">Long side</button>\n'
    '<button type="button" data-look="end">End</button>\n'
    '<button type="button" data-zoom="1.25" aria-label="Zoom in">+</button>\n'
    '<button type="button" data-zoom="0.8" aria-label="Zoom out">&minus;</button></div>\n'
)
_CUT = (
    '<label>Cut <select class="turn-cut"><option value="">nothing off</option>'
    '<option value="length">along its length</option><option value="width">along its width</option>'
    '<option value="height">along its height</option></select></label>\n'
    '<span class="turn-cutting" hidden><label>at <input type="range" class="turn-where" min="0" max="1000" value="500">'
    '</label>\n<output class="turn-at"></output>\n'
    '<button type="button" class="turn-other">Other half</button></span>'
)


@dataclass(frozen=True)
class _FieldCells:
    """Cells over the part, along its view axes: one high for a part with a body side, whose fields are maps."""

    low: Float  # (3,), mm
    step: float
    count: tuple[int, int, int]

    @classmethod
    def over(cls, bounds: Float, *, is_round: bool) -> _FieldCells:
        size = bounds[1] - bounds[0]
        most = _ROUND_CELLS if is_round else _MOST_CELLS
        step = max(_CELL_MM, float(size.max()) / most)
        counts = [max(1, int(np.ceil(side / step))) for side in size]
        if not is_round:
            counts[2] = 1
        return cls(bounds[0], step, (counts[0], counts[1], counts[2]))

    def cells(self, field: TurnField, axes: Float) -> tuple[NDArray[np.uint8], float, float]:
        """Return a byte a cell, x fastest, and the values that 1 and 255 stand for; 0 where nothing is known."""
        ways = 3 if self.count[2] > 1 else 2
        places = _seen(field.places, axes)[:, :ways]
        marks = [self.low[way] + (np.arange(self.count[way]) + 0.5) * self.step for way in range(ways)]
        middles = np.stack(np.meshgrid(*marks, indexing="ij"), axis=-1).reshape(-1, ways)
        known = np.asarray(field.values, dtype=np.float64).round(_DECIMALS)
        values = _between(places, known, middles, len(field.names), field.reach_mm).round(_DECIMALS)
        is_known = np.isfinite(values)
        low, high = 0.0, 1.0
        if not field.names and is_known.any():
            low, high = float(values[is_known].min()), float(values[is_known].max())
        share = values - low if field.names else (values - low) / max(high - low, 1e-12) * 254.0
        stored = np.where(is_known, np.rint(np.where(is_known, share, 0.0)) + 1.0, 0.0).astype(np.uint8)
        return stored.reshape([self.count[way] for way in range(ways)]).ravel(order="F"), low, high


def _between(places: Float, values: Float, at: Float, names: int, reach: float | None) -> Float:
    """Return what the nearest places say, the nearer the more: their mean, or of names the one that has most."""
    count = min(_NEIGHBORS, len(places))
    far, nearest = (each.reshape(len(at), count) for each in cKDTree(places).query(at, count))
    weight = 1.0 / (far + 1e-3) ** 2
    near = values[nearest]
    if names:
        found = np.argmax([(weight * (near == name)).sum(axis=1) for name in range(names)], axis=0).astype(np.float64)
    else:
        weight[~np.isfinite(near)] = 0.0
        total = weight.sum(axis=1)
        found = (weight * np.nan_to_num(near)).sum(axis=1) / np.where(total > 0.0, total, np.nan)
        found[~np.isfinite(near[:, 0])] = np.nan  # the nearest says that it is not known
    if reach is not None:
        found[far[:, 0] > reach] = np.nan
    return found


def _check(parts: ViewParts) -> None:
    if not parts.fields:
        raise InputError("There is nothing to color the part by.")
    for field in parts.fields:
        if len(field.values) != len(field.places) or len(field.places) == 0:
            told = f"{counted(len(field.values), 'value')} for {counted(len(field.places), 'place')}"
            raise InputError(f"{field.title} has {told}.")
        if field.names and len(field.names) != len(field.colors):
            told = f"{counted(len(field.colors), 'color')} for {counted(len(field.names), 'name')}"
            raise InputError(f"{field.title} has {told}.")
        stops = _stops(field)
        if not field.names and (len(stops) < 2 or len(stops) != len(field.colors) or not (np.diff(stops) > 0.0).all()):
            raise InputError(
                f"{field.title} runs from {stops[0]:g} to {stops[-1]:g} {field.unit} in {len(field.colors)} colors."
            )


def _stops(field: TurnField) -> list[float]:
    """Return the value of each color."""
    stops = field.stops or np.linspace(field.low, field.high, len(field.colors))
    return [round(float(each), _DECIMALS) + 0.0 for each in stops]


def _axes(parts: ViewParts) -> Float:
    """Return the view's axes as rows: along the part's long side, across it, and up.

    A part that is gripped all around has no up of its own: it lies level, and up is the frame's z as far as may be.
    """
    if parts.up is None:
        along, _ = long_side(parts.mesh, np.zeros(3))
        up = np.eye(3)[2 if abs(along[2]) < _UPRIGHT else 0]
        up = up - (up @ along) * along
    else:
        up = np.asarray(parts.up, dtype=np.float64)
    up = up / np.linalg.norm(up)
    along, _ = long_side(parts.mesh, up)
    along = along - (along @ up) * up
    along /= np.linalg.norm(along)
    return np.round(np.stack([along, np.cross(up, along), up]), _AXIS_DECIMALS) + 0.0  # no -0


def _seen(places: Float, axes: Float) -> Float:
    """Return places along the view's axes, as fine as they need be: the last bits hang on the number of threads."""
    return np.round(np.asarray(places, dtype=np.float64) @ axes.T, _DECIMALS) + 0.0


def _data(parts: ViewParts, mesh: TriMesh, grid: _FieldCells, axes: Float) -> str:
    """Return what the scripts read, as JSON that may stand within HTML."""
    low, high = mesh.bounds
    size = np.maximum(high - low, 1e-6)
    steps = np.rint((mesh.vertices - low) / size * 65535.0).astype("<u2")
    is_wide = len(mesh.vertices) > 65536
    fields = [_field_data(field, grid, axes) for field in parts.fields]
    to_job = np.column_stack([parts.to_job[:3, :3] @ axes.T, parts.to_job[:3, 3]])
    told = {
        "low": _rounded(low),
        "size": _rounded(size),
        "vertices": _text(steps.tobytes()),
        "faces": _text(mesh.faces.astype("<u4" if is_wide else "<u2").tobytes()),
        "wide": is_wide,
        "grid": {"low": _rounded(grid.low), "step": grid.step, "count": grid.count},
        "fields": fields,
        "toJob": (to_job.round(_AXIS_DECIMALS) + 0.0).tolist(),
        "jobDecimals": _decimals_of_places(parts.to_job),
        "words": {"ask": _ASK, "middle": "In the middle: ", "place": "place in the base scan:"},
    }
    return json.dumps(told, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c")


def _field_data(field: TurnField, grid: _FieldCells, axes: Float) -> dict[str, Any]:
    cells, least, most = grid.cells(field, axes)
    told: dict[str, Any] = {
        "title": field.title,
        "unit": field.unit,
        "colors": list(field.colors),
        "noneColor": _NONE_COLOR,
        "none": field.none,
        "from": least,
        "to": most,
        "stops": _stops(field),
        "decimals": _decimals(_stops(field)[-1] - _stops(field)[0]),
        "cells": _text(cells.tobytes()),
    }
    return {**told, "names": list(field.names)} if field.names else told


def _decimals(span: float) -> int:
    """Return how many decimals a value has on a scale of a span: about a hundredth of it is told."""
    return max(1, 1 - int(np.floor(np.log10(span)))) if 0.0 < span < 100.0 else 0


def _decimals_of_places(to_job: Float) -> int:
    """Return how many decimals tell a place to a millimeter or finer."""
    numbers_a_mm = float(np.cbrt(abs(np.linalg.det(to_job[:3, :3]))))
    return max(0, int(np.ceil(-np.log10(numbers_a_mm) - 1e-9)))


def _key(field: TurnField, *, is_shown: bool) -> str:
    """Return what a field's colors mean."""
    hidden = "" if is_shown else " hidden"
    note = f'<p class="quiet">{escape(field.note)}</p>\n' if field.note else ""
    if field.names:
        named = swatches(list(zip(field.colors, field.names, strict=True)))
        return f'<div class="turn-key"{hidden}>\n<div class="key">{named}</div>\n{note}</div>\n'
    none = swatches([(_NONE_COLOR, field.none)])
    ticks = ""
    for share, words in _ticks(field):
        kind = ' class="first"' if share < 0.05 else ' class="last"' if share > 0.95 else ""
        ticks += f'<span{kind} style="left:{100.0 * share:.2f}%">{words}</span>'
    title = f"{field.title}, {field.unit}" if field.unit else field.title
    bar = f'<div class="turn-bar" style="background-image:linear-gradient(to right,{",".join(field.colors)})"></div>'
    return (
        f'<div class="turn-key"{hidden}>\n<div class="turn-bar-room"><p class="quiet">{escape(title)}</p>\n{bar}\n'
        f'<p class="turn-ticks">{ticks}</p></div>\n<div class="key">{none}</div>\n{note}</div>\n'
    )


def _ticks(field: TurnField) -> list[tuple[float, str]]:
    """Return places along the bar, 0 to 1, and what stands there."""
    if field.stops:
        return [(place / (len(field.stops) - 1), f"{value:g}") for place, value in enumerate(field.stops)]
    span = field.high - field.low
    step = round_step(span)
    return [((value - field.low) / span, in_words(value, step)) for value in round_ticks(field.low, field.high)]


def _rounded(values: Float) -> list[float]:
    return [round(float(each), _DECIMALS) + 0.0 for each in values]


def _text(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
