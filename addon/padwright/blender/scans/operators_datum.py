"""The part's own axes: six points on the base scan, or its mid-plane."""

import bpy
from bpy.props import EnumProperty

from .. import reporting, state
from ..button import MODES, Button
from ..stage_work import WRITERS, StageWork, part_pose
from . import datum

_MARK = "padwright_part_frame"
_AXES_MM = 40.0  # how long the axes are shown


class PADWRIGHT_OT_set_datum_point(Button, bpy.types.Operator):
    """Set the point to the one selected vertex of the base scan, or else to the 3D cursor"""

    bl_label = "Set Datum Point"
    modes = MODES | {"EDIT_MESH"}

    place: EnumProperty(name="Point", description="Which point", items=datum.PLACES)

    @classmethod
    def missing(cls, context, part):
        return state.missing_base(part)

    def act(self, context, part):
        from . import scan_places

        title = datum.PLACES[int(self.place)][1]
        chosen = scan_places.selected(context, "base") if context.mode == "EDIT_MESH" else ()
        reporting.leave_edit_mode(context)
        if len(chosen) == 1:
            point, where = chosen[0], "the selected vertex"
        else:
            point, off_mm = scan_places.cursor_on_scan(context, "base")
            where = f"the 3D cursor, {off_mm:.2f} mm off the base scan"
        datum.set_place(part, int(self.place), point)
        part.datum = "points"
        reporting.tell(self, f"{title} is at {where}; {datum.count_set(part)} of 6 points are set")


class PADWRIGHT_OT_clear_datum(Button, bpy.types.Operator):
    """Forget the six points, so that the part has the base scan's own axes"""

    bl_label = "Clear Points"

    @classmethod
    def missing(cls, context, part):
        return "" if datum.count_set(part) else "No point is set"

    def act(self, context, part):
        part.datum_places.clear()
        part.datum = "none"


class PADWRIGHT_OT_lay_on_datum(StageWork, bpy.types.Operator):
    """Work out the part's own axes and show them; the scene itself is not moved"""

    bl_label = "Show Part Frame"
    stage = "scans"

    def finish(self, context, result):
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
