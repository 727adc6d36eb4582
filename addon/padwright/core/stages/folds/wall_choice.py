"""Which walls a pad gets where the job leaves it open: width in beads, pitch, folds, skins."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Float
from ...job.fill_table import Fill
from ..material.folds.law import stress_kpa
from ..material.folds.walls import Walls, least_skin_mm

LEVEL_STRAIN_OF_FOLDS = 0.2
"""What the families' levels of folded walls are made for where no load says the strain (our choice)."""

MOST_BEADS = 4
"""Wider walls are chosen for no one: they leave little room to lean (our choice)."""

_SHARE = 0.15
"""Solid share that walls are set apart for where bridges allow it: thin parts get a close pitch, so that single walls
are not felt (our choice)."""

_REACHED = 0.8
"""Share of every zone that has to be soft enough with the walls that are taken: the rest is the thin edge of a dish
(our choice)."""

LEAST_SKIN_MM = 1.0
"""A thinner skin shows the walls below it, and lets water through between its beads: common practice, no source."""


@dataclass(frozen=True)
class WallChoice:
    """The walls of a pad, mm."""

    width_mm: float  # in a level cut, whole beads
    beads: int
    pitch_mm: float
    folds: int
    skin_mm: float  # whole layers


def choose_walls(
    thickness_mm: Float,
    area_mm2: Float,
    wished_kpa: Float,
    asked: Fill,
    *,
    bead_mm: float,
    layer_mm: float,
    solid_kpa: float,
    poisson: float,
) -> WallChoice:
    """Return the walls for a pad: as wide as they may be and still be soft enough over most of every zone.

    Thickness of the pad, which holds the skins, area, and the modulus wished for, which tells zones apart, are (n,),
    one a place. Wide walls lean further for the same softness: that keeps them from giving way all at once, and prints
    better. What the job asks for is taken as it is.
    """
    folds = asked.folds or 1
    counts = (asked.wall_beads,) if asked.wall_beads else range(MOST_BEADS, 0, -1)
    found = None
    for beads in counts:
        found = _with(beads, folds, asked, bead_mm, layer_mm)
        core = thickness_mm - 2.0 * found.skin_mm
        is_core = core >= asked.least_core_mm
        if not is_core.any() or found.width_mm >= 0.6 * found.pitch_mm:
            continue
        walls = Walls(
            core[is_core], found.width_mm, found.pitch_mm, np.full(int(is_core.sum()), asked.most_slope_deg), folds
        )
        strain = np.array([LEVEL_STRAIN_OF_FOLDS])
        softest = stress_kpa(walls, strain, solid_kpa, poisson)[:, 0] / LEVEL_STRAIN_OF_FOLDS
        if _is_soft(softest, wished_kpa[is_core], area_mm2[is_core]):
            break
    assert found is not None
    return found


def _is_soft(softest: Float, wished: Float, area: Float) -> bool:
    zones = [wished == kpa for kpa in np.unique(wished)]
    return all(float(area[zone] @ (softest <= wished)[zone]) >= _REACHED * float(area[zone].sum()) for zone in zones)


def _with(beads: int, folds: int, asked: Fill, bead_mm: float, layer_mm: float) -> WallChoice:
    width = beads * bead_mm
    pitch = asked.pitch_mm or min(width + asked.longest_bridge_mm, width / _SHARE)
    layers = asked.skin_layers or math.ceil(max(least_skin_mm(width), LEAST_SKIN_MM) / layer_mm - 1e-6)
    return WallChoice(width, beads, pitch, folds, layers * layer_mm)
