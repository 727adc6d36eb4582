"""A rigid body balanced on what bears it, place by place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ...base.mesh import Bool, Float


class Bearing(Protocol):
    """What stands under each place of a body and never bears less the further the body comes."""

    def respond(self, sinkage: Float) -> tuple[Float, Float, Float, Float]:
        """Return stress kPa, stiffness kPa/mm, energy kPa mm and a strain for each place, (n,) each.

        The sinkage, (n,), mm, is how far the body has come; nothing pulls where it is negative.
        """


@dataclass(frozen=True, eq=False)
class Balance:
    """Where the body came to rest."""

    motion: Float  # (q,); along the press direction, then what it turns (mm at the length the levers are given in)
    is_balanced: bool
    residual: float  # largest part of the load that is left unbalanced
    iterations: int


def balance(
    columns: Bearing,
    area: Float,
    gap: Float,
    lever: Float,
    force: float,
    start: Float,
    *,
    radius: float,
    tolerance: float = 1e-9,
    most: int = 100,
) -> Balance:
    """Find the rigid motion at which the columns carry the load.

    Area is (n,), mm2, gap (n,), mm, force mN; the lever, (n, q), is what each column sinks by for each unit of motion,
    its first column 1, and the start is such a motion, (q,); the first step is no longer than the radius, mm. The
    tolerance is of force, and of moments over the lever length; after `most` iterations it gives up.

    Notes
    -----
    Least of energy stored minus work done, convex because stresses never fall. Newton's method in a trust
    region, with steps shortened until the energy falls enough (Armijo's rule;
    Nocedal & Wright 2006, Numerical Optimization, chapters 3 and 4).
    """
    motion = np.array(start, dtype=np.float64)
    load = np.zeros(len(motion))
    load[0] = force

    def look(at: Float) -> tuple[float, Float, Float]:
        stress, stiffness, energy, _ = columns.respond(lever @ at - gap)
        stored = area * energy
        return float(stored.sum() - load @ at), (area * stress) @ lever - load, area * stiffness

    value, slope, weight = look(motion)
    for iteration in range(most):
        residual = float(np.abs(slope).max()) / force
        if residual <= tolerance:
            return Balance(motion, True, residual, iteration)
        step = _newton_step(lever.T @ (weight[:, None] * lever), slope, radius)
        descent = float(slope @ step)
        share = 1.0
        for _ in range(40):
            tried = look(motion + share * step)
            rounding = 1e-13 * (abs(value) + abs(float(load @ motion)))
            if tried[0] <= value + 1e-4 * share * descent + rounding:
                break
            steeper = float(tried[1] @ step)
            share *= float(np.clip(descent / (descent - steeper), 0.1, 0.5)) if steeper > 0.0 else 0.5
        else:
            return Balance(motion, residual <= 1e-6, residual, iteration)
        length = float(np.linalg.norm(step))
        radius = max(radius, 2.0 * length) if share == 1.0 else 2.0 * share * length
        motion = motion + share * step
        value, slope, weight = tried
    residual = float(np.abs(slope).max()) / force
    return Balance(motion, residual <= 1e-6, residual, most)


def _newton_step(matrix: Float, slope: Float, radius: float) -> Float:
    """Return the step to the least of the quadratic model no further away than the radius.

    With eigenvectors the step for a shift t of the matrix is -sum v (v . slope) / (w + t); t is found by halving, so
    that the step is as long as the radius.
    """
    stiff, vectors = np.linalg.eigh(matrix)
    along = vectors.T @ slope
    steep = float(np.linalg.norm(slope)) / radius
    stiff = np.maximum(stiff, 1e-14 * max(float(stiff[-1]), steep))

    def step(shift: float) -> Float:
        return -along / (stiff + shift)

    low, high = 0.0, steep
    if float(np.linalg.norm(step(0.0))) <= radius:
        high = 0.0
    for _ in range(30 if high else 0):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if float(np.linalg.norm(step(middle))) > radius else (low, middle)
    return np.asarray(vectors @ step(high))


def is_inside(levers: Float, is_used: Bool) -> bool:
    """Return whether the origin lies within the outline (convex hull) of the used points (n, 2)."""
    from scipy.spatial import ConvexHull, QhullError

    try:
        hull = ConvexHull(levers[is_used])
    except QhullError:  # all on one line
        return False
    return bool((hull.equations[:, -1] <= 1e-9 * np.abs(levers).max()).all())
