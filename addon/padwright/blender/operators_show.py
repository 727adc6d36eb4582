"""Show a result as colors on the mesh, with a legend in words and numbers."""

import bpy
from bpy.props import EnumProperty

from ..core.errors import InputError
from . import reporting

COLORS = "padwright_shown"
# Light to dark, so that it reads in print and without color sight too: our own three colors, sRGB.
_RAMP = ((0.96, 0.94, 0.86), (0.35, 0.66, 0.62), (0.10, 0.14, 0.36))
_SHOWN = {  # value: title, tooltip, attribute, unit, on which object
    "thickness": ("Pad Thickness", "How thick the pad is, in mm", "padwright_thickness", "mm", "pad"),
    "pressure": ("Pressure", "Under the first load, in kPa", "padwright_pressure", "kPa", "pad"),
    "firmness": ("Firmness", "Level, blended between zones", "padwright_firmness", "level", "pad"),
    "depth": ("Imprint Depth", "How far the body sank into the clay, in mm", "padwright_imprint_depth", "mm", "body"),
}


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
        from . import attributes, bridge, state

        part = context.scene.padwright
        title, _, name, unit, where = _SHOWN[self.values]
        obj = getattr(part, where)
        values = None if obj is None else attributes.read(obj.data, name)
        if values is None:
            raise InputError(f"There are no values of {self.values} yet.", hint="Do the stage that gives them first.")
        low, high = min(0.0, float(values.min())), max(float(values.max()), 1e-6)
        if self.values == "firmness":
            low, high = 1.0, 4.0
        bridge.write_colors(obj.data, COLORS, _colors((values - low) / (high - low)))
        for each in (part.pad, part.body, *state.collection(context.scene, "Regions").objects):
            if each is not None:
                each.hide_set(each != obj)
        state.show_scans(part, base=False, impression=False)
        if context.space_data is not None and context.space_data.type == "VIEW_3D":
            context.space_data.shading.color_type = "VERTEX"
        part.legend = f"{title}: light {low:.3g}, middle {(low + high) / 2:.3g}, dark {high:.3g} {unit}"
        reporting.tell(self, part.legend)
        return {"FINISHED"}


def _colors(share):
    """Return a color (n, 4) sRGB for each share (n,) between 0 and 1."""
    import numpy as np

    stops = np.linspace(0.0, 1.0, len(_RAMP))
    channels = [np.interp(share, stops, [color[channel] for color in _RAMP]) for channel in range(3)]
    return np.stack([*channels, np.ones_like(share)], axis=1)


CLASSES = (PADWRIGHT_OT_show_values,)
