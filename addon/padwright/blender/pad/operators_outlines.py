"""Curves that the artist draws: the footprint, reliefs, outlines of zones."""

import bpy
from bpy.props import EnumProperty

from .. import reporting, state
from . import drawn

_WHAT_ITEMS = [
    ("footprint", "Footprint", "The curve around the pad"),
    ("relief", "Relief", "The curve of the relief that the list shows as active"),
    ("zone", "Zone", "The curve around the zone that the list shows as active"),
]


def _needs_base(cls, context):
    if context.mode != "OBJECT":
        return reporting.allowed(cls, "Go back to Object Mode first")
    return reporting.allowed(cls, state.missing_base(context.scene.padwright))


def _active_zone(part):
    return part.zones[part.zone_index] if 0 <= part.zone_index < len(part.zones) else None


def _active_relief(part):
    return part.reliefs[part.relief_index] if 0 <= part.relief_index < len(part.reliefs) else None


class PADWRIGHT_OT_draw_footprint(bpy.types.Operator):
    """Lay a closed curve around the clay and edit it: the pad ends at this curve"""

    bl_idname = "padwright.draw_footprint"
    bl_label = "Draw Footprint"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a base scan."""
        return _needs_base(cls, context)

    @reporting.told
    def execute(self, context):
        """Make it and go into Edit Mode."""
        from . import first_curves

        part = context.scene.padwright
        curve, around = first_curves.around_part(context, "footprint", "Footprint")
        part.footprint = curve
        _edit(context, curve)
        count = len(curve.data.splines[0].bezier_points)
        reporting.tell(self, f"{count} points lie around the {around}; move them, then press Tab and build the pad")
        return {"FINISHED"}


class PADWRIGHT_OT_draw_zone_outline(bpy.types.Operator):
    """Lay a closed curve on the body side and edit it: the zone is what it surrounds"""

    bl_idname = "padwright.draw_zone_outline"
    bl_label = "Draw Outline"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a base scan and a zone."""
        if not _needs_base(cls, context):
            return False
        zone = _active_zone(context.scene.padwright)
        if zone is not None and zone.is_painted:
            return reporting.allowed(cls, "You have painted this zone; drop the paint first")
        return reporting.allowed(cls, "" if zone is not None else "Add a zone first")

    @reporting.told
    def execute(self, context):
        """Make it and go into Edit Mode."""
        from . import first_curves

        zone = _active_zone(context.scene.padwright)
        curve, long_mm = first_curves.figure_on_part(context, "zone", f"Zone {zone.name}", is_line=False, share=0.35)
        zone.source, zone.curve = "outline", curve
        _edit(context, curve)
        reporting.tell(self, f"The outline is {long_mm:.0f} mm long; shape it, then press Tab and plan the zones")
        return {"FINISHED"}


class PADWRIGHT_OT_add_relief(bpy.types.Operator):
    """Add a place where the body must not be pressed, with a curve at the 3D cursor or amid the part"""

    bl_idname = "padwright.add_relief"
    bl_label = "Add Relief"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(
        name="Kind",
        description="What is cut along the curve",
        items=[
            ("opening", "Opening", "Through the pad, inside a closed curve"),
            ("channel", "Channel", "A groove in the body side, along the curve"),
        ],
    )

    @classmethod
    def poll(cls, context):
        """Need a base scan."""
        return _needs_base(cls, context)

    @reporting.told
    def execute(self, context):
        """Make its curve and list it."""
        from ...core.job.cards import load_family
        from . import first_curves

        part = context.scene.padwright
        taken = {each.name for each in part.reliefs}
        name = next(name for number in range(1, 1000) if (name := f"{self.kind} {number}") not in taken)
        is_line = self.kind == "channel"
        share = 0.4 if is_line else 0.2
        curve, long_mm = first_curves.figure_on_part(context, "relief", name.capitalize(), is_line=is_line, share=share)
        relief = part.reliefs.add()
        relief.name, relief.kind, relief.curve = name, self.kind, curve
        relief.edge_radius_mm = load_family(part.family).defaults[("pad", "reliefs", "edge_radius_mm")].value
        relief.depth_mm = max(0.5, min(relief.depth_mm, 0.5 * part.least_thickness_mm))
        part.relief_index = len(part.reliefs) - 1
        first_curves.select_only(context, curve)
        reporting.tell(
            self, f"{name.capitalize()} is {long_mm:.0f} mm long; move or edit its curve, then build the pad"
        )
        return {"FINISHED"}


class PADWRIGHT_OT_remove_relief(bpy.types.Operator):
    """Remove the relief and the curve that was made for it"""

    bl_idname = "padwright.remove_relief"
    bl_label = "Remove Relief"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a relief."""
        if context.mode != "OBJECT":
            return reporting.allowed(cls, "Go back to Object Mode first")
        there = _active_relief(context.scene.padwright) is not None
        return reporting.allowed(cls, "" if there else "Add a relief first")

    def execute(self, context):
        """Remove both; a curve that something else uses stays."""
        from . import outlines

        part = context.scene.padwright
        curve = part.reliefs[part.relief_index].curve
        state.remove_row(part, "reliefs", "relief_index")
        if all(use.curve != curve for use in drawn.used(part, state.STAGES[-1])):
            outlines.remove_curve(curve)
        return {"FINISHED"}


class PADWRIGHT_OT_edit_curve(bpy.types.Operator):
    """Select the curve and edit it with the modeller's own curve tools"""

    bl_idname = "padwright.edit_curve"
    bl_label = "Edit Curve"
    bl_options = {"REGISTER", "UNDO"}

    what: EnumProperty(name="Curve", description="Which curve", items=_WHAT_ITEMS)

    @classmethod
    def poll(cls, context):
        """Need a base scan."""
        return _needs_base(cls, context)

    @reporting.told
    def execute(self, context):
        """Select it and go into Edit Mode."""
        from ...core.base.errors import InputError

        part = context.scene.padwright
        holder = {"relief": _active_relief, "zone": _active_zone}.get(self.what, lambda part: part)(part)
        curve = None if holder is None else holder.footprint if self.what == "footprint" else holder.curve
        wrong, todo = drawn.fault_of_object(context.scene, drawn.Used(self.what.capitalize(), curve, None))
        if wrong or context.view_layer.objects.get(curve.name) != curve:
            raise InputError(
                wrong or f'The collection of "{curve.name}" is switched off.',
                hint=todo or "Switch it on in the Outliner.",
            )
        _edit(context, curve)
        return {"FINISHED"}


def _edit(context, curve):
    from . import first_curves

    first_curves.select_only(context, curve)
    first_curves.look_onto(context, curve)
    bpy.ops.object.mode_set(mode="EDIT")


CLASSES = (
    PADWRIGHT_OT_draw_footprint,
    PADWRIGHT_OT_draw_zone_outline,
    PADWRIGHT_OT_add_relief,
    PADWRIGHT_OT_remove_relief,
    PADWRIGHT_OT_edit_curve,
)
