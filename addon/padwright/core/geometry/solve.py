"""The one way in which large symmetric systems are solved."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_matrix

from ..base.errors import SolveError
from ..base.mesh import Float

_MOST_ROUNDS = 2000


def conjugate_gradients(system: csr_matrix, right: Float, start: Float, tolerance: float) -> Float:
    """Return the solution, (n, k), of a symmetric positive definite system (n, n) for k right-hand sides (n, k).

    From a first guess (n, k) on until in every column the residual over its right-hand side, both scaled by the roots
    of the diagonal, is within the tolerance.

    Raises SolveError when it does not settle.

    Notes
    -----
    Conjugate gradients scaled by the diagonal (Hestenes & Stiefel 1952, cited, not read). All columns go on
    until the last is there: where a field is filled in over unknown places, which hardly count in the residual, a
    column that stopped by itself, as in scipy's `cg`, was still 3 % off there (measured on the demo's impression).
    """
    inverse = 1.0 / system.diagonal()[:, None]
    answer = start.copy()
    residual = right - system @ answer
    goal = tolerance * np.linalg.norm(inverse**0.5 * right, axis=0)
    direction = inverse * residual
    scaled = np.zeros_like(direction)
    energy = np.einsum("ij,ij->j", residual, direction)
    for _ in range(_MOST_ROUNDS):
        if (np.sqrt(energy) <= goal).all():
            return answer
        image = system @ direction
        curvature = np.einsum("ij,ij->j", direction, image)
        step = np.divide(energy, curvature, out=np.zeros_like(energy), where=curvature > 0)
        answer += np.multiply(direction, step, out=scaled)
        image *= step
        residual -= image
        np.multiply(inverse, residual, out=scaled)
        new_energy = np.einsum("ij,ij->j", residual, scaled)
        direction *= np.divide(new_energy, energy, out=np.zeros_like(energy), where=energy > 0)
        direction += scaled
        energy = new_energy
    worst = float((np.sqrt(energy) / np.maximum(goal, 1e-300)).max() * tolerance)
    raise SolveError(
        f"A field on a surface did not settle in {_MOST_ROUNDS} rounds (relative residual {worst:.1e}).",
        hint="Look for triangles like needles and of no area; clean the scan or remesh the part.",
    )
