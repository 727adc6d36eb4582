"""What hangs over nothing in a stack of layers: overhangs, bridges, and islands that start in the air."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from ...base.mesh import Bool, Float, TriMesh
from ...geometry.bit_rasters import Bits, at, cropped, grown
from .layer_stack import LayerStack
from .worst_places import SPOT_MM2, WorstPlace, beyond

Indices = NDArray[np.int64]

_SAMPLES = 40_000
_FINEST_MM2, _COARSEST_MM2 = 0.1, 2.0
_WAYS = 24
"""Directions in which a gap is measured: over 5 mm, one between two of them is off by a pixel or two at its end."""

_FARTHEST = 4.0
"""What is farther from one side to the other than so many times the longest bridge is no bridge at all."""

_LEVEL_DEG = 75.0
"""What leans out farther belongs to one layer, not to several in steps of less than two beads."""

_BRIDGE_MM2 = 4.0
"""A bridge that is no bridge to speak of: a bead or two wide (our own choice)."""

_PATCH_MM = 7.0

HELD_PIXELS = 2
"""What lies within so many pixels of the layer below, about a bead, is laid on it."""


@dataclass(frozen=True, eq=False)
class Undersides:
    """Places on faces that look down, spread evenly over their area."""

    places: Float  # (n, 3), mm
    angle_deg: Float  # (n,); from upright
    area_mm2: float  # that each stands for


@dataclass(frozen=True)
class Hanging:
    """What hangs over nothing, and what holds it."""

    overhang_deg: WorstPlace | None  # from upright, of what neither the bed, nor supports, nor two sides hold
    too_far_mm2: float  # hanging out farther than the limit and what is allowed beyond it
    patch_mm2: WorstPlace | None  # the most of that within 7 mm of one place
    bridge_mm: WorstPlace | None  # from one held side to the other, across the narrow way
    supported_mm2: float  # leaning out beyond the limit, seen from the bed: supports stand under it


@dataclass(frozen=True)
class Starts:
    """Islands that begin in the air."""

    in_air: int  # those that matter
    specks: int  # no bigger than a spot: a bead or two that droop
    largest_mm2: WorstPlace | None
    on_supports: int  # seen from the bed: supports of the print plan stand under them


def undersides(mesh: TriMesh, least_deg: float) -> Undersides:
    """Return places on the faces that lean out farther from upright than an angle: one on each so much area."""
    down = -mesh.face_normals[:, 2]
    face = np.flatnonzero(down > np.sin(np.radians(least_deg)))
    area = mesh.face_areas[face]
    total = float(area.sum())
    step = float(np.clip(total / _SAMPLES, _FINEST_MM2, _COARSEST_MM2)) if total else _FINEST_MM2
    number = np.arange(int(total / step))
    chosen = face[np.minimum(np.searchsorted(np.cumsum(area), (number + 0.5) * step), max(len(face) - 1, 0))]
    # The R2 sequence (Roberts 2018): evenly spread, the same each time.
    one, two = (number * 0.7548776662466927) % 1.0, (number * 0.5698402909980532) % 1.0
    is_over = one + two > 1.0
    one, two = np.where(is_over, 1.0 - one, one), np.where(is_over, 1.0 - two, two)
    corner = mesh.vertices[mesh.faces[chosen]]
    places = corner[:, 0] + one[:, None] * (corner[:, 1] - corner[:, 0]) + two[:, None] * (corner[:, 2] - corner[:, 0])
    return Undersides(places, np.degrees(np.arcsin(np.clip(down[chosen], -1.0, 1.0))), step)


def mildest(mesh: TriMesh, most_deg: float, layer_mm: float) -> WorstPlace | None:
    """Return the largest overhang among the faces that lean out less than an angle and stand above the first layer."""
    down = -mesh.face_normals[:, 2]
    middle = mesh.vertices[mesh.faces].mean(axis=1)
    face = np.flatnonzero((down > 0.0) & (down <= np.sin(np.radians(most_deg))) & (middle[:, 2] > layer_mm))
    order = face[np.argsort(-down[face], kind="stable")]
    enough = np.searchsorted(np.cumsum(mesh.face_areas[order]), 1.0)
    if enough >= len(order):
        return None
    angle = np.degrees(np.arcsin(down[order[enough]]))
    return beyond(np.array([angle]), 1.0, middle[order[enough]][None], layer_mm)


def hanging(
    stack: LayerStack,
    found: Undersides,
    is_seen: Bool,
    *,
    bead_mm: float,
    bridge_mm: float,
    limit_deg: float,
    beyond_deg: float,
) -> Hanging:
    """Return what of the undersides hangs free, what is bridged and how far, and what supports hold.

    An underside is bridged where, along one of 24 level lines through it, the layer it belongs to, or what is one pixel
    beside it, reaches solid that is laid on solid on both sides; its length is the least of the 24. One pixel next to
    what is held is held too, unless the overhang is too mild for the layer's step to show as more than a pixel; of what
    is all but level, as a ledge beside a wall, a bead's width is.

    Parameters
    ----------
    is_seen : (n,) bool
        Undersides with no solid anywhere below.
    bridge_mm : float
        The longest bridge allowed; what is over four times as long counts as hanging free.
    """
    layer = np.clip(stack.layer_above(found.places[:, 2]), 0, stack.count - 1)
    # What lies right on the middle of a layer may have been cut as above it or below: where it was is where it hangs.
    row, column = stack.grid.pixel(found.places)
    later = np.clip(stack.layer_above(found.places[:, 2] + 1e-4 * stack.layer_mm), 0, stack.count - 1)
    layer = np.where(_hangs(stack, layer, row, column), layer, later)
    is_high = layer > 0
    is_supported = is_high & is_seen
    chosen = np.flatnonzero(is_high & ~is_seen)
    places, angle = found.places[chosen], found.angle_deg[chosen]
    span, reach = _gaps(stack, places, layer[chosen], angle > _LEVEL_DEG, bridge_mm)
    shows = stack.layer_mm * np.tan(np.radians(np.minimum(angle, 89.0))) >= 1.5 * stack.grid.pixel_mm
    held = np.where(shows, HELD_PIXELS - 1.0, 0.0)
    held = np.where(angle > _LEVEL_DEG, np.maximum(held, bead_mm / stack.grid.pixel_mm), held)
    is_far = angle > limit_deg + beyond_deg  # else it is laid layer on layer, and no roof
    # The side of a leaning wall grows by a line a layer: between two short ends that is a bridge, a long one is none.
    spans = np.isfinite(span) & is_far & (shows | (span <= bridge_mm))
    is_bridged, is_free = spans & (reach > held), ~spans & (reach > held)
    area = found.area_mm2
    too_far = places[is_free & is_far]
    return Hanging(
        beyond(angle[is_free], area, places[is_free], stack.layer_mm),
        area * len(too_far),
        _patch(too_far, area, stack.layer_mm),
        beyond(span[is_bridged], area, places[is_bridged], stack.layer_mm, _BRIDGE_MM2),
        area * int(is_supported.sum()),
    )


def _patch(places: Float, area_mm2: float, layer_mm: float) -> WorstPlace | None:
    """Return the most area within a reach of one of the places, which each stand for as much."""
    if len(places) == 0:
        return None
    near = cKDTree(places).query_ball_point(places, _PATCH_MM, return_length=True)
    return beyond(area_mm2 * near, 1.0, places, layer_mm)


def _gaps(stack: LayerStack, places: Float, layer: Indices, is_level: Bool, bridge_mm: float) -> tuple[Float, Float]:
    """Return the length of the bridge at each place, inf where it is none, and pixels to the nearest held one.

    What is level may end a pixel before what is held: a wall that leans grows by one in every layer.
    """
    most = round(_FARTHEST * bridge_mm / stack.grid.pixel_mm)
    angle = np.arange(_WAYS) * np.pi / _WAYS
    way = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    way = np.stack([way, -way], axis=1).reshape(-1, 2)  # (48, 2): each direction, then its opposite
    span, nearest = np.full(len(places), np.inf), np.full(len(places), np.inf)
    # A strip of roof is as narrow as a layer's step, and none of the lines may run quite along it.
    wide = np.zeros_like(stack.bits)
    for number, picture in enumerate(stack.bits):
        wide[number] = grown(picture, 1)
    row, column = _on_it(stack, *stack.grid.pixel(places), layer)
    for some in np.array_split(np.arange(len(places)), max(1, len(places) // 5000)):
        far = _rays(stack, wide, row[some], column[some], layer[some], is_level[some], way, most)
        nearest[some] = far.min(axis=1, initial=np.inf) + is_level[some]
        through = far[:, 0::2] + far[:, 1::2] - 1.0 + 2.0 * is_level[some, None]
        span[some] = stack.grid.pixel_mm * through.min(axis=1, initial=np.inf)
    is_held = nearest == 0.0
    span[is_held | (span > _FARTHEST * bridge_mm)] = np.inf
    return span, nearest


def _hangs(stack: LayerStack, layer: Indices, row: Indices, column: Indices) -> Bool:
    """Return which pixels of layers are solid with none right below."""
    word, flag = column >> 6, np.uint64(1) << (column & 63).astype(np.uint64)
    below = np.where(layer > 0, stack.bits[np.maximum(layer - 1, 0), row, word], np.uint64(0))
    return np.asarray((stack.bits[layer, row, word] & ~below & flag) != 0)


def _on_it(stack: LayerStack, row: Indices, column: Indices, layer: Indices) -> tuple[Indices, Indices]:
    """Return the pixel of each place's layer that hangs free and is nearest to it, within two; else its own."""
    found = np.zeros(len(row), dtype=bool)
    on_row, on_column = row.copy(), column.copy()
    for down, right in sorted(np.ndindex(5, 5), key=lambda each: (each[0] - 2) ** 2 + (each[1] - 2) ** 2)[:13]:
        y = np.clip(row + down - 2, 0, stack.grid.rows - 1)
        x = np.clip(column + right - 2, 0, stack.grid.columns - 1)
        hangs = _hangs(stack, layer, y, x)
        is_new = hangs & ~found
        on_row[is_new], on_column[is_new] = y[is_new], x[is_new]
        found |= hangs
    return on_row, on_column


