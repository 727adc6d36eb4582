"""Which layout of folded walls gives evenly, stands, and prints: whole small pads in shell elements.

The table stands in docs/models/folds.md. Each draw is one layout on one pad. All are tuned to the same mean modulus, so
that they give alike; 18 kPa press evenly on the body skin, which is free to slide and kept level.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from tests.support.fold_layouts import PITCH, POISSON, SOLID_KPA, Laid, Layout, Outline, tip_n_mm

import studying
from padwright.core.stages.folds.sway import LEAST_MARGIN, sway
from padwright.core.stages.material.folds.law import modulus_kpa
from padwright.core.stages.material.folds.walls import Walls

WISHED_KPA, PRESSURE_KPA = 100.0, 18.0
ASIDE = 0.05
"""A way of giving way is a sway where the skin's mean move is at least so much of the largest move of any place."""

MET = 0.15
"""Between the skin as a sheet on springs and elements: walls' ends, which give, and the raster are not the sheet's. It
takes waves whose ends are free, which are not built, and rings everywhere for steadier than that: no claim."""

SMALL = Outline((55.0, 40.0), 25.0)
DISHED = replace(SMALL, heights=(8.0, 25.0))
LARGE = Outline((110.0, 90.0), 60.0)
NAMES = {SMALL: "110 x 80, core 20", DISHED: "110 x 80, core 8 to 25", LARGE: "220 x 180, core 20"}

BARE = Layout("rows, no frame", 0)
FRAMED = Layout("rows in 2 rings", 2)
WAVED = Layout("rows, wave 15° of 120 mm, in 2 rings", 2, wave_deg=15.0, wave_mm=120.0)
WIDE = replace(WAVED, name=WAVED.name + ", w 1.8", width_mm=1.8)
CASES = (
    (SMALL, BARE),
    (SMALL, FRAMED),
    (SMALL, replace(BARE, name="rows, wave 20° of 80 mm, no frame", wave_deg=20.0)),
    (SMALL, replace(FRAMED, name="rows, wave 20° of 80 mm, in 2 rings", wave_deg=20.0)),
    (SMALL, Layout("rings, two folds", None, 2)),
    (SMALL, Layout("rings, two folds, w 0.9", None, 2, 0.9)),
    (SMALL, Layout("rings, one fold", None)),
    (DISHED, BARE),
    (DISHED, FRAMED),
    (DISHED, Layout("rings, two folds", None, 2)),
    (DISHED, Layout("rings, one fold", None)),
    (LARGE, BARE),
    (LARGE, FRAMED),
    (LARGE, replace(WAVED, name="rows, wave 10° of 80 mm, in 2 rings", wave_deg=10.0, wave_mm=80.0)),
    (LARGE, WAVED),
    (LARGE, replace(FRAMED, name="rows in 2 rings, w 1.8", width_mm=1.8)),
    (LARGE, WIDE),
    (LARGE, replace(WIDE, name="rows, wave 15° of 120 mm, in 1 ring, w 1.8", rings=1)),
    (LARGE, replace(WIDE, name="rows, wave 15° of 120 mm, no frame, w 1.8", rings=0)),
    (LARGE, Layout("rings, two folds", None, 2)),
    (LARGE, Layout("rings, one fold", None)),
    (LARGE, replace(WAVED, name="rows, wave 20° of 120 mm, in 2 rings", wave_deg=20.0)),
    (LARGE, replace(WAVED, name="rows, wave 25° of 120 mm, in 2 rings", wave_deg=25.0)),
)


def tuned(outline: Outline, layout: Layout) -> Laid:
    """Return the layout with slopes by which the whole pad has the wished modulus, as near as 45 degrees allow."""
    size = {"cell_mm": 2.5, "size_mm": 3.0, "rows": 4} if outline is not LARGE else {"size_mm": 3.5, "rows": 3}
    laid = Laid(outline, layout, WISHED_KPA, **size)  # type: ignore[arg-type]
    for _ in range(2):
        laid = replace(laid, kpa=laid.kpa * WISHED_KPA / mean_kpa(laid))
    return laid


