"""The length of pad under a place, held against formulas: ridges between toes, rims, grooves, folds, grips."""

from __future__ import annotations

import numpy as np
import pytest
from tests.support.pad_shapes import DOWN, ShapedPad, _meshed, box_pad, height_pad, seat_pad, sleeve_pad

from padwright.core.base.mesh import TriMesh
from padwright.core.geometry.crossings import crossings
from padwright.core.geometry.frames import rotations_from_vectors
from padwright.core.geometry.pad_length import PadLength, pad_length
from padwright.core.stages.material.region_size import region_size


def length_of(pad: ShapedPad) -> PadLength:
    return pad_length(pad.mesh, pad.side, pad.press_direction)


def toes(steepness: float) -> ShapedPad:
    """Return a pad 8 mm thick with ridges 16 mm higher, their walls so steep (tangent), as clay stands between toes."""

    def top(x, y):
        wave = np.abs(np.mod(x, 24.0) - 12.0)  # 0 on a ridge, 12 in the middle of a toe
        return 8.0 + np.clip(steepness * (5.0 - wave), 0.0, 16.0)

    def inside(x, y):
        return np.minimum(48.0 - np.abs(x), 25.0 - np.abs(y))

    return height_pad(top, lambda x, y: 0 * x, inside, (48.0, 25.0), (0.0, 24.0), step=1.0)


def inner(pad: ShapedPad, margin: float) -> np.ndarray:
    return (np.abs(pad.mesh.vertices[:, 0]) < 48.0 - margin) & (np.abs(pad.mesh.vertices[:, 1]) < 25.0 - margin)


@pytest.mark.parametrize("steepness", [2.0, 6.0, 30.0])
def test_between_toes_the_length_is_the_height_over_the_base(steepness):
    pad = toes(steepness)
    found = length_of(pad)
    where = (pad.side == 1) & inner(pad, 3.0)
    height = pad.mesh.vertices[where, 2]
    # The base is flat to what the mesh of a 1 mm grid leaves of it.
    assert np.abs(found.length_mm[where] - height).max() < 0.05
    assert found.length_mm[where].min() > 7.9
    assert found.is_through[where].mean() > 0.99


def test_no_place_is_longer_than_the_pad_is_and_none_that_bears_is_a_sliver():
    for pad, least in ((toes(30.0), 8.0), (box_pad(), 12.0), (seat_pad(), 8.0)):
        found = length_of(pad)
        assert found.length_mm.max() <= np.ptp(pad.mesh.vertices[:, 2]) + 1e-9
        # Under the rounding of the rim, 1.5 mm above and below, a bit less than the least thickness stands.
        assert found.length_mm[found.is_through].min() > least - 3.0


def test_on_the_wall_of_the_rim_the_length_is_the_height_over_the_base():
    pad = box_pad()
    found = length_of(pad)
    x, y, z = pad.mesh.vertices.T
    wall = (np.abs(np.abs(x) - 40.0) < 0.1) & (np.abs(y) < 20.0) & (z > 2.0) & (z < 10.0)
    assert wall.sum() > 50
    assert not found.is_through[wall & (z < 9.0)].any()
    assert np.abs(found.length_mm - z)[wall].max() < 1.6  # the base's edge is rounded by 1.5 mm


def folded() -> ShapedPad:
    """Return a pad whose steep step leans over: its upper half hangs 2 mm out over the lower."""

    def field(x, y, z):
        edge = np.clip((z - 6.0) / 4.0, -0.5, 0.5) * 4.0  # leans out as it rises
        step = np.maximum(z - 18.0, x - edge)
        body = np.minimum(z - 6.0, step)
        return np.maximum(np.maximum(body, -z), np.maximum(np.abs(x) - 30.0, np.abs(y) - 20.0))

    mesh, _ = _meshed((-30.0, -20.0, 0.0), (30.0, 20.0, 18.0), 1.0, field, DOWN)
    x, y, z = mesh.vertices.T
    side = np.where(z < 0.3, 2, 1)
    side[(np.abs(x) > 29.5) | (np.abs(y) > 19.5)] = 0
    return ShapedPad(mesh, side.astype(np.int8), DOWN)


def test_air_below_a_lip_is_not_pad_and_does_not_end_a_column():
    pad = folded()
    found = length_of(pad)
    x, y, z = pad.mesh.vertices.T
    lip = (z > 17.9) & (x > 0.3) & (x < 1.5) & (np.abs(y) < 15.0)
    assert lip.sum() > 10
    # Over the lip 18 mm less the air between the step and the leaning wall: x mm of height for x mm of lip.
    gap = np.clip(x[lip] + 2.0, 0.0, 4.0) - 2.0
    assert np.abs(found.length_mm[lip] - (18.0 - gap)).max() < 1.0
    deep = (z > 17.9) & (x < -3.0) & (x > -27.0) & (np.abs(y) < 15.0)
    assert np.abs(found.length_mm[deep] - 18.0).max() < 0.05