def _rays(
    stack: LayerStack, wide: Bits, row: Indices, column: Indices, layer: Indices, is_level: Bool, way: Float, most: int
) -> Float:
    """Return how many pixels each ray, (n, ways), goes to the first held one; inf where it comes into the air first."""
    grid = stack.grid
    far = np.full((len(row), len(way)), np.inf)
    place, ray = np.divmod(np.arange(far.size), len(way))
    for step in range(most + 1):
        y = np.rint(row[place] + step * way[ray, 1]).astype(np.int64)
        x = np.rint(column[place] + step * way[ray, 0]).astype(np.int64)
        y, x = np.clip(y, 0, grid.rows - 1), np.clip(x, 0, grid.columns - 1)
        word, flag = x >> 6, np.uint64(1) << (x & 63).astype(np.uint64)
        here = (stack.bits[layer[place], y, word] & flag) != 0
        below = np.where(is_level[place], wide[layer[place] - 1, y, word], stack.bits[layer[place] - 1, y, word])
        below = (below & flag) != 0
        is_held = here & below
        far[place[is_held], ray[is_held]] = step
        is_on = ~is_held & ((wide[layer[place], y, word] & flag) != 0)
        place, ray = place[is_on], ray[is_on]
        if len(place) == 0:
            break
    return far


