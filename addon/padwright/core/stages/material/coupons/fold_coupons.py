"""Blocks of folded walls to press: which walls, how many of them, how hard to press them, and what that will tell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ....base.errors import InputError
from ....base.estimate import Estimate
from ....base.text import counted
from ....base.units import N_PER_KG
from ....job.material_cards import MaterialCard
from ..curves import LEVEL_STRAIN, CurveBand, StressCurve
from ..fill import RegionGeometry
from ..folds.band import fold_band
from ..folds.walls import Walls, least_skin_mm
from ..material_model import MaterialModel
from ..region_settings import RegionSettings, speed_under_flow
from .coupons import (
    Coupon,
    CouponSet,
    CouponWish,
    PlannedCoupon,
    bead_of,
    check_printer,
    laid_out,
    layer_of,
    solid_block,
)
from .fold_shapes import FoldShape, bridge_strip, fold_block, skins_volume_mm3, walls_volume_mm3

KITCHEN_KG = 5.0
"""What most kitchen scales bear (common practice, no source); more than that goes onto a bathroom scale."""

KITCHEN_READ_KG, KITCHEN_HELD = 0.005, 0.02
"""What is off in a load read on a kitchen scale: marks and the board's rest, kg, and a hand or water that moves, share
of the load. Assumed."""

LONGEST_BRIDGE_MM = 4.8
"""Gap under a roof that blocks dare before the strip has shown how far a printer bridges: less than parts, 5 mm."""

FREE_ENDS = 0.08
"""Of a segment's length: so much less of a wall bears as if it ran on, since its ends are free to swell and curl. Own
finite elements of whole walls as of the blocks, feet held, Poisson's ratio 0.45 to 0.48: 0.05 at 45 degrees to 0.11 at
25, which is 1 % of a block either way."""

LEAST_SKIN_MM = 1.0
_FEWEST, _MOST_WALLS = 4, 7
_LEAST_TENTH_KG = 0.05
"""At a tenth of the height, ten times what a kitchen scale is off."""

_DEEPEST, _LOADS = 0.3, 5
_CLOSED_SHARE = 0.8


@dataclass(frozen=True)
class FoldWish:
    """What blocks of folded walls are to span; the printer, who presses and the bed are those of `CouponWish`."""

    printer: CouponWish
    beads: tuple[int, ...] = (2, 3)  # width of walls
    slopes_deg: tuple[float, ...] = (45.0, 25.0)
    core_mm: float = 18.0  # height of the walls
    # from wall to wall; less where a roof would bridge more than 5 mm.
    pitch_mm: float = 6.0


@dataclass(frozen=True)
class FoldCoupon(Coupon):
    """A block of folded walls. `geometry` is its height, the ground its walls bear for, and the edge of its skins."""

    shape: FoldShape

    @property
    def words(self) -> str:
        """What it is, for a person."""
        beads = round(self.shape.wall_mm / self.settings.bead_width_mm)
        return f"walls of {counted(beads, 'bead')}, {self.shape.slope_deg:g} degrees"

    @property
    def bare_kg(self) -> float:
        """Loads below it are none."""
        return KITCHEN_READ_KG

    @property
    def walls(self) -> Walls:
        """Its walls as asked for, of one place."""
        shape = self.shape
        return Walls(shape.core_mm, shape.wall_mm, shape.pitch_mm, shape.slope_deg)

    @property
    def pressed_mm(self) -> float:
        """Height that gives: the walls'."""
        return self.shape.core_mm


def fold_coupon(number: int, settings: RegionSettings, shape: FoldShape) -> FoldCoupon:
    """Return a block with the ground that its walls bear for."""
    long, wide = shape.edges_mm
    segment = 0.5 * shape.core_mm / float(np.cos(np.radians(shape.slope_deg)))
    ground = 2.0 * shape.walls_a_half * shape.pitch_mm * (shape.run_mm - FREE_ENDS * segment)
    return FoldCoupon(number, settings, wide, RegionGeometry(shape.height_mm, ground, 2.0 * (long + wide)), shape)


