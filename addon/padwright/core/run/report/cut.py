"""The part cut open through its load centers, each place in the color of its firmness."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt

from ...base.mesh import Float
from ...base.ramps import FIRMNESS
from ...stages.packing.cutaway import cut_plane, cutaway_png
from ...stages.packing.shading import linear
from ...stages.packing.thumbnail import firmness_color
from ...stages.regions.bodies import Mirror
from ..cutaway import mirrored_plane, other_side
from .source import ReportSource

_WIDTH = 640  # pixels


def cut_picture(source: ReportSource) -> tuple[bytes, str] | None:
    """Return a picture of the part cut open and what to say of it; None for a part that wraps around something."""
    part, pad = source.part, source.part.pad
    if pad is None or pad.press_direction is None:
        return None
    centers = () if part.reading is None else part.reading.load_centers
    where = "through its middle" if not centers else f"through the load center{'s' if len(centers) > 1 else ''}"
    drawn = source.files.get(f"{part.job.part.number}.cutaway.png")
    if drawn is not None:
        return drawn, f"Cut {where}, each wall in the color of the stiffness that it reaches there."
    places = np.array([each.position_mm for each in centers]).reshape(-1, 3)
    plane = cut_plane(pad.mesh, -np.asarray(pad.press_direction), places)
    mesh, mirror = pad.mesh, source.packed.mirror
    if mirror is not None:
        mesh, plane = mirror.of(mesh), mirrored_plane(mirror, plane)
    colors = RegionColors(source, mirror)
    levels = part.family.levels
    words = [f"{level.target_modulus_kpa:g}" for level in levels]
    key = list(zip(FIRMNESS, [*words[:-1], f"{words[-1]} kPa"], strict=True))
    png = cutaway_png(mesh, plane, color_at=colors.at, key=key, width=_WIDTH)
    return png, f"Cut {where}: how thick each region is there, in the color of its firmness."


class RegionColors:
    """The color of the region in whose column along the press direction a place lies."""

    def __init__(self, source: ReportSource, mirror: Mirror | None) -> None:
        (_, seen), *_ = source.region_views
        self._view, self._mirror = seen.view, mirror
        shown = np.full(seen.is_hit.shape, -1, dtype=np.int64)
        shown[seen.is_hit] = source.region_of_face[seen.face]
        row, column = distance_transform_edt(shown < 0, return_distances=False, return_indices=True)
        self._region = shown[row, column]
        self._light = np.stack([linear(firmness_color(body.firmness_level)) for body in source.packed.bodies])

    def at(self, places: Float) -> Float:
        """Return the color at places, (k, 3) mm, as linear light, (k, 3)."""
        flat = self._view.on_picture(places if self._mirror is None else other_side(self._mirror, places))
        height, width = self._region.shape
        column, row = np.clip(np.floor(flat).astype(np.int64), 0, [width - 1, height - 1]).T
        return np.asarray(self._light[self._region[row, column]])
