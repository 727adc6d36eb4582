"""Hold the scan of a print against the part, show where it is off, and take corrections into the next print."""

import bpy

from .. import reporting, state
from ..button import Button
from ..long_work import LongWork
from ..trials import next_print


class PADWRIGHT_OT_compare_print(LongWork, bpy.types.Operator):
    """Lay the scan of the print on the part and find where it is off, how much it shrank and what it weighs"""

    bl_label = "Compare"
    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context, part):
        lacking = state.missing(part, "export")
        if lacking:
            return lacking
        return "" if part.compare.scan.strip() else "Choose the scan of the print first"

    def steps(self, context):
        from .. import scene
        from . import comparing

        folder = scene.work_folder()
        return comparing.compared(scene.read_scene(context, folder), folder, context.scene.padwright.compare)

    def finish(self, context, result):
        from . import comparing

        part, (made, found) = context.scene.padwright, result
        comparing.keep(part, found)
        words = comparing.show(context, made, found)
        reporting.tell(self, f"{part.compare.said} {words}", [*found.doubts, *found.notes])


class PADWRIGHT_OT_show_print(Button, bpy.types.Operator):
    """Show the print colored by how far it is off the part"""

    bl_label = "Show Distances"

    @classmethod
    def missing(cls, context, part):
        obj = part.compare.obj
        return "" if obj is not None and not state.is_gone(obj) else "Compare a print first"

    def act(self, context, part):
        from . import comparing

        reporting.tell(self, comparing.show_again(context))


class PADWRIGHT_OT_take_corrections(Button, bpy.types.Operator):
    """Set what corrects the next print: how much larger it is made, how much plastic is laid"""

    bl_label = "Take into the Next Print"

    @classmethod
    def missing(cls, context, part):
        if not part.compare.keys:
            return "Compare a print first"
        can_follow = next_print.can_follow(part, part.compare.of)
        return "" if can_follow else "It was found of another print: compare again"

    def act(self, context, part):
        from . import comparing

        changed = " and ".join(comparing.take(part))
        reporting.tell(self, f"This is print {part.revision} now, with another {changed}; export it")
