"""The picture a wearer points at: the part from its body side, its zones by name, a lettered grid, where it hurt."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, find_objects, label

from ...base.mesh import Int
from ...geometry.raster import png_bytes, rasterize
from ...geometry.through import BODY_SIDE, PadShape
from ..zones.zones import ZonePlan
from .places import PlaceGrid, zone_names

_PIXELS = 2.0  # a unit of the drawing
_LEAST_UNITS = 200.0
"""A smaller part is drawn so large, and shown as large as it is: letters keep their size beside it."""
_FRAME = 12.0  # units around the grid, for letters and numbers
_LEAST_NAMED = 5.0  # units: a piece of a zone whose middle is nearer to its border has no room for a name
_GROUND, _LINE = (251, 249, 243), (26, 35, 64)
_PALE = 0.55
"""How far the firmness colors are mixed with white: names and grid are to be read on them; by eye."""


@dataclass(frozen=True)
class PainMark:
    """Where it hurt: mm from the grid's corner, and how much."""

    at: tuple[float, float]
    pain: float
    words: str  # e.g. "4 of 10, revision 1"


@dataclass(frozen=True, eq=False)
class PlacePicture:
    """The picture's pixels on the grid, before anything is written on them."""

    zone: Int  # (h, w); number in the plan, -1 beside the part


def units_per_mm(grid: PlaceGrid) -> float:
    """Return how many units of the drawing a millimeter of the part has."""
    return max(1.0, _LEAST_UNITS / (grid.step_mm * max(grid.columns, grid.rows)))


def place_pixels(grid: PlaceGrid, pad: PadShape, plan: ZonePlan) -> PlacePicture:
    """Return which zone each pixel of the plan shows."""
    size = np.round(np.array([grid.columns, grid.rows]) * grid.step_mm * _PIXELS * units_per_mm(grid)).astype(int)
    side = np.asarray(pad.side) == BODY_SIDE
    faces = pad.mesh.faces[side[pad.mesh.faces].any(axis=1)]
    points = np.column_stack([grid.flat(pad.mesh.vertices) * _PIXELS * units_per_mm(grid), pad.mesh.vertices @ grid.up])
    raster = rasterize(points, faces, int(size[0]), int(size[1]))
    zone = np.full(raster.face.shape, -1, dtype=np.int32)
    corner = faces[raster.face[raster.is_hit]]
    nearest = np.argmax(raster.weights[raster.is_hit], axis=1)
    zone[raster.is_hit] = plan.label[corner[np.arange(len(corner)), nearest]]
    return PlacePicture(zone)


def place_figure(
    grid: PlaceGrid,
    picture: PlacePicture,
    plan: ZonePlan,
    colors: Sequence[str],
    *,
    title: str,
    marks: Sequence[PainMark] = (),
) -> str:
    """Return the picture as SVG text, to open, to print or to put into a page; in mm it is as large as the part.

    `colors`, "#rrggbb", are those of the plan's zones.
    """
    units = units_per_mm(grid)
    width, height = (count * grid.step_mm * units for count in (grid.columns, grid.rows))
    image = base64.b64encode(png_bytes(_painted(picture.zone, colors))).decode("ascii")
    body = [
        f'<image x="0" y="0" width="{width:g}" height="{height:g}" href="data:image/png;base64,{image}"/>',
        f'<path d="{_lines(grid)}" fill="none" stroke="#1a2340" stroke-opacity=".35" stroke-width=".25"/>',
        *_letters(grid),
        *_names(picture.zone, plan),
        *(_mark(each, units) for each in marks),
    ]
    size = width + 2 * _FRAME, height + 2 * _FRAME
    box = f"{-_FRAME:g} {-_FRAME:g} {size[0]:g} {size[1]:g}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" width="{size[0] / units:g}mm" '
        f'height="{size[1] / units:g}mm" role="img" aria-label="{escape(title)}" '
        'font-family="system-ui, sans-serif" fill="#1a2340" text-anchor="middle">\n'
        f"<title>{escape(title)}</title>\n" + "\n".join(body) + "\n</svg>\n"
    )


def _painted(zone: Int, colors: Sequence[str]) -> NDArray[np.uint8]:
    palette = np.array([[int(each[at : at + 2], 16) for at in (1, 3, 5)] for each in colors], dtype=np.float64)
    palette = 255.0 - (1.0 - _PALE) * (255.0 - palette)
    pixels = np.full((*zone.shape, 3), _GROUND, dtype=np.float64)
    pixels[zone >= 0] = palette[zone[zone >= 0]]
    border = np.zeros(zone.shape, dtype=bool)
    border[:, 1:] |= zone[:, 1:] != zone[:, :-1]
    border[1:] |= zone[1:] != zone[:-1]
    pixels[border] = _LINE
    return np.round(pixels).astype(np.uint8)


def _lines(grid: PlaceGrid) -> str:
    step = grid.step_mm * units_per_mm(grid)
    width, height = grid.columns * step, grid.rows * step
    across = [f"M0 {step * row:g}H{width:g}" for row in range(grid.rows + 1)]
    return "".join([*across, *(f"M{step * column:g} 0V{height:g}" for column in range(grid.columns + 1))])


def _letters(grid: PlaceGrid) -> list[str]:
    """Return letters above and below, numbers at both sides."""
    step = grid.step_mm * units_per_mm(grid)
    width, height = grid.columns * step, grid.rows * step
    found = []
    for column in range(grid.columns):
        x = (column + 0.5) * step
        found += [_text(x, y, chr(ord("A") + column), 5.5) for y in (-4.0, height + 8.0)]
    for row in range(grid.rows):
        y = (row + 0.5) * step + 2.0
        found += [_text(x, y, str(row + 1), 5.5) for x in (-6.0, width + 6.0)]
    return found


def _names(zone: Int, plan: ZonePlan) -> list[str]:
    """Return each zone's name amid each of its pieces that has room for it."""
    found, names = [], zone_names(plan)
    for name in dict.fromkeys(names):
        own = np.isin(zone, [number for number, each in enumerate(names) if each == name])
        middles = []
        pieces, _ = label(own)
        for number, box in enumerate(find_objects(pieces), start=1):
            room = distance_transform_edt(np.pad(pieces[box] == number, 1))[1:-1, 1:-1]
            row, column = np.unravel_index(int(room.argmax()), room.shape)
            middles.append((float(room.max()), box[1].start + int(column), box[0].start + int(row)))
        middles.sort(key=lambda each: -each[0])
        for rank, (room, *at) in enumerate(middles):
            if rank == 0 or room >= _LEAST_NAMED * _PIXELS:
                x, y = ((each + 0.5) / _PIXELS for each in at)
                found.append(_text(x, y + 1.8, name, 5.0, halo=True))
    return found


def _mark(mark: PainMark, units: float) -> str:
    x, y = (units * each for each in mark.at)
    look = 'r="5" fill="#fff" fill-opacity=".85" stroke="#a9441c" stroke-width="1.4"'
    ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" {look}/>'
    number = _text(x, y + 2.0, f"{mark.pain:g}", 5.5, color="#a9441c", bold=True)
    return f"<g><title>{escape(mark.words)}</title>{ring}{number}</g>"


def _text(
    x: float, y: float, text: str, size: float, *, halo: bool = False, color: str = "", bold: bool = False
) -> str:
    around = ' stroke="#fff" stroke-width="1.2" stroke-linejoin="round" paint-order="stroke"' if halo else ""
    more = (f' fill="{color}"' if color else "") + (' font-weight="700"' if bold or halo else "")
    return f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}"{around}{more}>{escape(text)}</text>'
