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


@dataclass(frozen=True)
class Bounds:
    """A factor on Young's modulus, between bounds."""

    value: float
    low: float
    high: float


def shape_factor_modulus(modulus: float, shape_factor: float, k: float = 1.0, bulk: float | None = None) -> float:
    """Return the apparent modulus of a bonded block, disc or square, in the unit of `modulus`.

    Parameters
    ----------
    modulus : float
        Young's modulus.
    shape_factor : float
        Loaded area over force-free area; a disc of diameter D and height h has D / (4 h).
    k : float
        Lindley's factor for filled rubber: 0.93 (soft) to 0.52 (hard); 1 for an ideal one.
    bulk : float, optional
        Bulk modulus; None: incompressible.

    Notes
    -----
    Ec = E (1 + 2 k S^2); 1/Ec' = 1/Ec + 1/K (Gent & Lindley 1959, Proc. Inst. Mech. Eng. 173:111; seen with these
    factors in Strojniski vestnik 60 (2014) 506, doi 10.5545/sv-jme.2013.1510).
    """
    block = modulus * (1.0 + 2.0 * k * shape_factor**2)
    return block if bulk is None else 1.0 / (1.0 / block + 1.0 / bulk)


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
    z = radius_over_thickness * np.sqrt((12.0 if is_held else 3.0) * shear / bulk)
    share = 1.0 - 2.0 * i1e(z) / (z * i0e(z)) if z > 1e-3 else z * z / 8.0
    return float(min(1.0 + bulk * share, constrained_ratio(poisson)))


def solid_ratio(poisson: float, thickness_mm: float, area_mm2: float, perimeter_mm: float) -> Bounds:
    """Return apparent over Young's modulus of a solid region in contact.

    Parameters
    ----------
    poisson : float
        Above `COLUMN_LIMIT`.
    thickness_mm, area_mm2, perimeter_mm : float
        Mean thickness; area and outline of the loaded part.

    Notes
    -----
    Low: a disc of the same area over perimeter whose sides are free and whose top slips. High: a disc one thickness
    wider all round (what lies beside the contact holds it), its top held; never above M/E. The value is their
    geometric mean. Own plane-strain finite elements (nu 0.45 to 0.4999, half-width 0.39 to 4 thicknesses) lie between
    the two in every case.

    Raises
    ------
    InputError
        When a size is not above 0.
    """
    if min(thickness_mm, area_mm2, perimeter_mm) <= 0.0:
        raise InputError(f"A block of {area_mm2:g} mm2, {perimeter_mm:g} mm around, {thickness_mm:g} mm has no size.")
    wide_area = area_mm2 + perimeter_mm * thickness_mm + np.pi * thickness_mm**2
    wide_perimeter = perimeter_mm + 2.0 * np.pi * thickness_mm
    low = disc_ratio(2.0 * area_mm2 / perimeter_mm / thickness_mm, poisson, is_held=False)
    high = disc_ratio(2.0 * wide_area / wide_perimeter / thickness_mm, poisson, is_held=True)
    return Bounds(float(np.sqrt(low * high)), low, high)


def incompressible_layer(
    modulus: float, radius_mm: float, thickness_mm: float, indentation_mm: float, *, is_cylinder: bool
) -> tuple[float, float, float]:
    """Return force, contact half-width and peak pressure of a rigid body on a thin incompressible bonded layer.

    Parameters
    ----------
    modulus : float, kPa
    radius_mm, thickness_mm, indentation_mm : float
    is_cylinder : bool
        Force per mm of length; else a paraboloid.

    Returns
    -------
    force, half_width, peak : float
        mN (per mm for the cylinder), mm, kPa.

    Notes
    -----
    Frictionless body: cylinder d = a^2/(6R), p = E (a^2 - x^2)^2 / (24 R h^3), F = 2 E a^5 / (45 R h^3) (Johnson
    1985, section 5.8, cited, not read); paraboloid d = a^2/(4R), p = E (a^2 - r^2)^2 / (32 R h^3),
    F = pi E a^6 / (96 R h^3) (Jaffar 1989, cited, not read). They need a much larger than h.
    """
    if is_cylinder:
        half = np.sqrt(6.0 * radius_mm * indentation_mm)
        force = 2.0 * modulus * half**5 / (45.0 * radius_mm * thickness_mm**3)
        return float(force), float(half), float(modulus * half**4 / (24.0 * radius_mm * thickness_mm**3))
    half = np.sqrt(4.0 * radius_mm * indentation_mm)
    force = np.pi * modulus * half**6 / (96.0 * radius_mm * thickness_mm**3)
    return float(force), float(half), float(modulus * half**4 / (32.0 * radius_mm * thickness_mm**3))
