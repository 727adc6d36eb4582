"""A zone has one color in all pictures: of its level in print, in folded walls of the level asked."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from padwright.core.job.cards import load_family
from padwright.core.run.zone_colors import zone_color
from padwright.core.stages.packing.thumbnail import firmness_color
from padwright.core.stages.zones.zones import PlanZone

FAMILY = load_family("seat_pad")
COLORS = [level.display_color for level in FAMILY.levels]


def part(reached_kpa: float, *, is_folded: bool = False, times: float = 1.0) -> Any:
    zones = (PlanZone("rest", "rest", 2.0, stiffness_times=times),)
    firmness = SimpleNamespace(chosen={0: SimpleNamespace(reached_kpa=reached_kpa)})
    folded = object() if is_folded else None
    return SimpleNamespace(zones=SimpleNamespace(zones=zones), family=FAMILY, firmness=firmness, folded=folded)


def test_settings_show_what_they_reach():
    level_2, level_3 = (FAMILY.target_modulus_kpa(level) for level in (2.0, 3.0))
    assert zone_color(part(level_2 * 1.05), 0) == firmness_color(2.0, COLORS)  # met within 10 %
    assert zone_color(part(level_3), 0) == firmness_color(3.0, COLORS)


def test_folded_walls_show_what_is_asked():
    level_3 = FAMILY.target_modulus_kpa(3.0)
    assert zone_color(part(level_3, is_folded=True), 0) == firmness_color(2.0, COLORS)


@pytest.mark.parametrize("is_folded", [True, False])
def test_what_trials_taught_counts(is_folded):
    times = FAMILY.target_modulus_kpa(3.0) / FAMILY.target_modulus_kpa(2.0)
    reached = FAMILY.target_modulus_kpa(3.0)
    assert zone_color(part(reached, is_folded=is_folded, times=times), 0) == firmness_color(3.0, COLORS)
