"""What a printed block weighs against what it should, and the fill that was really printed where the two differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from ....base.errors import InputError
from .coupons import Coupon, solid_share
from .reading_doubts import another_edge

WEIGHT_OFF = 0.15
"""Share beyond which a block's weight is not put down to moisture, color or a card's density (common practice, no
source)."""

_READ_G = 1.0
"""What a kitchen scale can tell."""

_TELLING_G = 5.0
"""A kitchen scale tells the next size (a fifth more) of blocks from this on."""

_MOST_OFF = 3.0
"""Times, beyond which a weight is a slip of the pen or of the unit."""


def weighed(
    coupons: Sequence[Coupon], masses_g: Mapping[int, float], density_g_cm3: float
) -> tuple[tuple[Coupon, ...], tuple[str, ...]]:
    """Return the blocks as they were printed by their weight, and what to tell the person.

    A block within 15 % or 1 g of its planned weight stays as it is. Of any other the solid share of the fill is worked
    out from its weight, its contours and closed layers as planned, and takes the place of the one that was asked for.
    Masses are by the block's number; the density is the filament's. Raises InputError when a weight is more than three
    times off, so that it cannot be that block's in g.
    """
    found: list[Coupon] = []
    notes: list[str] = []
    ratios: list[float] = []
    for coupon in coupons:
        mass = masses_g.get(coupon.number)
        if mass is None:
            found.append(coupon)
            continue
        planned = planned_mass_g(coupon, density_g_cm3)
        if not planned / _MOST_OFF <= mass <= planned * _MOST_OFF:
            raise InputError(
                f"Block {coupon.number} cannot weigh {mass:g} g: by its size and fill it has {planned:.1f} g.",
                hint="Write mass_g in grams, of one block alone, beside its own number.",
            )
        off = mass / planned - 1.0
        if abs(off) <= WEIGHT_OFF or abs(mass - planned) <= _READ_G:
            found.append(coupon)
            continue
        is_solid = coupon.settings.fill_structure == "solid"
        pct = 100.0 if is_solid else _fill_pct(coupon, mass, density_g_cm3)
        asked = coupon.settings.solid_share_pct
        said = f"Block {coupon.number} ({coupon.words}) weighs {mass:g} g, {100 * off:+.0f} % off {planned:.1f} g"
        if is_solid or not 1.0 <= pct <= 70.0:
            notes.append(
                f"{said}, and its fill cannot make up for that: look for gaps between beads or too much flow, and "
                f"check density_g_cm3 = {density_g_cm3:g} against the spool."
            )
            found.append(coupon)
            continue
        notes.append(
            f"{said}: it is reckoned as {coupon.settings.fill_structure} {pct:.1f} % instead of {asked:g} %."
            f"{another_edge(coupon, float(np.log1p(off)), 'weigh')}"
        )
        ratios.append(pct / asked)
        found.append(replace(coupon, settings=replace(coupon.settings, solid_share_pct=round(pct, 2))))
    if len(ratios) > 1 and max(ratios) / min(ratios) < 1.0 + WEIGHT_OFF:
        ratio = float(np.exp(np.mean(np.log(ratios))))
        notes.append(
            f"Your program makes {ratio:.2f} times the percentage asked for, alike in {len(ratios)} blocks: where "
            f"Padwright says 20 %, type {20.0 / ratio:.1f} %."
        )
    return tuple(found), tuple(notes)


def right_weight(coupons: Sequence[Coupon], masses_g: Mapping[int, float], density_g_cm3: float) -> frozenset[int]:
    """Return the numbers of the blocks that were weighed and weigh what they should: their size is right."""
    planned = {coupon.number: planned_mass_g(coupon, density_g_cm3) for coupon in coupons}
    return frozenset(
        number
        for number, mass in masses_g.items()
        if number in planned and abs(mass / planned[number] - 1.0) <= WEIGHT_OFF and planned[number] > _TELLING_G
    )


def planned_mass_g(coupon: Coupon, density_g_cm3: float) -> float:
    """Return what a block weighs if it is printed as asked."""
    volume = coupon.geometry.area_mm2 * coupon.geometry.thickness_mm / 1000.0
    return volume * density_g_cm3 * solid_share(coupon)


def _fill_pct(coupon: Coupon, mass_g: float, density_g_cm3: float) -> float:
    """Return the solid share of the fill, %, that gives a block its weight; a block's weight is straight in it."""
    empty, full = (
        planned_mass_g(
            replace(coupon, settings=replace(coupon.settings, solid_share_pct=each, fill_cell_mm=None)), density_g_cm3
        )
        for each in (0.0, 100.0)
    )
    return 100.0 * (mass_g - empty) / (full - empty)
