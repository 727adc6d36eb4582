"""Print settings of a part of folded walls: one plain solid, whose walls are nothing but contours."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from ...job.cards import Level
from ...job.material_cards import MaterialCard
from ...job.output_tables import Printer
from ..material.region_settings import RegionSettings
from .level_settings import settings_for_level


def solid_settings(printer: Printer, material: MaterialCard, levels: Sequence[Level], wall_mm: float) -> RegionSettings:
    """Return how a solid with walls of a width in a level cut is printed: all of it contours.

    A wall of n beads takes half of them from either side; with n contours asked for it is filled whatever a program
    makes of an odd one. Raises InputError when the card has no level.
    """
    firm = settings_for_level(levels[-1].level, levels, printer, material)
    beads = max(math.ceil(wall_mm / firm.bead_width_mm - 1e-6), 2)
    return replace(
        firm, fill_structure="solid", solid_share_pct=100.0, contour_count=beads, fill_cell_mm=None,
        basis={**firm.basis, "fill_structure": "model", "solid_share_pct": "model", "contour_count": "model"},
    )  # fmt: skip
