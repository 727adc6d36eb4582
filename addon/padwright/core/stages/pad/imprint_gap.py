"""How far the pad's body side lies below the imprint it was made from."""

from __future__ import annotations

import numpy as np

from ...base.mesh import Bool, Float
from ...geometry.implicit import Field, Grid

_ROUNDS = 80
"""A step goes as far as the field says the surface is away, so on a wall of 75 degrees each leaves three quarters."""

_NEAR_MM = 1e-4


def imprint_gap(body: Field, grid: Grid, places: Float, is_wanted: Bool, is_press: bool) -> Float:
    """Return the signed gap between the pad and the body's shape at each place, (n,), mm.

    The body field, (nx, ny, nz) float32, mm, is the signed distance to the imprint as it was averaged for the pad, less
    the cover that fills the room it was given; negative in the clay. Places, (n, 3) mm, are the pad's vertices in the
    grid's frame; those not wanted, (n,), because off the body side, have gap 0. With a press direction the gap is along
    the grid's z, where the body presses; else it is the distance itself.

    It is positive where the pad lies below the imprint (a groove, a rounded edge): the body must come so much nearer to
    touch; negative where the pad stands up into the body, as where it was made thicker. It comes from the field the pad
    itself was made from, so neither the scan's noise nor the averaging shows up as a gap.
    """
    gap = np.zeros(len(places))
    index = np.flatnonzero(is_wanted)
    value = grid.sample(body, places[index])
    if not is_press:
        gap[index] = -value
        return gap
    up = np.where(value < 0.0, 1.0, -1.0)
    reach = grid.step * grid.shape[2]
    far = np.zeros(len(index))
    left = np.flatnonzero(np.abs(value) > _NEAR_MM)
    for _ in range(_ROUNDS):
        if len(left) == 0:
            break
        step = np.maximum(np.abs(value[left]), 0.02 * grid.step)
        at = places[index[left]].copy()
        at[:, 2] += up[left] * (far[left] + step)
        new = grid.sample(body, at)
        passed = new * value[left] <= 0.0
        # Past the surface: straight between the last two places.
        share = np.abs(value[left]) / np.maximum(np.abs(value[left]) + np.abs(new), 1e-12)
        far[left] += np.where(passed, share * step, step)
        value[left] = new
        left = left[~passed & (np.abs(new) > _NEAR_MM) & (far[left] < reach)]
    gap[index] = up * far
    return gap
