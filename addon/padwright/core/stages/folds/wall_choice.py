"""Which walls a pad gets where the job leaves it open: width in beads, pitch, folds, skins."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ...base.mesh import Bool, Float
from ...job.fill_table import Fill
from ..material.folds.law import stress_kpa
from ..material.folds.walls import Walls, least_skin_mm
from .layout import SPARE_DEG

LEVEL_STRAIN_OF_FOLDS = 0.2
"""What the families' levels of folded walls are made for where no load says the strain (our choice)."""

MOST_BEADS = 4
"""Wider walls are chosen for no one: they leave little room to lean (our choice)."""

_SPARE_SPAN = 0.95
"""Of the longest bridge that walls are set apart for: on a bend a gap is a little wider (our choice)."""

_SHARE = 0.15
"""Solid share that walls are set apart for where bridges allow it: thin parts get a close pitch, so that single walls
are not felt (our choice)."""

_REACHED = 0.8
"""Share of every zone that has to be soft enough with the walls that are taken: the rest is the thin edge of a dish
(our choice)."""

_MOST_FULL = 0.6
"""Walls fill no more of their pitch than that: beyond they have no room to lean (our choice)."""

LEAST_SKIN_MM = 1.0
"""A thinner skin shows the walls below it, and lets water through between its beads: common practice, no source."""


@dataclass(frozen=True)
class WallChoice:
    """The walls of a pad, mm."""

    width_mm: float  # in a level cut, whole beads
    pitch_mm: float
    folds: int
    skin_mm: float  # whole layers


@dataclass(frozen=True, eq=False)
class Places:
    """What a pad asks of its walls, place by place, (n,)."""

    thickness_mm: Float  # with the skins
    area_mm2: Float
    wished_kpa: Float  # secant modulus; it tells zones apart


def choose_walls(
    places: Places, asked: Fill, *, bead_mm: float, layer_mm: float, solid_kpa: float, poisson: float
) -> WallChoice:
    """Return the walls for a pad: as wide as they may be and still be soft enough over most of every zone.

    Wide walls lean further for the same softness: that keeps them from giving way all at once, and prints better. What
    the job asks for is taken as it is.
    """
    folds = asked.folds or 1
    counts = (asked.wall_beads,) if asked.wall_beads else range(MOST_BEADS, 0, -1)
    for beads in counts:
        found = walls_of(beads, folds, asked, bead_mm, layer_mm)
        if found.width_mm >= _MOST_FULL * found.pitch_mm:
            continue
        core, is_soft = _is_soft(places, found, asked, solid_kpa, poisson)
        if _reaches(places, is_soft, core >= asked.least_core_mm):
            break
    return found


def _is_soft(places: Places, walls: WallChoice, asked: Fill, solid_kpa: float, poisson: float) -> tuple[Float, Bool]:
    """Return the height of core at each place, and whether walls are soft enough there when they lean most."""
    core = places.thickness_mm - 2.0 * walls.skin_mm
    is_soft = core < asked.least_core_mm  # solid there: no wall can help
    height = core[~is_soft]
    if len(height):
        lean = np.full(len(height), asked.most_slope_deg - SPARE_DEG)
        most = Walls(height, walls.width_mm, walls.pitch_mm, lean, walls.folds)
        strain = np.array([LEVEL_STRAIN_OF_FOLDS])
        softest = stress_kpa(most, strain, solid_kpa, poisson)[:, 0] / LEVEL_STRAIN_OF_FOLDS
        is_soft[~is_soft] = softest <= places.wished_kpa[~is_soft]
    return core, is_soft


def _reaches(places: Places, is_soft: Bool, some: Bool) -> bool:
    """Say if most of every zone is soft enough, by area, among some places."""
    zones = [some & (places.wished_kpa == kpa) for kpa in np.unique(places.wished_kpa)]
    area = places.area_mm2
    return all(float(area[zone] @ is_soft[zone]) >= _REACHED * float(area[zone].sum()) for zone in zones)


def walls_of(beads: int, folds: int, asked: Fill, bead_mm: float, layer_mm: float) -> WallChoice:
    """Return walls of so many beads, pitch and skins as asked or as go with them."""
    width = beads * bead_mm
    pitch = asked.pitch_mm or min(width + _SPARE_SPAN * asked.longest_bridge_mm, width / _SHARE)
    layers = asked.skin_layers or math.ceil(max(least_skin_mm(width), LEAST_SKIN_MM) / layer_mm - 1e-6)
    return WallChoice(width, pitch, folds, layers * layer_mm)