def plan_fold_coupons(model: MaterialModel, card: MaterialCard, wish: FoldWish) -> CouponSet:
    """Return blocks of folded walls that a kitchen scale or a bathroom scale can press, and a solid one.

    Every width at every slope. Loads go in five even steps up to three tenths of the walls' height, or to where
    neighbors nearly touch. Raises InputError when a wish is out of range or the blocks do not fit the bed.
    """
    _check(wish)
    printer = wish.printer
    bead, layer = bead_of(printer), layer_of(printer)
    notes: list[str] = []
    planned: list[PlannedCoupon] = []
    for beads in sorted(wish.beads):
        wall = beads * bead
        skin = layer * float(np.ceil(max(least_skin_mm(wall), LEAST_SKIN_MM) / layer - 1e-6))
        pitch = min(wish.pitch_mm, wall + LONGEST_BRIDGE_MM)
        for slope in sorted(wish.slopes_deg, reverse=True):
            shape = FoldShape(wish.core_mm, skin, wall, pitch, slope, _MOST_WALLS)
            block, note = _sized(len(planned) + 1, _settings(card, wish, beads, skin), shape, model, card)
            planned += [block] if block is not None else []
            notes += [note] if note else []
    if not planned:
        raise InputError(
            "All of these blocks are too soft for a kitchen scale.",
            hint="Ask for wider walls, steeper ones, or a lower core.",
        )
    if printer.has_solid:
        block, note = solid_block(len(planned) + 1, model, card, printer)
        planned += [block] if block is not None else []
        notes += [note] if note else []
    most = max(block.loads_kg[-1] for block in planned)
    *placed, strip = laid_out([*(block.mesh for block in planned), bridge_strip(layer)], printer.bed_mm)
    blocks = tuple(replace(block, mesh=mesh) for block, mesh in zip(planned, placed, strict=True))
    return CouponSet(blocks, most, tuple(notes), strip)


def _check(wish: FoldWish) -> None:
    check_printer(wish.printer)
    if not wish.beads or not wish.slopes_deg or len(set(wish.beads)) != len(wish.beads):
        raise InputError("Walls and slopes each need at least one value, none twice.")
    if len(set(wish.slopes_deg)) != len(wish.slopes_deg) or len(wish.beads) * len(wish.slopes_deg) > 6:
        raise InputError(
            f"{len(wish.beads)} widths at {len(wish.slopes_deg)} slopes make no set of blocks: up to six, none twice."
        )
    if not all(1 <= beads <= 8 for beads in wish.beads):
        raise InputError(f"Walls of blocks are 1 to 8 beads wide; got {min(wish.beads)} to {max(wish.beads)}.")
    if not all(5.0 <= slope <= 60.0 for slope in wish.slopes_deg):
        raise InputError(
            f"Walls of blocks lean by 5 to 60 degrees; got {min(wish.slopes_deg):g} to {max(wish.slopes_deg):g}.",
            hint="Upright walls buckle instead of folding; flatter ones need support.",
        )
    if not 6.0 <= wish.core_mm <= 40.0:
        raise InputError(f"Walls of blocks are 6 to 40 mm high; got {wish.core_mm:g} mm.")
    wall = max(wish.beads) * bead_of(wish.printer)
    if not wall + 1.0 <= wish.pitch_mm <= 20.0:
        raise InputError(
            f"Walls of {wall:g} mm at a pitch of {wish.pitch_mm:g} mm leave {wish.pitch_mm - wall:.2g} mm of air.",
            hint="Leave 1 mm at least between walls; the pitch is 20 mm at most.",
        )


def _settings(card: MaterialCard, wish: FoldWish, beads: int, skin_mm: float) -> RegionSettings:
    printer = wish.printer
    bead, layer = bead_of(printer), layer_of(printer)
    speed = float(speed_under_flow(bead, layer, 30.0, card.max_volume_flow_mm3_s))
    skin = round(skin_mm / layer)
    made = RegionSettings(
        card.id, printer.nozzle_mm, bead, layer, "solid", 100.0, max(beads, 2), skin, skin, speed,
        card.max_volume_flow_mm3_s, None, card.nozzle_temperature_degc, card.bed_temperature_degc,
    )  # fmt: skip
    return replace(made, basis={name: "assumed" for name in made.as_json()})


