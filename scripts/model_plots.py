"""Draw the plots of docs/models from the models themselves: `python scripts/model_plots.py [NAME ...]`.

Needs matplotlib, which is no part of the locked environments. Each plot is a function in PLOTS and goes to
docs/images/<name>.png.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "addon"), str(ROOT / "tests")]

BLUE, RED, GREY = "#2f6690", "#b5442e", "#8a8a8a"


def contact_columns(figure: Any) -> None:
    """Draw the stiffness of a pressed layer by finite elements over that of columns, and the bounds for solids."""
    from padwright.core.firmness.blocks import solid_ratio
    from padwright.core.firmness.curves import constrained_ratio
    from support.layer_elements import pressed_layer

    widths = np.array([0.4, 0.7, 1.0, 1.4, 2.0, 3.0])
    thickness, depth = 10.0, 0.5
    left, right = figure.subplots(1, 2)

    def elements(poisson: float, width: float, flat: bool) -> float:
        """Return force over that of columns of Young's modulus."""
        half = width * thickness
        if flat:
            force = pressed_layer(1.0, poisson, thickness, 0.0, depth, flat_half=half)
            return force / (2.0 * half * depth / thickness)
        force = pressed_layer(1.0, poisson, thickness, half**2 / (2.0 * depth), depth)
        return force / (4.0 / 3.0 * half * depth / thickness)

    for poisson, color in ((0.0, GREY), (0.3, BLUE), (0.37, RED)):
        ratio = float(constrained_ratio(poisson))
        for flat, style in ((False, "-o"), (True, "--s")):
            values = [elements(poisson, width, flat) / ratio for width in widths]
            label = f"nu {poisson:g}, {'flat punch' if flat else 'cylinder'}"
            left.plot(widths, values, style, color=color, markersize=4, label=label)
    left.axhline(1.0, color="black", linewidth=0.8)
    left.set(title="Lattices: finite elements over columns", ylabel="force / force of columns", ylim=(0.7, 1.6))
    for poisson, color in ((0.45, BLUE), (0.48, RED)):
        bounds = [solid_ratio(poisson, thickness, 2.0 * w * thickness * 1000.0, 2000.0) for w in widths]
        right.fill_between(widths, [b.low for b in bounds], [b.high for b in bounds], color=color, alpha=0.15)
        right.plot(
            widths, [b.value for b in bounds], color=color, linewidth=1.0, label=f"nu {poisson:g}: value, bounds"
        )
        right.plot(widths, [elements(poisson, w, False) for w in widths], "o", color=color, label="finite elements")
        right.axhline(float(constrained_ratio(poisson)), color=color, linestyle=":", linewidth=1.0)
    right.set(title="Solids: bounds (dotted: column rule)", ylabel="apparent modulus / E")
    for axes in (left, right):
        axes.set_xlabel("half-width of contact / thickness")
        axes.legend(fontsize=7)
        axes.grid(alpha=0.3)


def contact_give(figure: Any) -> None:
    """Draw how far a seat pad gives under load, for three fills of one soft filament, with low and high."""
    from padwright.core.firmness.contact import check_load
    from padwright.core.firmness.curves import CurveBand
    from padwright.core.firmness.fill import fill_curve
    from padwright.core.firmness.hardness import spread_factor
    from padwright.core.firmness.load_case import LoadCase
    from support.patches import patch, sheet

    axes, bowl = figure.subplots(1, 2)
    on = patch(sheet(200.0, 200.0, 20.0), thickness=23.0)
    forces = np.linspace(20.0, 1000.0, 25)
    spread = spread_factor("85A", 0.5)
    for density, color in ((0.10, GREY), (0.15, BLUE), (0.25, RED)):
        curve = fill_curve("gyroid", density, 13_000.0, 0.48)
        band = CurveBand(curve, curve.scaled(1.0 / spread), curve.scaled(spread), "literature")
        given = [check_load(LoadCase(force_n=float(force)), on, [band]).sinkage_mm for force in forces]
        axes.fill_between(forces, [g.low for g in given], [g.high for g in given], color=color, alpha=0.15)
        axes.plot(forces, [g.value for g in given], color=color, label=f"gyroid {100 * density:.0f} %")
    axes.set(title="85A, 23 mm, 400 cm2: what it gives", xlabel="load, N", ylabel="sinkage, mm", ylim=(0, None))
    axes.axvline(530.0, color="black", linewidth=0.8, linestyle=":")
    axes.legend(fontsize=8)
    axes.grid(alpha=0.3)
    curve = fill_curve("gyroid", 0.15, 13_000.0, 0.48)
    base = sheet(200.0, 120.0, 2.0)
    seat = patch(base, thickness=lambda x, y: 24.0 - 14.0 * np.exp(-((np.abs(x) - 59.0) ** 2 + y**2) / 1200.0))
    result = check_load(LoadCase(force_n=400.0), seat, [curve])
    shown = bowl.tripcolor(
        base.vertices[:, 0], base.vertices[:, 1], base.faces, result.pressure_kpa, shading="gouraud", cmap="viridis"
    )
    bowl.set(title="Pressure under 400 N where the pad is thin, kPa", aspect="equal", xlabel="mm", ylabel="mm")
    figure.colorbar(shown, ax=bowl, shrink=0.6)


PLOTS: dict[str, Callable[[Any], None]] = {"contact_columns": contact_columns, "contact_give": contact_give}


def main(names: list[str]) -> int:
    """Draw the named plots, or all."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib.figure import Figure

    for name in names or PLOTS:
        figure = Figure(figsize=(9.0, 3.6), layout="constrained")
        PLOTS[name](figure)
        target = ROOT / "docs" / "images" / f"{name}.png"
        target.parent.mkdir(parents=True, exist_ok=True)
        figure.savefig(target, dpi=100, metadata={"Software": None})
        print(f"{target.relative_to(ROOT)}: {target.stat().st_size / 1024:.0f} KiB")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
