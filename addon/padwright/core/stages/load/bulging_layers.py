"""Nearly incompressible solid regions: they give way only by bulging, so a column says far too much stiffness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import i0e, i1e

from ...base.errors import InputError
from ..material.curves import constrained_ratio

COLUMN_LIMIT = 0.40
"""Largest Poisson's ratio for the column rule. Our own plane-strain finite elements of a rigid cylinder on a bonded
layer come within 8 % of it at 0.37 and 25 % below it at 0.45 (contact half-width twice the thickness)."""

SLIPPING, HELD = 3.0, 12.0
"""How a layer bonded below resists spreading, in G/h^2, by whether its top slips or is held: shear of a parabola over
the whole height, and over half of it twice."""


@dataclass(frozen=True)
class Bounds:
    """A factor on Young's modulus, between bounds."""

    value: float
    low: float
    high: float


def disc_ratio(radius_over_thickness: float, poisson: float, *, is_held: bool) -> float:
    """Return apparent over Young's modulus of a disc bonded below, and above held (`is_held`) or free to slip.

    Notes
    -----
    1 + (K/E) (1 - 2 I1(z) / (z I0(z))), z = (a/h) sqrt(c G / K), c = 12 held, 3 slipping, K = E / (3 (1 - 2 nu)),
    G = E / (2 (1 + nu)): pressure driven flow in a thin layer with compressibility (the incompressible limit is
    Gent & Lindley's 1 + 2 S^2 held; slipping is half of a block twice as high). Never above M/E.
    """
    bulk = 1.0 / (3.0 * (1.0 - 2.0 * poisson))
    shear = 1.0 / (2.0 * (1.0 + poisson))
    z = radius_over_thickness * np.sqrt((HELD if is_held else SLIPPING) * shear / bulk)
    share = 1.0 - 2.0 * i1e(z) / (z * i0e(z)) if z > 1e-3 else z * z / 8.0
    return float(min(1.0 + bulk * share, constrained_ratio(poisson)))


def solid_ratio(poisson: float, thickness_mm: float, area_mm2: float, perimeter_mm: float) -> Bounds:
    """Return apparent over Young's modulus of a solid region in contact.

    Poisson's ratio is above `COLUMN_LIMIT`; thickness is the mean, area and outline those of the loaded part. Raises
    InputError when a size is not above 0.

    Notes
    -----
    Low: a disc of the same area over perimeter whose sides are free and whose top slips. High: a disc one thickness
    wider all round (what lies beside the contact holds it), its top held; never above M/E. The value is their
    geometric mean. Own plane-strain finite elements (nu 0.45 to 0.4999, half-width 0.39 to 4 thicknesses) lie between
    the two in every case.
    """
    if min(thickness_mm, area_mm2, perimeter_mm) <= 0.0:
        raise InputError(f"A block of {area_mm2:g} mm2, {perimeter_mm:g} mm around, {thickness_mm:g} mm has no size.")
    wide_area = area_mm2 + perimeter_mm * thickness_mm + np.pi * thickness_mm**2
    wide_perimeter = perimeter_mm + 2.0 * np.pi * thickness_mm
    low = disc_ratio(2.0 * area_mm2 / perimeter_mm / thickness_mm, poisson, is_held=False)
    high = disc_ratio(2.0 * wide_area / wide_perimeter / thickness_mm, poisson, is_held=True)
    return Bounds(float(np.sqrt(low * high)), low, high)
