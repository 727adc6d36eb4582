"""The finished solid cut at every layer and checked as a printer meets it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from ...base.mesh import Bool, Float, TriMesh
from ...base.progress import Progress, Steps, nested
from ...geometry.bit_rasters import at, cropped
from .layer_stack import BLOCK_MM, LayerStack, stack_layers
from .loose_tops import FloorFinder, loose_tops
from .slice_report import BRIDGE_OVER, OVERHANG_OVER_DEG, SliceLimits, SliceReport, breaches
from .tips import RiseFinder, SolidStuff, weakest_tip
from .undersides import StartFinder, Undersides, hanging, mildest, undersides
from .wall_widths import WidthFinder, least_width
from .worst_places import WorstPlace

_CUT, _LOOKED = 0.45, 0.7
"""Shares of the time: cutting, going up through the layers; the rest goes down again (measured on the demo pad)."""


def check_slices(
    mesh: TriMesh,
    *,
    layer_mm: float,
    bead_mm: float,
    limits: SliceLimits,
    stuff: SolidStuff | None = None,
    to_part: Float | None = None,
) -> Steps[SliceReport]:
    """Cut a closed mesh at every layer and check it; what breaks a limit is told, never raised.

    The mesh lies in the build frame: z up, bed at 0. Layers are compared as pictures of .15-.25 mm pixels; angles come
    from the faces, widths and lengths from the outlines. Places are told in the frame that `to_part`, (4, 4), leads to
    from the build frame, or without it in the build frame itself. What walls are made of tells how far the nozzle drags
    them.

    Raises InputError where the mesh is empty or reaches under the bed.
    """

    def told(place: WorstPlace | None) -> WorstPlace | None:
        return place if place is None or to_part is None else place.moved(to_part)

    widths = WidthFinder(mesh, layer_mm)
    stack = yield from nested(stack_layers(mesh, layer_mm, widths.take), 0.0, _CUT)
    pieces = widths.found()
    rises = RiseFinder(stack, pieces)
    below = undersides(mesh, limits.overhang_deg)
    starts, floors = StartFinder(stack), FloorFinder(stack, limits.skin_mm)
    is_seen, islands, holes = yield from nested(_upward(stack, below, starts, floors, rises), _CUT, _LOOKED)
    tops = yield from nested(
        loose_tops(stack, floors.standing, least_mm=BRIDGE_OVER * limits.bridge_mm, bead_mm=bead_mm), _LOOKED, 0.95
    )
    hangs = hanging(
        stack, below, is_seen,
        bead_mm=bead_mm, bridge_mm=limits.bridge_mm, limit_deg=limits.overhang_deg, beyond_deg=OVERHANG_OVER_DEG,
    )  # fmt: skip
    if hangs.overhang_deg is None:
        hangs = replace(hangs, overhang_deg=mildest(mesh, limits.overhang_deg, layer_mm))
    hangs = replace(
        hangs, overhang_deg=told(hangs.overhang_deg), bridge_mm=told(hangs.bridge_mm), patch_mm2=told(hangs.patch_mm2)
    )
    begun = starts.found()
    begun = replace(begun, largest_mm2=told(begun.largest_mm2))
    tops = replace(tops, longest_mm=told(tops.longest_mm))
    width = told(least_width(pieces, layer_mm))
    tip = None if stuff is None else weakest_tip(stack, pieces, rises.rise_mm, stuff)
    if tip is not None and to_part is not None:
        tip = replace(tip, moves_mm=tip.moves_mm.moved(to_part))
    errors, notes = breaches(limits, bead_mm, hangs, begun, width, tops, tip)
    yield Progress(1.0, "Checked every layer")
    return SliceReport(
        layer_mm, bead_mm, limits, stack.grid.pixel_mm, stack.area_mm2, stack.outline_mm, islands, islands + holes,
        hangs, begun, width, tops, tip, errors, notes,
    )  # fmt: skip


def _upward(
    stack: LayerStack, below: Undersides, starts: StartFinder, floors: FloorFinder, rises: RiseFinder
) -> Steps[tuple[Bool, NDArray[np.int64], NDArray[np.int64]]]:
    """Go up through the layers; return which undersides are seen from the bed, and islands and holes of every layer.

    Holes are counted on one layer of each block: they change little.
    """
    layer_of = np.clip(stack.layer_above(below.places[:, 2]), 0, stack.count - 1)
    order = np.argsort(layer_of, kind="stable")
    begin = np.searchsorted(layer_of[order], np.arange(stack.count + 1))
    row, column = stack.grid.pixel(below.places)
    is_seen = np.zeros(len(layer_of), dtype=bool)
    islands, holes = np.zeros((2, stack.count), dtype=np.int64)
    block = max(1, round(BLOCK_MM / stack.layer_mm))
    seen = np.zeros_like(stack.bits[0])
    for layer in range(stack.count):
        now = stack.bits[layer]
        here = order[begin[layer] : begin[layer + 1]]
        is_seen[here] = ~at(seen, row[here], column[here])
        if layer:
            starts.look(layer, seen)
        floors.look(now, seen)
        picture = cropped(now)[2]
        islands[layer] = ndimage.label(picture)[1]
        rises.look(layer, now, is_floor=layer % 2 == 0)
        if layer % block == 0 and picture.size:
            holes[layer : layer + block] = ndimage.label(~np.pad(picture, 1), np.ones((3, 3), dtype=bool))[1] - 1
        seen |= now
        if layer % 10 == 0:
            yield Progress((layer + 1) / stack.count, f"Comparing layers: {layer + 1} of {stack.count}")
    return is_seen, islands, holes
