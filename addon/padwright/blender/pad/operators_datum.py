"""The part's own axes: six points on the base scan, or its mid-plane."""

import bpy
from bpy.props import EnumProperty

from .. import reporting, state
from ..stage_work import WRITERS, StageWork, part_pose
from . import drawn

_MARK = "padwright_part_frame"
_AXES_MM = 40.0  # how long the axes are shown


class PADWRIGHT_OT_set_datum_point(bpy.types.Operator):
    """Set the point to the one selected vertex of the base scan, or else to the 3D cursor"""

    bl_idname = "padwright.set_datum_point"
    bl_label = "Set Datum Point"
    bl_options = {"REGISTER", "UNDO"}
    leaves_edit_mode = True

    place: EnumProperty(name="Point", description="Which point", items=drawn.DATUM_PLACES)

    @classmethod
    def poll(cls, context):
        """Need a base scan."""
        return reporting.allowed(cls, state.missing_base(context.scene.padwright))

    @reporting.told
    def execute(self, context):
        """Set it."""
        from ..scans import scan_places
        from . import drawn_in_job

        part = context.scene.padwright
        title = drawn.DATUM_PLACES[int(self.place)][1]
        point = _one_selected(context)
        reporting.leave_edit_mode(context)
        where = "the selected vertex"
        if point is None:
            point, off_mm = scan_places.cursor_on_scan(context, "base")
            where = f"the 3D cursor, {off_mm:.2f} mm off the base scan"
        drawn_in_job.set_datum_point(part, int(self.place), point)
        part.datum = "points"
        count = sum(place.is_set for place in part.datum_places)
        reporting.tell(self, f"{title} is at {where}; {count} of 6 points are set")
        return {"FINISHED"}


def _one_selected(context):
    """Return the base scan's one selected vertex in its own numbers, or None."""
    import numpy as np

    from .. import bridge, part_values

    obj = context.scene.padwright.base
    if obj != context.active_object or obj.mode != "EDIT":
        return None
    obj.update_from_editmode()
    is_chosen = np.zeros(len(obj.data.vertices), dtype=bool)
    obj.data.vertices.foreach_get("select", is_chosen)
    if is_chosen.sum() != 1:
        return None
    factors = bridge.scan_factors(obj, context.scene, part_values.unit_mm(context.scene.padwright, "base"))
    return np.array(obj.data.vertices[int(np.argmax(is_chosen))].co) * factors


class PADWRIGHT_OT_clear_datum(bpy.types.Operator):
    """Forget the six points, so that the part has the base scan's own axes"""

    bl_idname = "padwright.clear_datum"
    bl_label = "Clear Points"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need points."""
        is_set = any(place.is_set for place in context.scene.padwright.datum_places)
        return reporting.allowed(cls, "" if is_set else "No point is set")

    def execute(self, context):
        """Forget them."""
        part = context.scene.padwright
        part.datum_places.clear()
        part.datum = "none"
        return {"FINISHED"}


class PADWRIGHT_OT_lay_on_datum(StageWork, bpy.types.Operator):
    """Work out the part's own axes and show them; the scene itself is not moved"""

    bl_idname = "padwright.lay_on_datum"
    bl_label = "Show Part Frame"
    bl_options = {"REGISTER", "UNDO"}
    stage = "scans"

    def finish(self, context, result):
        """Write the scans' stage and show the axes."""
        import numpy as np

        from ...core.geometry.frames import rotation_angle_deg
        from .. import bridge

        part = context.scene.padwright
        done, notes = WRITERS["scans"](context, result)
        state.mark(part, "scans", [done, *notes])
        axes = next((obj for obj in state.collection(context.scene).objects if _MARK in obj), None)
        if axes is None:
            axes = bpy.data.objects.new(f"{part.number} Part Frame", None)
            axes[_MARK] = True
            axes.empty_display_type = "ARROWS"
            state.collection(context.scene).objects.link(axes)
        axes.empty_display_size = _AXES_MM / bridge.mm_per_scene_unit(context.scene)
        axes.matrix_world = part_pose(context, result)
        back = np.linalg.inv(result.to_part)
        reporting.tell(
            self,
            f"The part's origin is {np.linalg.norm(back[:3, 3]):.1f} mm from the base scan's, its axes are turned by "
            f"{rotation_angle_deg(back[:3, :3]):.1f} degrees; the scene itself is not moved",
            notes,
        )


CLASSES = (PADWRIGHT_OT_set_datum_point, PADWRIGHT_OT_clear_datum, PADWRIGHT_OT_lay_on_datum)
