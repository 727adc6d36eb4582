"""Pictures of a mat on the clay of a job, one for each way it fits, beside the imprint."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..base.mesh import Float
from ..base.scales import scale_top
from ..geometry.raster import png_bytes
from ..stages.mats.laid_mat import LaidMat
from ..stages.report.field_picture import GROUND, Scale
from ..stages.report.pixel_text import stamp
from ..stages.report.plan_view import PlanView, SeenMesh
from .parts import MadePart

_WIDTH = 480  # pixels of each of the two
_BAND_PX = 26  # of captions
_STRAIGHT = float(np.cos(np.radians(25.0)))  # our choice
_TOLD = "Seen from the body. X, Y, Z: axes of the base scan."
_CORNER_MM = 9.0  # how large the mark of the first cell is


def mat_pictures(part: MadePart) -> Iterator[tuple[int, bytes]]:
    """Yield the number of each pose and its picture: the imprint on the left, the mat on the right, the same way up.

    A dark spot is where the mat's first cell, row 0 and column 0, lies, if that is on the clay. Sides are named by the
    base scan's axes, those of the mat by its row 0 and column 0.
    """
    laid, mesh, reading = part.mat, part.aligned, part.reading
    if laid is None or mesh is None or reading is None or reading.press_direction is None:
        return
    seen = SeenMesh(PlanView.onto(mesh, -np.asarray(reading.press_direction), width=_WIDTH), mesh)
    depth = _colored(seen, np.where(reading.is_clay, np.maximum(reading.imprint_depth, 0.0), 0.0))
    sides = base_sides(part, seen.view.eye)
    _name_sides(depth, sides)
    ways = [replace(laid, cells=each.cells) for each in laid.poses] or [laid]
    for number, each in enumerate(ways, 1):
        shown = _colored(seen, each.at(mesh.vertices), _first_cell(each, mesh.vertices))
        _name_sides(shown, sides)
        for text, cell in (("row 0", (-0.5, 0.5 * each.mat.shape[1])), ("column 0", (0.5 * each.mat.shape[0], -0.5))):
            place = each.cells.flat_of(np.array([cell])) @ each.cells.plane
            x, y = seen.view.on_picture(place)[0].tolist()
            stamp(shown, text, (x, y))
        titles = ("Imprint in the clay", f"Mat, pose {number}" if laid.poses else "Mat, by its places")
        yield number, png_bytes(_captioned((depth, shown), titles))


def base_sides(part: MadePart, eye: Float) -> dict[str, str]:
    """Return the base scan's axes that a picture's sides look along: "right", "left", "top", "bottom".

    The tool knows no front of a body; who scanned the base knows its axes. An axis off by more than 25 degrees is told
    as "about". `eye`, (3, 3), has the picture's right, up and towards the eye as rows.
    """
    found = {}
    for ends, way in ((("left", "right"), eye[0]), (("bottom", "top"), eye[1])):
        along = part.to_part[:3, :3].T @ way
        axis = int(np.abs(along).argmax())
        about = "" if abs(along[axis]) > _STRAIGHT else "about "
        for end, sign in zip(ends, (-1.0, 1.0), strict=True):
            found[end] = f"{about}{'+' if sign * along[axis] > 0.0 else '-'}{'XYZ'[axis]}"
    return found


def _name_sides(image: NDArray[np.uint8], sides: dict[str, str]) -> None:
    height, width = image.shape[:2]
    for side, at in {"left": (0, 0.5), "right": (1, 0.5), "top": (0.5, 0), "bottom": (0.5, 1)}.items():
        stamp(image, sides[side], (at[0] * width, at[1] * height))


def _captioned(images: tuple[NDArray[np.uint8], ...], titles: tuple[str, ...]) -> NDArray[np.uint8]:
    """Return pictures side by side with a title over each and, below, what their sides are told by."""
    whole = np.concatenate(images, axis=1)
    band = np.full((_BAND_PX, whole.shape[1], 3), 255, dtype=np.uint8)
    above, below = band.copy(), band
    width = images[0].shape[1]
    for number, title in enumerate(titles):
        stamp(above, title, ((number + 0.5) * width, 0.5 * _BAND_PX))
    stamp(below, _TOLD, (0.5 * whole.shape[1], 0.5 * _BAND_PX))
    return np.concatenate([above, whole, below])


def _first_cell(laid: LaidMat, places: Float) -> Float:
    flat = laid.cells.flat_of(np.zeros((1, 2)))
    return np.asarray(np.linalg.norm(places @ laid.cells.plane.T - flat, axis=1) < _CORNER_MM, dtype=np.float64)


def _colored(seen: SeenMesh, values: Float, mark: Float | None = None) -> NDArray[np.uint8]:
    scale = Scale.over(0.0, max(scale_top(values), 1e-6), "")
    hit = seen.is_hit
    image = np.broadcast_to(GROUND, (*hit.shape, 3)).astype(np.float32)
    color = scale.color_of(seen.at_pixels(values)) * seen.light[:, None]
    if mark is not None:
        color[seen.at_pixels(mark) > 0.5] = 0.0
    image[hit] = color
    return np.round(255.0 * np.clip(image, 0.0, 1.0)).astype(np.uint8)
