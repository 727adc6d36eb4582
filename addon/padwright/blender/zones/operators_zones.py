"""Zones of firmness: the list, and what data gives where nothing is painted."""

import bpy
from bpy.props import EnumProperty

from ...core.base.text import counted
from .. import reporting, state
from ..stage_work import WRITERS, StageWork
from .zone_needs import ask, free_level, is_painted, missing_zone


class PADWRIGHT_OT_add_zone(bpy.types.Operator):
    """Add a zone to paint, or to take from data"""

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
        taken = {each.name for each in part.zones}
        level = free_level([each.level for each in part.zones], state.rest_level(part))
        zone = part.zones.add()
        zone.level = level
        zone.name = next(name for number in range(1, 1000) if (name := f"zone {number}") not in taken)
        zone_name = zone.name
        last = len(part.zones) - 1
        if last and part.zones[last - 1].source == "rest":
            part.zones.move(last, last - 1)
            last -= 1
        part.zone_index = last
        reporting.tell(
            self, f"{zone_name} is at level {level:.3g}, not that of the rest; paint it, or choose where it comes from"
        )
        return {"FINISHED"}


class _OnZone:
    """Works on the zone that the list shows as active."""

    @classmethod
    def poll(cls, context):
        """Need a zone."""
        return reporting.allowed(cls, missing_zone(context, needs_pad=False))


class PADWRIGHT_OT_remove_zone(_OnZone, bpy.types.Operator):
    """Remove the zone and its vertex group"""

    bl_idname = "padwright.remove_zone"
    bl_label = "Remove Zone"
    bl_options = {"REGISTER", "UNDO"}

    def invoke(self, context, event):
        """Ask when it is painted: paint is work."""
        part = context.scene.padwright
        if is_painted(part, part.zone_index):
            return ask(self, context, event, "What you painted in this zone goes with it")
        return self.execute(context)

    def execute(self, context):
        """Remove both."""
        from . import painting

        part = context.scene.padwright
        painting.tie(part)
        painting.drop_group(part, part.zones[part.zone_index])
        state.remove_row(part, "zones", "zone_index")
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


class PADWRIGHT_OT_plan_zones(StageWork, bpy.types.Operator):
    """Give every place on the pad to a zone; what you have painted stays as you painted it"""

    bl_idname = "padwright.plan_zones"
    bl_label = "Plan Zones"
    bl_options = {"REGISTER", "UNDO"}
    stage = "zones"


def _write_zones(context, result):
    import numpy as np

    from .. import attributes
    from . import firmness_view, painting

    part = context.scene.padwright
    plan = result.zones
    painting.check_pad(part, len(plan.weights))
    areas = {each.name: each.area_mm2 / 100.0 for each in plan.zones}
    columns = {each.name: column for column, each in enumerate(plan.zones)}
    found = {
        number: plan.weights[:, columns[zone.name]] for number, zone in enumerate(part.zones) if zone.name in columns
    }
    painting.show_data(part, found)
    for zone in part.zones:
        zone.area_cm2 = areas.get(zone.name, 0.0)
    levels = np.array([each.level for each in plan.zones])
    attributes.write(part.pad.data, attributes.ZONE, plan.label)
    firmness = plan.weights @ levels
    attributes.write(part.pad.data, attributes.FIRMNESS, firmness)
    firmness_view.show_again(context, firmness)
    done = f"{counted(len(plan.zones), 'zone')}: " + ", ".join(
        f"{each.name} {areas[each.name]:.0f} cm2" for each in plan.zones
    )
    return done, plan.notes


WRITERS["zones"] = _write_zones

CLASSES = (
    PADWRIGHT_OT_add_zone,
    PADWRIGHT_OT_remove_zone,
    PADWRIGHT_OT_move_zone,
    PADWRIGHT_OT_plan_zones,
)
