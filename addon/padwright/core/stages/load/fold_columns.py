"""Folded walls as columns of the load check: places that are much alike share a curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, Int
from ..folds.breathing import sealed_curve
from ..folds.layout import FoldLayout
from ..material.curves import CurveBand
from ..material.folds.band import fold_bands
from ..material.folds.slopes import reached_kpa
from ..material.folds.walls import Walls
from ..material.material_model import MaterialModel
from .fold_field import FoldField
from .load_case import ContactPatch
from .pad_nodes import PadNodes

_MOST_KINDS = 60
_FIRST_STEP, _STEP_GROWS = 0.05, 1.25
"""Logarithms of height and stiffness within which places share the form of a curve: a twentieth first, wider until
there are at most so many kinds. Each place has its own height, and a factor that makes its stress its own (our
choice)."""


@dataclass(frozen=True, eq=False)
class FoldColumns:
    """A contact patch whose `zone` counts kinds of columns, with what each kind is."""

    patch: ContactPatch
    bands: Sequence[CurveBand]
    zone_of: Sequence[int]  # the plan's zone of each kind

    def few(self, index: Int) -> FoldColumns:
        """Return the columns of some points, their areas as they are."""
        return replace(self, patch=some_points(self.patch, index))


def some_points(patch: ContactPatch, index: Int) -> ContactPatch:
    """Return some points of a patch, without faces; areas stay as they are."""
    return ContactPatch(
        patch.position[index], patch.area_mm2[index], patch.thickness_mm[index], patch.zone[index],
        patch.press_direction, patch.gaps[index],
        clay_kpa=None if patch.clay_kpa is None else patch.clay_kpa[:, index],
        mat_ways=None if patch.mat_ways is None else patch.mat_ways[:, index],
        runs=None if patch.runs is None else patch.runs.part(index),
        firmer=None if patch.firmer is None else patch.firmer[index],
        evened=None if patch.evened is None else patch.evened[index],
    )  # fmt: skip


def fold_columns(
    patch: ContactPatch,
    nodes: PadNodes,
    field: FoldField,
    solid: Mapping[int, CurveBand],
    model: MaterialModel,
    at: Mapping[int, float],
) -> FoldColumns:
    """Return a patch's points as columns of folded walls, or of solid where the layout has none, tied along the walls.

    `solid` and `at` give each zone of the pad the curve of solid pad there and the strain at which its moduli are
    told. Columns of walls are as long as the core is high: skins do not give.
    """
    layout = nodes.raster.layout
    points = len(patch.position)
    # Where the pad is solid its nodes, beside the body too, are columns of their own.
    is_wall = nodes.is_wall
    cell = np.concatenate([layout.index(patch.position), nodes.cell[~is_wall]])
    zone = np.concatenate([patch.zone, nodes.zone[~is_wall]])
    is_core = layout.is_core.flat[cell]
    # Beside the outermost walls the skin hangs free: nothing bears there.
    area = np.where((is_core | layout.is_solid.flat[cell])[:points], patch.area_mm2, 0.0)
    height, reached = layout.height_mm.flat[cell], field.reached_kpa.flat[cell]
    names, kind = _kinds(zone, is_core, height, reached)
    count = len(names)
    zone_of = np.zeros(count, dtype=np.int32)
    zone_of[kind] = zone
    weight = np.where(is_core, np.maximum(np.append(area, np.zeros(len(cell) - points)), 1e-9), 0.0)
    total = np.maximum(np.bincount(kind, weight, count), 1e-12)
    of_kind = [np.bincount(kind, weight * value.flat[cell], count) / total for value in _of_walls(layout, field)]
    is_walls = np.bincount(kind, weight, count) > 0.0
    bands: list[CurveBand] = []
    kpa = np.ones(count)  # as a kind's own wall reaches it, where its places do
    strain = np.bincount(kind, weight * field.strain.flat[cell], count) / total
    for number in np.unique(zone_of):
        own = np.flatnonzero((zone_of == number) & is_walls)
        if len(own):
            height_mm, slope, curve, waver, pitch = (each[own] for each in of_kind)
            radius = np.divide(1.0, curve, out=np.full(len(own), np.inf), where=curve > 0.0)
            walls = Walls(height_mm, layout.width_mm, pitch, slope, layout.folds, radius, waver)
            kpa[own] = reached_kpa(walls, strain[own], model)
            every = breathing_bands(layout, walls, model, at[int(number)])
            found = dict(zip(own.tolist(), every, strict=True))
        else:
            found = {}
        bands += [found.get(int(each), solid[int(number)]) for each in np.flatnonzero(zone_of == number)]
    # Where walls stand, nodes are of the kind under the body that is most like them.
    own_kind = np.zeros(len(nodes.cell), dtype=np.int32)
    own_kind[~nodes.is_wall] = kind[points:]
    at_node = field.reached_kpa.flat[nodes.cell]
    walled = np.flatnonzero(is_walls)
    if nodes.is_wall.any() and len(walled):
        like = cKDTree(np.log(np.stack([of_kind[0][walled], kpa[walled]], axis=1)))
        wanted = np.stack([nodes.height_mm, np.maximum(at_node, 1e-3)], axis=1)[nodes.is_wall]
        own_kind[nodes.is_wall] = walled[like.query(np.log(wanted))[1]]
    columns = replace(
        patch,
        area_mm2=area,
        zone=kind[:points],
        thickness_mm=np.where(is_core[:points], height[:points], patch.thickness_mm),
        firmer=np.where(is_walls[kind], reached / kpa[kind], 1.0)[:points],
        runs=nodes.layer(patch, field, model, own_kind, np.where(nodes.is_wall, at_node / kpa[own_kind], 1.0)),
    )
    return FoldColumns(columns, bands, zone_of.tolist())


def breathing_bands(layout: FoldLayout, walls: Walls, model: MaterialModel, at: float) -> list[CurveBand]:
    """Return the curves of walls (k,) of a layout; where its voids are sealed the air in them counts as a spring."""
    bands = fold_bands(walls, model, at)
    if layout.wishes.voids != "sealed":
        return bands
    shares = 1.0 - walls.array("width_mm") / walls.array("pitch_mm")
    return [
        replace(
            band,
            value=sealed_curve(band.value, room),
            low=sealed_curve(band.low, room),
            high=sealed_curve(band.high, room),
            shared=tuple((sealed_curve(low, room), sealed_curve(high, room)) for low, high in band.shared),
        )
        for band, room in zip(bands, shares.tolist(), strict=True)
    ]


def _of_walls(layout: FoldLayout, field: FoldField) -> tuple[Float, Float, Float, Float, Float]:
    """Return height, slope, curvature, waver and pitch: what means over places are taken of."""
    curve = 1.0 / np.maximum(layout.radius_mm, 1e-3)
    return layout.height_mm, field.slope_deg, curve, layout.waver, layout.pitch_at_mm


def _kinds(zone: Int, is_core: Bool, height: Float, reached: Float) -> tuple[Int, Int]:
    """Return the kinds as rows of numbers that tell them apart, sorted by zone, and the kind of each point."""
    step = _FIRST_STEP
    while True:
        places = [
            np.where(is_core, np.round(np.log(np.maximum(value, 1e-3)) / step), 0.0) for value in (height, reached)
        ]
        rows = np.stack([zone, is_core, *places], axis=1).astype(np.int64)
        names, kind = np.unique(rows, axis=0, return_inverse=True)
        if len(names) <= _MOST_KINDS:
            return names.astype(np.int32), kind.reshape(-1).astype(np.int32)
        step *= _STEP_GROWS


def zone_walls(layout: FoldLayout, field: FoldField, patch: ContactPatch, zone: int) -> Walls | None:
    """Return one wall that stands for those of a zone under the body; None where it has none there."""
    cell = layout.index(patch.position)
    weight = np.where((patch.zone == zone) & layout.is_core.flat[cell], patch.area_mm2, 0.0)
    if weight.sum() <= 0.0:
        return None
    height, slope, curve, waver, pitch = (
        float(weight @ each.flat[cell]) / float(weight.sum()) for each in _of_walls(layout, field)
    )
    return Walls(height, layout.width_mm, pitch, slope, layout.folds, 1.0 / curve if curve else np.inf, waver)
