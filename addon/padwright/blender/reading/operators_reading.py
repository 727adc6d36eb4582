"""Read what the body left in the clay."""

import bpy

from ...core.base.text import counted
from .. import state
from ..stage_work import WRITERS, StageWork, part_pose, result_object


class PADWRIGHT_OT_read_impression(StageWork, bpy.types.Operator):
    """Measure clay thickness, imprint depth and load centers, and show them as mesh attributes"""

    bl_label = "Read Impression"
    stage = "reading"


def _write_reading(context, result):
    from .. import attributes
    from . import centers

    part = context.scene.padwright
    reading = result.reading
    if reading is None:
        return "There is no impression to read", ()
    pose = part_pose(context, result)
    part.body = result_object(context, part.body, f"{part.number} Body Side", result.aligned, pose)
    attributes.write(part.body.data, attributes.THICKNESS, reading.thickness)
    attributes.write(part.body.data, attributes.DEPTH, reading.imprint_depth)
    attributes.write(part.body.data, attributes.CONTACT, reading.is_contact)
    state.hide(part.body, True)
    centers.write(context, result, pose)
    apart = "" if reading.spacing_mm is None else f", {reading.spacing_mm:.1f} mm apart"
    depths = ", ".join(f"{each.depth_mm:.1f}" for each in reading.load_centers[:4])
    count = counted(len(reading.load_centers), "load center")
    done = f"The body bears on {reading.contact_area_cm2:.0f} cm2 with {count}" + (
        f" ({depths} mm deep{apart})" if depths else ""
    )
    return done, reading.notes


WRITERS["reading"] = _write_reading
