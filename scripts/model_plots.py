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
sys.path[:0] = [str(ROOT / "addon"), str(ROOT / "tests"), str(ROOT / "scripts")]

BLUE, RED, GREY = "#2f6690", "#b5442e", "#8a8a8a"


def contact_columns(figure: Any) -> None:
    """Draw the stiffness of a pressed layer by finite elements over that of columns, and the bounds for solids."""
    from padwright.core.stages.load.bulging_layers import solid_ratio
    from padwright.core.stages.material.curves import constrained_ratio
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
    """Draw how far a pad gives under load, for three fills with low and high, and where a body with flesh bears."""
    from dataclasses import replace

    from padwright.core.job.cards import load_family
    from padwright.core.job.schema import Body
    from padwright.core.stages.body.flesh import flesh_of
    from padwright.core.stages.load.clay_pressure import clay_pressure
    from padwright.core.stages.load.contact import check_load
    from padwright.core.stages.load.load_case import LoadCase
    from padwright.core.stages.material.curves import CurveBand
    from padwright.core.stages.material.fill import fill_curve
    from padwright.core.stages.material.hardness import spread_factors
    from support.patches import patch, sheet

    axes, bowl = figure.subplots(1, 2)
    on = patch(sheet(200.0, 200.0, 20.0), thickness=23.0)
    forces = np.linspace(20.0, 1000.0, 25)
    down, up = spread_factors("85A", 0.5)
    for density, color in ((0.10, GREY), (0.15, BLUE), (0.25, RED)):
        curve = fill_curve("gyroid", density, 13_000.0, 0.48)
        band = CurveBand(curve, curve.scaled(1.0 / down), curve.scaled(up), "literature")
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
    seat = replace(seat, clay_kpa=clay_pressure(seat, np.ones(len(seat.gaps)), 400e3))
    flesh = flesh_of(Body(press_direction="auto"), load_family("seat_pad"))
    result = check_load(LoadCase(force_n=400.0, flesh=flesh), seat, [curve])
    shown = bowl.tripcolor(
        base.vertices[:, 0], base.vertices[:, 1], base.faces, result.pressure_kpa, shading="gouraud", cmap="viridis"
    )
    bowl.set(title="400 N by a body with flesh, thin at two places, kPa", aspect="equal", xlabel="mm", ylabel="mm")
    figure.colorbar(shown, ax=bowl, shrink=0.6)


def fill_hardness(figure: Any) -> None:
    """Draw the published relations between hardness and modulus, the cards' band, and moduli that were measured."""
    from padwright.core.stages.material import hardness as relations

    shore = np.linspace(40.0, 95.0, 56)
    axes = figure.subplots()
    drawn = (
        ("Gent 1958", relations.gent_kpa, "-"),
        ("flat punch", relations.flat_punch_kpa, "--"),
        ("logarithmic", lambda value: relations.logarithmic_kpa(value, "A"), "-."),
        ("error function", relations.error_function_kpa, ":"),
    )
    for label, relation, style in drawn:
        axes.semilogy(shore, [relation(value) / 1000.0 for value in shore], style, color=BLUE, label=label)
    gent = np.array([relations.gent_kpa(value) / 1000.0 for value in shore])
    down, up = np.array([relations.spread_factors(f"{value:.1f}A", 0.5) for value in shore]).T
    axes.fill_between(shore, gent / down, gent * up, color=BLUE, alpha=0.12, label="band of a card")
    measured = [(each.shore_a, each.small_strain_kpa / 1000.0) for each in relations.MEASURED]
    axes.plot(*zip(*measured, strict=True), "o", color=RED, label="measured TPU")
    axes.set(xlabel="Shore A", ylabel="Young's modulus, MPa")
    axes.legend(fontsize=8)
    axes.grid(alpha=0.3, which="both")


def _fill_settings(pattern: str, density: float, contours: int) -> Any:
    from padwright.core.stages.material.region_settings import RegionSettings

    return RegionSettings("tpu_85a", 0.4, 0.45, 0.2, pattern, density, contours, 2, 2, 30.0)


def fill_curves(figure: Any) -> None:
    """Draw the curves of fills without contours, with low and high, and the small-strain law under its bound."""
    from padwright.core.job.material_cards import load_material
    from padwright.core.stages.material.fill import RegionGeometry, region_curve, stiffness_ratio
    from padwright.core.stages.material.lattices import upper_bound
    from padwright.core.stages.material.material_model import model_from_card

    model = model_from_card(load_material("tpu_85a"))
    left, right = figure.subplots(1, 2)
    strain = np.linspace(0.0, 0.7, 141)
    for pattern, density, color in (("gyroid", 10.0, GREY), ("gyroid", 15.0, BLUE), ("honeycomb", 15.0, RED)):
        band = region_curve(_fill_settings(pattern, density, 0), model, RegionGeometry(25.0, 4e4, 800.0))
        left.fill_between(strain, band.low.stress(strain), band.high.stress(strain), color=color, alpha=0.12)
        left.plot(strain, band.value.stress(strain), color=color, label=f"{pattern} {density:g} %")
    left.set(title="85A, before calibration", xlabel="strain", ylabel="stress, kPa", ylim=(0, 600))
    left.legend(fontsize=8)
    share = np.linspace(0.02, 1.0, 99)
    right.loglog(share, [upper_bound(value, 0.48) for value in share], color="black", label="Hashin-Shtrikman bound")
    right.loglog(share, [stiffness_ratio("gyroid", value, 0.48) for value in share], color=BLUE, label="gyroid")
    right.loglog(share, share, color=RED, label="upright walls (one direction)")
    right.loglog(share, share**2, ":", color=GREY, label="share squared (open foam)")
    right.plot([0.1, 0.2, 0.3], [0.028, 0.064, 0.108], "o", color=BLUE, label="own finite elements")
    right.set(title="Small strain", xlabel="solid share", ylabel="E / E of the solid")
    right.legend(fontsize=7)
    for axes in (left, right):
        axes.grid(alpha=0.3)


