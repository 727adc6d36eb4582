"""Point out on the pad which way rows of walls run."""

import bpy
from bpy.props import FloatVectorProperty

from ...core.base.errors import InputError
from .. import reporting, state
from ..button import Button
from ..scans import pick_session
from ..scans.pick_clicks import Picks

_ONCE = {"SKIP_SAVE"}  # each pick starts anew
_DIGITS = 4  # of the direction: 0.006 degrees
_LEAST_MM = 1.0  # two places nearer than this point nowhere


class PADWRIGHT_OT_pick_run(Picks, Button, bpy.types.Operator):
    """Click two places on the pad: rows run from the first to the second, and walls lean to the right of that way"""

    bl_label = "Pick Direction"
    bl_options = {"UNDO"}
    modes = {"OBJECT"}

    start: FloatVectorProperty(name="From", description="Where a row begins, in the part frame, mm", options=_ONCE)
    end: FloatVectorProperty(name="To", description="Where it leads to, in the part frame, mm", options=_ONCE)

    @classmethod
    def missing(cls, context, part):
        if not state.is_wanted(part, "folds"):
            return 'Choose folded walls under "Fill" first'
        return "" if part.pad is not None and not state.is_gone(part.pad) else "Build the pad first"

    def session(self, context):
        return pick_session.Session(pick_session.RUN_CLICKS, False, "run")

    def keep(self, context, places):
        self.start, self.end = (place.numbers for place in places)
        return self.execute(context)

    def act(self, context, part):
        from mathutils import Vector

        from .. import bridge

        way = Vector(self.end) - Vector(self.start)
        if way.length < _LEAST_MM:
            raise InputError(f"The two places are {way.length:.1f} mm apart.", hint="Click two places farther apart.")
        context.view_layer.update()
        in_base = bridge.pose_of(part.base).inverted().to_3x3() @ (part.pad.matrix_world.to_3x3() @ way.normalized())
        part.run_vector = [round(each, _DIGITS) + 0.0 for each in in_base.normalized()]
        part.rows_run = "given"
        reporting.tell(self, "Rows run the way you pointed out, and walls lean to its right; now lay out the walls")
