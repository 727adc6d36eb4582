"""Curves that the artist draws: the footprint, reliefs, outlines of zones."""

import bpy
from bpy.props import EnumProperty

from ...core.base.errors import InputError
from .. import reporting, state
from ..button import Button
from . import drawn

_WHAT_ITEMS = [
    ("footprint", "Footprint", "The curve around the pad"),
    ("relief", "Relief", "The curve of the relief that the list shows as active"),
    ("zone", "Zone", "The curve around the zone that the list shows as active"),
]


class _OnBase(Button):
    """Needs a base scan."""

    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context, part):
        return state.missing_base(part)


class PADWRIGHT_OT_draw_footprint(_OnBase, bpy.types.Operator):
    """Lay a closed curve around the clay and edit it: the pad ends at this curve"""

    bl_label = "Draw Footprint"

    def act(self, context, part):
        from . import first_curves

        curve, around = first_curves.around_part(context, "footprint", "Footprint")
        part.footprint = curve
        _edit(context, curve)
        count = len(curve.data.splines[0].bezier_points)
        reporting.tell(self, f"{count} points lie around the {around}; move them, then press Tab and build the pad")


class PADWRIGHT_OT_draw_zone_outline(_OnBase, bpy.types.Operator):
    """Lay a closed curve on the body side and edit it: the zone is what it surrounds"""

    bl_label = "Draw Outline"

    @classmethod
    def missing(cls, context, part):
        zone = state.row_at(part.zones, part.zone_index)
        wrong = "Add a zone first" if zone is None else ""
        if zone is not None and zone.is_painted:
            wrong = "You have painted this zone; drop the paint first"
        return super().missing(context, part) or wrong

    def act(self, context, part):
        from . import first_curves

        zone = part.zones[part.zone_index]
        curve, long_mm = first_curves.figure_on_part(context, "zone", f"Zone {zone.name}", is_line=False, share=0.35)
        zone.source, zone.curve = "outline", curve
        _edit(context, curve)
        reporting.tell(self, f"The outline is {long_mm:.0f} mm long; shape it, then press Tab and plan the zones")


class PADWRIGHT_OT_add_relief(_OnBase, bpy.types.Operator):
    """Add a place where the body must not be pressed, with a curve at the 3D cursor or amid the part"""

    bl_label = "Add Relief"

    kind: EnumProperty(
        name="Kind",
        description="What is cut along the curve",
        items=[
            ("opening", "Opening", "Through the pad, inside a closed curve"),
            ("channel", "Channel", "A groove in the body side, along the curve"),
        ],
    )

    def act(self, context, part):
        from ...core.job.cards import load_family
        from . import first_curves

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
        state.select_only(context, curve)
        name = name.capitalize()
        reporting.tell(self, f"{name} is {long_mm:.0f} mm long; move or edit its curve, then build the pad")


class PADWRIGHT_OT_remove_relief(Button, bpy.types.Operator):
    """Remove the relief and the curve that was made for it"""

    bl_label = "Remove Relief"
    modes = {"OBJECT"}

    @classmethod
    def missing(cls, context, part):
        return "" if state.row_at(part.reliefs, part.relief_index) is not None else "Add a relief first"

    def act(self, context, part):
        from . import outlines

        curve = part.reliefs[part.relief_index].curve
        state.remove_row(part, "reliefs", "relief_index")
        if all(use.curve != curve for use in drawn.used(part, state.STAGES[-1])):
            outlines.remove_curve(curve)


class PADWRIGHT_OT_edit_curve(_OnBase, bpy.types.Operator):
    """Select the curve and edit it with the modeller's own curve tools"""

    bl_label = "Edit Curve"

    what: EnumProperty(name="Curve", description="Which curve", items=_WHAT_ITEMS)

    def act(self, context, part):
        curve = part.footprint
        if self.what != "footprint":
            is_zone = self.what == "zone"
            rows, index = (part.zones, part.zone_index) if is_zone else (part.reliefs, part.relief_index)
            row = state.row_at(rows, index)
            curve = None if row is None else row.curve
        wrong, todo = drawn.fault_of_object(context.scene, drawn.Used(self.what.capitalize(), curve, None))
        if wrong or context.view_layer.objects.get(curve.name) != curve:
            raise InputError(
                wrong or f'The collection of "{curve.name}" is switched off.',
                hint=todo or "Switch it on in the Outliner.",
            )
        _edit(context, curve)


def _edit(context, curve):
    from . import first_curves

    state.select_only(context, curve)
    first_curves.look_onto(context, curve)
    bpy.ops.object.mode_set(mode="EDIT")