def fill_contours(figure: Any) -> None:
    """Draw what contours add to a small block and to a pad, and what the bead width does."""
    from padwright.core.stages.material.fill import RegionGeometry, middle_curve
    from padwright.core.stages.material.material_model import MaterialModel

    model = MaterialModel(13_240.0, 0.48)
    left, right = figure.subplots(1, 2)
    strain = np.linspace(0.0, 0.3, 121)[1:]
    sizes = (
        ("block, 40 mm", RegionGeometry(25.0, 1600.0, 160.0), RED),
        ("pad, 200 mm", RegionGeometry(25.0, 4e4, 800.0), BLUE),
    )
    bare = middle_curve(_fill_settings("gyroid", 15.0, 0), model, sizes[1][1])
    for label, geometry, color in sizes:
        curve = middle_curve(_fill_settings("gyroid", 15.0, 2), model, geometry)
        left.plot(strain, curve.stress(strain) / bare.stress(strain), color=color, label=f"{label}, 2 contours")
    left.axhline(1.0, color="black", linewidth=0.8)
    left.set(
        title="Gyroid 15 %: contours against none", xlabel="strain", ylabel="times the stress without", ylim=(0, None)
    )
    widths = np.linspace(0.3, 0.8, 26)
    from dataclasses import replace

    fixed, cell = [], []
    for width in widths:
        given = replace(_fill_settings("gyroid", 15.0, 0), bead_width_mm=float(width))
        fixed.append(middle_curve(given, model, sizes[1][1]).secant_kpa())
        cell.append(middle_curve(replace(given, fill_cell_mm=8.4), model, sizes[1][1]).secant_kpa())
    right.plot(widths, fixed, color=BLUE, label="15 %, whatever the bead")
    right.plot(widths, cell, color=RED, label="cells of 8.4 mm, whatever the bead")
    right.set(title="Bead width", xlabel="bead width, mm", ylabel="secant modulus at 10 %, kPa", ylim=(0, None))
    for axes in (left, right):
        axes.legend(fontsize=8)
        axes.grid(alpha=0.3)


def calibration_spread(figure: Any) -> None:
    """Draw one made-up calibration: what was read, and each block's band before and after."""
    from padwright.core.stages.material.coupons.calibrate import calibrate
    from study_calibration import bench_of, made_up

    bench = bench_of("tpu_85a")
    _, readings = made_up(bench, np.random.default_rng(4))
    fit = calibrate([block.coupon for block in bench.plan.blocks], readings, bench.prior)
    left, right = figure.subplots(1, 2)
    for block in bench.plan.blocks:
        own = readings.block == block.coupon.number
        left.plot(25.0 - readings.height_mm[own], readings.load_kg[own], "o-", markersize=4, label=block.coupon.words)
    left.set(title="Made-up readings", xlabel="pressed by, mm", ylabel="load, kg")
    left.legend(fontsize=6)
    for place, block in enumerate(fit.blocks):
        for shift, found, color in ((-0.12, block.before, GREY), (0.12, block.after, RED)):
            right.plot([place + shift] * 2, [found.low, found.high], color=color, linewidth=4, alpha=0.6)
            right.plot(place + shift, found.value, "o", color=color)
    right.set_yscale("log")
    right.set_xticks(range(len(fit.blocks)), [str(block.coupon.number) for block in fit.blocks])
    right.set(title="Secant modulus, kPa: before (grey), after (red)", xlabel="block")
    for axes in (left, right):
        axes.grid(alpha=0.3)


