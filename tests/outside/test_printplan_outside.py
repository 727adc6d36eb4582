"""The print plan against worked numbers and against another library's slices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import quad

from padwright.core.base.mesh import TriMesh
from padwright.core.stages.material.choosing import flow_speed
from padwright.core.stages.material.fill_geometry import bead_area_mm2
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.printing.print_plan import plan_print
from padwright.core.stages.printing.shell import shell_and_core
from support.packing import block
from support.pad_shapes import DOWN, height_pad


@dataclass(frozen=True)
class Body:
    mesh: TriMesh
    id: str = "a"
    name: str = "A"


def test_bead_area_and_flow() -> None:
    """A bead with half-round sides: its width, integrated over its height. 3 mm3/s of 0.45 x 0.2 mm are 36.848 mm/s."""
    for width, layer in ((0.45, 0.2), (0.6, 0.3), (0.8, 0.8)):

        def across(height: float, width: float = width, layer: float = layer) -> float:
            return width - layer + 2.0 * np.sqrt((layer / 2.0) ** 2 - (height - layer / 2.0) ** 2)

        assert bead_area_mm2(width, layer) == pytest.approx(quad(across, 0.0, layer)[0], rel=1e-7)
    assert flow_speed(0.45, 0.2, 3.0) == pytest.approx(36.848, abs=5e-4)


def test_a_box_by_hand() -> None:
    """200 x 150 x 25 mm, 1.2 mm shell all round, 15 % fill, 1.21 g/cm3, worked by hand.

    Core 197.6 x 147.6 x 22.6 mm. Mass 229.57 g, mean density 25.3 %, 78.88 m of 1.75 mm, 17.57 h at 3 mm3/s.
    """
    box = block((0.0, 0.0, 0.0), (200.0, 150.0, 25.0), 3)
    split = shell_and_core(box, np.array([0.0, 0.0, 1.0]), 1.2, 2.4)
    assert split.core_mm3 == pytest.approx(197.6 * 147.6 * 22.6, rel=1e-9)
    plastic = split.shell_mm3 + 0.15 * split.core_mm3
    assert 1.21e-3 * plastic == pytest.approx(229.568, abs=5e-4)
    assert plastic / 750_000.0 == pytest.approx(0.253, abs=5e-4)
    # The same through the plan. Beads 1 mm wide, 0.6 mm thick make a wall of 1 - (1 - pi/4) 0.6 mm; two layers a skin.
    layer = 0.6
    width = 1.2 + (1.0 - np.pi / 4.0) * layer
    settings = RegionSettings("m", 0.8, width, layer, "gyroid", 15.0, 1, 2, 2, 1000.0, 3.0)
    plan = plan_print(
        [Body(box)], {"a": settings}, box, density_g_cm3=1.21, bed_mm=(220, 220, 250), press_direction=DOWN
    )
    assert plan.mass_g.value == pytest.approx(229.57, abs=5e-3)
    assert plan.filament_m.value == pytest.approx(78.88, abs=5e-3)
    assert plan.time_h.value == pytest.approx(17.57, abs=5e-3)
    assert plan.time_h.low == pytest.approx(plan.time_h.value)  # so fast that flow is the limit
    assert sum(each.shell_g + each.core_g for each in plan.regions) == pytest.approx(plan.mass_g.value)


def test_shell_of_a_wavy_pad_against_sliced_and_offset_outlines() -> None:
    """Core of a pad with a wavy outline against manifold3d: slice it, move each outline inward, add up the areas."""
    import manifold3d

    def inside(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 45.0 + 6.0 * np.sin(5.0 * np.arctan2(y, x)) - np.hypot(x, y)

    pad = height_pad(lambda x, y: 14.0 + 0 * x, lambda x, y: 0 * x, inside, (55.0, 55.0), (0.0, 14.0), 1.5)
    contours = 2.5
    split = shell_and_core(pad.mesh, np.array([0.0, 0.0, 1.0]), contours, 0.0)
    solid = manifold3d.Manifold(manifold3d.Mesh64(np.array(pad.mesh.vertices), pad.mesh.faces.astype(np.uint64)))
    assert split.core_mm3 + split.shell_mm3 == pytest.approx(solid.volume(), rel=1e-6)
    low, high = pad.mesh.bounds[:, 2]
    layers = np.linspace(low, high, 141)
    middle = 0.5 * (layers[1:] + layers[:-1])
    areas = [solid.slice(float(z)).offset(-contours, manifold3d.JoinType.Round).area() for z in middle]
    # The rounded rim (1.5 mm) is not upright, and the outline is a polygon of 1.5 mm: 1 % covers both.
    assert split.core_mm3 == pytest.approx(float(np.sum(areas)) * (layers[1] - layers[0]), rel=0.01)
