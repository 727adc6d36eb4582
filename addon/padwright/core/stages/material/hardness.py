"""From the hardness on the spool to the modulus of the solid, with the spread of the published relations."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import erf

from ...base.errors import InputError


def gent_kpa(shore_a: float) -> float:
    """Return E of Shore A, kPa: 0.0981 (56 + 7.66 S) / (0.137505 (254 - 2.54 S)) MPa, useful from 20 to 80.

    Notes
    -----
    Gent 1958, Rubber Chem. Technol. 31, 896 (cited, not read).
    """
    return 1000.0 * 0.0981 * (56.0 + 7.66 * shore_a) / (0.137505 * (254.0 - 2.54 * shore_a))


def flat_punch_kpa(shore_a: float) -> float:
    """Return E of Shore A, kPa: (1 - nu^2) / (2 R C3) (C1 + C2 S) / (100 - S), R 0.395 mm, nu 0.5.

    Notes
    -----
    Kunz & Studer 2006; C1 = 0.549 N, C2 = 0.07516 N, C3 = 0.025 mm of the ISO 868 spring (cited, not read).
    """
    return 1000.0 * 0.75 / (2.0 * 0.395 * 0.025) * (0.549 + 0.07516 * shore_a) / (100.0 - shore_a)


def logarithmic_kpa(shore: float, scale: str) -> float:
    """Return E of Shore A or D, kPa: log10 E = 0.0235 S' - 0.6403 (MPa).

    Notes
    -----
    S' is Shore A (20 to 80), or Shore D + 50 (30 to 85).
    Qi, Joyce & Boyce 2003, Rubber Chem. Technol. 76, 419 (cited, not read).
    """
    return 1000.0 * float(10.0 ** (0.0235 * (shore + (50.0 if scale == "D" else 0.0)) - 0.6403))


def error_function_kpa(shore_a: float) -> float:
    """Return E of Shore A, kPa: S = 100 erf(3.186e-4 sqrt(E / Pa)) solved for E (an encyclopaedia; cited, not read)."""
    return float(brentq(lambda e: 100.0 * erf(3.186e-4 * np.sqrt(1000.0 * e)) - shore_a, 1.0, 1e6))


def cone_kpa(shore_d: float) -> float:
    """Return E of Shore D, kPa: S = 100 - 20 (-78.188 + sqrt(6113.36 + 781.88 E)) / E, E in MPa (cited, not read)."""

    def excess(modulus: float) -> float:
        return 100.0 - 20.0 * (-78.188 + np.sqrt(6113.36 + 781.88 * modulus)) / modulus - shore_d

    return 1000.0 * float(brentq(excess, 0.05, 1e5))


def moduli_kpa(hardness: str) -> tuple[float, ...]:
    """Return what each published relation says of a hardness such as "85A" or "45D", kPa.

    Raises InputError when it is no hardness between 10A and 97A or 20D and 85D.
    """
    found = re.fullmatch(r"\s*([0-9]{1,2}(?:\.[0-9]+)?)\s*([ADad])\s*", hardness)
    if found is None:
        raise InputError(f'The hardness "{hardness}" is not known.', hint='Write it as "85A" or "45D".')
    shore, scale = float(found[1]), found[2].upper()
    low, high = (10.0, 97.0) if scale == "A" else (20.0, 85.0)
    if not low <= shore <= high:
        raise InputError(
            f'The hardness "{hardness}" lies outside {low:g}{scale} to {high:g}{scale}, where the relations hold.'
        )
    if scale == "A":
        return gent_kpa(shore), flat_punch_kpa(shore), logarithmic_kpa(shore, "A"), error_function_kpa(shore)
    return logarithmic_kpa(shore, "D"), cone_kpa(shore)


@dataclass(frozen=True)
class Measured:
    """A modulus of a flexible print or its filament that was published with its hardness."""

    shore_a: float
    modulus_mpa: float
    # at which stress over no more than that strain was taken, 1 for a "100 % modulus" (the stress at twice the length);
    # 0 where it is the first slope, or none is stated.
    strain: float
    source: str

    @property
    def small_strain_kpa(self) -> float:
        """The modulus at small strain: of a neo-Hookean solid in tension where it was taken at a large one.

        Stress = (E/3) (L - 1/L^2), L = 1 + strain (Treloar, cited, not read). A filament that softens more than that
        has a larger one.
        """
        if self.strain == 0.0:
            return 1000.0 * self.modulus_mpa
        stretch = 1.0 + self.strain
        return 3000.0 * self.modulus_mpa / (stretch - stretch**-2)

    @property
    def over_gent(self) -> float:
        """How many times Gent's value it is."""
        return self.small_strain_kpa / gent_kpa(self.shore_a)


MEASURED = (
    Measured(50.0, 1.59, 0.0, "PMC10406103, table 2: makers' data, strain not stated"),
    Measured(63.0, 2.5, 0.0, "PMC10406103, table 2: makers' data, strain not stated"),
    Measured(80.0, 6.3, 0.0, "PMC10406103, table 2: makers' data, strain not stated"),
    Measured(84.5, 44.5, 0.0, "doi 10.3390/app15179544, cited, not read: printed, tension"),
    Measured(95.0, 43.8, 0.0, "doi 10.29137/ijerad.1855607, abstract: printed, tension"),
    Measured(95.0, 12.3, 1.0, "a maker's data sheet: printed in the plane from pellets, 100 % modulus"),
)
"""What the spread must hold. Of unknown hardness were measured 100 to 146 MPa (doi 10.3390/engproc2025113019) and 24 to
247 MPa (four printed TPUs, urn:nbn:de:bsz:ch1-qucosa2-806704)."""

MEASURED_DOWN = 1.0 / min(each.over_gent for each in MEASURED)
MEASURED_UP = max(each.over_gent for each in MEASURED)
"""Least factors down and up: 2.1 and 3.5."""


def spread_factors(hardness: str, stated: float) -> tuple[float, float]:
    """Return two factors: the modulus lies between E over the first and the second times E nine times in ten.

    Each is the largest of 1 + the card's stated share, the square root of the largest over the smallest relation (1.30
    at 60A, 1.49 at 85A, 1.76 at 95A) and what was measured (`MEASURED_DOWN`, `MEASURED_UP`).
    """
    values = moduli_kpa(hardness)
    least = max(1.0 + stated, float(np.sqrt(max(values) / min(values))))
    return max(least, MEASURED_DOWN), max(least, MEASURED_UP)
