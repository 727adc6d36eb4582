"""The print plan of a part that is one plain solid, against sums done by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.core.test_printplan import Body

from padwright.core.base.errors import InputError
from padwright.core.stages.material.fill_geometry import bead_area_mm2
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.printing.print_plan import PrintPlan, plan_print
from padwright.core.stages.printing.solid_plan import LEAST_LAYER_S, START_S, SolidLayers, plan_solid
from support.packing import block
from support.pad_shapes import DOWN

SOLID = RegionSettings("m", 0.4, 0.45, 0.2, "solid", 100.0, 4, 6, 6, 30.0, 3.0)
BEAD = bead_area_mm2(0.45, 0.2)


def layers(count: int = 100, area: float = 5000.0, loops: float = 40.0) -> SolidLayers:
    whole = np.full(count, area)
    return SolidLayers(area * 0.2 * count, whole, np.full(count, loops))


def planned(found: SolidLayers, settings: RegionSettings = SOLID, **options: float) -> PrintPlan:
    mesh = block((0.0, 0.0, 0.0), (100.0, 80.0, 20.0))
    plan = plan_print(
        [Body(mesh)], {"a": settings}, mesh, density_g_cm3=1.2, bed_mm=(220.0, 220.0, 250.0), press_direction=DOWN,
        price_per_kg=50.0,
    )  # fmt: skip
    return plan_solid(plan, found, settings, density_g_cm3=1.2, **options)


def test_mass_filament_and_cost_are_those_of_the_solid() -> None:
    plan = planned(layers(), price_per_kg=50.0)
    assert plan.mass_g.value == pytest.approx(100.0 * 1.2)  # 100 cm3
    assert plan.filament_m.value == pytest.approx(100_000.0 / (np.pi * 1.75**2 / 4.0) / 1000.0)
    assert plan.cost is not None
    assert plan.cost.value == pytest.approx(6.0)
    assert planned(layers()).cost is None
    (region,) = plan.regions
    assert region.mass_g == pytest.approx(120.0)


def test_hours_are_beads_at_the_speed_set_with_a_stop_and_start_for_every_two_beads() -> None:
    plan = planned(layers())
    beads_s = 100_000.0 / BEAD / 30.0  # 30 mm/s lay 2.4 mm3/s, under the flow of 3
    assert plan.time_h.low == pytest.approx(beads_s / 3600.0)
    assert plan.time_h.value == pytest.approx((beads_s + 100 * 40 * 2 * START_S) / 3600.0)
    assert plan.time_h.high == pytest.approx((1.5 * beads_s + 2 * 100 * 40 * 2 * START_S) / 3600.0)
    assert plan.flow_limit_h == pytest.approx(100_000.0 / 3.0 / 3600.0)


def test_the_flow_slows_beads_down() -> None:
    slow = planned(layers(), replace(SOLID, max_volume_flow_mm3_s=1.0))
    assert slow.time_h.low == pytest.approx(100_000.0 / 1.0 / 3600.0)
    assert slow.flow_limit_h == pytest.approx(slow.time_h.low)


def test_a_small_layer_takes_its_least_time() -> None:
    small = planned(layers(count=50, area=10.0, loops=1.0))
    assert small.time_h.value == pytest.approx(50 * LEAST_LAYER_S / 3600.0)
    assert small.time_h.low < 0.2 * small.time_h.value


def test_it_says_how_to_print_and_where_strings_stay() -> None:
    notes = planned(layers()).notes
    assert any("Print it solid, with at least 4 contours" in note for note in notes)
    assert any("40 closed outlines" in note and "strings" in note for note in notes)
    assert not any("strings" in note for note in planned(layers(loops=2.0)).notes)


def test_nothing_is_no_solid() -> None:
    with pytest.raises(InputError, match=r"0\.00 cm3 in 0 layers"):
        planned(layers(count=0))
