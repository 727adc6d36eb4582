"""How thick the pad is, its rounded rim told apart from the field within."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from ...base.errors import InputError
from ...base.mesh import Bool, Float, TriMesh
from ...base.notes import to_act_on
from ...base.text import placed
from ...geometry.implicit import Field, Grid
from .pad_settings import PadSettings


def find_field(
    mesh: TriMesh, grid: Grid, solid: Field, inside: Field, is_through: Bool, settings: PadSettings, is_press: bool
) -> Bool:
    """Return which vertices lie in the pad's field, (n,): a column of pad below them, and deeper inside than the rim.

    The pad is in the grid's frame; `solid`, (nx, ny, nz) float32, mm, is negative inside it, and `inside` is the
    distance inside the outline; `is_through`, (n,), is where a column of pad lies below. The rim is as wide as the
    larger of its two radii, and a grid step for what the grid does not show. An envelope has no outline of its own: the
    pad's outline as seen along the press stands for it; with no one direction there is no rim. A pad so small that it
    is all rim counts as field.
    """
    rim = max(settings.rim_radius_mm, settings.base_edge_radius_mm) + grid.step
    if settings.envelope is None:
        is_deep = grid.sample(inside, mesh.vertices) > rim
    elif is_press:
        depth = ndimage.distance_transform_edt((solid < 0.0).any(axis=2)).astype(np.float32) * np.float32(grid.step)
        at = grid.to_index(mesh.vertices)[:2]
        is_deep = ndimage.map_coordinates(depth, at, output=np.float64, order=1, mode="nearest") > 2.0 * grid.step
    else:
        is_deep = np.ones(len(mesh.vertices), dtype=bool)
    is_field = is_through & is_deep
    return is_field if is_field.any() else is_through


def least_in(thickness: Float, is_in: Bool) -> float | None:
    """Return the least of the thicknesses (n,) in a part of the pad (n,), mm; None where it is empty."""
    return float(thickness[is_in].min()) if is_in.any() else None


def thin_note(
    mesh: TriMesh, thickness: Float, is_field: Bool, settings: PadSettings, press_direction: Float | None
) -> str | None:
    """Return what to say where the field is thinner than asked, with the area and the place; None where it is not.

    The pad is in the part frame, as is the press direction, (3,). Raises InputError when an envelope is nowhere as
    thick as asked.
    """
    asked = settings.least_thickness_mm
    most = float(thickness[is_field].max(initial=0.0))
    if settings.envelope is not None and most < asked:
        raise InputError(
            f"The envelope, less base and body, is nowhere {asked:g} mm thick; the most is {most:.1f} mm.",
            hint="Lower least_thickness_mm, make the envelope higher, or check its place and unit.",
        )
    is_thin = is_field & (thickness < asked - _SLACK_MM)
    if not is_thin.any():
        return None
    facing = np.ones(len(thickness)) if press_direction is None else -(mesh.vertex_normals @ press_direction)
    area = float((mesh.vertex_areas * np.maximum(facing, 0.0))[is_thin].sum()) / 100.0
    at = int(np.argmin(np.where(is_thin, thickness, np.inf)))
    x, y, z = mesh.vertices[at]
    over = f"{area:.1f}" if area >= 0.05 else "less than 0.1"
    return to_act_on(
        f"Over {over} cm2 the pad is thinner than the {asked:g} mm asked, at least {thickness[at]:.1f} mm, at "
        f"{placed((x, y, z))} mm."
    )


_SLACK_MM = 0.05
"""A pad is told to a tenth of a mm."""
