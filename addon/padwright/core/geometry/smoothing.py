"""Smoothing of values over a surface, measured in mm and independent of how the surface is triangulated."""

from __future__ import annotations

from copy import copy

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix, diags

from ..base.errors import InputError
from ..base.mesh import Bool, Float, TriMesh
from .fields import SOLVE_TOLERANCE, stiffness
from .solve import conjugate_gradients

_TOLERANCE = 1e-4
"""Relative residual at which a solve stops: a hundredth of a percent of values that are good to a few percent."""


class SurfaceSmoother:
    """Diffusion over a mesh, so that smoothing follows the surface and a width in mm means the same everywhere.

    The mesh may be open; nothing flows over a border.

    Notes
    -----
    Heat flow with the mesh's positive cotangent weights and lumped areas, by implicit Euler steps (Desbrun, Meyer,
    Schroeder & Barr 1999, doi 10.1145/311535.311576) to the time t = width^2 / 2, at which heat from a point has
    spread with standard deviation `width`. The matrices are kept, so that smoothing again costs the solve alone.
    """

    def __init__(self, mesh: TriMesh) -> None:
        self._index: NDArray[np.int64] | None = None  # the vertices that are smoothed; None for all
        self._stiffness = stiffness(mesh)
        least = 1e-9 * mesh.area / max(1, len(mesh.vertices))  # a vertex of no area takes what is around it
        self._mass = np.maximum(mesh.vertex_areas, least if least > 0.0 else 1.0)

    def restricted(self, is_in: Bool) -> SurfaceSmoother:
        """Return a smoother over the patch `is_in`, (n,), alone: nothing flows in or out, outside nothing changes."""
        is_in = np.asarray(is_in, dtype=bool)
        other = copy(self)
        other._index = np.flatnonzero(is_in) if self._index is None else self._index[is_in[self._index]]
        inner = is_in if self._index is None else is_in[self._index]
        edges = self._stiffness[inner][:, inner]
        edges -= diags(edges.diagonal())
        other._stiffness = (edges - diags(np.asarray(edges.sum(axis=1)).ravel())).tocsr()
        other._mass = self._mass[inner]
        return other

    def smooth(
        self,
        values: Float,
        width: float,
        is_known: Bool | None = None,
        *,
        is_fixed: Bool | None = None,
        steps: int = 1,
        tolerance: float = _TOLERANCE,
    ) -> Float:
        """Return values, (n,) or (n, k), smoothed with a kernel of standard deviation `width`, mm.

        Raises SolveError when the linear solve does not converge.

        Parameters
        ----------
        is_known : (n,) bool, optional
            Where it is False the value is ignored and filled in smoothly from around.
        is_fixed : (n,) bool, optional
            Vertices that keep their value.
        steps : int
            1 has the long tails of an exponential, 2 come near a Gaussian.
        tolerance : float
            Relative residual to reach.
        """
        time = width**2 / 2.0 / steps
        result = np.array(values, dtype=np.float64)
        index = slice(None) if self._index is None else self._index
        field = result.reshape(len(result), -1)[index]
        if len(field) == 0:
            return result
        weight = self._mass if is_known is None else self._mass * np.where(is_known[index], 1.0, 1e-6)
        is_free = np.ones(len(field), dtype=bool)
        if is_fixed is not None:
            is_free = ~np.asarray(is_fixed, dtype=bool)[index]
        for _ in range(steps):
            field = self._step(field, weight, time, is_free, tolerance)
            weight = self._mass
        result.reshape(len(result), -1)[index] = field
        return result

    def smooth_keeping_peaks(self, values: Float, width: float, is_known: Bool | None = None) -> Float:
        """Return the values smoothed, with what a first pass took off the peaks and hollows given back.

        Notes
        -----
        Twicing (Tukey 1977, "Exploratory Data Analysis"): S f + S (f - S f). Its bias is of the order width^4 instead
        of width^2: a Gaussian hollow of standard deviation s loses (width / s)^4 of its depth, not (width / s)^2.
        """
        first = self.smooth(values, width, is_known, steps=2)
        return first + self.smooth(np.asarray(values, dtype=np.float64) - first, width, is_known, steps=2)

    def _step(self, field: Float, weight: Float, time: float, is_free: Bool, tolerance: float) -> Float:
        system: csr_matrix = (diags(weight) + time * self._stiffness).tocsr()
        if is_free.all():
            return conjugate_gradients(system, weight[:, None] * field, field, tolerance)
        result = field.copy()
        if is_free.any():
            inner = system[is_free]
            right = weight[is_free, None] * field[is_free] - inner[:, ~is_free] @ field[~is_free]
            result[is_free] = conjugate_gradients(inner[:, is_free].tocsr(), right, field[is_free], tolerance)
        return result


def smoothed(mesh: TriMesh, values: Float, length_mm: float, *, is_fixed: Bool | None = None) -> Float:
    """Return values, (n,) or (n, k), smoothed over the surface as a Gaussian of standard deviation `length_mm` would.

    They stay within their range; their area-weighted sum is kept when nothing is fixed, (n,). Nothing flows over an
    open border; a length of 0 returns a copy.

    Raises SolveError when the solver does not get there.
    """
    if not np.isfinite(length_mm) or length_mm < 0:
        raise InputError(f"A smoothing length must be 0 mm or more; got {length_mm}.")
    if length_mm == 0 or len(mesh.faces) == 0:
        return np.array(values, dtype=np.float64)
    return SurfaceSmoother(mesh).smooth(values, length_mm, is_fixed=is_fixed, steps=2, tolerance=SOLVE_TOLERANCE)
