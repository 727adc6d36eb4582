"""A long elastic plate pressed past buckling, by Ritz's method: a second opinion on effective width."""

from __future__ import annotations

from functools import cache
from itertools import combinations_with_replacement

import numpy as np
from numpy.polynomial import Legendre, Polynomial
from scipy.optimize import minimize

MODES = ((1, 1), (1, 3), (1, 5), (3, 1), (3, 3), (3, 5), (5, 1))
"""Half-waves of the deflection along one buckle and across the plate."""

_TERMS = 6
POISSON = 0.48


def _in_plane(edges: str, length: float, x: np.ndarray, y: np.ndarray) -> list[tuple[np.ndarray, ...]]:
    """Return strains (along, across, shear) of in-plane motions that keep both ends of a buckle straight."""
    fields, zero = [], np.zeros_like(x)
    shut = Legendre.cast(Polynomial([1.0, 0.0, -1.0]))
    for power in range(_TERMS + 1):
        even, odd = Legendre.basis(2 * power), Legendre.basis(2 * power + 1)
        for wave in range(_TERMS):
            a = 2.0 * np.pi * wave / length
            if wave:
                fields.append((a * np.cos(a * x) * even(2 * y), zero, np.sin(a * x) * 2.0 * even.deriv()(2 * y)))
            # Straight edges move only as a whole, which is the part that is even along the plate.
            across = odd if edges == "free" or wave == 0 else odd * shut
            fields.append((zero, np.cos(a * x) * 2.0 * across.deriv()(2 * y), -a * np.sin(a * x) * across(2 * y)))
    return fields


@cache
def _energies(length: float, edges: str) -> np.ndarray:
    """Return the membrane energy as a form of (strain, products of two deflections), in-plane motion taken out."""
    along, across = (np.polynomial.legendre.leggauss(count) for count in (28, 20))
    x, y = (each.ravel() for each in np.meshgrid(0.5 * length * (along[0] + 1), 0.5 * across[0], indexing="ij"))
    weight = np.outer(along[1], across[1]).ravel() / 4.0
    law = np.array([[1.0, POISSON, 0.0], [POISSON, 1.0, 0.0], [0.0, 0.0, (1.0 - POISSON) / 2.0]]) / (1.0 - POISSON**2)
    slopes = [
        (
            m * np.pi / length * np.cos(m * np.pi * x / length) * np.cos(n * np.pi * y),
            -n * np.pi * np.sin(m * np.pi * x / length) * np.sin(n * np.pi * y),
        )
        for m, n in MODES
    ]
    given = [(-np.ones_like(x), np.zeros_like(x), np.zeros_like(x))]
    for i, j in combinations_with_replacement(range(len(MODES)), 2):
        (a, b), (c, d) = slopes[i], slopes[j]
        half = 0.5 if i == j else 1.0
        given.append((half * a * c, half * b * d, half * (a * d + c * b)))
    strains, moves = np.array(given), np.array(_in_plane(edges, length, x, y))
    stresses = np.einsum("ab,ibn,n->ian", law, strains, weight)
    stiffness = np.einsum("ian,ab,jbn,n->ij", moves, law, moves, weight, optimize=True)
    loads = np.einsum("ian,jan->ij", moves, stresses)
    return np.einsum("ian,jan->ij", strains, stresses) - loads.T @ np.linalg.lstsq(stiffness, loads, rcond=None)[0]


def pressed(ratio: float, length: float, edges: str) -> tuple[float, float]:
    """Return energy and mean stress of a plate of width 1 at `ratio` times its buckling strain, both over E's share.

    Parameters
    ----------
    ratio : float
    length : float
        Of one buckle, in widths.
    edges : {"straight", "free"}
        The long edges are simply supported; they stay straight and move as a whole, or pull in as they like.

    Notes
    -----
    Von Karman's plate: deflections sin sin, in-plane motions of the second order taken out exactly. The bending energy
    is 1/2 (eps_cr / 4 pi^2) (laplacian w)^2, so that a square buckles at a strain of 1 in these units.
    """
    energies = _energies(length, edges)
    bend = np.array([((m / length) ** 2 + n**2) ** 2 for m, n in MODES]) * np.pi**2 / 16.0
    first, second = np.array(list(combinations_with_replacement(range(len(MODES)), 2))).T

    def energy(waves: np.ndarray) -> tuple[float, np.ndarray]:
        state = np.concatenate([[ratio], waves[first] * waves[second]])
        force = energies @ state
        slope = bend * waves
        np.add.at(slope, first, force[1:] * waves[second])
        np.add.at(slope, second, force[1:] * waves[first])
        return 0.5 * state @ force + 0.5 * bend @ waves**2, slope

    start = np.zeros(len(MODES))
    start[0] = 0.8 * np.sqrt(max(ratio - 1.0, 1e-3))
    found = minimize(energy, start, jac=True, method="BFGS", options={"gtol": 1e-9})
    return float(found.fun), float(energies[0] @ np.concatenate([[ratio], found.x[first] * found.x[second]]))


def carried(ratio: float, edges: str) -> float:
    """Return the mean stress over that at buckling, for the length of buckle with the least energy (to 0.05 widths)."""
    lengths = np.round(np.arange(0.4, 1.01, 0.05), 2)
    return min(pressed(ratio, float(length), edges) for length in lengths)[1]