def mean_kpa(laid: Laid) -> float:
    """Return pressure over the mean strain."""
    shells = laid.shells
    height = shells.top_at_corners - 0.5 * shells.skin_mm
    return PRESSURE_KPA / float(np.average(shells.give_mm(PRESSURE_KPA) / height, weights=shells.node_mm2))


def study(seeds: range) -> studying.Finding:
    """Press the layouts, each seed one."""
    rows, claims = [], []
    for outline, layout in (CASES[seed] for seed in seeds):
        laid = tuned(outline, layout)
        shells = laid.shells
        height = shells.top_at_corners - 0.5 * shells.skin_mm
        local = PRESSURE_KPA * height / shells.give_mm(PRESSURE_KPA, smooth_mm=PITCH)
        depth = outline.depth(*shells.skin[0].points[:, :2].T)
        low, middle, high = np.percentile(local[depth > 9.0], [5, 50, 95])
        push = [
            0.1 * PRESSURE_KPA / float(np.average(shells.skin_moves(0.1 * PRESSURE_KPA, axis) / height,
                                                  weights=shells.node_mm2))
            for axis in (0, 1)
        ]  # fmt: skip
        margins, aside = shells.sway_margin(PRESSURE_KPA, 3)
        sways = margins[aside > ASIDE]
        told = sway(laid.sheet(PRESSURE_KPA)).margin
        slope = laid.slope(height)
        straight = modulus_kpa(Walls(height, layout.width_mm, PITCH, slope, layout.folds), SOLID_KPA, POISSON)
        held = mean_kpa(laid) / float(1.0 / np.average(1.0 / straight, weights=shells.node_mm2))
        row = max(laid.strips, key=lambda each: len(each.places) * (not each.is_closed) + 0.1)
        tip = tip_n_mm(row, (row.places.shape[1] - 1) // (2 * layout.folds))
        rows.append((
            NAMES[outline], layout.name, f"{slope.min():.0f}-{slope.max():.0f}",
            f"{low:.0f} / {middle:.0f} / {high:.0f}",
            f"{np.median(local[depth < 9.0]):.0f}", f"{held:.2f}", f"{push[0]:.0f}, {push[1]:.0f}",
            f"{sways[0]:.2f}" if len(sways) else f"over {margins[-1]:.2f}", f"{told:.2f}", f"{margins[0]:.2f}",
            f"{shells.mass_g:.0f}", f"{tip:.3f}",
        ))  # fmt: skip
        name = f"{NAMES[outline]}: {layout.name}"
        if len(sways) and not (layout.rings is None or (layout.rings == 0 and layout.wave_deg)):
            claims.append((f"{name}: sheet {told:.2f}, elements {sways[0]:.2f}", abs(told / sways[0] - 1.0) <= MET))
        elif not len(sways):
            claims.append((f"{name}: no sway up to {margins[-1]:.2f}, sheet {told:.2f}", told > 0.8 * margins[-1]))
        if layout.rings == 0 and not layout.wave_deg:
            claims.append((f"{name}: slides off", margins[0] < 1.0))
        if layout.folds == 2:
            claims.append((f"{name}: walls snake", margins[0] < LEAST_MARGIN / 1.5 and aside[0] < ASIDE))
        if layout.rings == 2 and layout.folds == 1 and (outline is not LARGE or layout.wave_deg == 15.0):
            stands = (sways[0] if len(sways) else margins[-1]) >= LEAST_MARGIN
            claims.append((f"{name}: stands", stands))
    head = (
        "pad, mm", "layout", "slope", "local kPa: 5 / 50 / 95 %", "rim", "over straight walls", "push along x, y: kPa",
        "slides off at", "the sheet says", "first to give way", "g", "half-printed wall, N/mm",
    )  # fmt: skip
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=len(CASES), sample=2))
