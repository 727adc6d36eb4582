"""Closed forms of contact that the load check is held against; the product itself does not need them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class HalfSpaceContact:
    """Force mN (mN/mm for a line), contact half-width mm, largest pressure kPa."""

    force_mn: float
    half_width_mm: float
    peak_kpa: float


def plane_modulus(modulus: float, poisson: float) -> float:
    """Return E / (1 - nu^2), what a half-space shows a rigid body (Johnson 1985, chapter 4, cited, not read)."""
    return modulus / (1.0 - poisson**2)


def punch_force_mn(plane_kpa: float, radius_mm: float, indentation_mm: float) -> float:
    """Return the force of a flat round punch, 2 E* a d (Boussinesq 1885)."""
    return 2.0 * plane_kpa * radius_mm * indentation_mm


def paraboloid_contact(plane_kpa: float, radius_mm: float, indentation_mm: float) -> HalfSpaceContact:
    """Press a rigid paraboloid in: F = 4/3 E* sqrt(R) d^1.5, a = sqrt(R d), p0 = 3F / (2 pi a^2) (Hertz 1882)."""
    force = 4.0 / 3.0 * plane_kpa * np.sqrt(radius_mm) * indentation_mm**1.5
    half = np.sqrt(radius_mm * indentation_mm)
    return HalfSpaceContact(float(force), float(half), float(1.5 * force / (np.pi * half**2)))


def line_contact(plane_kpa: float, radius_mm: float, force_mn_per_mm: float) -> HalfSpaceContact:
    """Press a rigid cylinder in: a = sqrt(4 P R / (pi E*)), p0 = 2P / (pi a), P per length (Hertz 1882)."""
    half = np.sqrt(4.0 * force_mn_per_mm * radius_mm / (np.pi * plane_kpa))
    return HalfSpaceContact(force_mn_per_mm, float(half), float(2.0 * force_mn_per_mm / (np.pi * half)))


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
