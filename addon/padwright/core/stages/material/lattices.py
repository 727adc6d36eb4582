"""The fills made of cells, one record each: their geometry, how stiff they are and how they give way.

A new fill is a new record here, its name in `job/schema.py`, and its checks.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from ...base.errors import InputError
from .giving_way import BENDS, CARRIES_BY_EDGES, GivesWay

GYROID_AREA = 3.0915
"""Area of the gyroid in a cubic cell of edge 1 (Schoen 1970, NASA TN D-5541, and Grosse-Brauckmann 1997, cited, not
read)."""

_KNEE = 0.10
"""Strain over which a gyroid sheet gives way. Assumed: no measurement on flexible filament was found; coupons tell."""


@dataclass(frozen=True)
class Lattice:
    """A fill of cells, between its contours."""

    wall_to_cell: Callable[[float], float]  # (density); wall thickness over the cell's edge
    density: Callable[[float], float]  # (wall over cell); the inverse; may go beyond 1 where walls touch
    stiffness: Callable[[float, float], float]  # (density, poisson); E/E_solid along the layers' normal, small strain
    gives_at: Callable[[float, float], float]  # (density, poisson); strain over which it gives way
    # how it carries on past that: as a sheet that bends, or as walls that buckle and carry by their edges.
    gives_way: GivesWay
    poisson: float  # of the whole
    # (density, poisson); the largest E/E_solid that a factor from printed blocks may lift it to.
    ceiling: Callable[[float, float], float]
    checked: tuple[float, float] = (0.0, 1.0)  # densities at which the law of stiffness was checked
    is_thicker_softer: bool = False  # whether a thicker pad of it gives more under the same load


def upper_bound(density: float, poisson: float) -> float:
    """Return the largest E/E_solid an isotropic porous solid can have (Hashin & Shtrikman 1963).

    Notes
    -----
    With void share f: K = Ks + f / (-1/Ks + 3 (1-f)/(3 Ks + 4 Gs)), G = Gs + f / (-1/Gs + 6 (1-f)(Ks + 2 Gs) /
    (5 Gs (3 Ks + 4 Gs))), E = 9 K G / (3 K + G).
    """
    bulk, shear, void = 1.0 / (3.0 * (1.0 - 2.0 * poisson)), 1.0 / (2.0 * (1.0 + poisson)), 1.0 - density
    if density <= 0.0:
        return 0.0
    k = bulk + void / (-1.0 / bulk + 3.0 * density / (3.0 * bulk + 4.0 * shear))
    g = shear + void / (
        -1.0 / shear + 6.0 * density * (bulk + 2.0 * shear) / (5.0 * shear * (3.0 * bulk + 4.0 * shear))
    )
    return 9.0 * k * g / (3.0 * k + g)


def gyroid_density(wall_to_cell: float) -> float:
    """Return the solid share of a gyroid sheet of thickness t in cells of edge L: 3.0915 t/L - (4 pi / 3)(t/L)^3.

    Notes
    -----
    Steiner's formula for the parallel surfaces of a minimal surface with Euler characteristic -8 per cell [own
    derivation]; valid up to t/L = 0.3, where the sheet begins to touch itself.
    """
    return GYROID_AREA * wall_to_cell - 4.0 * np.pi / 3.0 * wall_to_cell**3


def _gyroid_wall(density: float) -> float:
    return float(brentq(lambda ratio: gyroid_density(ratio) - density, 1e-9, 0.35))


def _gyroid_stiffness(density: float, poisson: float) -> float:
    """Return the bound times a + (1 - a) rho^p, a = 0.505, p = 1.52.

    It meets the solid at full density and lies within 2 % of our own periodic finite elements at 10, 20 and 30 %
    (Poisson's ratio 0.48: 0.028, 0.064, 0.108; at 0.30 it is 7 to 9 % under them); outside it is an interpolation.
    """
    return upper_bound(density, poisson) * (0.505 + 0.495 * density**1.52)


def _honeycomb_buckling(density: float, poisson: float) -> float:
    """Return the strain: stress 4.619 / (1 - nu^2) (t/l)^3 E_solid over rho E_solid, with rho = (2/sqrt 3) t/l.

    Gibson & Ashby 1997, 4.3, cited, not read.
    """
    return 4.619 / (1.0 - poisson**2) * (0.5 * np.sqrt(3.0)) ** 3 * density**2


def _plate_buckling(density: float, poisson: float) -> float:
    """Return the strain of long simply supported plates: kc pi^2 / (12 (1 - nu^2)) (t/s)^2, kc = 4, rho = 2 t/s.

    Timoshenko, cited, not read.
    """
    return float(4.0 * np.pi**2 / (12.0 * (1.0 - poisson**2)) * (0.5 * density) ** 2)


def _upright(gives_at: Callable[[float, float], float]) -> Lattice:
    """Return vertical walls, two of them across every cell.

    Their stiffness is the solid share itself (Voigt; Gibson & Ashby 1997, chapter 4, cited, not read), exact until they
    buckle; from there on their edges carry. They swell into their cells, so Poisson's ratio of the whole is 0
    (assumed). A factor says how much more or less wall was printed than asked, so only the solid is the limit.
    """
    return Lattice(
        wall_to_cell=lambda density: density / 2.0,
        density=lambda ratio: 2.0 * ratio,
        stiffness=lambda density, _: density,
        gives_at=gives_at,
        gives_way=CARRIES_BY_EDGES,
        poisson=0.0,
        ceiling=lambda density, poisson: 1.0,
    )


LATTICES = {
    # The cubic cell. Poisson's ratio: own finite elements; measured 0.34 +/- 0.06 (DeValk & Lakes 2021). No factor may
    # lift an isotropic structure over its bound.
    "gyroid": Lattice(
        wall_to_cell=_gyroid_wall,
        density=gyroid_density,
        stiffness=_gyroid_stiffness,
        gives_at=lambda *_: _KNEE,
        gives_way=BENDS,
        poisson=0.37,
        ceiling=upper_bound,
        checked=(0.1, 0.3),
        is_thicker_softer=True,
    ),
    # The distance between opposite walls of a hexagon of side l, sqrt(3) l, with density (2/sqrt 3) t/l (Gibson & Ashby
    # 1997, chapter 4, cited, not read).
    "honeycomb": _upright(_honeycomb_buckling),
    # The distance between walls, both directions in every layer, density 2 t/s.
    "square_grid": _upright(_plate_buckling),
}


def lattice_of(structure: str) -> Lattice:
    """Return a fill's record by its name in the job.

    Raises InputError when it has no cells.
    """
    if structure not in LATTICES:
        *names, last = LATTICES
        raise InputError(
            f'There is no model for the structure "{structure}".', hint=f"Use {', '.join(names)} or {last}."
        )
    return LATTICES[structure]
