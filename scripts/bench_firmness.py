"""What the benchmark's tuning row works on: a pad with two hollows, six zones, a contact patch of many points."""

from __future__ import annotations

import time
from functools import partial

import numpy as np

from padwright.core.job.cards import load_family
from padwright.core.job.material_cards import load_material
from padwright.core.job.output_tables import Printer
from padwright.core.stages.body.flesh import flesh_layer
from padwright.core.stages.load.load_case import ContactPatch, LoadCase
from padwright.core.stages.load.tuning import Tuning, tune
from padwright.core.stages.load.tuning_goal import Goal
from padwright.core.stages.load.tuning_pads import TunableZone
from padwright.core.stages.material.choosing import PrintLimits, choose_settings
from padwright.core.stages.material.fill import RegionGeometry
from padwright.core.stages.material.material_model import model_from_card
from padwright.core.stages.material.region_settings import RegionSettings
from padwright.core.stages.printing.level_settings import settings_for_level


def _takes(volume_cm3: float, settings: RegionSettings) -> tuple[float, float]:
    """Return mass in g and hours of so much fill, the shell left out."""
    mass = 1.2 * volume_cm3 * settings.solid_share_pct / 100.0
    return mass, mass / (3.6 * 1.2 * settings.max_volume_flow_mm3_s)


def tune_six_zones(size: float) -> tuple[float, Tuning, int]:
    """Return the seconds that tuning takes, what it found, and the number of points."""
    side = int(np.sqrt(100_000 * size))
    x, y = (grid.ravel() for grid in np.meshgrid(np.linspace(-100, 100, side), np.linspace(-75, 75, side)))
    thickness = 25.0 - 12.0 * np.exp(-((np.abs(x) - 50.0) ** 2 + y**2) / (2.0 * 20.0**2))
    zone = (np.minimum((x + 100.0) // 66.7, 2) + 3 * (y > 0)).astype(np.int32)
    patch = ContactPatch(
        np.column_stack([x, y, 0.0 * x]),
        np.full(len(x), 30_000.0 / len(x)),
        thickness,
        zone,
        np.array([0.0, 0.0, -1.0]),
    )
    family, material = load_family("seat_pad"), load_material("tpu_85a")
    wished = settings_for_level(1.0, family.levels, Printer(nozzle_mm=0.4, bed_mm=(220.0, 220.0, 250.0)), material)
    model = model_from_card(material)
    zones = []
    for number in range(6):
        size_of = RegionGeometry(float(thickness[zone == number].mean()), 5000.0, 290.0)
        choose = partial(choose_settings, limits=PrintLimits(), model=model, geometry=size_of, wished=wished)
        volume = 5.0 * float(thickness[zone == number].mean())
        zones.append(TunableZone(f"zone {number}", 350.0, choose, takes=partial(_takes, volume)))
    touching = [(0, 1), (1, 2), (3, 4), (4, 5), (0, 3), (1, 4), (2, 5)]
    goal = Goal((), 0.5, 6.0, 0.2, 3.0, 1.0, tuple(level.target_modulus_kpa for level in family.levels))
    start = time.perf_counter()
    found = tune(
        [LoadCase(force_n=600.0, load_factor=1.15, flesh=flesh_layer(15.0, 30.0, 5.0))], patch, zones, touching, goal
    )
    return time.perf_counter() - start, found, len(x)
