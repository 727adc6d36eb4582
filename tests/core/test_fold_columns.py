"""Folded walls in the load check: what is wished, what is reached, and columns that stand for them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.support.cases import make_case
from tests.support.remembered import memory_of, reached
from tests.support.writers import write_job

from padwright.core.stages.load import fold_columns as columns_of
from padwright.core.stages.load.contact import LoadResult, check_load
from padwright.core.stages.load.firmness import Firmness, Folded
from padwright.core.stages.load.fold_columns import FoldColumns, breathing_bands, fold_columns
from padwright.core.stages.load.fold_field import walls_at
from padwright.core.stages.load.load_case import LoadCase
from padwright.core.stages.load.pad_nodes import PadNodes
from padwright.core.stages.material.material_model import model_from_card

EXTRA = """
[fill]
kind = "folds"
[load]
body_mass_kg = 72
share = 0.6
"""


@pytest.fixture(scope="module")
def firmness(tmp_path_factory) -> Firmness:
    job = write_job(make_case("seat", triangles=20_000), tmp_path_factory.mktemp("walls"), extra=EXTRA)
    return reached(memory_of("seat"), job, "load").of(Firmness)


@pytest.fixture(scope="module")
def walls(firmness) -> Folded:
    assert firmness.folded is not None
    return firmness.folded


def pressed(case: LoadCase, columns: FoldColumns) -> LoadResult:
    curves = [band.value for band in columns.bands]
    return check_load(case, columns.patch, curves, zone_of=columns.zone_of)


def test_walls_reach_the_wish_wherever_they_may_lean_for_it(walls):
    core, field = walls.layout.is_core, walls.field
    # Where slopes had to be steadied from cell to cell walls lean less than they may, and are firmer.
    assert (field.reached_kpa[core] > 0.98 * field.wished_kpa[core]).mean() > 0.9
    may = core & (field.slope_deg > 0.5) & (field.slope_deg < walls.layout.slope_limit_deg - 0.5)
    assert may.sum() > 0.5 * core.sum()
    # Slopes are found to two parts in ten thousand of the stiffness; where they had to be steadied they are firmer.
    ratio = field.reached_kpa[may] / field.wished_kpa[may]
    assert (np.abs(ratio - 1.0) < 1e-3).mean() > 0.8 and (ratio > 0.999).all()
    # Elsewhere they lean as far as they may and are too firm still, or stand upright and are too soft.
    at_most = core & (field.slope_deg >= walls.layout.slope_limit_deg - 1e-6)
    assert (field.reached_kpa[at_most] >= 0.999 * field.wished_kpa[at_most]).all()


def test_no_wish_has_a_border(walls):
    wish = np.log(np.where(walls.layout.is_core, walls.field.wished_kpa, np.nan))
    step = walls.layout.step_mm
    steepest = max(np.nanmax(np.abs(np.diff(wish, axis=axis))) / step for axis in (0, 1))
    levels = np.log([1.0, 2.5])  # of the widest two neighbors: 45 beside 100 kPa
    # A step seen through a bell of a third of the blend's 12 mm is at most its height over sqrt(2 pi) deviations.
    assert 0.0 < steepest < 1.1 * np.ptp(levels) / (np.sqrt(2.0 * np.pi) * 12.0 / 3.0)


@pytest.mark.slow
def test_more_kinds_of_columns_change_nothing_that_is_told(firmness, walls, monkeypatch):
    case, result = firmness.loads[0]
    assert len(walls.columns.bands) <= 60
    monkeypatch.setattr(columns_of, "_MOST_KINDS", 1500)
    monkeypatch.setattr(columns_of, "_FIRST_STEP", 0.02)
    at = {number: each.curve.at for number, each in firmness.chosen.items()}
    solid = {number: each.curve for number, each in firmness.chosen.items()}  # nothing of this pad is solid
    nodes = PadNodes.of(walls.layout, walls.shares, firmness.patch)
    fine = fold_columns(firmness.patch, nodes, walls.field, solid, model_from_card(firmness.card), at)
    assert len(fine.bands) > 3 * len(walls.columns.bands)
    found = pressed(case, fine)
    # Of bounds a factor of ten apart.
    assert found.mean_sinkage_mm.value == pytest.approx(result.mean_sinkage_mm.value, rel=0.03)
    assert found.peak_pressure_kpa.value == pytest.approx(result.peak_pressure_kpa.value, rel=0.02)


def test_columns_are_as_long_as_the_core_is_high(firmness, walls):
    cell = walls.layout.index(firmness.patch.position)
    core = walls.layout.is_core.flat[cell]
    length = walls.columns.patch.thickness_mm
    np.testing.assert_allclose(length[core], walls.layout.height_mm.flat[cell[core]])
    # What is left is the skins, along the press direction; thicker where the pad slants and where a roof is level.
    skins = walls.layout.body_skin_mm + walls.layout.base_skin_mm
    left = (firmness.patch.thickness_mm - length)[core]
    assert np.percentile(left, 5.0) > skins - 0.2 and np.median(left) < skins + 0.5 * walls.layout.pitch_mm


def test_nothing_bears_beside_the_outermost_walls(firmness, walls):
    cell = walls.layout.index(firmness.patch.position)
    free = ~(walls.layout.is_core | walls.layout.is_solid).flat[cell]
    assert (walls.columns.patch.area_mm2[free] == 0.0).all()


def test_a_zone_of_one_kind_is_as_a_zone_without_kinds(firmness, walls):
    patch = replace(walls.columns.patch, zone=np.zeros(len(firmness.patch.zone), dtype=np.int32), runs=None)
    curve = walls.columns.bands[0].value
    case = firmness.loads[0][0]
    plain = check_load(case, patch, [curve])
    kinds = check_load(case, replace(patch, zone=np.arange(len(patch.zone)) % 2), [curve, curve], zone_of=[0, 0])
    assert kinds.sinkage_mm.value == pytest.approx(plain.sinkage_mm.value, rel=1e-6)
    assert len(kinds.zones) == 1 and kinds.zones[0].share.value == pytest.approx(1.0)


def test_sealed_air_is_a_spring_beside_the_walls(firmness, walls):
    layout = replace(walls.layout, wishes=replace(walls.layout.wishes, voids="sealed"))
    model = model_from_card(firmness.card)
    cell = np.flatnonzero(walls.layout.is_core)[:1]
    some = walls_at(walls.layout, cell, walls.field.slope_deg.flat[cell])
    open_, shut = (breathing_bands(each, some, model, 0.2)[0] for each in (walls.layout, layout))
    strain, room = np.array([0.1, 0.2, 0.3]), 1.0 - float(some.array("width_mm")[0] / some.array("pitch_mm")[0])
    # Boyle's law for air of 101.325 kPa in that share of the core; the curves' points lie no more than 0.5 % apart.
    air = 101.325 * strain / (room - strain)
    for name in ("value", "low", "high"):
        more = getattr(shut, name).stress(strain) - getattr(open_, name).stress(strain)
        np.testing.assert_allclose(more, air, rtol=2e-3)


def test_the_largest_change_of_slope_is_told(walls):
    slope, core = walls.field.slope_deg, walls.layout.is_core
    pairs = core[1:] & core[:-1], core[:, 1:] & core[:, :-1]
    steps = np.abs(np.diff(slope, axis=0))[pairs[0]], np.abs(np.diff(slope, axis=1))[pairs[1]]
    most = max(float(each.max()) for each in steps) / walls.layout.step_mm
    assert walls.field.most_change(walls.layout) == pytest.approx(most)
    # A fold stands out by so much more from one millimeter to the next that neighbors stay clear of each other.
    assert 0.0 < most < 15.0
