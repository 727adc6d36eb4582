"""The sheet that says how to press printed blocks, and the table to fill in."""

from __future__ import annotations

from ..material.coupons.coupon_weights import WEIGHT_OFF
from ..material.coupons.coupons import HEIGHT_MM, READ_KG, READ_MM, SHOWN_KG, CouponSet, PlannedCoupon, solid_share
from ..material.coupons.reading_notes import FINER_MM, STEPS_FOR_CALIPERS

_STEPS = """\
What you need: a bathroom scale on a hard floor, a stiff board (a shelf, 18 mm or more), a thin hard plate for under
the blocks if the scale's top is soft, calipers (a ruler tells less), a kitchen scale if you have one,
something to hold on to, and best a second person who reads.

First try the scale. Lean on it with one hand, more and less:
 - It follows: good.
 - It shows nothing under {shown:g} kg: the loads below begin there. Where one does not, lay on full bottles, 1 kg a
   liter.
 - It locks: it keeps the first number until you step off. Then stand on the scale yourself, with both feet, the block
   and the board on a firm table before you. Read your weight, step off. Step on, lean on the board until you press
   about the load of the row, let it lock: the load is your weight less what it shows now. Or let water press: a
   bucket on the board, 1 kg a liter and the bucket's own weight.

 1. Print all blocks as they lie, with the settings of the list below. The program you print with must not add
    contours, a brim that stays on, or another fill than the list says.
 2. Let them cool and rest for a day: fresh prints still settle (common practice, no source).
 3. Count the notches: they are the block's number. Weigh each block on a kitchen scale and write it into mass_g of its
    first row. Where it is more than {off:.0f} % off the list, `calibrate` reckons with the fill that was really
    printed, and says what to ask your program for.
 4. Block on the scale, board on the block, both in the middle. Set the scale to zero.
 5. Measure the height of the block, from what it stands on to the board, at all four sides; write their mean into the
    row with load 0.
 6. Flex it: lean on the board with straight arms up to the largest load of the block, three times, and wait a minute.
    (Foam is tested so too: ASTM D3574 flexes twice and rests.)
 7. Lean on until the scale shows about the load of the row, wait half a minute, write down what it shows, in kg, and
    the height. Going up in load, never back. 1 kg moves these blocks by {least:.2f} to {most:.2f} mm, so small weights
    are hardly more than a ruler can tell.{calipers} Where the first load hardly moves a block, take larger
    ones and write over those in the table.
 8. Stop when half of the height is gone. Leave the other rows empty. Where the first load takes a third of it, take
    lighter ones.
 9. Twice is better: do all again, and write the heights into height_2_mm.
10. Then, in the folder of this sheet and with the python in Padwright's folder (.venv):
    python -m padwright calibrate readings.csv --out my_filament.toml

Talcum powder or baking paper under and over the block lets it spread and makes the reading truer.

Take care. Lean with your hands, both feet on the floor or on the scale; do not stand, kneel or jump on the board: a
block tips or shoots out. Fingers out from under the board. Not for children; not if leaning hard hurts your wrists or
back.
"""


def coupon_sheet(plan: CouponSet, number: str, material: str) -> str:
    """Return the sheet as plain text."""
    first = plan.blocks[0].coupon.settings
    per_kg = [block.sinks_mm[0].value / block.loads_kg[0] for block in plan.blocks]
    lines = [
        f"{number}: blocks to press, of {material}",
        "",
        _STEPS.format(
            least=min(per_kg), most=max(per_kg), shown=SHOWN_KG, off=100 * WEIGHT_OFF, calipers=_calipers(plan)
        ),
        f"All blocks: {HEIGHT_MM:g} mm tall, bead {first.bead_width_mm:g} mm, layer {first.layer_thickness_mm:g} mm, "
        f"{first.base_side_layer_count} closed layers below and {first.body_side_layer_count} above, "
        f"at most {first.max_speed_mm_s:g} mm/s.",
        "",
    ]
    for block in plan.blocks:
        lines += [*block_lines(block), ""]
    mass = sum(block.mass_g for block in plan.blocks)
    hours = mass / _density(plan) / _flow(plan) / 3.6
    lines += [
        f"Together about {mass:.0f} g; at least {hours:.1f} h of printing at the flow limit.",
        *(f"Note: {note}" for note in plan.notes),
    ]
    return "\n".join(lines) + "\n"


def _calipers(plan: CouponSet) -> str:
    """Return which blocks ask for calipers: the first load moves them by less than ten of a ruler's finest steps."""
    need = STEPS_FOR_CALIPERS * READ_MM
    short = [str(block.coupon.number) for block in plan.blocks if block.sinks_mm[0].value < need]
    if not short:
        return ""
    return (
        f" Calipers that show {FINER_MM:g} mm tell more: the first load moves\n    block {', '.join(short)} by less "
        f"than {need:g} mm, ten\n    steps of {READ_MM:g} mm."
    )


def _flow(plan: CouponSet) -> float:
    return plan.blocks[0].coupon.settings.max_volume_flow_mm3_s or 1.0


def _density(plan: CouponSet) -> float:
    """Return g/cm3 from a block's own mass and volume of filament."""
    block = plan.blocks[0]
    return block.mass_g / (block.mesh.volume / 1000.0 * solid_share(block.coupon))


def block_lines(block: PlannedCoupon) -> list[str]:
    """Return what a block is and the sum that shows that a scale and a ruler suffice."""
    coupon, tenth = block.coupon, block.tenth_load_kg
    notches = "1 notch" if coupon.number == 1 else f"{coupon.number} notches"
    factor = block.curve.high.secant_kpa() / block.curve.value.secant_kpa()
    steps = ", ".join(
        f"{load:g} kg: {sink.value:.1f} mm" for load, sink in zip(block.loads_kg, block.sinks_mm, strict=True)
    )
    return [
        f"Block {coupon.number} ({notches}): {coupon.words}; {coupon.edge_mm:g} x {coupon.edge_mm:g} mm, about "
        f"{block.mass_g:.0f} g",
        f"  A tenth of its height ({0.1 * HEIGHT_MM:.1f} mm) takes {tenth.value:.0f} kg by what is known now; it may "
        f"be {tenth.low:.0f} to {tenth.high:.0f} kg.",
        f"  Expected: {steps}.",
        f"  The sum: {READ_KG:g} kg and {READ_MM:g} mm make {100 * block.tenth_error:.0f} % in one reading, less in "
        f"all of them together; what is known now is uncertain by a factor of {factor:.1f}.",
    ]


def readings_form(plan: CouponSet, number: str) -> str:
    """Return the CSV to fill in: a row for each load, heights left empty."""
    lines = [
        f"# {number}: fill in what the scale showed and the height that is left; leave rows you did not read empty.",
        "# height_2_mm and height_3_mm are for repeats of the whole round. Lines that begin with # are passed over.",
        "# mass_g is what the block weighs, once, in the row with load 0, if you have a kitchen scale.",
        "block,load_kg,height_mm,height_2_mm,height_3_mm,mass_g",
    ]
    for block in plan.blocks:
        lines += [f"{block.coupon.number},{load:g},,,," for load in (0.0, *block.loads_kg)]
    return "\n".join(lines) + "\n"
