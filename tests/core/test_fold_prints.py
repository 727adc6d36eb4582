"""What once printed badly in a solid of folded walls: slivers, slits beside roofs, roofs too wide to bridge."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import ndimage
from scipy.spatial import cKDTree
from tests.support.pad_shapes import box_pad, height_pad
from tests.support.random_pads import random_pad

from padwright.core.base.mesh import Float, TriMesh
from padwright.core.base.progress import drain
from padwright.core.stages.folds.layout import FoldLayout, FoldWishes, lay_out
from padwright.core.stages.folds.level_lines import resampled
from padwright.core.stages.folds.standing import standing_lean_mm
from padwright.core.stages.shape.build import FoldedSolid, build_shape, wall_place
from padwright.core.stages.shape.layer_stack import stack_layers
from padwright.core.stages.shape.ring_roofs import roofed_between_rings
from padwright.core.stages.shape.slice_report import SliceLimits, SliceReport
from padwright.core.stages.shape.slices import check_slices
from padwright.core.stages.shape.spaces import FINE_MM, spaces_between
from padwright.core.stages.shape.wall_widths import WidthFinder, least_width
from padwright.core.stages.shape.walls import strip_mesh, wall_sheet

LAYER, BEAD = 0.2, 0.45
NARROW = FoldWishes(width_mm=0.45, pitch_mm=3.0, body_skin_mm=1.0, base_skin_mm=1.0)
TWO_BEADS = replace(NARROW, width_mm=0.9, pitch_mm=5.65)


def laid(pad: Any, wishes: FoldWishes) -> FoldLayout:
    return drain(lay_out(pad, wishes))


def looked_at(layout: FoldLayout, solid: FoldedSolid) -> SliceReport:
    mesh = on_bed(solid.mesh.transformed(layout.to_plane))
    wishes = layout.wishes
    limits = SliceLimits(wishes.most_slope_deg, wishes.longest_bridge_mm, skin_mm=wishes.base_skin_mm)
    return drain(check_slices(mesh, layer_mm=LAYER, bead_mm=BEAD, limits=limits))


def printed(pad: Any, wishes: FoldWishes, slope: float = 30.0) -> SliceReport:
    layout = laid(pad, wishes)
    return looked_at(layout, drain(build_shape(pad, layout, np.full(layout.height_mm.shape, slope))))


def on_bed(mesh: TriMesh) -> TriMesh:
    return TriMesh(mesh.vertices - [0.0, 0.0, mesh.bounds[0, 2]], mesh.faces)


def narrowest(mesh: TriMesh) -> float:
    finder = WidthFinder(mesh, LAYER)
    drain(stack_layers(mesh, LAYER, finder.take))
    found = least_width(finder.found(), LAYER)
    assert found is not None
    return found.value


@pytest.mark.parametrize("width", [0.45, 0.9])
def test_a_wall_whose_lean_changes_fast_is_as_wide_as_asked(width: float) -> None:
    layout = laid(box_pad((80.0, 70.0, 20.0)), NARROW)
    place = wall_place(layout, np.zeros(layout.height_mm.shape))
    y = np.arange(-25.0, 25.1, 1.5)
    line = np.stack([0.0 * y, y], axis=1)
    lean = np.stack([np.clip(0.5 * (y + 12.0), 0.0, 6.0) - np.clip(0.5 * (y - 5.0), 0.0, 6.0), 0.0 * y], axis=1)
    sheet = wall_sheet(place, (line, line, line), lean, width, 1)
    # Both sides' triangles cut one way: the sides stay parallel, or the wall would be a third of a millimeter thinner.
    assert narrowest(on_bed(strip_mesh(sheet, width))) > width - 0.005


def test_the_outermost_wall_leans_as_far_as_the_next_cell_of_the_core() -> None:
    # A single bead along the border stands nearer to it than a cell of the raster.
    layout = laid(box_pad((80.0, 70.0, 20.0)), NARROW)
    wished = np.full(layout.height_mm.shape, 30.0)
    lean = standing_lean_mm(layout, wished)
    place = wall_place(layout, wished)
    rings = [wall.points for wall in layout.walls if wall.kind == "ring"]
    points = max(rings, key=lambda each: float(np.ptp(each[:, 0])))
    cell = np.stack(layout.columns.nearest(points), axis=1)
    least = np.array([_least_near(lean, layout.is_core, i, j) for i, j in cell])
    assert (place.columns.sample(place.lean_mm, points) >= least - 1e-9).all()


def _least_near(lean: Float, is_core: Any, i: int, j: int) -> float:
    """Return the least lean within a cell, of those where walls may stand."""
    near = (slice(i - 1, i + 2), slice(j - 1, j + 2))
    return float(lean[near][is_core[near]].min())


def test_a_single_bead_at_the_rim_is_a_whole_bead() -> None:
    # The side's cut must not take half of it.
    assert printed(box_pad((60.0, 45.0, 12.0)), NARROW).errors == ()


def test_an_opening_leaves_no_sliver_of_a_row_that_stands_against_the_ring() -> None:
    # The outermost rows of this pad stand .4 mm from the line of the ring.
    assert printed(box_pad((60.0, 45.0, 14.0)), TWO_BEADS).errors == ()


@pytest.mark.parametrize("seed", [6, 37])
def test_no_place_between_walls_is_wider_than_a_roof_may_span(seed: int) -> None:
    # Rings end before what is solid, and rows and a corner leave a place there without a wall.
    layout = laid(random_pad(seed).pad, TWO_BEADS)
    columns, step = layout.columns, 0.25
    shape = tuple(np.ceil(np.array(columns.low_mm.shape) * columns.step_mm / step).astype(int))
    x, y = (columns.origin[axis] + step * np.arange(shape[axis]) for axis in (0, 1))
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    free = (columns.sample(columns.is_solid.astype(float), points) < 0.5).reshape(shape)
    core = (columns.sample(columns.is_core.astype(float), points) > 0.5).reshape(shape)
    for wall in layout.walls:
        free[tuple(np.rint((resampled(wall.points, 0.1) - columns.origin) / step).astype(int).T)] = False
    # The largest circle without a wall in it, less half a wall on either side.
    widest = 2.0 * step * ndimage.distance_transform_edt(free)[core].max() - layout.width_mm
    # A fifth over the longest bridge is an error; a circle is narrower than the span it lies in.
    assert widest < 1.2 * layout.wishes.longest_bridge_mm


def test_a_roof_steps_over_the_wall_not_beside_it() -> None:
    # A body side that falls across the rings: beside them the roof is a millimeter higher than between them.
    pad = height_pad(
        lambda x, y: 18.0 + 0.25 * y,
        lambda x, y: 0.0 * x,
        lambda x, y: 32.0 - (np.abs(x) ** 3 + np.abs(y) ** 3) ** (1.0 / 3.0),
        (32.0, 32.0),
        (0.0, 28.0),
    )
    layout = laid(pad, TWO_BEADS)
    roof = wall_place(layout, np.zeros(layout.height_mm.shape)).roof
    jump = np.argwhere(np.abs(np.diff(roof.height_mm, axis=1)) > 0.6)
    ends = [layout.origin + np.array(roof.step_mm) * (jump + np.array([0.0, end])) for end in (0.0, 1.0)]
    lines = cKDTree(np.concatenate([resampled(wall.points, 0.1) for wall in layout.walls]))
    inside = layout.columns.sample(layout.border.distance_mm, ends[0]) > 1.0
    assert inside.sum() > 20
    # The slanted face from one level to the other sticks out by less than a bead, where it is held.
    farthest = np.maximum(*(lines.query(each[inside])[0] for each in ends))
    assert farthest.max() < 0.5 * layout.width_mm + BEAD


@pytest.mark.parametrize("seed", [37, 52])
def test_the_roof_between_two_rings_ends_where_one_of_them_does(seed: int) -> None:
    # Before what is solid the inner ring ends earlier: a lower roof beyond its end would hang from the outer one alone.
    layout = laid(random_pad(seed).pad, TWO_BEADS)
    spaces = spaces_between(layout.columns, [wall.points for wall in layout.walls], layout.width_mm)
    low = np.zeros(spaces.label.shape)
    _, is_between = roofed_between_rings(layout, low, low, spaces.label > 0)
    depth = layout.columns.sample(layout.border.distance_mm, layout.origin + FINE_MM * np.argwhere(is_between))
    cells = layout.origin + FINE_MM * np.argwhere(is_between)[depth > 0.0]
    rings = [wall.points for wall in layout.walls if wall.kind == "ring"]
    for line in (0.0, 1.0):
        stands = [
            resampled(ring, 0.5)
            for ring in rings
            if abs(np.median(layout.columns.sample(layout.border.distance_mm, ring)) - 0.45 - line * 5.65) < 1.0
        ]
        # Across a corner it is farther than a pitch, by the root of two at most where the corner is square.
        assert cKDTree(np.concatenate(stands)).query(cells)[0].max() < 1.5 * layout.pitch_mm


def test_a_roof_too_wide_along_the_rows_is_level_up_to_the_wall_that_holds_its_edge() -> None:
    # Between the outer ring, a short wall across at y = -10.4 and the inner ring's end at (-59.4, -6.1) it is 8 mm from
    # the ring to the next row: an edge half way up would hang over all of it.
    layout = laid(random_pad(6).pad, TWO_BEADS)
    roof = wall_place(layout, np.zeros(layout.height_mm.shape)).roof
    inside, end = (
        tuple(np.rint((np.array(place) - layout.origin) / roof.step_mm).astype(int))
        for place in ((-61.5, -8.5), (-59.4, -6.4))
    )
    i, j = np.meshgrid(np.arange(-8, 9), np.arange(-1, 2), indexing="ij")
    assert np.ptp(roof.height_mm[inside[0] + i, inside[1] + j]) < 1e-6
    assert roof.height_mm[end] < roof.height_mm[inside] + 1e-6  # upon the end of the wall


def test_a_roof_that_is_all_but_level_ends_square_to_its_gap_in_a_layer() -> None:
    # It rises by a tenth over the pad and passes the middle of a layer on the way: moved by .02 mm to save triangles it
    # would leave a slit along the walls there, a bridge of 6.75 mm.
    pad = height_pad(
        lambda x, y: 12.15 + 0.004 * y + 0.0002 * x * y,
        lambda x, y: 0.0 * x,
        lambda x, y: np.minimum(26.0 - np.abs(x), 30.0 - np.abs(y)),
        (26.0, 30.0),
        (0.0, 14.0),
    )
    assert printed(pad, TWO_BEADS).errors == ()


def test_rings_that_lean_into_their_corners_do_not_cross_themselves() -> None:
    # A side that runs back leaves films of a few hundredths of a millimeter; the tips of the ridge get short walls.
    assert (
        printed(box_pad((70.0, 55.0, 20.0)), replace(NARROW, width_mm=1.35, pitch_mm=5.8, layout="rings")).errors == ()
    )
