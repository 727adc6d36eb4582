"""Show a result as colors on the mesh, with a legend in words and numbers."""

import bpy
from bpy.props import EnumProperty

from ..core.errors import InputError
from . import reporting

_SHOWN = {  # value: title, tooltip, attribute, unit, on which object
    "thickness": ("Pad Thickness", "How thick the pad is, in mm", "padwright_thickness", "mm", "pad"),
    "least": ("Least Thickness", "Where the pad is at its least, in mm", "padwright_thickness", "mm", "pad"),
    "pressure": ("Pressure", "Under the first load, in kPa", "padwright_pressure", "kPa", "pad"),
    "firmness": ("Firmness", "Level, blended between zones", "padwright_firmness", "level", "pad"),
    "depth": ("Imprint Depth", "How far the body sank into the clay, in mm", "padwright_imprint_depth", "mm", "body"),
}
_LEVELS = ((1.0, "1 relief"), (2.0, "2 soft"), (3.0, "3 medium"), (4.0, "4 firm"))


class PADWRIGHT_OT_show_values(bpy.types.Operator):
    """Color the mesh by a result, light for little and dark for much"""

    bl_idname = "padwright.show_values"
    bl_label = "Show Values"
    bl_options = {"REGISTER", "UNDO"}

    values: EnumProperty(
        name="Values",
        description="What to show",
        items=[(key, title, tooltip) for key, (title, tooltip, *_) in _SHOWN.items()],
    )

    @classmethod
    def poll(cls, context):
        """Need a pad."""
        return reporting.allowed(cls, "" if context.scene.padwright.pad is not None else "Build the pad first")

    @reporting.told
    def execute(self, context):
        """Color it, show it alone, and say what the colors mean."""
        from . import attributes, value_colors

        part = context.scene.padwright
        title, _, name, unit, where = _SHOWN[self.values]
        obj = getattr(part, where)
        values = None if obj is None else attributes.read(obj.data, name)
        if values is None:
            raise InputError(f"There are no values of {self.values} yet.", hint="Do the stage that gives them first.")
        more = {}
        if self.values == "firmness":
            more = {"low": 1.0, "high": 4.0, "ticks": _LEVELS}
        if self.values == "least":
            more = {"low": part.least_thickness_mm, "ramp": "least"}
        reporting.tell(self, value_colors.show(context, obj, values, title=title, unit=unit, **more))
        return {"FINISHED"}


class PADWRIGHT_OT_clear_colors(bpy.types.Operator):
    """Take the colors away and show everything as it was before them"""

    bl_idname = "padwright.clear_colors"
    bl_label = "Clear Colors"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need colors."""
        view = context.scene.padwright.view
        is_there = view.is_colored or view.before
        return reporting.allowed(cls, "" if is_there else "No values are shown as colors")

    def execute(self, context):
        """Clear them."""
        from . import value_colors

        count = value_colors.clear(context)
        reporting.tell(self, f"The colors are cleared; {count} objects look as before")
        return {"FINISHED"}


CLASSES = (PADWRIGHT_OT_show_values, PADWRIGHT_OT_clear_colors)
