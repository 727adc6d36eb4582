"""Zones of firmness: the list, and what data gives where nothing is painted."""

import bpy
from bpy.props import EnumProperty

from ...core.base.text import counted
from .. import reporting, state
from ..button import Button
from ..stage_work import WRITERS, StageWork
from .zone_needs import ask, free_level, is_painted, missing_zone


class PADWRIGHT_OT_add_zone(Button, bpy.types.Operator):
    """Add a zone to paint, or to take from data"""

    bl_label = "Add Zone"

    @classmethod
    def missing(cls, context, part):
        return "" if part.is_started else "Start a part first"

    def act(self, context, part):
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
        where = "paint it, or choose where it comes from"
        reporting.tell(self, f"{zone_name} is at level {level:.3g}, not that of the rest; {where}")


class _OnZone(Button):
    """Works on the zone that the list shows as active."""

    @classmethod
    def missing(cls, context, part):
        return missing_zone(part, needs_pad=False)


class PADWRIGHT_OT_remove_zone(_OnZone, bpy.types.Operator):
    """Remove the zone and its vertex group"""

    bl_label = "Remove Zone"

    def invoke(self, context, event):
        """Ask when it is painted: paint is work."""
        part = context.scene.padwright
        if is_painted(part, part.zone_index):
            return ask(self, context, event, "What you painted in this zone goes with it")
        return self.execute(context)

    def act(self, context, part):
        from . import painting

        painting.tie(part)
        painting.drop_group(part, part.zones[part.zone_index])
        state.remove_row(part, "zones", "zone_index")


class PADWRIGHT_OT_move_zone(_OnZone, bpy.types.Operator):
    """Move the zone in the list; where two claim a place, the upper one has it"""

    bl_label = "Move Zone"

    direction: EnumProperty(
        name="Direction",
        description="Where to",
        items=[("up", "Up", "Before the zone above"), ("down", "Down", "After the zone below")],
    )

    def act(self, context, part):
        other = part.zone_index + (-1 if self.direction == "up" else 1)
        if not 0 <= other < len(part.zones):
            return {"CANCELLED"}
        part.zones.move(part.zone_index, other)
        part.zone_index = other


class PADWRIGHT_OT_plan_zones(StageWork, bpy.types.Operator):
    """Give every place on the pad to a zone; what you have painted stays as you painted it"""

    bl_label = "Plan Zones"
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