def print_shell(figure: Any) -> None:
    """Draw how much of a block is solid once contours and closed layers are counted, and how flow bounds speed."""
    from padwright.core.geometry.solids import extruded
    from padwright.core.stages.material.fill_geometry import bead_area_mm2
    from padwright.core.stages.printing.shell import shell_and_core

    left, right = figure.subplots(1, 2)
    heights = np.array([6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 40.0])
    for size, color in ((40.0, RED), (100.0, BLUE), (200.0, GREY)):
        outline = 0.5 * size * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
        solid = []
        for height in heights:
            parts = shell_and_core(extruded(outline, float(height)), np.array([0.0, 0.0, 1.0]), 0.9, 1.2)
            solid.append((parts.shell_mm3 + 0.15 * parts.core_mm3) / (parts.shell_mm3 + parts.core_mm3))
        left.plot(heights, 100.0 * np.array(solid), "-o", color=color, markersize=4, label=f"{size:g} mm square")
    left.axhline(15.0, color="black", linewidth=0.8, linestyle=":")
    left.set(title="Fill 15 %, 2 contours, 1.2 mm of closed layers", xlabel="thickness, mm", ylabel="solid share, %")
    left.set_ylim(0.0, None)
    widths = np.linspace(0.3, 0.8, 51)
    for flow, color in ((1.5, RED), (3.0, BLUE), (5.0, GREY)):
        speed = [flow / bead_area_mm2(float(width), 0.2) for width in widths]
        right.plot(widths, speed, color=color, label=f"{flow:g} mm3/s")
    right.set(title="Greatest speed, layers of 0.2 mm", xlabel="bead width, mm", ylabel="mm/s")
    for axes in (left, right):
        axes.legend(fontsize=8)
        axes.grid(alpha=0.3)


def folds_pressed(figure: Any) -> None:
    """Draw folded walls as they are pressed, and their pressure over strain by lean beside finite elements."""
    from scipy.optimize import brentq
    from scipy.special import ellipkinc

    from padwright.core.stages.material.folds.elastica import elastica_strain
    from padwright.core.stages.material.folds.law import stress_kpa
    from padwright.core.stages.material.folds.softening import Softening
    from padwright.core.stages.material.folds.walls import Walls
    from support.fold_elements import FoldElements

    shapes, axes = figure.subplots(1, 2, width_ratios=(1.0, 1.25))
    height, width, pitch, solid, poisson = 20.0, 1.35, 6.0, 13240.0, 0.48
    slope = np.radians(35.0)
    length, thick = 0.5 * height / np.cos(slope), width * np.cos(slope)
    for column, strain in enumerate((0.0, 0.2, 0.4)):
        angle = np.full(401, slope)
        if strain:
            turned = brentq(lambda t, strain=strain: float(elastica_strain(slope, t)) - strain, slope + 1e-3, 1.5)
            inner = np.sin(0.5 * turned)
            along = np.linspace(np.arcsin(np.sin(0.5 * slope) / inner), 0.5 * np.pi, 201)
            place = ellipkinc(along, inner**2)
            place = 0.5 * (place - place[0]) / (place[-1] - place[0])
            half = np.interp(np.linspace(0.0, 0.5, 201), place, 2.0 * np.arcsin(inner * np.sin(along)))
            angle = np.concatenate([half, half[-2::-1]])
        step = length / 400.0
        angle = np.concatenate([angle, -angle[::-1]])
        x, z = np.cumsum(np.sin(angle)) * step, np.cumsum(np.cos(angle)) * step
        start = 26.0 * column
        for number in range(3):
            side = 0.5 * thick * np.array([np.cos(angle), -np.sin(angle)])
            line = np.hstack([[x + side[0], z + side[1]], [(x - side[0])[::-1], (z - side[1])[::-1]]])
            shapes.fill(line[0] + start + pitch * number, line[1], color=BLUE, linewidth=0)
        for low in (-1.4, float(z[-1])):
            shapes.fill_between([start - 2.5, start + 20.5], low, low + 1.4, color=GREY, linewidth=0)
        shapes.text(start + 9.0, -4.5, f"{100.0 * strain:.0f} %", ha="center", fontsize=8)
    shapes.set(title="35 degrees, pressed (elastica)", aspect="equal", ylim=(-6.5, 23.0))
    shapes.axis("off")
    strains = np.linspace(0.0, 0.5, 201)
    dots = [0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4]
    for lean, color in ((45.0, GREY), (30.0, BLUE), (20.0, RED), (10.0, "black")):
        walls = Walls(height, width, pitch, lean)
        soft, ever = (stress_kpa(walls, strains, solid, poisson, law)[0] for law in (Softening(), Softening(1e6)))
        axes.plot(100.0 * strains, soft, color=color, label=f"{lean:.0f} degrees")
        axes.plot(100.0 * strains, ever, color=color, linewidth=0.8, linestyle=":")
        found = solid * FoldElements(height, width, pitch, lean, 1.2, poisson).press(dots)
        axes.plot(100.0 * np.array(dots), found, "o", color=color, markersize=3)
    axes.set(title="20 mm, 1.35 mm every 6 mm: law, elements", xlabel="strain, %", ylabel="pressure, kPa")
    axes.set(ylim=(0.0, 65.0), xlim=(0.0, 50.0))
    axes.grid(alpha=0.3)
    axes.legend(fontsize=7)


PLOTS: dict[str, Callable[[Any], None]] = {
    "contact_columns": contact_columns,
    "contact_give": contact_give,
    "fill_hardness": fill_hardness,
    "fill_curves": fill_curves,
    "fill_contours": fill_contours,
    "folds_pressed": folds_pressed,
    "calibration_spread": calibration_spread,
    "print_shell": print_shell,
}


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