class StartFinder:
    """Islands that begin in the air, found layer by layer from the bed up."""

    def __init__(self, stack: LayerStack) -> None:
        self._stack = stack
        self._in_air: list[tuple[float, float, float, float]] = []
        self._on_supports = 0

    def look(self, layer: int, seen_below: Bits) -> None:
        """Look at a layer; `seen_below` has the pixels with solid in any layer below."""
        stack = self._stack
        now = stack.bits[layer]
        hangs = now & ~grown(stack.bits[layer - 1], HELD_PIXELS)
        if not hangs.any():
            return
        first_row, first_column, picture = cropped(hangs)
        label, count = ndimage.label(picture, np.ones((3, 3), dtype=bool))
        row, column = np.nonzero(picture)
        piece = label[row, column]
        row, column = row + first_row, column + first_column
        is_start = np.ones(count + 1, dtype=bool)
        is_start[piece[at(grown(now & ~hangs, 2), row, column)]] = False
        is_start[0] = False
        for number in np.flatnonzero(is_start):
            is_its = piece == number
            self._keep(row[is_its], column[is_its], layer, seen_below)

    def _keep(self, row: NDArray[np.int64], column: NDArray[np.int64], layer: int, seen_below: Bits) -> None:
        stack = self._stack
        if at(seen_below, row, column).mean() < 0.5:
            self._on_supports += 1
            return
        x, y = stack.grid.place(float(row.mean()), float(column.mean()))
        self._in_air.append((len(row) * stack.grid.pixel_mm**2, x, y, stack.middle_mm(layer)))

    def found(self) -> Starts:
        """Return what was found."""
        largest = None
        if self._in_air:
            area, x, y, z = max(self._in_air)
            largest = WorstPlace(area, (x, y, z), 1 + int(z / self._stack.layer_mm), z)
        islands = sum(area > SPOT_MM2 for area, *_ in self._in_air)
        return Starts(islands, len(self._in_air) - islands, largest, self._on_supports)
