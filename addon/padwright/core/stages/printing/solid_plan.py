"""What a part of folded walls takes to print: one plain solid, all of it contours, layer by layer as it is cut."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...base.errors import InputError
from ...base.estimate import Estimate
from ...base.mesh import Float
from ...base.notes import to_look_at
from ...base.text import counted, figure
from ..material.fill_geometry import bead_area_mm2
from ..material.region_settings import RegionSettings
from .print_plan import TRAVEL, WEIGHED, PrintPlan, RegionPlan

START_S = 0.5
"""What the nozzle takes to stop, draw back, cross to the next outline and begin again (assumed, no source)."""

LEAST_LAYER_S, SLOW_LAYER_S = 8.0, 15.0
"""A smaller layer is slowed down until so much time has passed, so that it cools (common practice, no source)."""

_MANY_STARTS = 4.0
"""Outlines a layer from which on strings in the void are spoken of: a few more than a plain part has."""


@dataclass(frozen=True, eq=False)
class SolidLayers:
    """The layers of a solid, from the bed up."""

    volume_mm3: float
    area_mm2: Float  # (n,)
    loops: NDArray[Any]  # (n,); closed outlines


def plan_solid(
    plan: PrintPlan,
    layers: SolidLayers,
    settings: RegionSettings,
    *,
    density_g_cm3: float,
    filament_diameter_mm: float = 1.75,
    price_per_kg: float | None = None,
) -> PrintPlan:
    """Return the plan of a part with the mass, filament, hours and cost of the solid that it is printed as.

    Raises InputError where the solid holds nothing.

    Notes
    -----
    Mass is volume times density. All beads are contours: their length in a layer is its area over bead area times layer
    thickness, laid at the speed set and within the material's flow. Each closed outline takes a stop and a start for
    every two beads of a wall; a layer takes 8 s at least. Low is the beads alone, whatever the layer's size; high is
    half more for corners and travel, and 15 s a layer at least.
    """
    if layers.volume_mm3 <= 0.0 or len(layers.area_mm2) == 0:
        raise InputError(f"A solid of {layers.volume_mm3 / 1000.0:.2f} cm3 in {len(layers.area_mm2)} layers is none.")
    layer = settings.layer_thickness_mm
    bead = bead_area_mm2(settings.bead_width_mm, layer)
    flow = settings.max_volume_flow_mm3_s or settings.max_speed_mm_s * bead
    speed = min(settings.max_speed_mm_s, flow / bead)
    laid_s = layers.area_mm2 * layer / bead / speed
    starts = layers.loops * max(settings.contour_count / 2.0, 1.0)
    beads_h = float(laid_s.sum()) / 3600.0
    likely_h = float(np.maximum(laid_s + starts * START_S, LEAST_LAYER_S).sum()) / 3600.0
    most_h = float(np.maximum(laid_s * (1.0 + TRAVEL) + 2.0 * starts * START_S, SLOW_LAYER_S).sum()) / 3600.0
    gram = layers.volume_mm3 / 1000.0 * density_g_cm3
    meters = layers.volume_mm3 / (np.pi * filament_diameter_mm**2 / 4.0) / 1000.0
    weighed = Estimate(gram, gram * (1.0 - WEIGHED), gram * (1.0 + WEIGHED), "model", "without supports")
    flow_h = layers.volume_mm3 / flow / 3600.0
    regions = tuple(
        RegionPlan(
            each.id, each.name, gram, 0.0, meters, bead, settings.max_speed_mm_s, flow / bead, beads_h, flow_h
        )
        for each in plan.regions[:1]
    )  # fmt: skip
    return replace(
        plan,
        regions=regions,
        mass_g=weighed,
        filament_m=Estimate(meters, meters * (1.0 - WEIGHED), meters * (1.0 + WEIGHED), "model", "without supports"),
        time_h=Estimate(
            likely_h, beads_h, most_h, "model",
            "Low: beads alone at the speed set. High: half more for corners and travel, small layers slowed down.",
        ),
        flow_limit_h=flow_h,
        cost=None if price_per_kg is None else weighed.scaled(price_per_kg / 1000.0),
        hollows=(),  # the voids are meant, and open
        notes=(*plan.notes, *_notes(layers, settings)),
    )  # fmt: skip


def _notes(layers: SolidLayers, settings: RegionSettings) -> tuple[str, ...]:
    words = (
        f"Print it solid, with at least {counted(settings.contour_count, 'contour')}, without fill and without "
        "supports inside: its walls are all contours. Let contours be as wide as the bead set.",
    )
    starts = float(np.mean(layers.loops))
    if starts < _MANY_STARTS:
        return words
    return (
        *words,
        to_look_at(
            f"Each layer has {figure(starts)} closed outlines on average, and the nozzle crosses the void between "
            "them: strings in there cannot be reached. Dry the filament, let travel stay over the part, and print the "
            "blocks of folded walls first."
        ),
    )
