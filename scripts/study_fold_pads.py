"""How far the product's word on a pad of folded walls is from shell elements of the walls it lays out.

The table stands in docs/models/folds.md. Each draw is a small box of its own size, wall and lean, with a firmer middle;
small strain. Under 18 kPa everywhere: mean give, and the middle's; then on a disk in the middle alone: its give.
Under a level plate: the share of the load that the middle bears.
"""

from __future__ import annotations

import sys

import numpy as np
from tests.support.laid_pads import LaidPad
from tests.support.pad_shapes import box_pad

import studying
from padwright.core.base.progress import drain
from padwright.core.stages.folds.layout import FoldWishes, lay_out

PRESSURE_KPA = 18.0
RADIUS_MM = 30.0  # of the firmer middle
KEPT_MM = 15.0
"""Its give is told within so much less: the skin evens a step of firmness out over as much to both sides."""

DISK_MM = 22.0
"""Radius of what is pressed alone: as narrow as a sit bone."""

NAMES = ("mean give", "the middle's give", "give of a disk pressed alone", "its share under a plate")
LAW, SINGLE = (1.1, 1.1, 1.2, 1.2), 1.25
"""The mean of all pads lies within a tenth, and within a fifth where skins count: they bend across the walls, over 10
mm about. A single one lies within what the law says of itself (`LAW_FACTOR`), save that a plate says a little more:
`PLATE`."""

PLATE = 1.3  # sharp corners of a box's frame, which bear nothing in the middle

MANY = 8  # pads whose mean says something


def drawn(seed: int) -> tuple[LaidPad, str]:
    """Return a pad and what it is."""
    rng = np.random.default_rng(seed)
    width = float(rng.choice([0.9, 1.35, 1.8]))
    skin = max(1.2, width)
    core = float(rng.uniform(9.0, 11.0) if width < 1.0 else rng.uniform(14.0, 22.0))
    size = (float(rng.uniform(110.0, 160.0)), float(rng.uniform(100.0, 130.0)), core + 2.0 * skin)
    soft = float(rng.uniform(28.0, 40.0))
    wishes = FoldWishes(width, 5.5 if width < 1.0 else 6.0, skin, skin)
    layout = drain(lay_out(box_pad(size, step=4.0), wishes))
    at = layout.centers(np.arange(layout.is_core.size)).reshape(*layout.is_core.shape, 2)
    middle = at[layout.is_core].mean(axis=0)
    share = np.clip((np.hypot(*(at - middle).transpose(2, 0, 1)) - RADIUS_MM + 4.0) / 8.0, 0.0, 1.0)
    wished = soft - 8.0 + 8.0 * share
    slope = np.where(layout.is_core, np.minimum(wished, layout.slope_limit_deg), 0.0)
    words = f"{size[0]:.0f} x {size[1]:.0f} x {core:.0f}, w {width:g}, {soft:.0f}°, middle {soft - 8.0:.0f}°"
    return LaidPad(layout, slope), words


def study(seeds: range) -> studying.Finding:
    """Press pads, each seed one."""
    rows, off = [], []
    for seed in seeds:
        laid, words = drawn(seed)
        shells = laid.shells()
        flat, area = shells.skin[0].points[:, :2], shells.node_mm2
        center = laid.places.mean(axis=0)
        runs = laid.runs
        told_mm = laid.told_give_mm(PRESSURE_KPA)
        at_nodes = np.hypot(*(runs.node_mm - center).T)
        at_shells = np.hypot(*(flat - center).T)
        near, near_told = (each < RADIUS_MM - KEPT_MM for each in (at_shells, at_nodes))
        inside, inside_told = (np.hypot(*(at - center).T) < RADIUS_MM for at in (flat, laid.places))
        disk, disk_told = (each < DISK_MM for each in (at_shells, at_nodes))
        give = shells.give_mm(PRESSURE_KPA)
        alone = shells.give_mm(np.where(disk, PRESSURE_KPA, 0.0))
        told_alone = laid.told_give_mm(np.where(disk_told, PRESSURE_KPA, 0.0))
        plate = shells.plate_kpa_mm() * area
        grounds = area[disk].sum() / runs.area_mm2[disk_told].sum()  # rasters give the disk unlike areas
        found = (
            float(np.average(give, weights=area)),
            float(np.average(give[near], weights=area[near])),
            float(np.average(alone[disk], weights=area[disk])),
            float(plate[inside].sum() / plate.sum()),
        )
        told = (
            float(np.average(told_mm, weights=runs.area_mm2)),
            float(np.average(told_mm[near_told], weights=runs.area_mm2[near_told])),
            float(np.average(told_alone[disk_told], weights=runs.area_mm2[disk_told]) * grounds),
            float(laid.told_kpa_mm[inside_told].sum() / laid.told_kpa_mm.sum()),
        )
        margins, aside = shells.sway_margin(PRESSURE_KPA, 2)
        sway = laid.sway(PRESSURE_KPA)
        sways = margins[aside > 0.05]
        off.append([np.log(one / other) for one, other in zip(told, found, strict=True)])
        rows.append((
            words, *(f"{one:.2f} / {other:.2f}" for one, other in zip(told, found, strict=True)),
            f"{sway.margin.value:.1f} / " + (f"{sways[0]:.1f}" if len(sways) else f"over {margins[-1]:.1f}"),
        ))  # fmt: skip
    worst = np.exp(np.abs(np.array(off)).max(axis=0))
    means = np.exp(np.array(off).mean(axis=0))
    claims = []
    for name, law, far, mean in zip(NAMES, LAW, worst, means, strict=True):
        rows.append((f"worst, mean over all: {name}", f"{far:.2f}", f"{mean:.2f}", "", "", ""))
        if len(off) >= MANY:
            claims.append((f"{name}: told within {law:g} times on the mean: {mean:.2f}", 1.0 / law <= mean <= law))
        most = PLATE if name == NAMES[-1] else SINGLE
        claims.append((f"{name}: each within {most:g} times, worst {far:.2f}", bool(far <= most)))
    head = (
        "pad", "give, mm: told / elements", "middle's", "a disk alone", "middle's share under a plate", "slides off at"
    )  # fmt: skip
    return studying.Finding(head, tuple(rows), tuple(claims))


if __name__ == "__main__":
    sys.exit(studying.main(__doc__, study, draws=12, sample=2))
