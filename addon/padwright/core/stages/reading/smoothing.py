"""Smoothing of values over a surface, measured in mm and independent of how the surface is triangulated."""

from __future__ import annotations

from copy import copy

import numpy as np
from scipy.sparse import csr_matrix, diags

from ...base.errors import SolveError
from ...base.mesh import Bool, Float, TriMesh
from ...geometry.fields import stiffness

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
    Heat flow with the mesh's positive cotangent weights and lumped areas, by implicit Euler steps (Desbrun, Meyer,
    Schroeder & Barr 1999, doi 10.1145/311535.311576) to the time t = width^2 / 2, at which heat from a point has
    spread with standard deviation `width`. The matrices are kept, so that smoothing again costs the solve alone.
    """

    def __init__(self, mesh: TriMesh) -> None:
        self._stiffness = stiffness(mesh, "positive")
        self._mass = np.where(mesh.vertex_areas > 0, mesh.vertex_areas, 1.0)

    def restricted(self, is_in: Bool) -> SurfaceSmoother:
        """Return a smoother over the patch `is_in`, (n,), alone: nothing flows in or out, outside nothing changes."""
        inside = diags(np.asarray(is_in, dtype=np.float64))
        edges = inside @ (self._stiffness - diags(self._stiffness.diagonal())) @ inside
        other = copy(self)
        other._stiffness = (edges - diags(np.asarray(edges.sum(axis=1)).ravel())).tocsr()
        return other

    def smooth(
        self,
        values: Float,
        width: float,
        is_known: Bool | None = None,
        *,
        steps: int = 1,
        tolerance: float = _TOLERANCE,
    ) -> Float:
        """Return the values smoothed.

        Parameters
        ----------
        values : (n,) or (n, k) float
        width : float, mm
            Standard deviation of the smoothing kernel.
        is_known : (n,) bool, optional
            Where it is False the value is ignored and filled in smoothly from around.
        steps : int
            1 has the long tails of an exponential, 2 come near a Gaussian.
        tolerance : float
            Relative residual to reach.

        Raises
        ------
        SolveError
            When the linear solve does not converge.
        """
        time = width**2 / 2.0 / steps
        smoothed = np.asarray(values, dtype=np.float64)
        weight = self._mass if is_known is None else self._mass * np.where(is_known, 1.0, 1e-6)
        for _ in range(steps):
            smoothed = self._step(smoothed, weight, time, tolerance)
            weight = self._mass
        return smoothed

    def smooth_keeping_peaks(self, values: Float, width: float, is_known: Bool | None = None) -> Float:
        """Return the values smoothed, with what a first pass took off the peaks and hollows given back.

        Notes
        -----
        Twicing (Tukey 1977, "Exploratory Data Analysis"): S f + S (f - S f). Its bias is of the order width^4 instead
        of width^2: a Gaussian hollow of standard deviation s loses (width / s)^4 of its depth, not (width / s)^2.
        """
        first = self.smooth(values, width, is_known, steps=2)
        return first + self.smooth(np.asarray(values, dtype=np.float64) - first, width, is_known, steps=2)

    def _step(self, values: Float, weight: Float, time: float, tolerance: float) -> Float:
        flat = values.reshape(len(values), -1)
        system: csr_matrix = (diags(weight) + time * self._stiffness).tocsr()
        return _conjugate_gradients(system, weight[:, None] * flat, flat, tolerance).reshape(values.shape)


def _conjugate_gradients(system: csr_matrix, right: Float, start: Float, tolerance: float) -> Float:
    """Solve for several right-hand sides at once, each scaled by the diagonal (Hestenes & Stiefel 1952)."""
    inverse_diagonal = 1.0 / system.diagonal()[:, None]
    answer = start.copy()
    residual = right - system @ answer
    goal = tolerance * np.linalg.norm(inverse_diagonal**0.5 * right, axis=0)
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
    worst = float((np.sqrt(energy) / np.maximum(goal, 1e-300)).max() * tolerance)
    raise SolveError(
        f"Smoothing did not settle in {_MOST_ITERATIONS} steps (residual {worst:.1e}).",
        hint="The scan has needle-like triangles; clean it first.",
    )
