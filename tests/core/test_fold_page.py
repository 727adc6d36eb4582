"""The table of what folded walls can do says what the law says."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from padwright.core.stages.material.folds.law import (
    closing_strain,
    modulus_kpa,
    outer_strain,
    plateau_kpa,
    shear_kpa,
    stress_kpa,
)
from padwright.core.stages.material.folds.walls import Walls

PAGE = Path(__file__).resolve().parents[2] / "docs" / "models" / "folds.md"
SOLID, POISSON = 13240.0, 0.48


def test_the_pages_table_is_the_laws() -> None:
    """Told to a tenth below 10 and in whole numbers above; percents whole."""
    lines = PAGE.read_text("utf-8").split("## What it can do")[1].split("## What hours")[0].splitlines()
    rows = [
        [float(cell) for cell in line.strip("| ").split("|")]
        for line in lines
        if line.startswith(("| 6", "| 1", "| 2"))
    ]
    assert len(rows) > 30
    told = np.array(rows)
    walls = Walls(told[:, 0], told[:, 1], 6.0, told[:, 2])
    stress = stress_kpa(walls, np.array([0.05, 0.1, 0.25, 0.4]), SOLID, POISSON)
    found = np.column_stack(
        [
            modulus_kpa(walls, SOLID, POISSON), stress, plateau_kpa(walls, SOLID, POISSON),
            shear_kpa(walls, SOLID, POISSON)[0], 100.0 * closing_strain(walls),
            100.0 * outer_strain(walls, np.array([0.25]))[:, 0],
        ]
    )  # fmt: skip
    is_whole = (found >= 9.95) | (np.arange(found.shape[1]) > 6)
    off = np.where(is_whole, 0.51, 0.051)
    assert (np.abs(told[:, 3:] - found) <= off).all()
