"""The picture of a folded part in its folder: cut through the load centers, in the colors of what its walls reach."""

from __future__ import annotations

import io
import itertools

import numpy as np
import pytest
from PIL import Image
from tests.support.remembered import FOLDED, largest_leap, memory_of, reached, seat_job

from padwright.core.base.progress import Progress
from padwright.core.run.cutaway import part_cut, part_cutaway
from padwright.core.stages.packing.shading import encoded, linear
from padwright.core.stages.regions.bodies import mirrored

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def part(tmp_path_factory):
    """Return a small seat of folded walls, all stages done."""
    seen: list[Progress] = []
    found = reached(memory_of("seat"), seat_job(tmp_path_factory.mktemp("cut"), FOLDED), "shape", seen)
    assert largest_leap(seen) < 0.5
    return found


@pytest.fixture(scope="module")
def picture(part) -> np.ndarray:
    """Return its picture, (h, w, 3)."""
    data = part_cutaway(part)
    assert data is not None
    return np.asarray(Image.open(io.BytesIO(data))).astype(int)


def test_the_cut_goes_along_the_press_direction_through_all_load_centers(part):
    plane = part_cut(part)
    assert plane is not None
    assert plane.normal @ part.pad.press_direction == pytest.approx(0.0, abs=1e-9)
    assert plane.up @ part.pad.press_direction == pytest.approx(-1.0)
    centers = np.array([each.position_mm for each in part.reading.load_centers])
    assert len(centers) == 2
    # Through two places; they need not be equally far along the press direction.
    assert (centers - plane.point) @ plane.normal == pytest.approx([0.0, 0.0], abs=1e-6)


def test_its_colors_are_those_of_the_moduli_that_walls_reach(part, picture):
    """Every colored pixel lies on the course of the four levels' colors; nothing else in the picture is colored."""
    levels = part.family.levels
    light = np.stack([linear(level.display_color) for level in levels])
    steps = np.linspace(0, 1, 33)[:, None]
    course = [first + steps * (second - first) for first, second in itertools.pairwise(light)]
    shown = encoded(np.concatenate(course)).astype(int)
    above_key = picture[: int(0.9 * len(picture))]
    colored = above_key[np.ptp(above_key, axis=2) > 60]
    assert len(colored) > 500
    off = np.abs(colored[:, None, :] - shown[None]).max(axis=2).min(axis=1)
    # Pixels at an edge are mixed with what lies beside them; most are whole.
    assert np.median(off) <= 2
    reached = part.firmness.folded.field.reached_kpa
    firm = float((reached[reached > 0] > 0.95 * levels[-1].target_modulus_kpa).mean())
    red = np.abs(colored - encoded(light[-1:])[0].astype(int)).max(axis=1) < 12
    assert red.any() == (firm > 0.02)


def test_the_part_for_the_other_side_is_seen_in_the_mirror(part, picture):
    mirror = mirrored(part.regions.regions, part.pad.press_direction)
    other = np.asarray(Image.open(io.BytesIO(part_cutaway(part, mirror)))).astype(int)
    assert other.shape == picture.shape
    rows = int(0.85 * len(picture))  # above bar and key, which are not mirrored
    # The eye stands on the same side of both, so one is the other seen in a glass; the light comes from the left.
    is_colored, flipped = (np.ptp(each[:rows], axis=2) > 60 for each in (picture, other[:, ::-1]))
    assert is_colored.sum() > 500
    assert (is_colored != flipped).sum() < 0.06 * is_colored.sum()


def test_a_part_made_by_settings_has_no_such_picture(tmp_path):
    job = seat_job(tmp_path, FOLDED.replace("folds", "settings"))
    part = reached(memory_of("seat"), job, "pad")
    assert part_cut(part) is None
    assert part_cutaway(part) is None
