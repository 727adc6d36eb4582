"""How stiff folded walls are to be, place by place, and how far they lean for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from ...base.mesh import Float, Int
from ...geometry.through import BODY_SIDE, PadShape
from ..folds.layout import FoldLayout
from ..folds.standing import standing_slope_deg
from ..material.folds.slopes import reached_kpa, slope_in_print
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel
from ..zones.zones import ZonePlan

_BLEND_SHARE = 1.0 / 3.0
"""Deviation of the bell by which neighboring zones run into each other, over the width of the blend: half of it lies
within two thirds of a deviation on either side, nearly all within one and a half. Our choice."""


@dataclass(frozen=True, eq=False)
class FoldField:
    """Stiffness and lean of the walls: rasters (nx, ny) of their layout, 0 where no walls stand."""

    wished_kpa: Float  # secant modulus of the core at `strain`
    reached_kpa: Float
    strain: Float
    slope_deg: Float  # from upright

    def most_change(self, layout: FoldLayout) -> float:
        """Return how much the slope changes at most from cell to cell of the core, degrees per mm."""
        slope = np.where(layout.is_core, self.slope_deg, np.nan)
        steps = [np.abs(np.diff(slope, axis=axis)) for axis in (0, 1)]
        return max(float(np.nanmax(step, initial=0.0)) for step in steps) / layout.step_mm


@dataclass(frozen=True, eq=False)
class ZoneShares:
    """How much each zone has of every cell where there is a pad."""

    numbers: tuple[int, ...]  # of the zones, in the plan
    cell: Int  # (c,); flat number in the layout's rasters
    share: Float  # (c, z); sums to 1

    def mixed(self, values: Mapping[int, float]) -> Float:
        """Return a value of each zone mixed by the logarithm, (c,): equal ratios feel like equal steps."""
        return np.asarray(np.exp(self.share @ np.log([values[number] for number in self.numbers])))


def zone_shares(layout: FoldLayout, pad: PadShape, plan: ZonePlan, width_mm: float) -> ZoneShares:
    """Return the zones' shares of the layout's cells, running into each other over a width.

    A zone that holds no cell most of all has no share anywhere.
    """
    is_pad = layout.is_core | layout.is_solid
    cell = np.flatnonzero(is_pad)
    body = np.flatnonzero(np.asarray(pad.side) == BODY_SIDE)
    at = layout.flat(pad.mesh.vertices[body])
    _, nearest = cKDTree(at).query(layout.centers(cell))
    weight = plan.weights[body[nearest]]
    most = np.argmax(weight, axis=1)
    numbers = np.unique(most)
    sigma = _BLEND_SHARE * width_mm / layout.step_mm
    there = gaussian_filter(is_pad.astype(np.float64), sigma)
    share = np.zeros((len(cell), len(numbers)))
    for column, number in enumerate(numbers):
        one = np.zeros(is_pad.shape)
        one.flat[cell] = most == number
        share[:, column] = (gaussian_filter(one, sigma) / np.maximum(there, 1e-12)).flat[cell]
    share /= share.sum(axis=1, keepdims=True)
    return ZoneShares(tuple(int(number) for number in numbers), cell, share)


def fold_field(
    layout: FoldLayout,
    shares: ZoneShares,
    moduli: Mapping[int, float],
    strains: Mapping[int, float],
    model: MaterialModel,
) -> FoldField:
    """Return how far walls have to lean so that every place is as stiff as its zones wish, at the strain they have.

    Moduli (kPa) and strains go by zone number. Where that cannot be had, walls lean as far, or stand as upright, as
    they may.
    """
    wished, strain = (np.zeros(layout.is_core.shape) for _ in range(2))
    wished.flat[shares.cell] = shares.mixed(moduli)
    strain.flat[shares.cell] = shares.mixed(strains)
    core = np.flatnonzero(layout.is_core)
    upright = walls_at(layout, core, np.zeros(len(core)))
    squeezed = strain.flat[core]
    leans, gives = (np.zeros(layout.is_core.shape) for _ in range(2))
    leans.flat[core], _ = slope_in_print(wished.flat[core], squeezed, upright, model, layout.slope_limit_deg.flat[core])
    leans = standing_slope_deg(layout, leans)
    gives.flat[core] = reached_kpa(upright.at_slope(leans.flat[core]), squeezed, model)
    return FoldField(np.where(layout.is_core, wished, 0.0), gives, np.where(layout.is_core, strain, 0.0), leans)


def walls_at(layout: FoldLayout, cell: Int, slope_deg: Float) -> Walls:
    """Return the walls of some cells of a layout, leaning so."""
    return Walls(
        layout.height_mm.flat[cell], layout.width_mm, layout.pitch_at_mm.flat[cell], slope_deg,
        layout.folds, layout.radius_mm.flat[cell], layout.waver.flat[cell],
    )  # fmt: skip
