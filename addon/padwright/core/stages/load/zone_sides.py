"""What the zones beside a zone leave of a layer's stiffness: a small firm zone spreads into soft neighbors."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import i0e, i1e, k0e, k1e

from ...base.mesh import Bool, Float
from ..material.curves import WALL_POISSON, StressCurve, layered_ratio
from .bulging_layers import COLUMN_LIMIT, HELD, SLIPPING, Bounds, solid_ratio
from .contact_pieces import outline_mm
from .load_case import ContactPatch

WRIGGLE = 1.16
"""How much longer a border that goes between the points of uneven triangles is than what it stands for: own
measurement on circles and lines, 1.02 to 1.27; an error of a tenth moves `sided_ratio` by 1 or 2 %."""


def layer_ratios(patch: ContactPatch, curves: Sequence[StressCurve], is_loaded: Bool | None = None) -> list[Bounds]:
    """Return what standing in the pad adds to each zone's curve, as a factor; 1 where a zone is not there.

    With `is_loaded`, (n,) bool, a solid zone is as large as its loaded part.
    """
    borders = zone_borders(patch, len(curves))
    found = []
    for number, curve in enumerate(curves):
        is_zone = patch.zone == number
        area = float(patch.area_mm2[is_zone].sum())
        if area <= 0.0:
            found.append(Bounds(1.0, 1.0, 1.0))
            continue
        if curve.poisson == curve.wall_share == 0.0:  # it does not widen: what is beside it makes no difference
            found.append(Bounds(1.0, 1.0, 1.0))
            continue
        thickness = float(patch.thickness_mm[is_zone] @ patch.area_mm2[is_zone]) / area
        if curve.poisson > COLUMN_LIMIT:
            bears = is_zone if is_loaded is None or not is_loaded[is_zone].any() else is_zone & is_loaded
            area = float(patch.area_mm2[bears].sum())
            found.append(solid_ratio(curve.poisson, thickness, area, outline_mm(patch, bears)))
            continue
        border = float(borders[number].sum())
        around = [(curves[other], float(borders[number, other]) / border) for other in np.flatnonzero(borders[number])]
        wide = layered_ratio(curve)
        found.append(
            sided_ratio(curve, around, 2.0 * area / border / thickness) if around else Bounds(wide, wide, wide)
        )
    return found


def _moduli(curve: StressCurve) -> tuple[float, float, float]:
    """Return of a zone's fill Lame's first constant, the constrained modulus (kPa), and shear over constrained."""
    fill = (1.0 - curve.wall_share) * curve.small_strain_kpa
    nu = min(curve.poisson, COLUMN_LIMIT)
    shear = fill / (2.0 * (1.0 + nu))
    first = 2.0 * shear * nu / (1.0 - 2.0 * nu)
    return first, first + 2.0 * shear, (1.0 - 2.0 * nu) / (2.0 * (1.0 - nu))


def sided_ratio(curve: StressCurve, around: Sequence[tuple[StressCurve, float]], width: float) -> Bounds:
    """Return what standing among other zones adds to a zone's curve, as a factor.

    Its Poisson's ratio is at most `COLUMN_LIMIT`. The zones around have each its part of the border; the parts add up
    to 1. The width is twice the zone's area over its border with others, over its thickness; for a disc radius over
    thickness.

    Notes
    -----
    All zones are squeezed by one strain e. The mean shift u sideways of a layer that is held below by shear obeys
    M (u'' + u'/r - u/r^2) = c G u / h^2, c = 3 where the top slips, 12 where it is held, as in `disc_ratio`: Bessel
    functions I1 inside, K1 outside. Both sides push alike on the border, and so does the zone's contour, a ring of
    stiffness k = s E / (2 (1 - nu_w^2)) that squeezing widens by nu_w e (Lame's thick tube, Johnson 1985, cited, not
    read):

    u/R = e (L1 - L0 + k nu_w) / (M1 q1 + L1 - M0 q0 - L0 + k), q = R u'/u on either side.

    A wide zone keeps M/E and its contour 1/(1 - nu_w^2), as in `layered_ratio`; a narrow one among soft neighbors
    comes down towards a free block. The value is the geometric mean of c = 3 and c = 12, low and high are those two.
    """
    ends = [_ratio(curve, around, width, c) for c in (SLIPPING, HELD)]
    return Bounds(float(np.sqrt(ends[0] * ends[1])), min(ends), max(ends))


def _ratio(curve: StressCurve, around: Sequence[tuple[StressCurve, float]], width: float, c: float) -> float:
    first, wide, shear = _moduli(curve)
    z = max(width * float(np.sqrt(c * shear)), 1e-6)
    # With q = z I0/I1 - 1 inside, -(z K0/K1 + 1) outside, M q + L is M (q + 1) - 2 G and -M (q + 1) - 2 G.
    inside = wide * (z * float(i0e(z) / i1e(z)) - 2.0 * shear)
    outside, pushed = 0.0, 0.0
    for other, part in around:
        other_first, other_wide, other_shear = _moduli(other)
        z = max(width * float(np.sqrt(c * other_shear)), 1e-6)
        outside += part * other_wide * (z * float(k0e(z) / k1e(z)) + 2.0 * other_shear)
        pushed += part * other_first
    modulus = curve.small_strain_kpa
    plate = curve.wall_share * modulus / (1.0 - WALL_POISSON**2)
    spread = (first - pushed + 0.5 * plate * WALL_POISSON) / (inside + outside + 0.5 * plate)
    return (wide - 2.0 * first * spread + plate * (1.0 - WALL_POISSON * spread)) / modulus


def zone_borders(patch: ContactPatch, count: int) -> Float:
    """Return the length of border between each two zones, (count, count), mm, seen along the press direction.

    A border runs halfway between points of different zones and wriggles with the mesh (`WRIGGLE`). Without faces it is
    what the patch says of it, or all 0.
    """
    found = np.zeros((count, count))
    if patch.faces is None:
        return found if patch.border_mm is None else patch.border_mm
    zone = patch.zone[patch.faces]
    faces = patch.faces[(zone != zone[:, :1]).any(axis=1)]
    if len(faces) == 0:
        return found
    zone, corner = patch.zone[faces], patch.position[faces]
    if patch.press_direction is not None:
        corner = corner - (corner @ patch.press_direction)[..., None] * patch.press_direction
    center = corner.mean(axis=1)
    is_threefold = (zone[:, 0] != zone[:, 1]) & (zone[:, 1] != zone[:, 2]) & (zone[:, 2] != zone[:, 0])
    for one in range(3):
        other, third = (one + 1) % 3, (one + 2) % 3
        mixed = zone[:, one] != zone[:, other]
        middle = 0.5 * (corner[:, one] + corner[:, other])
        # In a face of two zones the border is half as long as its one unmixed edge: a quarter for each mixed one.
        unmixed = np.where(
            zone[:, one] == zone[:, third],
            np.linalg.norm(corner[:, one] - corner[:, third], axis=1),
            np.linalg.norm(corner[:, other] - corner[:, third], axis=1),
        )
        length = np.where(is_threefold, np.linalg.norm(middle - center, axis=1), 0.25 * unmixed)[mixed]
        pair = zone[mixed, one], zone[mixed, other]
        np.add.at(found, pair, length)
        np.add.at(found, pair[::-1], length)
    return found / WRIGGLE