def _sized(
    number: int, settings: RegionSettings, shape: FoldShape, model: MaterialModel, card: MaterialCard
) -> tuple[PlannedCoupon | None, str]:
    """Return a block with as many walls as a kitchen scale bears; where four are too many, seven for a bathroom one."""
    band = fold_band(fold_coupon(number, settings, shape).walls, model)
    deepest = min(_DEEPEST, _CLOSED_SHARE * band.value.densification)
    for count in range(_MOST_WALLS, _FEWEST - 1, -1):
        coupon = fold_coupon(number, settings, replace(shape, walls_a_half=count))
        if fold_load_kg(coupon, band.value, deepest) <= KITCHEN_KG:
            break
    else:
        coupon = fold_coupon(number, settings, shape)
    tenth = fold_load_kg(coupon, band.value, LEVEL_STRAIN)
    low, high = (fold_load_kg(coupon, each, LEVEL_STRAIN) for each in (band.low, band.high))
    if tenth < _LEAST_TENTH_KG:
        return None, (
            f"Left out {coupon.words}: {1000 * tenth:.0f} g press it by a tenth of its height, too little for a "
            "kitchen scale."
        )
    loads = _loads(fold_load_kg(coupon, band.value, deepest))
    sinks = tuple(_sink(coupon, band, load) for load in loads)
    nearest = int(np.argmin([abs(sink.value - LEVEL_STRAIN * shape.core_mm) for sink in sinks]))
    off = load_sd_kg(np.array(loads))[nearest] / loads[nearest]
    error = float(np.hypot(off, np.sqrt(2.0) * 0.1 / sinks[nearest].value))
    mass = planned_fold_mass_g(coupon, card.density_g_cm3)
    mesh = fold_block(coupon.shape, number)
    return PlannedCoupon(coupon, mesh, band, loads, sinks, Estimate(tenth, low, high, band.basis), error, mass), ""


def load_sd_kg(load_kg: np.ndarray) -> np.ndarray:
    """Return how far loads on folds may be off, kg (n,): a kitchen scale's up to what it bears, else a bathroom's."""
    return np.where(load_kg <= KITCHEN_KG, np.hypot(KITCHEN_READ_KG, KITCHEN_HELD * load_kg), 1.0)


def _loads(deepest_kg: float) -> tuple[float, ...]:
    step = 1.0 if deepest_kg > KITCHEN_KG else 0.05 if deepest_kg > 0.5 else 0.01
    first = deepest_kg / _LOADS
    steps = (float(max(round(each / step), 1)) * step for each in np.linspace(first, deepest_kg, _LOADS))
    return tuple(dict.fromkeys(round(each, 2) for each in steps))


def fold_load_kg(coupon: FoldCoupon, curve: StressCurve, strain: float) -> float:
    """Return the load that presses a block's walls by a strain of their height."""
    return float(curve.stress(np.array(strain))) * coupon.geometry.area_mm2 / 1000.0 / N_PER_KG


def _sink(coupon: FoldCoupon, band: CurveBand, load_kg: float) -> Estimate:
    """Return how far a load presses a block, mm; the stiff curve gives the low end."""
    strain = np.linspace(0.0, 0.9, 361)
    stress = load_kg * N_PER_KG * 1000.0 / coupon.geometry.area_mm2
    found = [
        coupon.shape.core_mm * float(np.interp(stress, curve.stress(strain), strain))
        for curve in (band.value, band.high, band.low)
    ]
    return Estimate(found[0], found[1], found[2], band.basis)


def planned_fold_mass_g(coupon: FoldCoupon, density_g_cm3: float, width: float = 0.0) -> float:
    """Return what a block weighs with its walls' width times exp(`width`)."""
    walls, skins = walls_volume_mm3(coupon.shape), skins_volume_mm3(coupon.shape, coupon.number)
    return (walls * float(np.exp(width)) + skins) / 1000.0 * density_g_cm3
