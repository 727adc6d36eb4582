"""A mat's file as a picture beside the scan, a square a cell, so that cells can be clicked."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Color, Matrix, Vector

from ...core.base.files import MOST_TABLE_BYTES, read_named
from ...core.base.mesh import Float, TriMesh
from ...core.base.ramps import ramp_colors
from ...core.job.mat_table import Mat
from ...core.stages.mats.mat_file import read_mat
from ...core.stages.mats.mat_reading import MatReading
from .. import bridge, state
from ..view import viewports
from . import mat_in_job

_SHADES = 16  # colors of the picture
_AS_WIDE = 1.0  # as the scan, where the distance of cells is not known
_APART = 0.1  # from the scan, in its widths


def show(context: bpy.types.Context, part: Any) -> MatReading:
    """Put the mat's picture, made anew, beside the scan its places lie on, upright in the view; return the mat.

    Raises InputError when there is no file, or it is none of a mat.
    """
    mat = _read(part)
    remove(part)
    scan = getattr(part, mat_in_job.places_on(part))
    made = bridge.new_mesh("Mat", _squares(mat.shape))
    _color(made, np.repeat(mat.pressure.ravel() / mat.peak, 4))
    part.mat_picture = bpy.data.objects.new(f"{part.number} Mat", made)
    part.mat_picture[bridge.OWN_NUMBERS] = True
    state.collection(context.scene).objects.link(part.mat_picture)
    _put_beside(context, part.mat_picture, scan, mat)
    return mat


def remove(part: Any) -> None:
    """Remove the picture, where there is one."""
    if part.mat_picture is not None:
        state.remove_object(part.mat_picture)
        part.mat_picture = None


def put_back(part: Any, lay: Matrix | None) -> None:
    """Lay the picture where it lay, or remove it where there was none."""
    if lay is None:
        remove(part)
    elif part.mat_picture is not None:
        part.mat_picture.matrix_world = lay


def _read(part: Any) -> MatReading:
    tables = {"mat": json.loads(part.kept).get("mat", {})} if part.kept else {}
    mat_in_job.add_table(part, tables)
    table = {key: value for key, value in tables.get("mat", {}).items() if key not in ("places", "places_on")}
    given: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in table.items()}
    asked = Mat(**given)
    assert asked.file is not None  # without one the button cannot be pressed
    data = read_named(Path(asked.file), "The mat's file", most_bytes=MOST_TABLE_BYTES, hint="Choose it anew.")
    return read_mat(data, Path(asked.file).name, asked, needs_unit=False)


def _squares(shape: tuple[int, int]) -> TriMesh:
    """Return a square a cell, row by row, columns to the right and rows down: x is the column, y the row, negative."""
    row, column = np.indices(shape).reshape(2, -1)
    corners = 0.5 * np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]])
    middle = np.stack([column, -row, np.zeros_like(row)], axis=1)
    first = 4 * np.arange(len(row))[:, None, None]
    faces = first + np.array([[0, 1, 2], [0, 2, 3]])
    return TriMesh((middle[:, None] + corners).reshape(-1, 3), faces.reshape(-1, 3))


def _color(made: bpy.types.Mesh, share: Float) -> None:
    """Color the squares by shares, (n,) a vertex: by materials, and by vertices, which are seen with values on show."""
    bridge.write_colors(made, np.column_stack([ramp_colors(share, "one_way"), np.ones_like(share)]))
    for number, color in enumerate(ramp_colors(np.linspace(0.0, 1.0, _SHADES), "one_way")):
        name = f"Padwright Mat {number + 1}"
        material = bpy.data.materials.get(name) or bpy.data.materials.new(name)
        material.diffuse_color = (*Color(color.tolist()).from_srgb_to_scene_linear(), 1.0)
        made.materials.append(material)
    shade = np.round(share[::2] * (_SHADES - 1)).astype(np.int32)  # of four corners; two triangles a square
    made.polygons.foreach_set("material_index", shade)


def _put_beside(context: bpy.types.Context, picture: bpy.types.Object, scan: bpy.types.Object, mat: MatReading) -> None:
    """Put the picture to the right of a scan in the view, as large as the mat is, or as wide as the scan."""
    context.view_layer.update()
    right, up = viewports.right_and_up(context)
    axes = np.stack([right, up, np.cross(right, up)])
    corners = np.array([scan.matrix_world @ Vector(corner) for corner in scan.bound_box]) @ axes.T
    low, high = corners.min(axis=0), corners.max(axis=0)
    rows, columns = mat.shape
    if mat.pitch_mm is None:
        down = across = _AS_WIDE * (high[0] - low[0]) / columns
    else:
        down, across = (each / bridge.mm_per_scene_unit(context.scene) for each in mat.pitch_mm)
    left = high[0] + _APART * (high[0] - low[0]) + 0.5 * across
    top = 0.5 * (low[1] + high[1]) + 0.5 * (rows - 1) * down
    matrix = np.eye(4)
    matrix[:3, :3] = axes.T * [across, down, 1.0]
    matrix[:3, 3] = axes.T @ [left, top, 0.5 * (low[2] + high[2])]
    picture.matrix_world = Matrix(matrix.tolist())
    context.view_layer.update()
