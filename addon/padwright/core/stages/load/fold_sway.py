"""Whether a pad of folded walls stands under a load, by its walls where they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...base.estimate import Estimate
from ...base.mesh import Float
from ..folds.layout import FoldLayout
from ..folds.sway import Sheet, sway, turned
from ..material.folds.fold_print import as_printed, folds_before
from ..material.folds.law import shear_kpa
from ..material.folds.walls import Walls
from ..material.material_model import NINETY, MaterialModel
from .load_case import ContactPatch
from .wall_runs import Coarse, Stretches

_CELLS = 3500
"""Cells the sheet has at most, about: then it is solved in less than a second; half as many change it by 2 %."""


RINGS_SEEM = 1.3
"""How much steadier rings everywhere seem to a sheet on springs than they are: own 3-D shell elements."""


@dataclass(frozen=True, eq=False)
class PadSway:
    """How a pad stands sideways under a load."""

    margin: Estimate  # times the load at which the body skin would slide off
    place_mm: Float  # (2,), plane frame: where it would move most
    way_deg: float  # the way it moves there, an axis, from the plane's x
    creep_mm: float  # mean way of what is pressed under a push of SIDE_SHARE of the load, inf where it does not stand


def pad_sway(
    layout: FoldLayout, slope_deg: Float, patch: ContactPatch, pressure_kpa: Float, model: MaterialModel
) -> PadSway:
    """Return how the pad stands under the pressure (n,) on the points of a patch; slopes (nx, ny) as laid out.

    Notes
    -----
    Low and high: modulus of the solid, width and slope of the walls as printed, as far as blocks of folded walls say or
    is assumed; the root of the sum of their squares.
    """
    unknowns, covariance = _known(model)
    forces = _Forces.of(layout, patch, pressure_kpa)
    middle = sway(_sheet(forces, slope_deg, model, unknowns))
    place = forces.raster.origin + forces.raster.step_mm * np.array(middle.most_cell)
    if not np.isfinite(middle.margin):
        return PadSway(Estimate(middle.margin, middle.margin, middle.margin, "model"), place, 0.0, 0.0)
    # The skin is of the same solid: with a stiffer one the margin grows as the modulus does.
    far = NINETY * np.sqrt(np.diag(covariance)[:3])
    low, high = far[0], far[0]
    for axis in (1, 2):
        ends = []
        for sign in (-1.0, 1.0):
            moved = unknowns.copy()
            moved[axis] += sign * far[axis]
            ends.append(np.log(sway(_sheet(forces, slope_deg, model, moved)).margin / middle.margin))
        low, high = np.hypot(low, min(ends)), np.hypot(high, max(ends))
    told = middle.margin / _seems(layout)
    margin = Estimate(told, float(told * np.exp(-low)), float(told * np.exp(high)), "model")
    return PadSway(margin, place, middle.way_deg, middle.creep_mm)


def sway_margin(
    layout: FoldLayout, slope_deg: Float, patch: ContactPatch, pressure_kpa: Float, model: MaterialModel
) -> float:
    """Return the margin of `pad_sway` alone, without low and high."""
    sheet = _sheet(_Forces.of(layout, patch, pressure_kpa), slope_deg, model, _known(model)[0])
    return sway(sheet).margin / _seems(layout)


def _known(model: MaterialModel) -> tuple[Float, Float]:
    """Return what is known of solid and print, (6,), and its covariance (6, 6)."""
    if model.folds is not None:
        return model.folds.unknowns, model.folds.covariance
    return folds_before(model)


def _seems(layout: FoldLayout) -> float:
    return RINGS_SEEM if layout.wishes.layout == "rings" else 1.0


@dataclass(frozen=True, eq=False)
class _Forces:
    """A load on the coarse cells of a layout."""

    raster: Coarse
    walls: Stretches
    pressure_kpa: Float  # (nx, ny)

    @staticmethod
    def of(layout: FoldLayout, patch: ContactPatch, pressure_kpa: Float) -> _Forces:
        is_pad = layout.is_core | layout.is_solid
        raster = Coarse(layout, max(int(np.ceil(np.sqrt(is_pad.sum() / _CELLS))), 1))
        at = np.stack(np.unravel_index(layout.index(patch.position), is_pad.shape)) // raster.factor
        force = np.zeros(raster.shape)
        np.add.at(force, tuple(at), pressure_kpa * patch.area_mm2)
        return _Forces(raster, Stretches.of(layout), force / raster.step_mm**2)


def _sheet(forces: _Forces, slope_deg: Float, model: MaterialModel, unknowns: Float) -> Sheet:
    """Return the body skin on its walls, with the material and the print as the unknowns (6,) say."""
    layout, raster = forces.raster.layout, forces.raster
    solid = model.modulus_kpa * float(np.exp(unknowns[0]))
    is_pad = layout.is_core | layout.is_solid
    count, core = raster.blocks(is_pad.astype(np.float64)), raster.blocks(layout.is_core.astype(np.float64))
    pressed = forces.pressure_kpa > 0.0
    there = pressed | (2.0 * count >= raster.factor**2)
    thickness = np.where(layout.is_core, layout.height_mm, layout.high_mm - layout.low_mm)
    height = raster.blocks(np.where(is_pad, thickness, 0.0)) / np.maximum(count, 1.0)
    height = np.where(count > 0.0, height, height[count > 0.0].mean())
    stiff = _walls_stiffness(forces, slope_deg, solid, model.poisson, unknowns)
    block = solid / (2.0 * (1.0 + model.poisson)) * (count - core) / np.maximum(count, 1.0)
    stiff[0] += block
    stiff[2] += block
    return Sheet(raster.step_mm, there, height, stiff, forces.pressure_kpa, layout.body_skin_mm, solid, model.poisson)


def _walls_stiffness(forces: _Forces, slope_deg: Float, solid: float, poisson: float, unknowns: Float) -> Float:
    """Return the core's shear stiffness (3, nx, ny), kPa, as its walls lie: each stretch of a wall by its own run."""
    raster, runs = forces.raster, forces.walls
    layout = raster.layout
    walls = Walls(layout.height_mm[runs.cell], layout.width_mm, layout.pitch_mm, slope_deg[runs.cell], layout.folds)
    across_kpa, along_kpa = shear_kpa(as_printed(walls, unknowns[1], unknowns[2]), solid, poisson)
    share = np.exp(unknowns[3]) * layout.pitch_mm * runs.length_mm / raster.step_mm**2
    return raster.spread(runs.middle, turned(along_kpa * share, across_kpa * share, runs.run))
