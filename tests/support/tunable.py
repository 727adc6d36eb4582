"""Pads to tune: zones side by side, each as thick as said, of a gyroid whose settings are chosen by its modulus."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, partial

import numpy as np

from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.load.tuning_pads import TunableZone
from padwright.core.stages.material.choosing import Chosen, PrintLimits, choose_settings
from padwright.core.stages.material.fill import RegionGeometry
from padwright.core.stages.material.material_model import MaterialModel
from padwright.core.stages.material.region_settings import RegionSettings

MODEL = MaterialModel(13_240.0, 0.48, covariance=np.diag([0.05, 0.01, 0.1, 0.1]))
WISHED = RegionSettings("tpu_85a", 0.4, 0.45, 0.2, "gyroid", 15.0, 1, 3, 3, 30.0, 3.0)
LEVELS = (200.0, 350.0, 650.0, 1200.0)
ONE_CONTOUR = PrintLimits(contour_counts=(1, 1))


def strip(thickness: tuple[float, ...], across: int = 12, along: int = 6) -> ContactPatch:
    """Return a patch of zones side by side along x, each 40 x 60 mm and as thick as said."""
    x, y = np.meshgrid(
        (np.arange(across * len(thickness)) + 0.5) * 40.0 / across,
        (np.arange(along) + 0.5) * 60.0 / along,
        indexing="ij",
    )
    zone = (x.ravel() // 40.0).astype(np.int32)
    position = np.column_stack([x.ravel(), y.ravel(), np.zeros(x.size)])
    area = np.full(x.size, 40.0 / across * 60.0 / along)
    return ContactPatch(position, area, np.array(thickness)[zone], zone, np.array([0.0, 0.0, -1.0]))


def fill_takes(thickness: float, settings: RegionSettings) -> tuple[float, float]:
    """Return mass in g and hours of a zone's fill, 24 cm2 wide, of 1.2 g/cm3 at 3 mm3/s."""
    mass = 1.2 * 24.0 * thickness / 10.0 * settings.solid_share_pct / 100.0
    return mass, mass / 1.2 * 1000.0 / 3.0 / 3600.0


@cache
def chooser(thickness: float, limits: PrintLimits) -> Callable[[float], Chosen]:
    """Return what chooses settings for a modulus, and does so once for all tests."""
    geometry = RegionGeometry(thickness, 20_000.0, 600.0)
    return cache(partial(choose_settings, limits=limits, model=MODEL, geometry=geometry, wished=WISHED))


def zones(thickness: tuple[float, ...], start: float = 500.0, limits: PrintLimits = ONE_CONTOUR) -> list[TunableZone]:
    return [
        TunableZone(
            f"z{number}",
            start,
            chooser(h, limits),
            takes=partial(fill_takes, h),
        )
        for number, h in enumerate(thickness)
    ]


def chain(count: int) -> list[tuple[int, int]]:
    return [(number, number + 1) for number in range(count - 1)]


def held(force: float = 200.0) -> LoadCase:
    return LoadCase(force_n=force, tilt="held")
