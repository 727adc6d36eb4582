"""How much solid a fill structure really holds, and how large its cells are. A bead is not a rectangle."""

from __future__ import annotations

import numpy as np

from ...base.errors import InputError
from .lattices import lattice_of


def bead_area_mm2(width: float, layer: float) -> float:
    """Return the cross-section of a bead with rounded sides: (w - h) h + pi h^2 / 4, mm2."""
    _check_bead(width, layer)
    return (width - layer) * layer + np.pi * layer**2 / 4.0


def bead_wall_mm(width: float, layer: float) -> float:
    """Return the thickness of the wall that beads one on the other make on average: their area over their height."""
    return bead_area_mm2(width, layer) / layer


def _check_bead(width: float, layer: float) -> None:
    if not 0.0 < layer <= width:
        raise InputError(
            f"A bead {width:g} mm wide and {layer:g} mm thick cannot be printed.", hint="Make it wider than thick."
        )


def cell_mm(structure: str, density: float, wall: float) -> float:
    """Return the edge of the repeating cell whose walls of thickness `wall` fill the share `density`, mm.

    Raises InputError when the structure has no cells or the density is outside what its walls can fill.
    """
    lattice = lattice_of(structure)
    if not 0.0 < density <= 0.7:
        raise InputError(
            f"{structure} of {100 * density:g} % cannot be made of cells.", hint="Use up to 70 %, or solid."
        )
    return wall / lattice.wall_to_cell(density)


def density_from_cell(structure: str, cell: float, wall: float) -> float:
    """Return the solid share of a structure with a given cell and wall; the inverse of `cell_mm`."""
    if cell <= 0.0:
        raise InputError(f'The structure "{structure}" with cells of {cell:g} mm has no solid share.')
    return min(lattice_of(structure).density(wall / cell), 1.0)


def relative_density(structure: str, density_pct: float, cell: float | None, width: float, layer: float) -> float:
    """Return the solid share of the space inside the contours, 0 to 1.

    A stated cell fixes the geometry and rules; else the percentage does, which is by our definition the true solid
    share. A program that spaces beads as if they were rectangles prints less: (1 - (1 - pi/4) h/w) of it, 10 % less
    for a bead of 0.45 by 0.2 mm. The printed coupon's weight tells.
    """
    if structure == "solid":
        return 1.0
    if structure == "none":
        return 0.0
    if cell is not None:
        return density_from_cell(structure, cell, bead_wall_mm(width, layer))
    return density_pct / 100.0
