"""Read what the body left in the clay, and build the pad."""

import bpy

from .. import state
from ..stage_work import WRITERS, StageWork, part_pose


class PADWRIGHT_OT_read_impression(StageWork, bpy.types.Operator):
    """Measure clay thickness, imprint depth and load centers, and show them as mesh attributes"""

    bl_idname = "padwright.read_impression"
    bl_label = "Read Impression"
    bl_options = {"REGISTER", "UNDO"}
    stage = "reading"


class PADWRIGHT_OT_build_pad(StageWork, bpy.types.Operator):
    """Build the pad between base and body as one closed solid"""

    bl_idname = "padwright.build_pad"
    bl_label = "Build Pad"
    bl_options = {"REGISTER", "UNDO"}
    stage = "pad"


def _result_object(context, current, name, mesh, pose):
    """Return the object that shows a mesh of the part, mm, made or filled anew."""
    from .. import bridge

    factor = 1.0 / bridge.mm_per_scene_unit(context.scene)
    if current is None or current.name not in context.scene.objects:
        current = bpy.data.objects.new(name, bridge.new_mesh(name, mesh, factor))
        state.collection(context.scene).objects.link(current)
    else:
        bridge.refill(current, mesh, factor)
    current.matrix_world = pose
    return current


def _write_reading(context, result):
    from .. import attributes
    from ..reading import centers

    part = context.scene.padwright
    reading = result.reading
    if reading is None:
        return "There is no impression to read", ()
    pose = part_pose(context, result)
    part.body = _result_object(context, part.body, f"{part.number} Body Side", result.aligned, pose)
    attributes.write(part.body.data, attributes.THICKNESS, reading.thickness)
    attributes.write(part.body.data, attributes.DEPTH, reading.imprint_depth)
    attributes.write(part.body.data, attributes.CONTACT, reading.is_contact)
    state.hide(part.body, True)
    centers.write(context, result, pose)
    apart = "" if reading.spacing_mm is None else f", {reading.spacing_mm:.1f} mm apart"
    depths = ", ".join(f"{each.depth_mm:.1f}" for each in reading.load_centres[:4])
    count = state.counted(len(reading.load_centres), "load center")
    done = f"The body bears on {reading.contact_area_cm2:.0f} cm2 with {count}" + (
        f" ({depths} mm deep{apart})" if depths else ""
    )
    return done, reading.notes


def _write_pad(context, result):
    from .. import attributes
    from ..regions import hand_edits
    from ..zones import painting

    part = context.scene.padwright
    pad = result.pad
    kept = painting.take(part)
    part.pad = _result_object(context, part.pad, f"{part.number} Pad", pad.mesh, part_pose(context, result))
    attributes.write(part.pad.data, attributes.THICKNESS, pad.thickness)
    attributes.write(part.pad.data, attributes.SIDE, pad.side)
    hand_edits.sign(part.pad)
    state.hide(part.pad, False)
    for region in hand_edits.regions(context.scene).values():  # those of the pad of before would lie over it
        state.hide(region, True)
    painting.put(part, kept)
    state.show_scans(part, base=True, impression=False)
    done = f"The pad has {pad.volume_cm3:.1f} cm3 over {pad.footprint_cm2:.0f} cm2"
    if pad.least_thickness_mm is not None:
        done += f" and is at least {pad.least_thickness_mm:.1f} mm thick"
    if kept:
        done += f"; the paint of {state.counted(len(kept), 'zone')} was carried over"
    return done, pad.notes


WRITERS["reading"] = _write_reading
WRITERS["pad"] = _write_pad

CLASSES = (PADWRIGHT_OT_read_impression, PADWRIGHT_OT_build_pad)
