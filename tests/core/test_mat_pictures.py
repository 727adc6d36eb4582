"""Pictures of a mat on the clay: which half is which, which side is which, and where the mat's own sides lie."""

from __future__ import annotations

import io
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.support.mats import csv_of, two_bumps

from padwright.core.base.mesh import TriMesh
from padwright.core.job.mat_table import Mat
from padwright.core.run.mat_pictures import base_sides, mat_pictures
from padwright.core.stages.mats.find_pose import FoundPose
from padwright.core.stages.mats.laid_mat import LaidMat
from padwright.core.stages.mats.mat_file import read_mat
from padwright.core.stages.mats.mat_pose import plane_of, rigid_map
from padwright.core.stages.report.pixel_text import stamp
from padwright.core.stages.scans.pictures import text_pixels

PRESS = np.array([0.0, 0.0, -1.0])
PLANE = plane_of(PRESS)


def part_with(turn_deg: float) -> Any:
    """Return a flat clay of 300 x 200 mm, longer along x, with a mat on it that lies turned by so much."""
    x, y = np.meshgrid(np.linspace(-150.0, 150.0, 61), np.linspace(-100.0, 100.0, 41))
    vertices = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    corner = np.arange(x.size).reshape(x.shape)
    one, two, three, four = (
        each.ravel() for each in (corner[:-1, :-1], corner[:-1, 1:], corner[1:, 1:], corner[1:, :-1])
    )
    mesh = TriMesh(vertices, np.concatenate([np.stack([one, two, three], 1), np.stack([one, three, four], 1)]))
    mat = read_mat(csv_of(two_bumps(10, 12)).encode(), "m.csv", Mat(file="m.csv", unit="kPa", pitch_mm=(10.0,)))
    cells = rigid_map(PLANE, (10.0, 10.0), np.radians(turn_deg), np.array([5.5, 4.5]), np.zeros(2), flipped=False)
    count = len(vertices)
    reading = SimpleNamespace(press_direction=PRESS, is_clay=np.ones(count, bool), imprint_depth=np.ones(count))
    laid = LaidMat(mat, cells, "outline", 1, (FoundPose(cells, 0.9),), 0.9, ())
    return SimpleNamespace(mat=laid, aligned=mesh, reading=reading, to_part=np.eye(4))


def places_of(text: str, image: np.ndarray) -> list[tuple[int, int]]:
    """Return where a text stands in a picture, (x, y) of its middle: its ink is black, what is around it is not."""
    ink = np.pad(text_pixels(text), 3)
    dark = (image == 0).all(axis=2)
    if ink.shape[0] > dark.shape[0] or ink.shape[1] > dark.shape[1]:
        return []
    seen = np.lib.stride_tricks.sliding_window_view(dark, ink.shape)
    rows, columns = np.nonzero((seen == ink).all(axis=(2, 3)))
    return [(int(x + ink.shape[1] // 2), int(y + ink.shape[0] // 2)) for y, x in zip(rows, columns, strict=True)]


@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 30.0])
def test_halves_and_sides_are_named_and_row_0_and_column_0_stand_where_the_mat_has_them(turn: float) -> None:
    part = part_with(turn)
    ((number, data),) = mat_pictures(part)
    image = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    width, half = image.shape[1], image.shape[1] // 2
    assert number == 1
    for title, at in (("Imprint in the clay", 0.25), ("Mat, pose 1", 0.75)):
        ((x, y),) = places_of(title, image)
        assert abs(x - at * width) < 8 and y < 26
    # Seen from the body, above, as the picture's longer side runs along x of the base: one end of each half has it.
    ends = [places_of(sign, image) for sign in ("+X", "-X", "+Y", "-Y")]
    assert [len(each) for each in ends] == [2, 2, 2, 2]
    (plus, minus), (top, bottom) = (ends[0][0], ends[1][0]), (ends[2][0], ends[3][0])
    assert abs(plus[0] - minus[0]) > 0.8 * half and abs(plus[1] - minus[1]) < 8
    assert abs(top[1] - bottom[1]) > 0.5 * half and abs(top[0] - bottom[0]) < 8
    # A right-handed base seen from +Z: from +X to +Y it is a quarter to the left.
    assert np.sign(plus[0] - minus[0]) == np.sign(bottom[1] - top[1])
    # Where the mat's edges truly lie, by the base's axes on the picture, here 300 mm between the ends less the margins.
    cells = part.mat.cells
    right = np.sign(plus[0] - minus[0])
    middle = np.array([0.75 * width, 0.5 * (top[1] + bottom[1])])
    for text, cell in (("row 0", (-0.5, 6.0)), ("column 0", (5.0, -0.5))):
        ((x, y),) = places_of(text, image)
        place = (cells.flat_of(np.array([cell])) @ PLANE)[0]
        mm = 0.94 * half / 300.0  # pixels a millimeter: 3 % of the width are left free on each side
        assert (x, y) == pytest.approx((middle[0] + right * mm * place[0], middle[1] - right * mm * place[1]), abs=10.0)


def test_sides_are_told_by_the_base_s_own_axes_and_about_where_they_lie_aslant() -> None:
    turned = np.eye(4)
    turned[:3, :3] = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])  # the base's x is the part's y
    part: Any = SimpleNamespace(to_part=turned)
    assert base_sides(part, np.eye(3)) == {"left": "-Z", "right": "+Z", "bottom": "-X", "top": "+X"}
    angle = np.radians(30.0)
    eye = np.array([[np.cos(angle), np.sin(angle), 0.0], [-np.sin(angle), np.cos(angle), 0.0], [0.0, 0.0, 1.0]])
    part = SimpleNamespace(to_part=np.eye(4))
    assert base_sides(part, eye) == {
        "left": "about -X", "right": "about +X", "bottom": "about -Y", "top": "about +Y",
    }  # fmt: skip


def test_a_caption_stays_within_its_picture_and_is_cut_where_it_is_too_long() -> None:
    ink = text_pixels("row 0")
    for middle in ((0.0, 0.0), (200.0, 60.0)):
        image = np.full((60, 200, 3), 100, dtype=np.uint8)
        stamp(image, "row 0", middle)
        assert (image == 0).all(axis=2).sum() == ink.sum()
    narrow = np.full((60, 20, 3), 100, dtype=np.uint8)
    stamp(narrow, "row 0", (10.0, 30.0))
    assert 0 < (narrow == 0).all(axis=2).sum() < ink.sum()
