"""What a zone weighs and how long it prints, as tuning weighs it: the print plan's own numbers."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from padwright.core.stages.load.tuning_costs import zone_takes
from padwright.core.stages.printing.print_plan import plan_region, shell_reach_mm
from padwright.core.stages.regions.regions import Region
from support.packing import block
from support.tunable import WISHED

CARD = SimpleNamespace(density_g_cm3=1.2)
JOB = SimpleNamespace(printer=SimpleNamespace(filament_diameter_mm=1.75))


def region(name: str, zone: int, x: float, size: tuple[float, float, float]) -> Region:
    mesh = block((x, 0.0, 0.0), (x + size[0], size[1], size[2]))
    return Region(name, name, 2.0, mesh, mesh.volume / 1000.0, zone)


@pytest.mark.parametrize("press", [(0.0, 0.0, -1.0), None])
def test_a_zone_takes_what_the_plan_says_of_its_pieces_whatever_was_asked_before(press) -> None:
    pieces = [
        region("a 1", 0, 0.0, (40, 30, 20)),
        region("a 2", 0, 60.0, (20, 20, 10)),
        region("b", 1, 90.0, (9, 9, 9)),
    ]
    ground = SimpleNamespace(
        pad=SimpleNamespace(press_direction=press), regions=SimpleNamespace(regions=pieces), card=CARD, job=JOB
    )
    takes, up = zone_takes(ground, 0), np.array([0.0, 0.0, 1.0])
    variants = [
        WISHED,
        replace(WISHED, solid_share_pct=30.0),
        replace(WISHED, contour_count=3),
        replace(WISHED, bead_width_mm=0.6),
        replace(WISHED, body_side_layer_count=5),
        WISHED,
    ]
    for settings in variants:
        plans = [plan_region(piece, settings, up, 1.2, 1.75) for piece in pieces[:2]]
        mass, hours = takes(settings)
        assert mass == pytest.approx(sum(plan.mass_g for plan in plans), rel=1e-12)
        assert hours == pytest.approx(sum(plan.time_h for plan in plans), rel=1e-12)
    assert len({takes(settings) for settings in variants}) == len(variants) - 1
    assert shell_reach_mm(variants[1]) == shell_reach_mm(WISHED) != shell_reach_mm(variants[2])
