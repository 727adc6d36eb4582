"""What walls even out along their run: a layer of columns that are tied to their neighbors."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load.contact import check_load, press_load
from padwright.core.stages.load.curve_table import CurveTable
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.load.run_layer import RunLayer
from padwright.core.stages.material.curves import StressCurve
from padwright.core.stages.material.folds.law import run_tie_kpa_mm, shear_kpa
from padwright.core.stages.material.folds.walls import Walls

STEP, HEIGHT, KPA = 2.0, 20.0, 100.0


def linear(kpa: float) -> StressCurve:
    return StressCurve(np.array([0.0, 0.9]), np.array([0.0, 0.9 * kpa]), 0.9, 0.0)


def layer(
    size: tuple[int, int], tie: tuple[float, float], kind=lambda x, y: 0 * x, covered=lambda x, y: x == x
) -> tuple[ContactPatch, RunLayer]:
    """A flat pad of cells, walls along y; `tie` is S across and along; a point of the patch at each covered node."""
    nx, ny = size
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij"))
    wide = ny + 1
    corners = np.stack([i * wide + j, (i + 1) * wide + j, (i + 1) * wide + j + 1, i * wide + j + 1], axis=1)
    grid = np.stack(np.meshgrid(np.arange(nx + 1), np.arange(ny + 1), indexing="ij"), axis=-1).reshape(-1, 2)
    at = STEP * (grid - np.array([nx, ny]) / 2.0)
    area = np.bincount(corners.ravel(), minlength=len(at)) * STEP**2 / 4.0
    ties = np.zeros((3, len(corners)))
    ties[0], ties[2] = tie
    kinds, under = kind(*at.T).astype(np.int64), covered(*at.T)
    runs = RunLayer(STEP, corners, ties, at, area, np.full(len(at), HEIGHT), kinds, np.ones(len(at)), under, at[under])
    count = int(under.sum())
    patch = ContactPatch(
        np.column_stack([at[under], np.zeros(count)]), area[under], np.full(count, HEIGHT), kinds[under],
        np.array([0.0, 0.0, -1.0]), runs=runs,
    )  # fmt: skip
    return patch, runs


def unaided(patch: ContactPatch) -> ContactPatch:
    """The same columns, nothing around them."""
    return replace(patch, runs=None, evened=np.ones(len(patch.position)))


def test_walls_shear_as_one_plate_of_their_unfolded_height() -> None:
    """By hand: G t c/p times H/4, whatever the number of folds."""
    for folds in (1, 2):
        walls = Walls(20.0, 1.35, 6.0, 30.0, folds)
        shear = 13200.0 / 2.9
        thick = 1.35 * np.cos(np.radians(30.0))
        by_hand = shear * thick * np.cos(np.radians(30.0)) / 6.0 * 20.0 / 4.0
        assert run_tie_kpa_mm(walls, 13200.0, 0.45) == pytest.approx([by_hand])
        assert shear_kpa(walls, 13200.0, 0.45)[1] * 5.0 == pytest.approx([by_hand])


@pytest.mark.parametrize("flesh", [None, flesh_layer(20.0, 30.0, 5.0)])
def test_where_all_is_alike_nothing_is_evened(flesh) -> None:
    patch, _ = layer((20, 30), (0.0, 20000.0))
    case = LoadCase(force_n=20.0, tilt="held", flesh=flesh)
    run, evened = press_load(case, patch, [linear(KPA)])
    np.testing.assert_allclose(evened, 1.0, atol=1e-4)  # a stone comes into the pad by a 300th
    alone, _ = press_load(case, unaided(patch), [linear(KPA)])
    np.testing.assert_allclose(run.pressure, alone.pressure, rtol=1e-4)


def test_a_place_dies_out_along_the_run_by_the_root_of_tie_over_bed() -> None:
    """A strip is pressed in by a stone; beside it e = e0 exp(-y / sqrt(S H / M)), so S/d is borne beside its ends."""
    tie = 2000.0
    decay = np.sqrt(tie * HEIGHT / KPA)  # 20 mm
    half, width = 10.0, 8.0
    patch, runs = layer((4, 160), (0.0, tie), covered=lambda x, y: np.abs(y) <= half + 1e-9)
    pads, ratio = CurveTable.of([linear(KPA)]), np.ones(1)
    deep = 0.1  # mm: strains of half a percent, so that ties are as they are unpressed
    sunk = np.full(len(patch.position), deep)
    gives = runs._gives(pads, ratio, np.where(runs.is_covered, deep, -1.0), np.zeros(len(runs.area_mm2)), None)
    beside = runs.node_mm[:, 1] > half
    edge = gives[np.isclose(np.abs(runs.node_mm[:, 1]), half)]
    assert edge == pytest.approx(deep, rel=0.03)  # the pad's edge is what comes furthest into a stone
    told = edge.mean() * np.exp(-(runs.node_mm[beside, 1] - half) / decay)
    np.testing.assert_allclose(gives[beside], told, atol=0.005 * deep)  # linear elements, a tenth of the decay long
    factor = runs.factors(pads, ratio, sunk, sunk / HEIGHT, None)
    # Below the stone M/H, and beside each end S/d for its width; half a node's ground at either end counts twice.
    area = runs.area_mm2[runs.is_covered]
    by_hand = KPA / HEIGHT * (area.sum() - width * STEP) + 2.0 * width * tie / decay
    assert float((factor * area).sum()) * KPA / HEIGHT == pytest.approx(by_hand, rel=0.02)


def test_forces_sum_to_the_load_and_a_soft_place_gives_less_than_alone() -> None:
    def kind(x, y):
        return (np.abs(y) < 10.0).astype(int)

    curves = [linear(4.0 * KPA), linear(KPA)]
    patch, _ = layer((20, 40), (0.0, 20000.0), kind)
    case = LoadCase(force_n=40.0, flesh=flesh_layer(20.0, 30.0, 5.0))
    tied = check_load(case, patch, curves, zone_names=("firm", "soft"))
    alone = check_load(case, unaided(patch), curves, zone_names=("firm", "soft"))
    assert tied.pressure_kpa @ patch.area_mm2 == pytest.approx(40_000.0, rel=1e-6)
    soft = 1
    assert tied.zones[soft].mean_sinkage_mm.value < 0.8 * alone.zones[soft].mean_sinkage_mm.value
    assert tied.zones[0].mean_sinkage_mm.value > alone.zones[0].mean_sinkage_mm.value
    # Across the walls nothing is tied: a zone as long as they are is left as it is.
    along, _ = layer((20, 40), (0.0, 20000.0), lambda x, y: (np.abs(x) < 10.0).astype(int))
    same = check_load(case, along, curves)
    bare = check_load(case, unaided(along), curves)
    assert same.zones[1].mean_sinkage_mm.value == pytest.approx(bare.zones[1].mean_sinkage_mm.value, rel=0.01)


def test_low_and_high_hold_half_and_one_and_a_half_of_what_is_evened() -> None:
    patch, _ = layer((20, 40), (0.0, 20000.0), lambda x, y: (np.abs(y) < 10.0).astype(int))
    case = LoadCase(force_n=40.0, flesh=flesh_layer(20.0, 30.0, 5.0))
    curves = [linear(4.0 * KPA), linear(KPA)]
    told = check_load(case, patch, curves).zones[1].mean_sinkage_mm
    assert told.low < 0.97 * told.value and told.high > 1.03 * told.value
    _, evened = press_load(case, patch, curves)
    for power in (0.5, 1.5):
        held = replace(patch, runs=None, evened=evened**power)
        value = check_load(case, held, curves).zones[1].mean_sinkage_mm.value
        assert told.low * 0.999 <= value <= told.high * 1.001


def test_few_points_see_the_same_layer() -> None:
    patch, runs = layer((20, 40), (0.0, 20000.0), lambda x, y: (np.abs(y) < 10.0).astype(int))
    case = LoadCase(force_n=40.0, flesh=flesh_layer(20.0, 30.0, 5.0))
    curves = [linear(4.0 * KPA), linear(KPA)]
    some = np.arange(0, len(patch.position), 3)
    few = ContactPatch(
        patch.position[some], 3.0 * patch.area_mm2[some], patch.thickness_mm[some], patch.zone[some],
        patch.press_direction, runs=runs.part(some),
    )  # fmt: skip
    whole, part = (press_load(case, each, curves)[1] for each in (patch, few))
    np.testing.assert_allclose(part, whole[some], rtol=0.05)
