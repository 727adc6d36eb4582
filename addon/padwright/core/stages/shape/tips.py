"""How far the nozzle drags the top of a wall that is half printed, from its layers so far."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from ...base.mesh import Bool, Float
from ...geometry.bit_rasters import Bits, grown, shrunk, unpacked
from .layer_stack import LayerStack
from .wall_widths import WallPieces
from .worst_places import WorstPlace

Number = Float | float

DRAG_N = 0.05
"""What the nozzle pulls at the wall it prints on (assumed, no source)."""

FREE_TOP = 5.2
"""Stiffness of the free top of a long wall over D / h^2 at a Poisson's ratio of .48 (own shell elements: 4.9 to 5.3 for
walls of h/t 8 and more, upright or leaning). A wall past its fold is 1.3 to 1.9 times stiffer: left out."""

_WINDOW = 0.85
"""Of the wall's length up to its top: so far along it, on either side, it bends as one. It is that beam of the same
stiffness."""

_END, _MOST = 1.3, 2.0
_WIDE_MM = 3.0  # solid as wide all round is floor or block, on which walls stand
_STANDS_DEG = 60.0  # what leans further is the edge of a floor or a roof that slopes
_APART_MM = 10.0
_NEAR_MM = 4.0
_LOOKED_AT = 60


@dataclass(frozen=True)
class WallTip:
    """The wall that gives way most under the nozzle."""

    moves_mm: WorstPlace  # how far its top is dragged
    stiffness_n_mm: float
    height_mm: float  # of the wall so far
    width_mm: float  # in its level cut
    slope_deg: float  # from upright
    held: float  # by its wave, its ends and what it is joined to, over a straight wall without end


@dataclass(frozen=True)
class SolidStuff:
    """What walls are made of."""

    modulus_mpa: float
    poisson: float


def tip_stiffness(height_mm: Number, width_mm: Number, slope_deg: Number, held: Number, stuff: SolidStuff) -> Float:
    """Return how hard the free top of walls resists being pushed across, N/mm; numbers or arrays that broadcast.

    k = 5.2 D / h^2 g, D = E t^3 / (12 (1 - nu^2)), t = width cos(slope), h the height over what it stands on: a long
    plate clamped at its foot, pushed at its free edge [own shell elements]. `held`, f, is the second moment of the
    level cut about its weakest axis, within .85 of the wall's own length either way, over that of a straight wall that
    runs on; g = f^1.3 below 1 (a free end, f = .5, has .4 of the stiffness), and sqrt(f) up to 2 above (waves and
    joints bend locally too).
    """
    thick = width_mm * np.cos(np.radians(slope_deg))
    plate = stuff.modulus_mpa * thick**3 / (12.0 * (1.0 - stuff.poisson**2))
    gain = np.where(np.asarray(held) < 1.0, np.asarray(held) ** _END, np.minimum(np.sqrt(held), _MOST))
    return np.asarray(FREE_TOP * plate / np.asarray(height_mm) ** 2 * gain)


class RiseFinder:
    """How high each piece of wall stands over floor or block, from the bed up."""

    def __init__(self, stack: LayerStack, pieces: WallPieces) -> None:
        self._stack, self._pieces = stack, pieces
        self._layer = np.clip(stack.layer_above(pieces.places[:, 2]), 0, stack.count - 1)
        self._row, self._column = stack.grid.pixel(pieces.places)
        self._floor = np.zeros((stack.grid.rows, 64 * stack.grid.words), dtype=np.float32)
        self._reach = max(1, round(0.5 * _WIDE_MM / stack.grid.pixel_mm))
        self.rise_mm = np.zeros(len(pieces.places))

    def look(self, layer: int, now: Bits, *, is_floor: bool) -> None:
        """Take the next layer; it is searched for floor where asked: that takes time, and a layer matters little."""
        here = np.flatnonzero(self._layer == layer)
        self.rise_mm[here] = self._pieces.places[here, 2] - self._floor[self._row[here], self._column[here]]
        if not is_floor:
            return
        wide = shrunk(now, self._reach)
        if wide.any():
            self._floor[unpacked(grown(wide, self._reach + 1))] = (layer + 1) * self._stack.layer_mm


def weakest_tip(stack: LayerStack, pieces: WallPieces, rise_mm: Float, stuff: SolidStuff) -> WallTip | None:
    """Return the wall whose top the nozzle drags farthest, of the 60 softest at least 10 mm apart."""
    standing = np.flatnonzero((rise_mm > 1.0) & (pieces.slope_deg < _STANDS_DEG))
    if len(standing) == 0:
        return None
    straight = tip_stiffness(
        rise_mm[standing], pieces.width_mm[standing], pieces.slope_deg[standing], np.ones(len(standing)), stuff
    )
    order = standing[np.argsort(straight, kind="stable")]
    cell = np.floor(pieces.places[order, :2] / _APART_MM).astype(np.int64)
    _, first = np.unique(cell, axis=0, return_index=True)
    chosen = order[np.sort(first)[:_LOOKED_AT]]
    best: WallTip | None = None
    for piece in chosen:
        rise, width, slope = float(rise_mm[piece]), float(pieces.width_mm[piece]), float(pieces.slope_deg[piece])
        width = max(width, _drawn_mm(stack, pieces.places[piece]))
        held = _held(stack, pieces.places[piece], width, _WINDOW * rise / math.cos(math.radians(slope)))
        stiffness = float(tip_stiffness(rise, width, slope, held, stuff))
        if best is None or stiffness < best.stiffness_n_mm:
            x, y, z = (float(each) for each in pieces.places[piece])
            place = WorstPlace(DRAG_N / stiffness, (x, y, z), 1 + int(z / stack.layer_mm), z)
            best = WallTip(place, stiffness, rise, width, slope, held)
    return best


def _drawn_mm(stack: LayerStack, place: Float) -> float:
    """Return how wide a straight wall would be that fills as much of what is near a place: a nick is no thin wall."""
    mine, _, _ = _joined(stack, place, _NEAR_MM)
    return float(mine.sum()) * stack.grid.pixel_mm**2 / (2.0 * _NEAR_MM)


def _held(stack: LayerStack, place: Float, width_mm: float, reach_mm: float) -> float:
    """Return the least second moment of the level cut around a place over that of a straight wall of the same reach."""
    mine, x, y = _joined(stack, place, reach_mm)
    if not mine.any():
        return 1.0
    pixel = stack.grid.pixel_mm
    least, most = np.linalg.eigvalsh(np.cov(np.stack([x[mine], y[mine]]), bias=True))
    length = math.sqrt(12.0 * max(float(most), 1e-12))
    # In pixels a wall is up to one wider or narrower than it is; by the third power that would be half as stiff again.
    drawn = min(mine.sum() * pixel**2 / length, width_mm + pixel)
    spread = max(float(least) - drawn**2 / 12.0, 0.0) + width_mm**2 / 12.0
    return spread * 12.0 / width_mm**2 * length / (2.0 * reach_mm)


def _joined(stack: LayerStack, place: Float, reach_mm: float) -> tuple[Bool, Float, Float]:
    """Return which pixels near a place hang together with it in its layer, and where they lie from it, mm."""
    grid = stack.grid
    (row,), (column,) = grid.pixel(place[None])
    reach = max(2, math.ceil(reach_mm / grid.pixel_mm))
    rows = slice(max(0, row - reach), row + reach + 1)
    words = slice(max(0, column - reach) // 64, (column + reach) // 64 + 1)
    layer = int(np.clip(stack.layer_above(place[2:])[0], 0, stack.count - 1))
    picture = unpacked(stack.bits[layer][rows, words])
    y, x = np.indices(picture.shape)
    y, x = (y + rows.start - row) * grid.pixel_mm, (x + 64 * words.start - column) * grid.pixel_mm
    near = np.hypot(x, y)
    label, _ = ndimage.label(picture & (near <= reach_mm), np.ones((3, 3), dtype=bool))
    nearest = label.reshape(-1)[np.argmin(np.where(label > 0, near, np.inf))]
    return (label == nearest) & (label > 0), x, y
