"""The sheet that says how to press printed blocks of folded walls, and what to see on the strip of bridges."""

from __future__ import annotations

from ..material.coupons.coupons import CouponSet, PlannedCoupon
from ..material.coupons.fold_coupons import KITCHEN_KG, FoldCoupon
from ..material.coupons.fold_shapes import BRIDGES_MM
from .coupon_sheet import block_lines

_STEPS = """\
What you need: a kitchen scale that shows grams, a light stiff board a little larger than the blocks, calipers (a ruler
tells less), something to load with (bottles and cups of water: 1 kg a liter, 1 g a milliliter), and for the blocks that
say so a bathroom scale.

 1. Print all of it as it lies, as a plain solid: no fill to choose, at least so many contours as the list says, no
    support inside, no brim that stays on. The filament must be dry: wet filament strings, and strings hold walls.
 2. Look through every block against the light: channels must be open from side to side. Cut strings with a wire.
 3. Let the blocks rest for a day (common practice, no source).
 4. Look at the strip of bridges from below. From one end its gaps are {gaps} mm wide.
    Find the widest gap whose roof is closed and hangs by less than half a millimeter (two layers). Write it into the
    job: [fill] longest_bridge_mm.
 5. Count the teeth on the lower skin's end (notches on the solid block): they are the block's number. Weigh each block
    to the gram and write it into mass_g of its first row: the weight tells how wide walls were printed.
 6. Block on the scale with its teeth below. Set the scale to zero, then put the board on: the board is load, on soft
    blocks much of it. Measure the height of the block at all four sides before the board lies on it and write their
    mean into the row with load 0; under the board measure from what the block stands on to the board.
 7. Press it down to the largest load three times, and wait a minute.
 8. Load until the scale shows about the load of the row, wait half a minute, write down what it shows, in kg (350 g are
    0.35), and the height. Going up in load, never back. Loads are by what is known now: where the first hardly moves a
    block take larger ones, where it takes a third of the walls' height lighter ones, and write over those in the table.
 9. Stop where walls touch each other, or at a third of the height. Leave the other rows empty.
10. Twice is better: do all again, and write the heights into height_2_mm.
11. Then, in the folder of this sheet and with the python in Padwright's folder (.venv):
    python -m padwright calibrate readings.csv --out my_filament.toml

A block stands for the walls of a part where skins cannot slide: half of its walls run across the other half, so it does
not walk sideways. Press straight down.

Take care. Lean with your hands, both feet on the floor; do not stand, kneel or jump on the board: a block tips or
shoots out. Fingers out from under the board. Not for children.
"""


def fold_sheet(plan: CouponSet, number: str, material: str) -> str:
    """Return the sheet as plain text."""
    first = plan.blocks[0].coupon.settings
    gaps = ", ".join(f"{gap:g}" for gap in BRIDGES_MM)
    lines = [
        f"{number}: blocks of folded walls to press, of {material}",
        "",
        _STEPS.format(gaps=gaps),
        f"All blocks: bead {first.bead_width_mm:g} mm, layer {first.layer_thickness_mm:g} mm, at most "
        f"{first.max_speed_mm_s:g} mm/s.",
        "",
    ]
    for block in plan.blocks:
        if isinstance(block.coupon, FoldCoupon):
            lines += [*_fold_lines(block, block.coupon), ""]
        else:
            lines += [*block_lines(block), "  Bathroom scale.", ""]
    mass = sum(block.mass_g for block in plan.blocks)
    lines += [f"Together about {mass:.0f} g without the strip.", *(f"Note: {note}" for note in plan.notes)]
    return "\n".join(lines) + "\n"


def _fold_lines(block: PlannedCoupon, coupon: FoldCoupon) -> list[str]:
    shape, tenth = coupon.shape, block.tenth_load_kg
    long, wide = shape.edges_mm
    teeth = "1 tooth" if coupon.number == 1 else f"{coupon.number} teeth"
    scale = "bathroom scale" if block.loads_kg[-1] > KITCHEN_KG else "kitchen scale"
    steps = ", ".join(
        f"{load:g} kg: {sink.value:.1f} mm" for load, sink in zip(block.loads_kg, block.sinks_mm, strict=True)
    )
    return [
        f"Block {coupon.number} ({teeth}): {coupon.words}; {long:.1f} x {wide:.1f} x {shape.height_mm:.1f} mm, walls "
        f"{shape.wall_mm:g} mm wide in a level cut, {shape.pitch_mm:g} mm apart, skins {shape.skin_mm:g} mm; about "
        f"{block.mass_g:.0f} g",
        f"  Solid; at least {coupon.settings.contour_count} contours. {scale[0].upper()}{scale[1:]}.",
        f"  A tenth of its walls' height ({0.1 * shape.core_mm:.1f} mm) takes {tenth.value:.2g} kg by what is known "
        f"now; it may be {tenth.low:.2g} to {tenth.high:.2g} kg.",
        f"  Expected: {steps}.",
    ]
