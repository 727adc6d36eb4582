"""Build the pad."""

import bpy

from ...core.base.text import counted
from .. import state
from ..stage_work import WRITERS, StageWork, part_pose, result_object


class PADWRIGHT_OT_build_pad(StageWork, bpy.types.Operator):
    """Build the pad between base and body as one closed solid"""

    bl_label = "Build Pad"
    stage = "pad"


def _write_pad(context, result):
    from .. import attributes
    from ..regions import hand_edits
    from ..zones import painting

    part = context.scene.padwright
    pad = result.pad
    kept = painting.take(part)
    part.pad = result_object(context, part.pad, f"{part.number} Pad", pad.mesh, part_pose(context, result))
    part.view.body_way = (0.0, 0.0, 1.0) if pad.press_direction is None else -pad.press_direction
    attributes.write(part.pad.data, attributes.THICKNESS, pad.thickness)
    attributes.write(part.pad.data, attributes.SIDE, pad.side)
    hand_edits.sign(part.pad)
    for obj in (*hand_edits.regions(context.scene).values(), *state.made(part)):
        state.hide(obj, obj != part.pad)  # those of the pad of before would lie over it
    painting.put(part, kept)
    state.show_scans(part, base=True, impression=False)
    done = f"The pad has {pad.volume_cm3:.1f} cm3 over {pad.footprint_cm2:.0f} cm2"
    if pad.least_thickness_mm is not None:
        done += f" and is at least {pad.least_thickness_mm:.1f} mm thick"
    if kept:
        done += f"; the paint of {counted(len(kept), 'zone')} was carried over"
    return done, pad.notes


WRITERS["pad"] = _write_pad