@pytest.mark.parametrize("width", [2.0, 6.0])
def test_in_a_groove_the_length_is_what_the_groove_leaves(width):
    pad = height_pad(
        lambda x, y: 12.0 - 6.0 * (np.abs(x) < width / 2) + 0 * y,
        lambda x, y: 0 * x,
        lambda x, y: np.minimum(30.0 - np.abs(x), 20.0 - np.abs(y)),
        (30.0, 20.0),
        (0.0, 12.0),
        step=0.7,
    )
    found = length_of(pad)
    where = (pad.side == 1) & (np.abs(pad.mesh.vertices[:, 0]) < 26) & (np.abs(pad.mesh.vertices[:, 1]) < 16)
    assert np.abs(found.length_mm - pad.mesh.vertices[:, 2])[where].max() < 0.05
    assert 5.5 < found.length_mm[where].min() < 6.5


def test_a_grip_has_its_wall_and_its_ends_have_no_column():
    pad = sleeve_pad()
    found = length_of(pad)
    x, y, z = pad.mesh.vertices.T
    middle = (pad.side == 1) & (np.abs(z) < 26.0)
    # The mesh of a 1.2 mm grid cuts corners of a circle of 12 mm by 1.2^2 / (8 x 12) mm and is evened on top.
    assert np.abs(found.length_mm[middle] - (np.hypot(x, y)[middle] - 12.0)).max() < 0.06
    assert found.is_through[middle].all()
    every = np.ones(len(pad.side), dtype=np.int8)
    every[pad.side == 2] = 2  # as where an envelope of one's own counts as body side all around
    whole = pad_length(pad.mesh, every, None)
    end = (np.abs(z) > 29.8) & (np.hypot(x, y) < 15.0)
    assert end.sum() > 20
    assert not whole.is_through[end].any()
    assert whole.length_mm[whole.is_through].min() > 1.0


def test_turning_the_pad_changes_nothing():
    pad = toes(6.0)
    matrix = np.eye(4)
    matrix[:3, :3] = rotations_from_vectors(np.array([[0.5, 0.9, -0.2]]))[0]
    matrix[:3, 3] = (300.0, -40.0, 7.0)
    turned = pad.moved(matrix)
    before, after = length_of(pad), length_of(turned)
    # Across, places are rounded to 4e-6 mm; on walls of 88 degrees that is 29 times as much of height.
    assert np.abs(before.length_mm - after.length_mm).max() < 2e-4


def test_the_fill_sees_the_same_length_as_the_map():
    for pad in (toes(2.0), seat_pad(), sleeve_pad()):
        found = length_of(pad)
        facing = (
            -pad.mesh.face_normals @ pad.press_direction
            if pad.press_direction is not None
            else (pad.side[pad.mesh.faces] == 1).all(axis=1).astype(float)
        )
        weight = np.where(found.is_through[pad.mesh.faces].all(axis=1), np.maximum(facing, 0.0), 0.0)
        weight = weight * pad.mesh.face_areas
        mean = weight @ found.length_mm[pad.mesh.faces].mean(axis=1) / weight.sum()
        size = region_size(pad.mesh, pad.press_direction, pad)
        # The fill counts the rounded rim, a few percent of the area, with the thickness that is left of it; in a
        # curved wall the body side is larger than the base side, and the mean weighs the thicker places more.
        assert size.thickness_mm == pytest.approx(mean, rel=0.06)


def test_lines_go_in_as_often_as_they_come_out_also_through_edges_and_corners():
    pad = box_pad((20.0, 20.0, 6.0), 2.0)
    corner = pad.mesh.vertices
    middle = 0.5 * (corner[pad.mesh.edges[:, 0]] + corner[pad.mesh.edges[:, 1]])
    for places in (corner, middle, pad.mesh.triangles.mean(axis=1)):
        met = crossings(pad.mesh, places, DOWN)
        assert not np.bincount(met.line, np.where(met.is_out, 1.0, -1.0), len(places)).any()
        facing = pad.mesh.face_normals[met.face] @ DOWN
        assert np.array_equal(met.is_out, facing > 0.0) or np.abs(facing[met.is_out != (facing > 0.0)]).max() < 1e-9
        assert (np.diff(met.along)[np.diff(met.line) == 0] >= 0.0).all()


def test_crossings_are_those_of_the_formula():
    tetra = TriMesh(
        np.array([[0.0, 0, 0], [4, 0, 0], [0, 4, 0], [0, 0, 4]]), np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])
    )
    met = crossings(tetra, np.array([[1.0, 1.0, 9.0], [3.0, 3.0, 0.0]]), np.array([0.0, 0.0, 2.0]))
    assert met.line.tolist() == [0, 0]
    assert met.along == pytest.approx([0.0, 2.0])
