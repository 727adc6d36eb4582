"""Contact on a body without a bottom: what columns leave out where a contact is narrow against the pad's thickness."""

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


def paraboloid_contact(plane_kpa: float, radius_mm: float, indentation_mm: float) -> HalfSpaceContact:
    """Press a rigid paraboloid in: F = 4/3 E* sqrt(R) d^1.5, a = sqrt(R d), p0 = 3F / (2 pi a^2) (Hertz 1882)."""
    force = 4.0 / 3.0 * plane_kpa * np.sqrt(radius_mm) * indentation_mm**1.5
    half = np.sqrt(radius_mm * indentation_mm)
    return HalfSpaceContact(float(force), float(half), float(1.5 * force / (np.pi * half**2)))


def line_contact(plane_kpa: float, radius_mm: float, force_mn_per_mm: float) -> HalfSpaceContact:
    """Press a rigid cylinder in: a = sqrt(4 P R / (pi E*)), p0 = 2P / (pi a), P per length (Hertz 1882)."""
    half = np.sqrt(4.0 * force_mn_per_mm * radius_mm / (np.pi * plane_kpa))
    return HalfSpaceContact(force_mn_per_mm, float(half), float(2.0 * force_mn_per_mm / (np.pi * half)))


def punch_force_mn(plane_kpa: float, radius_mm: float, indentation_mm: float) -> float:
    """Return the force of a flat round punch, 2 E* a d (Boussinesq 1885)."""
    return 2.0 * plane_kpa * radius_mm * indentation_mm
