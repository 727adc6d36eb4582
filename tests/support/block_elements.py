"""A square block between plates that its ends stick to, by finite elements: bricks, an eighth of the block."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import cg

from padwright.core.stages.material.coupons.held import held_excess
from padwright.core.stages.material.curves import StressCurve

CORNERS = np.array([[a, b, c] for c in (-1, 1) for b in (-1, 1) for a in (-1, 1)], dtype=float)


def _strain_matrix(point: np.ndarray, size: np.ndarray) -> np.ndarray:
    """Return the (6, 24) matrix from corner displacements to strains at a point of the brick."""
    factors = 1.0 + CORNERS * point
    slopes = np.stack(
        [CORNERS[:, i] * factors[:, (i + 1) % 3] * factors[:, (i + 2) % 3] / 8.0 for i in range(3)], axis=1
    )
    matrix = np.zeros((6, 24))
    for corner, (x, y, z) in enumerate(slopes * 2.0 / size):
        at = 3 * corner
        matrix[0, at], matrix[1, at + 1], matrix[2, at + 2] = x, y, z
        matrix[3, at : at + 2] = y, x
        matrix[4, at + 1 : at + 3] = z, y
        matrix[5, at], matrix[5, at + 2] = z, x
    return matrix


def _brick(size: np.ndarray, poisson: float) -> np.ndarray:
    """Return the stiffness of one brick, E = 1; its volume change is taken at the middle, so that it cannot lock."""
    shear, bulk = 1.0 / (2.0 * (1.0 + poisson)), 1.0 / (3.0 * (1.0 - 2.0 * poisson))
    law = np.zeros((6, 6))
    law[:3, :3] = -2.0 / 3.0 * shear
    law[range(3), range(3)] += 2.0 * shear
    law[range(3, 6), range(3, 6)] = shear
    share = float(np.prod(size)) / 8.0
    total = np.zeros((24, 24))
    for point in CORNERS / np.sqrt(3.0):
        matrix = _strain_matrix(point, size)
        total += share * matrix.T @ law @ matrix
    change = np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0]) @ _strain_matrix(np.zeros(3), size)
    return total + 8.0 * share * bulk * np.outer(change, change)


def held_block(width: float, height: float, poisson: float, count: int = 8) -> float:
    """Return apparent over Young's modulus at small strain, `count` bricks along each half edge."""
    size = np.array([width, width, height]) / (2.0 * count)
    nodes = np.arange((count + 1) ** 3).reshape(count + 1, count + 1, count + 1)  # z, y, x
    cells = np.stack(
        [nodes[c : count + c, b : count + b, a : count + a].ravel() for c in (0, 1) for b in (0, 1) for a in (0, 1)],
        axis=1,
    )
    freedoms = (3 * cells[:, :, None] + np.arange(3)).reshape(len(cells), 24)
    brick = _brick(size, poisson)
    rows, columns = np.repeat(freedoms, 24, axis=1).ravel(), np.tile(freedoms, (1, 24)).ravel()
    stiffness = sparse.coo_matrix((np.tile(brick.ravel(), len(cells)), (rows, columns))).tocsr()
    moved = np.zeros(3 * nodes.size)
    is_fixed = np.zeros(3 * nodes.size, dtype=bool)
    for axis, plane in enumerate((nodes[:, :, 0], nodes[:, 0], nodes[0])):  # the three planes of symmetry
        is_fixed[3 * plane.ravel() + axis] = True
    top = nodes[-1].ravel()
    is_fixed[(3 * top[:, None] + np.arange(3)).ravel()] = True
    moved[3 * top + 2] = -0.5 * height  # strain 1, linear
    free = ~is_fixed
    solution, failed = cg(stiffness[free][:, free], -(stiffness @ moved)[free], rtol=1e-7, maxiter=20_000)
    assert failed == 0
    moved[free] = solution
    return float(-(stiffness @ moved)[3 * top + 2].sum() / (0.5 * width) ** 2)


def held_ratio(poisson: float, width_over_height: float) -> float:
    """Return what the product says of a block that is all fill: apparent over Young's modulus, its ends held."""
    fill = StressCurve(np.array([0.0, 0.5]), np.array([0.0, 100.0]), 0.8, poisson)
    return 1.0 + held_excess(fill, width_over_height)
