"""How a laid-out pad stands under a load: walls where they are, solid where it is, material and print as known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.base.progress import drain
from padwright.core.stages.folds.layout import FoldLayout, FoldWishes, lay_out
from padwright.core.stages.load.fold_sway import pad_sway
from padwright.core.stages.load.load_case import ContactPatch
from padwright.core.stages.material.material_model import MaterialModel
from support.pad_shapes import box_pad

MODEL = MaterialModel(13200.0, 0.45)
SLOPE = 30.0


@pytest.fixture(scope="module")
def laid() -> FoldLayout:
    wishes = FoldWishes(width_mm=1.35, pitch_mm=6.0, body_skin_mm=1.2, base_skin_mm=1.2)
    return drain(lay_out(box_pad((150.0, 120.0, 22.4), step=4.0), wishes))


def pressed(layout: FoldLayout) -> ContactPatch:
    """Every core cell as a point of the body side."""
    cell = np.flatnonzero(layout.is_core)
    flat = np.column_stack([layout.centers(cell), layout.high_mm.flat[cell]])
    back = np.linalg.inv(layout.to_plane)
    count = len(cell)
    return ContactPatch(
        flat @ back[:3, :3].T + back[:3, 3], np.full(count, layout.step_mm**2), layout.height_mm.flat[cell],
        np.zeros(count, dtype=np.int32), -layout.to_plane[2, :3], np.zeros(count),
    )  # fmt: skip


def margin(layout: FoldLayout, model: MaterialModel = MODEL, kpa: float = 18.0, slope_deg: float = SLOPE) -> float:
    slope = np.where(layout.is_core, np.minimum(slope_deg, layout.slope_limit_deg), 0.0)
    patch = pressed(layout)
    return pad_sway(layout, slope, patch, np.full(len(patch.position), kpa), model).margin.value


def test_margin_goes_as_the_solid_and_against_the_load(laid: FoldLayout) -> None:
    """Walls and skin are of one solid."""
    one = margin(laid)
    assert margin(laid, MaterialModel(26400.0, 0.45)) == pytest.approx(2.0 * one, rel=1e-6)
    assert margin(laid, kpa=9.0) == pytest.approx(2.0 * one, rel=1e-6)


def test_without_its_frame_a_pad_slides_off(laid: FoldLayout) -> None:
    """Only rows stay: what holds across them is gone."""
    rows = tuple(wall for wall in laid.walls if wall.kind == "row")
    assert len(rows) < len(laid.walls)
    assert margin(replace(laid, walls=rows)) < 0.5 * margin(laid)


def test_low_and_high_hold_what_the_solid_and_the_print_may_be(laid: FoldLayout) -> None:
    patch = pressed(laid)
    slope = np.where(laid.is_core, np.minimum(SLOPE, laid.slope_limit_deg), 0.0)
    model = MaterialModel(13200.0, 0.45, covariance=np.diag([0.2**2, 0.0, 0.0, 0.0]))
    found = pad_sway(laid, slope, patch, np.full(len(patch.position), 18.0), model)
    assert found.margin.low < found.margin.value * np.exp(-1.64 * 0.2)  # the modulus alone
    assert found.margin.high > found.margin.value * np.exp(1.64 * 0.2)
    assert 0.0 < found.creep_mm < 5.0
    assert laid.is_core.flat[laid.index(place_of(laid, found.place_mm))[0]]


def place_of(layout: FoldLayout, flat: np.ndarray) -> np.ndarray:
    back = np.linalg.inv(layout.to_plane)
    return (np.array([[*flat, float(layout.high_mm[layout.is_core].mean())]]) @ back[:3, :3].T) + back[:3, 3]


def test_rings_everywhere_are_told_as_less_steady_than_a_sheet_on_springs(laid):
    rings = replace(laid, wishes=replace(laid.wishes, layout="rings"))
    assert margin(laid) / margin(rings) == pytest.approx(1.3)
