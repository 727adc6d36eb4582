"""Flesh that left its imprint in clay, on a pad of that shape, by finite elements: two stacks that slide on each other.

Small strain, around an axis. Flesh hangs on a flat bone, the pad on a hard base; both go on beyond the imprint, but
only the imprint can bear. With what each surface gives under a pressure, G: (G_flesh + G_pad) p = d + G_flesh p_clay.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from skfem import BilinearForm, LinearForm, asm

from .elastic import Layer, Stack, Zone, edges, steps

REACH_MM, ZONE_MM, PAD_MM, BEYOND_MM, CELL_MM = 80.0, 28.0, 20.0, 60.0, 3.0
"""Half the element size moves shares by 0.03 points, pressures in the middle by 0.1 %."""


@dataclass(frozen=True, eq=False)
class Surface:
    """Corners of the mesh within the imprint, area of each, and what it gives under a pressure at each, times area."""

    x: np.ndarray
    area: np.ndarray
    gives: np.ndarray


def surface(layer):
    parts = (steps(ZONE_MM, CELL_MM), steps(REACH_MM - ZONE_MM, CELL_MM), steps(BEYOND_MM, CELL_MM, 1.25))
    stack = Stack([layer], edges(*parts), is_round=True)
    faces, linear, corners = stack._top(REACH_MM + 1e-6)
    push = asm(BilinearForm(lambda p, v, w: p * v[1] * stack.weight(w.x[0])), linear, faces).tocsc()
    push = np.asarray(push[:, corners].todense())
    area = asm(LinearForm(lambda q, w: q * stack.weight(w.x[0])), linear)[corners]
    x = np.sort(stack.mesh.p[0][np.unique(stack.mesh.facets[:, faces.find])])
    return Surface(x, area, push.T @ stack._solve(push))


def flesh_surface(thickness, modulus, poisson):
    return surface(Layer((Zone(np.inf, modulus, poisson),), steps(thickness, 2.5)))


def pad_surface(soft, firm, poisson):
    return surface(Layer((Zone(ZONE_MM, firm, poisson), Zone(np.inf, soft, poisson)), steps(PAD_MM, 2.5)))


def share_within(on, pressure, radius=ZONE_MM):
    """Return the share of the force within a radius; pressure is straight between corners."""
    ends = np.linspace(0.0, radius, 4001)
    r = 0.5 * (ends[1:] + ends[:-1])
    inner = float((np.interp(r, on.x, pressure) * 2.0 * np.pi * r).sum() * (ends[1] - ends[0]))
    return inner / float(on.area @ pressure)


def shifted(flesh, pad, clay):
    """Return the pressures on a pad of the imprint's shape, as much force as the clay's; nothing pulls."""
    both, force = flesh.gives + pad.gives, flesh.area @ clay
    bears = np.ones(len(clay), dtype=bool)
    for _ in range(50):
        at = np.flatnonzero(bears)
        matrix = np.block([[both[np.ix_(at, at)], -flesh.area[at, None]], [flesh.area[at], np.zeros((1, 1))]])
        found = np.linalg.solve(matrix, np.append((flesh.gives @ clay)[at], force))
        pressure = np.zeros(len(clay))
        pressure[at] = found[:-1]
        left = both @ pressure - flesh.gives @ clay - found[-1] * flesh.area
        then = np.where(bears, pressure > 0.0, left < -1e-9)
        if (then == bears).all():
            return pressure
        bears = then
    raise AssertionError("The contact did not settle.")
