"""Zones of firmness: the list, what data gives, and what the artist paints."""

import bpy
from bpy.props import EnumProperty

from . import reporting
from .stage_work import WRITERS, StageWork


class PADWRIGHT_OT_add_zone(bpy.types.Operator):
    """Add a zone to paint"""

    bl_idname = "padwright.add_zone"
    bl_label = "Add Zone"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a part."""
        return reporting.allowed(cls, "" if context.scene.padwright.is_started else "Start a part first")

    def execute(self, context):
        """Add it before the one that takes the rest, so that it has a say."""
        part = context.scene.padwright
        zone = part.zones.add()
        taken = {each.name for each in part.zones}
        zone.name = next(name for number in range(1, 1000) if (name := f"zone {number}") not in taken)
        last = len(part.zones) - 1
        if last and part.zones[last - 1].source == "rest":
            part.zones.move(last, last - 1)
            last -= 1
        part.zone_index = last
        return {"FINISHED"}


class _OnZone:
    """Works on the zone that the list shows as active."""

    @classmethod
    def poll(cls, context):
        """Need a zone."""
        part = context.scene.padwright
        return reporting.allowed(cls, "" if 0 <= part.zone_index < len(part.zones) else "Add a zone first")


class PADWRIGHT_OT_remove_zone(_OnZone, bpy.types.Operator):
    """Remove the zone and its vertex group"""

    bl_idname = "padwright.remove_zone"
    bl_label = "Remove Zone"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context):
        """Remove both."""
        part = context.scene.padwright
        name = part.zones[part.zone_index].name
        if part.pad is not None and name in part.pad.vertex_groups:
            part.pad.vertex_groups.remove(part.pad.vertex_groups[name])
        part.zones.remove(part.zone_index)
        part.zone_index = max(0, min(part.zone_index, len(part.zones) - 1))
        return {"FINISHED"}


class PADWRIGHT_OT_move_zone(_OnZone, bpy.types.Operator):
    """Move the zone in the list; where two claim a place, the upper one has it"""

    bl_idname = "padwright.move_zone"
    bl_label = "Move Zone"
    bl_options = {"REGISTER", "UNDO"}

    direction: EnumProperty(
        name="Direction",
        description="Where to",
        items=[("up", "Up", "Before the zone above"), ("down", "Down", "After the zone below")],
    )

    def execute(self, context):
        """Move it."""
        part = context.scene.padwright
        other = part.zone_index + (-1 if self.direction == "up" else 1)
        if not 0 <= other < len(part.zones):
            return {"CANCELLED"}
        part.zones.move(part.zone_index, other)
        part.zone_index = other
        return {"FINISHED"}


class PADWRIGHT_OT_paint_zone(_OnZone, bpy.types.Operator):
    """Paint the zone on the pad with the modeller's own weight brushes"""

    bl_idname = "padwright.paint_zone"
    bl_label = "Paint Zone"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context):
        """Need a pad."""
        if not super().poll(context):
            return False
        pad = context.scene.padwright.pad
        return reporting.allowed(cls, "" if pad is not None else "Build the pad first")

    def execute(self, context):
        """Make the zone's vertex group the active one and go to weight paint."""
        part = context.scene.padwright
        pad = part.pad
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        for obj in context.selected_objects:
            obj.select_set(False)
        pad.hide_set(False)
        pad.select_set(True)
        context.view_layer.objects.active = pad
        name = part.zones[part.zone_index].name
        group = pad.vertex_groups.get(name) or pad.vertex_groups.new(name=name)
        pad.vertex_groups.active_index = group.index
        bpy.ops.object.mode_set(mode="WEIGHT_PAINT")
        return {"FINISHED"}


class PADWRIGHT_OT_drop_paint(_OnZone, bpy.types.Operator):
    """Drop what you painted in the zone, so that the data gives it again"""

    bl_idname = "padwright.drop_paint"
    bl_label = "Drop Paint"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context, event):
        """Ask first: paint is work."""
        return context.window_manager.invoke_confirm(self, event)

    def execute(self, context):
        """Remove its vertex group."""
        part = context.scene.padwright
        zone = part.zones[part.zone_index]
        if part.pad is not None and zone.name in part.pad.vertex_groups:
            part.pad.vertex_groups.remove(part.pad.vertex_groups[zone.name])
        zone.written, zone.is_painted = "", False
        return {"FINISHED"}


class PADWRIGHT_OT_plan_zones(StageWork, bpy.types.Operator):
    """Give every place on the pad to a zone; what you have painted stays as you painted it"""

    bl_idname = "padwright.plan_zones"
    bl_label = "Plan Zones"
    bl_options = {"REGISTER", "UNDO"}
    stage = "zones"


def _write_zones(context, result):
    import numpy as np

    from . import attributes, scene

    part = context.scene.padwright
    plan = result.zones
    shares = scene.painted(part)
    areas = {each.name: each.area_mm2 / 100.0 for each in plan.zones}
    columns = {each.name: column for column, each in enumerate(plan.zones)}
    for zone in part.zones:
        zone.is_painted = zone.name in shares
        zone.area_cm2 = areas.get(zone.name, 0.0)
        if zone.name in columns and not zone.is_painted:
            attributes.write_group(part.pad, zone.name, plan.weights[:, columns[zone.name]])
    written = attributes.read_groups(part.pad, [zone.name for zone in part.zones])
    for zone in part.zones:
        if not zone.is_painted and zone.name in written:
            zone.written = scene.fingerprint(written[zone.name])
    levels = np.array([each.level for each in plan.zones])
    attributes.write(part.pad.data, attributes.ZONE, plan.label)
    attributes.write(part.pad.data, attributes.FIRMNESS, plan.weights @ levels)
    done = f"{len(plan.zones)} zones: " + ", ".join(f"{each.name} {areas[each.name]:.0f} cm2" for each in plan.zones)
    return done, plan.notes


WRITERS["zones"] = _write_zones

CLASSES = (
    PADWRIGHT_OT_add_zone,
    PADWRIGHT_OT_remove_zone,
    PADWRIGHT_OT_move_zone,
    PADWRIGHT_OT_paint_zone,
    PADWRIGHT_OT_drop_paint,
    PADWRIGHT_OT_plan_zones,
)
