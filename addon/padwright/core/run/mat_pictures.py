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
from ..stages.report.plan_view import PlanView, SeenMesh
from .parts import MadePart

_WIDTH = 480  # pixels of each of the two
_CORNER_MM = 9.0  # how large the mark of the first cell is


def mat_pictures(part: MadePart) -> Iterator[tuple[int, bytes]]:
    """Yield the number of each pose and its picture: the imprint on the left, the mat on the right, the same way up.

    A dark spot is where the mat's first cell, row 0 and column 0, lies, if that is on the clay.
    """
    laid, mesh, reading = part.mat, part.aligned, part.reading
    if laid is None or mesh is None or reading is None or reading.press_direction is None:
        return
    seen = SeenMesh(PlanView.onto(mesh, -np.asarray(reading.press_direction), width=_WIDTH), mesh)
    depth = _colored(seen, np.where(reading.is_clay, np.maximum(reading.imprint_depth, 0.0), 0.0))
    ways = [replace(laid, cells=each.cells) for each in laid.poses] or [laid]
    for number, each in enumerate(ways, 1):
        shown = _colored(seen, each.at(mesh.vertices), _first_cell(each, mesh.vertices))
        yield number, png_bytes(np.concatenate([depth, shown], axis=1))


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
