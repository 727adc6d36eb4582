"""The picture of a part cut open: the cut is where it must be, whole, in its color, and the same bytes each time."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.packing.cutaway import cut_plane, cutaway_png
from padwright.core.stages.packing.shading import encoded, mixed
from padwright.core.stages.packing.strokes import drawn, label
from support.packing import block

UP = np.array([0.0, 0.0, 1.0])
LONG, WIDE, HIGH, SKIN, WALL = 120.0, 60.0, 20.0, 2.0, 3.0


def decoded(picture: bytes) -> np.ndarray:
    """Return the pixels of a PNG, (h, w, 3)."""
    return np.asarray(Image.open(io.BytesIO(picture)))


def joined(*meshes: TriMesh) -> TriMesh:
    """Return meshes as one, each closed by itself."""
    start = np.cumsum([0] + [len(each.vertices) for each in meshes])
    faces = [each.faces + first for each, first in zip(meshes, start, strict=False)]
    return TriMesh(np.concatenate([each.vertices for each in meshes]), np.concatenate(faces))


@pytest.fixture(scope="module")
def pad() -> TriMesh:
    """Return a block with five square channels through its length across, upright walls between them."""
    room = (LONG - 6 * WALL) / 5
    channels = [
        block(
            (WALL + k * (room + WALL), 5, SKIN), (WALL + k * (room + WALL) + room, WIDE - 5, HIGH - SKIN), 4
        ).flipped()
        for k in range(5)
    ]
    return joined(block((0, 0, 0), (LONG, WIDE, HIGH), 12), *channels)


def is_red(pixels: np.ndarray) -> np.ndarray:
    """Say which pixels are red and nothing else, (h, w)."""
    return (pixels[:, :, 0] > 200) & (pixels[:, :, 1] < 12) & (pixels[:, :, 2] < 12)


def middle_plane(mesh: TriMesh):
    return cut_plane(mesh, UP, np.array([[30.0, 25.0, 5.0], [90.0, 25.0, 9.0]]))


def test_the_cut_face_has_its_area_and_lies_between_skins_and_walls(pad):
    pixels = decoded(cutaway_png(pad, middle_plane(pad), color="#FF0000", width=640))
    assert pixels.shape[1] == 640
    red = is_red(pixels)
    columns = np.flatnonzero(red.any(axis=0))
    scale = (columns.max() - columns.min() + 1) / LONG  # pixels a mm along the cut
    assert 4.0 < scale < 5.2  # the part fills the picture but for its margins
    walls = LONG * HIGH - 5 * (LONG - 6 * WALL) / 5 * (HIGH - 2 * SKIN)
    # Seen from 27 degrees above the cut is as long as it is and cos 27 as high; pixels at its edges are mixed.
    edge = 2 * (LONG + HIGH) + 5 * 2 * ((LONG - 6 * WALL) / 5 + HIGH - 2 * SKIN)
    assert red.sum() == pytest.approx(walls * scale**2 * np.cos(np.radians(27)), abs=edge * scale)
    # Along a row through the channels: six walls of 3 mm.
    rows = np.flatnonzero(red.any(axis=1))
    row = red[(rows.min() + rows.max()) // 2]
    runs = np.flatnonzero(np.diff(np.r_[0, row.astype(int), 0])).reshape(-1, 2)
    assert len(runs) == 6
    assert (runs[:, 1] - runs[:, 0]) / scale == pytest.approx(np.full(6, WALL), abs=2.0 / scale)


def test_a_solid_part_is_cut_without_a_crack():
    solid = block((0, 0, 0), (LONG, WIDE, HIGH), 40)
    red = is_red(decoded(cutaway_png(solid, middle_plane(solid), color="#FF0000", width=640)))
    rows, columns = np.flatnonzero(red.any(axis=1)), np.flatnonzero(red.any(axis=0))
    inner = red[rows.min() + 2 : rows.max() - 1, columns.min() + 2 : columns.max() - 1]
    assert inner.size > 10_000
    assert inner.all()


def test_the_same_part_gives_the_same_bytes_however_its_faces_are_ordered(pad):
    plane = middle_plane(pad)
    first = cutaway_png(pad, plane, width=320)
    assert first == cutaway_png(pad, plane, width=320)
    order = np.random.default_rng(0).permutation(len(pad.faces))
    other = decoded(cutaway_png(TriMesh(pad.vertices, pad.faces[order]), plane, width=320))
    differs = np.abs(other.astype(int) - decoded(first)).max(axis=2) > 2
    assert differs.mean() < 1e-3  # edges right on a pixel's middle go to either face


def test_places_have_their_own_colors_and_the_key_says_what_they_mean(pad):
    def color_at(places):
        assert np.abs(places[:, 1] - 25.0).max() < 1e-9  # all on the plane
        assert places[:, 0].min() > -1.0
        assert places[:, 0].max() < LONG + 1.0
        assert places[:, 2].min() > -1.0
        assert places[:, 2].max() < HIGH + 1.0
        return np.where((places[:, 0] < LONG / 2)[:, None], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0])

    plane = middle_plane(pad)
    pixels = decoded(
        cutaway_png(pad, plane, color_at=color_at, key=[("#00FF00", "5"), ("#FF00FF", "40 kPa")], width=640)
    )
    red, blue = is_red(pixels), is_red(pixels[:, :, ::-1])
    assert red.sum() > 2000
    assert blue.sum() > 2000
    left, right = np.flatnonzero(red.any(axis=0)), np.flatnonzero(blue.any(axis=0))
    assert left.max() < right.min() or right.max() < left.min()
    green = (pixels == [0, 255, 0]).all(axis=2)
    pink = (pixels == [255, 0, 255]).all(axis=2)
    assert green.sum() > 20
    assert pink.sum() > 20
    assert np.flatnonzero(green.any(axis=0)).max() < np.flatnonzero(pink.any(axis=0)).min()
    assert not green[: pixels.shape[0] * 3 // 4].any()  # below the part


def test_the_plane_goes_along_the_press_direction_through_the_places_and_the_greater_part_stays(pad):
    places = np.array([[30.0, 25.0, 5.0], [90.0, 25.0, 9.0]])
    plane = cut_plane(pad, UP, places)
    assert plane.normal == pytest.approx([0.0, -1.0, 0.0], abs=1e-12)  # 35 of 60 mm lie behind it
    assert (places - plane.point) @ plane.normal == pytest.approx([0.0, 0.0], abs=1e-9)
    one = cut_plane(pad, UP, places[:1])  # along the longer side
    assert one.normal == pytest.approx([0.0, -1.0, 0.0], abs=1e-6)
    assert one.point == pytest.approx(places[0])
    none = cut_plane(pad, UP, np.zeros((0, 3)))
    assert none.point == pytest.approx([LONG / 2, WIDE / 2, HIGH / 2])
    tilted = cut_plane(pad, np.array([0.1, 0.2, 1.0]), places)
    assert tilted.normal @ tilted.up == pytest.approx(0.0, abs=1e-12)


def test_what_lies_before_the_cut_is_not_seen():
    """A tower on the near half is taken away with it; on the far half it is seen."""
    base = block((0, 0, 0), (LONG, WIDE, HIGH), 8)
    heights = []
    for y in (2.0, 50.0):
        tower = joined(base, block((55, y, HIGH), (65, y + 8, HIGH + 40), 2))
        heights.append(decoded(cutaway_png(tower, middle_plane(base), width=320)).shape[0])
    assert heights[1] > heights[0] + 50  # the picture grows by the tower
    assert heights[0] == decoded(cutaway_png(base, middle_plane(base), width=320)).shape[0]


def test_levels_between_two_are_mixed_in_linear_light():
    assert encoded(mixed(np.array([1.5]), ("#000000", "#FFFFFF")))[0].tolist() == [188, 188, 188]


def test_a_label_is_as_wide_as_it_says_and_its_signs_stand_apart():
    pieces, width = label("20 mm", 40.0)
    assert pieces.reshape(-1, 2)[:, 0].max() == pytest.approx(width, abs=4.0)
    ink = drawn(pieces * [1.0, -1.0] + [10.0, 50.0], 4.0, int(width) + 20, 60)
    columns = ink.max(axis=0) > 0.5
    gaps = np.flatnonzero(np.diff(columns.astype(int)) == 1)
    assert len(gaps) == 4  # 2, 0, m, m
