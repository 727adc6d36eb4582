"""Press the body into virtual clay."""

import bpy

from .. import state
from ..stage_work import WRITERS, StageWork, lay_impression, part_pose, result_object


class PADWRIGHT_OT_press_body(StageWork, bpy.types.Operator):
    """Lay the scan of the body on the base and press it into virtual clay until the load is carried"""

    bl_label = "Press Body"
    stage = "body"


def _write_body(context, result):
    from ...core.stages.body.pressed import PressedBody
    from .. import bridge

    part = context.scene.padwright
    found = result.find(PressedBody)
    if found is None or found.clay is None or part.impression is None:
        return "There is no body to press", ()
    clay, laid = found.clay, found.laid
    bridge.show_at_true_size(part.impression, context.scene, bridge.unit_mm(part, "impression"), laid.factor)
    complete = [pair for pair in part.pairs if pair.has_base and pair.has_impression]
    if len(complete) == len(laid.misses_mm):
        lay_impression(context, result.to_part, laid.matrix)
        for pair, miss in zip(complete, laid.misses_mm, strict=True):
            pair.miss_mm, pair.is_fitted = float(miss), True
    pose = part_pose(context, result)
    part.body = result_object(context, part.body, f"{part.number} Body Side", clay.mesh, pose)
    state.hide(part.body, False)
    contact, strength = clay.numbers["contact_cm2"], clay.numbers["strength_kpa"]
    facts = [
        f"Carried by clay of {strength.value:.2g} kPa ({strength.low:.2g} to {strength.high:.2g}) shear strength.",
        f"At least {clay.left_mm:.1f} mm of clay is left.",
    ]
    state.keep_facts(part, "body", facts)
    done = (
        f"{clay.found.force_n:.0f} N press the body {clay.found.deepest_mm:.1f} mm deep, on {contact.value:.0f} cm2 "
        f"({contact.low:.0f} to {contact.high:.0f})"
    )
    return done, found.notes


WRITERS["body"] = _write_body
