"""How large each zone is for the body on it: which lie wholly inside, and where contours stand on borders."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ...base.cached import cached_property
from ..material.fill import RegionGeometry
from ..material.region_size import region_size
from ..regions.regions import Region
from .firmness import Ground
from .level_basis import ZoneSizes
from .load_case import ContactPatch

_STEEP = np.cos(np.radians(45.0))
"""Closed layers of two or three cover a slope up to about 45 degrees (a bead's width in steps of a layer); steeper
faces need a contour. Own reckoning: n layers of h reach n h / tan(slope) inward."""

_LITTLE = 0.01
"""A zone whose steep faces at the air are less than this share of its walls lies wholly inside the part."""


def zone_sizes(ground: Ground, patch: ContactPatch | None) -> ZoneSizes:
    """Return the sizes of all zones that have a region; without a patch all borders count as under the body.

    Contours at the part's own rim bear no body, as the rim itself bears none where it is rounded (`contact_patch`).
    Those on borders inside the part stand there and nowhere else: they make no zone firmer as a whole, so they are in
    no zone's size, and their length is told by itself.
    """
    pieces = [_ZonePiece(ground, region) for region in ground.regions.regions]
    zones: dict[int, RegionGeometry] = {}
    borders: dict[int, float] = {}
    inside = set()
    for number in sorted({piece.region.zone for piece in pieces}):
        own = [piece for piece in pieces if piece.region.zone == number]
        sizes = [piece.size for piece in own]
        area = sum(size.area_mm2 for size in sizes)
        thickness = sum(size.area_mm2 * size.thickness_mm for size in sizes) / area
        zones[number] = RegionGeometry(thickness, area, sum(size.perimeter_mm for size in sizes))
        borders[number] = sum(piece.border_mm(patch) for piece in own)
        if all(piece.is_inside for piece in own):
            inside.add(number)
    return ZoneSizes(zones, {piece.region.id: piece.size for piece in pieces}, borders, frozenset(inside))


@dataclass(frozen=True, eq=False)
class _ZonePiece:
    """One region and its neighbors."""

    ground: Ground
    region: Region

    @cached_property
    def _whole(self) -> RegionGeometry:
        pad = self.ground.pad
        return region_size(self.region.mesh, pad.press_direction, pad)

    @cached_property
    def _border_mm2(self) -> float:
        """Area of its walls on neighbors."""
        own = self.region.id
        return sum(each.area_mm2 for each in self.ground.regions.contacts if own in (each.first, each.second))

    @cached_property
    def size(self) -> RegionGeometry:
        """Its size, with the outline at the air where the rim is not rounded."""
        whole = self._whole
        air = max(whole.perimeter_mm - self._border_mm2 / whole.thickness_mm, 0.0)
        is_rounded = self.ground.job.pad.rim_radius_mm > 0.0
        return RegionGeometry(whole.thickness_mm, whole.area_mm2, 0.0 if is_rounded else air)

    @property
    def is_inside(self) -> bool:
        """Whether no air touches its sides; a wrap-around part is closed by contours all over."""
        press = self.ground.pad.press_direction
        if press is None or self._border_mm2 <= 0.0:
            return False
        mesh = self.region.mesh
        steep = float(mesh.face_areas[np.abs(mesh.face_normals @ press) < _STEEP].sum())
        return steep - self._border_mm2 <= _LITTLE * self._border_mm2

    def border_mm(self, patch: ContactPatch | None) -> float:
        """Return the length of its borders inside the part, as far as they stand under the body."""
        own, mesh = self.region.id, self.region.mesh
        contacts = self.ground.regions.contacts
        faces = [each.first_faces for each in contacts if each.first == own]
        faces += [each.second_faces for each in contacts if each.second == own]
        walls = np.concatenate([np.zeros(0, dtype=np.int32), *faces])
        if patch is None or patch.press_direction is None or len(walls) == 0:  # overlapping regions share no faces
            return self._border_mm2 / self._whole.thickness_mm
        press = patch.press_direction
        points = mesh.triangles[walls].mean(axis=1)
        flat = [each - np.outer(each @ press, press) for each in (patch.position, points)]
        spacing = float(np.sqrt(patch.area_mm2.sum() / len(patch.position)))
        distance, _ = cKDTree(flat[0]).query(flat[1])
        return float(mesh.face_areas[walls[distance <= spacing]].sum()) / self._whole.thickness_mm
