"""The part of folded walls cut open, each place in the color of the firmness that it reaches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from scipy.ndimage import map_coordinates

from ..base.mesh import Float
from ..base.ramps import FIRMNESS
from ..job.cards import Level
from ..stages.load.firmness import Folded
from ..stages.load.fold_places import kpa_everywhere
from ..stages.packing.cutaway import CutPlane, cut_plane, cutaway_png
from ..stages.packing.shading import mixed
from ..stages.regions.bodies import Mirror
from ..stages.shape.work import FoldedPart
from .parts import MadePart


def part_cutaway(part: MadePart, mirror: Mirror | None = None) -> bytes | None:
    """Return a PNG picture of the part cut open through its load centers, or None where it has no folded walls.

    With a mirror it is that of the part for the other side.
    """
    plane, walls = part_cut(part), part.firmness.folded if part.firmness is not None else None
    if plane is None or walls is None:
        return None
    mesh, levels = part.of(FoldedPart).solid.mesh, part.family.levels
    color_at = _colors(walls, levels)
    if mirror is not None:
        mesh, color_at = mirror.of(mesh), _seen_in(mirror, color_at)
        plane = mirrored_plane(mirror, plane)
    words = [f"{level.target_modulus_kpa:g}" for level in levels]
    words[-1] += " kPa"
    key = list(zip(FIRMNESS, words, strict=True))
    return cutaway_png(mesh, plane, color_at=color_at, key=key)


def part_cut(part: MadePart) -> CutPlane | None:
    """Return the plane along the press direction through the load centers, or None where there are no folded walls."""
    found = part.find(FoldedPart)
    if found is None or part.pad is None or part.pad.press_direction is None:
        return None
    centers = () if part.reading is None else part.reading.load_centers
    places = np.array([each.position_mm for each in centers]).reshape(-1, 3)
    return cut_plane(found.solid.mesh, -np.asarray(part.pad.press_direction), places)


def _colors(walls: Folded, levels: Sequence[Level]) -> Callable[[Float], Float]:
    """Return what gives places the color of the core below and above them; where it is solid, of the firmest."""
    layout = walls.layout
    moduli, numbers = np.log([each.target_modulus_kpa for each in levels]), [each.level for each in levels]
    level = np.interp(np.log(kpa_everywhere(layout, walls.field.reached_kpa)), moduli, numbers)

    def color_at(places: Float) -> Float:
        at = ((layout.flat(places) - layout.origin) / layout.step_mm).T
        return mixed(map_coordinates(level, at, order=1, mode="nearest"), FIRMNESS)

    return color_at


def _seen_in(mirror: Mirror, color_at: Callable[[Float], Float]) -> Callable[[Float], Float]:
    return lambda places: color_at(other_side(mirror, places))


def mirrored_plane(mirror: Mirror, plane: CutPlane) -> CutPlane:
    """Return where the part for the other side is cut to show the same."""
    return replace(plane, point=other_side(mirror, plane.point), normal=_turned(mirror, plane.normal))


def other_side(mirror: Mirror, places: Float) -> Float:
    """Return places, (n, 3) mm, of one side on the other."""
    return mirror.plane_point_mm + _turned(mirror, places - mirror.plane_point_mm)


def _turned(mirror: Mirror, ways: Float) -> Float:
    normal = mirror.plane_normal
    return np.asarray(ways - 2.0 * (ways @ normal)[..., None] * normal)
