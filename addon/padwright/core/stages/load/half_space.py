"""Contact on a body without a bottom: what columns leave out where a contact is narrow against the pad's thickness."""

from __future__ import annotations


def plane_modulus(modulus: float, poisson: float) -> float:
    """Return E / (1 - nu^2), what a half-space shows a rigid body (Johnson 1985, chapter 4, cited, not read)."""
    return modulus / (1.0 - poisson**2)


def punch_force_mn(plane_kpa: float, radius_mm: float, indentation_mm: float) -> float:
    """Return the force of a flat round punch, 2 E* a d (Boussinesq 1885)."""
    return 2.0 * plane_kpa * radius_mm * indentation_mm
