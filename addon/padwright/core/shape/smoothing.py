"""Smoothing of values over a surface, measured in mm and independent of how the surface is triangulated."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags

from ..errors import SolveError
from ..mesh import Bool, Float, TriMesh

_TOLERANCE = 1e-4
"""Relative residual at which a solve stops: a hundredth of a percent of values that are good to a few percent."""
_MOST_ITERATIONS = 400


class SurfaceSmoother:
    """Diffusion over a mesh, so that smoothing follows the surface and a width in mm means the same everywhere.

    Parameters
    ----------
    mesh : TriMesh
        It may be open; nothing flows over a border.

    Notes
    -----
    Linear finite elements with a lumped mass; edge weights (cot a + cot b) / 2 (Pinkall & Polthier 1993,
    doi 10.1080/10586458.1993.10504266), those below zero set to zero so that no value overshoots. Two implicit Euler
    steps (Desbrun, Meyer, Schroeder & Barr 1999, doi 10.1145/311535.311576) to the time t = width^2 / 2, at which heat
    from a point has spread to a Gaussian with standard deviation `width`.
    """

    def __init__(self, mesh: TriMesh) -> None:
        self._stiffness = _cotangent_laplacian(mesh)
        self._mass = np.where(mesh.vertex_areas > 0, mesh.vertex_areas, 1.0)

    def smooth(self, values: Float, width: float, is_known: Bool | None = None) -> Float:
        """Return the values smoothed.

        Parameters
        ----------
        values : (n,) or (n, k) float
        width : float, mm
            Standard deviation of the smoothing kernel.
        is_known : (n,) bool, optional
            Where it is False the value is ignored and filled in smoothly from around.

        Raises
        ------
        SolveError
            When the linear solve does not converge.
        """
        time = width**2 / 4.0
        smoothed = np.asarray(values, dtype=np.float64)
        weight = self._mass if is_known is None else self._mass * np.where(is_known, 1.0, 1e-6)
        smoothed = self._step(smoothed, weight, time)
        return self._step(smoothed, self._mass, time)

    def smooth_keeping_peaks(self, values: Float, width: float, is_known: Bool | None = None) -> Float:
        """Return the values smoothed, with what a first pass took off the peaks and hollows given back.

        Notes
        -----
        Twicing (Tukey 1977, "Exploratory Data Analysis"): S f + S (f - S f). Its bias is of the order width^4 instead
        of width^2: a Gaussian hollow of standard deviation s loses (width / s)^4 of its depth, not (width / s)^2.
        """
        first = self.smooth(values, width, is_known)
        return first + self.smooth(np.asarray(values, dtype=np.float64) - first, width, is_known)

    def _step(self, values: Float, weight: Float, time: float) -> Float:
        flat = values.reshape(len(values), -1)
        system: csr_matrix = (diags(weight) + time * self._stiffness).tocsr()
        return _conjugate_gradients(system, weight[:, None] * flat, flat).reshape(values.shape)


def _cotangent_laplacian(mesh: TriMesh) -> csr_matrix:
    """Return the positive semi-definite matrix of edge weights, (n, n)."""
    corner, face = mesh.triangles, mesh.faces
    double_area = np.maximum(2.0 * mesh.face_areas, 1e-12)
    count = len(mesh.vertices)
    rows, columns, weights = [], [], []
    for k in range(3):
        first, second = corner[:, (k + 1) % 3] - corner[:, k], corner[:, (k + 2) % 3] - corner[:, k]
        # A needle's cotangent has no bound; 5 (an angle of 11 degrees) keeps the system well conditioned.
        weight = np.clip(np.einsum("ij,ij->i", first, second) / double_area, -5.0, 5.0) / 2.0
        rows.append(face[:, (k + 1) % 3])
        columns.append(face[:, (k + 2) % 3])
        weights.append(weight)
    row, column, weight = np.concatenate(rows), np.concatenate(columns), np.concatenate(weights)
    one_way = coo_matrix((weight, (row, column)), shape=(count, count))
    both: csr_matrix = (one_way + one_way.T).tocsr()
    both.data = np.maximum(both.data, 0.0)
    return (diags(np.asarray(both.sum(axis=1)).ravel()) - both).tocsr()


def _conjugate_gradients(system: csr_matrix, right: Float, start: Float) -> Float:
    """Solve for several right-hand sides at once, each scaled by the diagonal (Hestenes & Stiefel 1952)."""
    inverse_diagonal = 1.0 / system.diagonal()[:, None]
    answer = start.copy()
    residual = right - system @ answer
    goal = _TOLERANCE * np.linalg.norm(inverse_diagonal**0.5 * right, axis=0)
    direction = inverse_diagonal * residual
    energy = np.einsum("ij,ij->j", residual, direction)
    for _ in range(_MOST_ITERATIONS):
        if (np.sqrt(energy) <= goal).all():
            return answer
        image = system @ direction
        curvature = np.einsum("ij,ij->j", direction, image)
        step = np.divide(energy, curvature, out=np.zeros_like(energy), where=curvature > 0)
        answer += step * direction
        residual -= step * image
        scaled = inverse_diagonal * residual
        new_energy = np.einsum("ij,ij->j", residual, scaled)
        direction = scaled + np.divide(new_energy, energy, out=np.zeros_like(energy), where=energy > 0) * direction
        energy = new_energy
    worst = float((np.sqrt(energy) / np.maximum(goal, 1e-300)).max() * _TOLERANCE)
    raise SolveError(
        f"Smoothing did not settle in {_MOST_ITERATIONS} steps (residual {worst:.1e}).",
        hint="The scan has needle-like triangles; clean it first.",
    )
